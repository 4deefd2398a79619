"""Particle counts as contamination codes and classes, and back.

- ISO 4406 scale numbers: the table, codes 0 to 28, as reproduced for the 1999 edition (the text of
  clause 4.1 of the 2021 edition agrees). It is no logarithm: its limits are rounded. An upper limit
  belongs to the lower code. Above 2 500 000 per mL, the end of the table (from memory,
  unconfirmed), we write ">28". Fewer than 20 particles counted in a size: that number carries "≥".
- SAE AS4059, NAS 1638 and US Navy classes: see ``particle_classes``, offered here as well.

Counts are of particles *equal to or larger than* a size, so that they can only fall with size.
"""

import re
from dataclasses import dataclass
from typing import Final, NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.columns import BoolColumn, FloatColumn, Numbers, checked
from fluiddesk.domain.fluids.particle_classes import (
    ParticleCountError,
    as4059_classes,
    nas1638_class,
    navy_class,
    refuse_rising,
)

__all__ = [
    "ABOVE_TABLE",
    "NOT_COUNTED",
    "ContaminationCode",
    "ContaminationCodes",
    "CountRange",
    "ParticleCountError",
    "StepsOver",
    "as4059_classes",
    "code_from_text",
    "code_steps_over",
    "contamination_code",
    "counts_for_code",
    "nas1638_class",
    "navy_class",
    "scale_number",
]

CodeColumn = NDArray[np.int8]

_UPPER_PER_ML: Final = np.array(
    [
        *(0.01, 0.02, 0.04, 0.08, 0.16, 0.32, 0.64, 1.3, 2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0),
        *(320.0, 640.0, 1300.0, 2500.0, 5000.0, 10000.0, 20000.0, 40000.0, 80000.0, 160000.0),
        *(320000.0, 640000.0, 1300000.0, 2500000.0),
    ]
)
"""ISO 4406, upper limit of codes 0 to 28, particles per mL."""
ABOVE_TABLE: Final = 29
"""The number that stands for ">28"."""
NOT_COUNTED: Final = -1
"""In a column of codes: the size was not counted, written "-"."""
FEWEST_COUNTED: Final = 20
_WORDS: Final = np.array([*map(str, range(ABOVE_TABLE)), ">28", "-"])
"""The text of each scale number; the last, reached as -1, is that of a size not counted."""
_HAIR: Final = 1e-12
"""A count divided by a volume may miss a limit it stands on by the last digit."""
_SIZES: Final = ("4 µm(c)", "6 µm(c)", "14 µm(c)")


@dataclass(frozen=True, slots=True)
class ContaminationCode:
    """The code of one sample: its three scale numbers, None where a size was not counted.

    ``too_few`` marks numbers that rest on fewer than 20 particles.
    """

    numbers: tuple[int | None, int | None, int | None]
    too_few: tuple[bool, bool, bool] = (False, False, False)

    # Marking it as an override would load more than the domain may.
    def __str__(self) -> str:  # type: ignore[explicit-override]
        """The code as it is written, such as 18/16/≥10 or -/18/13."""
        return "/".join(
            ("≥" if few else "") + str(_WORDS[NOT_COUNTED if number is None else number])
            for number, few in zip(self.numbers, self.too_few, strict=True)
        )


@dataclass(frozen=True, slots=True)
class ContaminationCodes:
    """The codes of n samples, shape (n, 3); ``NOT_COUNTED`` where a size was not counted."""

    numbers: CodeColumn
    too_few: BoolColumn

    def __len__(self) -> int:
        """How many samples."""
        return len(self.numbers)

    def __getitem__(self, place: int) -> ContaminationCode:
        """The code of one sample."""
        first, second, third = (
            None if number == NOT_COUNTED else number for number in self.numbers[place].tolist()
        )
        few = self.too_few[place].tolist()
        return ContaminationCode((first, second, third), (few[0], few[1], few[2]))

    def texts(self) -> NDArray[np.str_]:
        """Every code as it is written."""
        parts = np.strings.add(np.where(self.too_few, "≥", ""), _WORDS[self.numbers])
        first = np.strings.add(np.strings.add(parts[:, 0], "/"), parts[:, 1])
        return np.strings.add(np.strings.add(first, "/"), parts[:, 2])


class CountRange(NamedTuple):
    """What a scale number means, particles per mL: more than the first, up to the second."""

    more_than: float
    up_to: float


class StepsOver(NamedTuple):
    """Scale numbers above the target at each size; negative when cleaner, None when not counted."""

    at_4um: int | None
    at_6um: int | None
    at_14um: int | None

    @property
    def worst(self) -> int:
        """The most steps over at any size that both codes name."""
        return max(steps for steps in self if steps is not None)


@overload
def scale_number(count_per_ml: float) -> int: ...
@overload
def scale_number(count_per_ml: FloatColumn) -> CodeColumn: ...
def scale_number(count_per_ml: Numbers) -> int | CodeColumn:
    """The ISO 4406 scale number of a count per mL; 29 above the table; no particles at all are 0.

    Raises:
        ParticleCountError: for a negative count or one that is no number.

    >>> scale_number(640.0), scale_number(640.1), scale_number(0.0)
    (16, 17, 0)
    """
    counts = checked(count_per_ml, what="particles per mL", error=ParticleCountError, at_least=0.0)
    found = np.searchsorted(_UPPER_PER_ML, counts * (1.0 - _HAIR), side="left")
    return int(found) if counts.ndim == 0 else found.astype(np.int8)


@overload
def contamination_code(
    count_4um: float | None,
    count_6um: float | None,
    count_14um: float | None,
    *,
    volume_ml: float | None = None,
) -> ContaminationCode: ...
@overload
def contamination_code(
    count_4um: FloatColumn | None,
    count_6um: FloatColumn | None,
    count_14um: FloatColumn,
    *,
    volume_ml: Numbers | None = None,
) -> ContaminationCodes: ...
def contamination_code(
    count_4um: Numbers | None,
    count_6um: Numbers | None,
    count_14um: Numbers | None,
    *,
    volume_ml: Numbers | None = None,
) -> ContaminationCode | ContaminationCodes:
    """The ISO 4406 code of particles counted at and above 4, 6 and 14 µm(c).

    Without a volume the counts are per mL and nothing is known of how many were counted. With one
    they are the particles counted in that many mL, and a number resting on fewer than 20 is marked.
    None for a size that was not counted: a microscope gives no first number (-/18/13, for 5 and
    15 µm).

    Raises:
        ParticleCountError: for a count that is negative, no number, or above that of a smaller
            size; for a volume that is not above 0; when no size was counted.

    >>> str(contamination_code(300_000, 50_000, 700, volume_ml=100))
    '19/16/10'
    >>> str(contamination_code(None, 2_000, 63)), str(contamination_code(900, 30, 6, volume_ml=1))
    ('-/18/13', '17/12/≥10')
    """
    given = [
        None
        if count is None
        else checked(
            count, what=f"particles of {size} and more", error=ParticleCountError, at_least=0.0
        )
        for count, size in zip((count_4um, count_6um, count_14um), _SIZES, strict=True)
    ]
    counted = [count for count in given if count is not None]
    if not counted:
        raise ParticleCountError(
            "None of the three sizes was counted. Give the counts of at least one size."
        )
    refuse_rising(counted)
    volume = checked(
        1.0 if volume_ml is None else volume_ml,
        what="counted volume in mL",
        error=ParticleCountError,
        above=0.0,
    )
    shape = np.broadcast_shapes(volume.shape, *(count.shape for count in counted))
    numbers = np.full((*shape, 3), NOT_COUNTED, dtype=np.int8)
    too_few = np.zeros((*shape, 3), dtype=np.bool_)
    for place, count in enumerate(given):
        if count is not None:
            numbers[..., place] = scale_number(count / volume)
            too_few[..., place] = (count < FEWEST_COUNTED) & (volume_ml is not None)
    codes = ContaminationCodes(numbers.reshape(-1, 3), too_few.reshape(-1, 3))
    return codes if shape else codes[0]


_PART: Final = re.compile(r"(?:≥|>=)?\s*(?:(?P<number>\d{1,2})|(?P<none>-)|(?P<above>>\s*28))")


def code_from_text(text: str) -> ContaminationCode:
    """The code written in a text: three numbers, or two as a microscope gives them.

    Raises:
        ParticleCountError: when the text is no such code or its numbers rise with size.

    >>> code_from_text("18/16/≥10").numbers, str(code_from_text("18/13"))
    ((18, 16, 10), '-/18/13')
    """
    parts = [part.strip() for part in text.split("/")]
    if len(parts) == len(_SIZES) - 1:
        parts = ["-", *parts]
    found = [_PART.fullmatch(part) for part in parts]
    if len(parts) != len(_SIZES) or not all(found):
        raise ParticleCountError(
            f'"{text}" is no contamination code. Write it like 18/16/13, with "-" for a size that '
            "was not counted."
        )
    first, second, third = (_number(match) for match in found if match)
    known = [number for number in (first, second, third) if number is not None]
    if not known or max(known) > ABOVE_TABLE or known != sorted(known, reverse=True):
        raise ParticleCountError(
            f'"{text}" cannot be: numbers run from 0 to 28 and never rise with size, since counts '
            "include all larger particles. Look for swapped numbers."
        )
    marked = [part.startswith(("≥", ">=")) for part in parts]
    return ContaminationCode((first, second, third), (marked[0], marked[1], marked[2]))


def _number(match: re.Match[str]) -> int | None:
    if match["none"]:
        return None
    return ABOVE_TABLE if match["above"] else int(match["number"])


@overload
def counts_for_code(code: int) -> CountRange: ...
@overload
def counts_for_code(code: str | ContaminationCode) -> tuple[CountRange | None, ...]: ...
def counts_for_code(
    code: int | str | ContaminationCode,
) -> CountRange | tuple[CountRange | None, ...]:
    """The particles per mL a scale number stands for, or those of each size of a whole code.

    Raises:
        ParticleCountError: for a number outside 0 to 29 (29 stands for above the table).

    >>> counts_for_code(17)
    CountRange(more_than=640.0, up_to=1300.0)
    >>> [part.up_to for part in counts_for_code("18/16/13")]
    [2500.0, 640.0, 80.0]
    """
    if isinstance(code, str):
        code = code_from_text(code)
    if isinstance(code, ContaminationCode):
        return tuple(None if number is None else counts_for_code(number) for number in code.numbers)
    if not 0 <= code <= ABOVE_TABLE:
        raise ParticleCountError(
            f"{code} is no scale number: they run from 0 to 28. Correct the code."
        )
    limits = [0.0, *_UPPER_PER_ML.tolist(), np.inf]
    return CountRange(limits[code], limits[code + 1])


@overload
def code_steps_over(target: int, observed: int) -> int: ...
@overload
def code_steps_over(target: Numbers, observed: CodeColumn) -> NDArray[np.int64]: ...
@overload
def code_steps_over(
    target: str | ContaminationCode, observed: str | ContaminationCode
) -> StepsOver: ...
def code_steps_over(
    target: str | ContaminationCode | Numbers, observed: str | ContaminationCode | int | CodeColumn
) -> StepsOver | int | NDArray[np.int64]:
    """How many scale numbers a code lies over its target; negative when cleaner than asked.

    Each step is generally a doubling. Whole codes give the steps of each size; scale numbers, or
    a column of them, give theirs.

    Raises:
        ParticleCountError: for a text that is no code, or codes with no size in common.

    >>> code_steps_over("18/16/13", "20/16/12")
    StepsOver(at_4um=2, at_6um=0, at_14um=-1)
    >>> code_steps_over("18/16/13", "20/16/12").worst, code_steps_over(18, 20)
    (2, 2)
    """
    if isinstance(target, str | ContaminationCode) or isinstance(observed, str | ContaminationCode):
        return _steps_of_codes(target, observed)
    wanted = checked(
        target, what="target scale number", error=ParticleCountError, at_least=0, at_most=28
    )
    seen = checked(
        np.asarray(observed, dtype=np.float64),
        what="observed scale number",
        error=ParticleCountError,
        at_least=0,
        at_most=ABOVE_TABLE,
    )
    steps = np.asarray(seen - wanted).astype(np.int64)
    return int(steps) if steps.ndim == 0 else steps


def _steps_of_codes(target: object, observed: object) -> StepsOver:
    codes = [
        one if isinstance(one, ContaminationCode) else code_from_text(str(one))
        for one in (target, observed)
    ]
    steps = StepsOver(
        *(
            None if wanted is None or seen is None else seen - wanted
            for wanted, seen in zip(codes[0].numbers, codes[1].numbers, strict=True)
        )
    )
    if steps == (None, None, None):
        raise ParticleCountError(
            f"Target {codes[0]} and observed {codes[1]} have no size in common. "
            "Give both at the same sizes."
        )
    return steps
