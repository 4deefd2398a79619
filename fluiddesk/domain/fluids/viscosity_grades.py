"""Viscosity grades from a viscosity: ISO 3448, SAE J300 and SAE J306.

- ISO 3448, mm2/s at 40 °C, midpoint 10 % down and up, both ends included; VG 2200 and 3200 are
  from memory, unconfirmed. The grades do not touch: between two of them is no grade.
- SAE J300, January 2015 table, mm2/s at 100 °C; the lower end included, the upper not. Grades 8 to
  20 overlap, so that the viscosity at 100 °C alone cannot name them: high shear decides.
- SAE J306, February 2019, mm2/s at 100 °C, likewise.

Winter grades (with W) have cold tests besides a lowest viscosity, so that no reading names them.
"""

import re
from typing import Final, NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.columns import FloatColumn, Numbers, checked
from fluiddesk.domain.errors import OperatorError

_ISO: Final = (
    *((2, 1.98, 2.42), (3, 2.88, 3.52), (5, 4.14, 5.06), (7, 6.12, 7.48), (10, 9.0, 11.0)),
    *((15, 13.5, 16.5), (22, 19.8, 24.2), (32, 28.8, 35.2), (46, 41.4, 50.6), (68, 61.2, 74.8)),
    *((100, 90.0, 110.0), (150, 135.0, 165.0), (220, 198.0, 242.0), (320, 288.0, 352.0)),
    *((460, 414.0, 506.0), (680, 612.0, 748.0), (1000, 900.0, 1100.0), (1500, 1350.0, 1650.0)),
    *((2200, 1980.0, 2420.0), (3200, 2880.0, 3520.0)),
)
"""Grade, lowest and highest viscosity at 40 °C."""
_ENGINE: Final = {
    "8": (4.0, 6.1),
    "12": (5.0, 7.1),
    "16": (6.1, 8.2),
    "20": (6.9, 9.3),
    "30": (9.3, 12.5),
    "40": (12.5, 16.3),
    "50": (16.3, 21.9),
    "60": (21.9, 26.1),
}
"""Grade: lowest viscosity at 100 °C, and the one it stays below."""
_WINTER: Final = {"0W": 3.8, "5W": 3.8, "10W": 4.1, "15W": 5.6, "20W": 5.6, "25W": 9.3}
_GEAR: Final = {
    "65": (3.8, 5.0),
    "70": (5.0, 6.5),
    "75": (6.5, 8.5),
    "80": (8.5, 11.0),
    "85": (11.0, 13.5),
    "90": (13.5, 18.5),
    "110": (18.5, 24.0),
    "140": (24.0, 32.5),
    "190": (32.5, 41.0),
    "250": (41.0, np.inf),
}


class GradeError(OperatorError):
    """A viscosity that cannot be graded, or a grade that does not exist."""


class GradeLimits(NamedTuple):
    """What a grade asks of the viscosity at 100 °C in mm2/s: at least, and below."""

    at_least: float
    below: float


def _viscosity(values: Numbers, temperature: str) -> FloatColumn:
    return checked(values, what=f"viscosity at {temperature} in mm2/s", error=GradeError, above=0.0)


@overload
def iso_grade(kv40: float) -> int | None: ...
@overload
def iso_grade(kv40: FloatColumn) -> FloatColumn: ...
def iso_grade(kv40: Numbers) -> int | FloatColumn | None:
    """The ISO viscosity grade of a viscosity at 40 °C; None (NaN in a column) between grades.

    Raises:
        GradeError: for a viscosity that is not above 0 or no number.

    >>> iso_grade(35.2), iso_grade(38.0), iso_grade(50.6)
    (32, None, 46)
    """
    viscosity = _viscosity(kv40, "40 °C")
    grades, lows, highs = np.array(_ISO, dtype=np.float64).T
    place = np.searchsorted(lows, viscosity, side="right") - 1
    is_graded = (place >= 0) & (viscosity <= highs[place])
    if viscosity.ndim == 0:
        return int(grades[place]) if is_graded else None
    return np.where(is_graded, grades[place], np.nan)


def _bands(limits: dict[str, tuple[float, float]]) -> tuple[FloatColumn, NDArray[np.object_]]:
    """The ends of all grades in order, and between them the grades that hold there."""
    ends = np.array(sorted({end for pair in limits.values() for end in pair}))
    held = [
        tuple(grade for grade, (low, below) in limits.items() if low <= start < below)
        for start in (0.0, *ends.tolist())
    ]
    names = np.empty(len(held), dtype=np.object_)
    names[:] = held
    return ends, names


_ENGINE_ENDS, _ENGINE_HELD = _bands(_ENGINE)
_GEAR_ENDS, _GEAR_HELD = _bands(_GEAR)


@overload
def sae_engine_grades(kv100: float) -> tuple[str, ...]: ...
@overload
def sae_engine_grades(kv100: FloatColumn) -> NDArray[np.object_]: ...
def sae_engine_grades(kv100: Numbers) -> tuple[str, ...] | NDArray[np.object_]:
    """Every SAE engine oil grade (without W) that a viscosity at 100 °C fits; often none or three.

    Raises:
        GradeError: for a viscosity that is not above 0 or no number.

    >>> sae_engine_grades(12.5), sae_engine_grades(7.0), sae_engine_grades(30.0)
    (('40',), ('12', '16', '20'), ())
    """
    viscosity = _viscosity(kv100, "100 °C")
    found: tuple[str, ...] | NDArray[np.object_] = _ENGINE_HELD[
        np.searchsorted(_ENGINE_ENDS, viscosity, side="right")
    ]
    return found


_ENGINE_GRADE: Final = re.compile(r"(?:SAE\s*)?(?:(\d+W)(?:-(\d+))?|(\d+))")


def sae_engine_limits(grade: str) -> GradeLimits:
    """What an engine oil grade, such as 15W-40, 30 or 10W, asks of the viscosity at 100 °C.

    Raises:
        GradeError: when J300 has no such grade.

    >>> sae_engine_limits("15W-40")
    GradeLimits(at_least=12.5, below=16.3)
    """
    match = _ENGINE_GRADE.fullmatch(grade.strip().upper())
    winter, summer = (match[1], match[2] or match[3]) if match else (None, None)
    is_known = (winter is None or winter in _WINTER) and (summer is None or summer in _ENGINE)
    if match is None or not is_known:
        raise GradeError(
            f'"{grade}" is no grade of SAE J300. Write it like 15W-40, 30 or 10W, of '
            f"{', '.join((*_WINTER, *_ENGINE))}."
        )
    low, below = _ENGINE[summer] if summer else (0.0, np.inf)
    return GradeLimits(max(low, _WINTER[winter]) if winter else low, below)


@overload
def sae_gear_grade(kv100: float) -> str | None: ...
@overload
def sae_gear_grade(kv100: FloatColumn) -> NDArray[np.object_]: ...
def sae_gear_grade(kv100: Numbers) -> str | NDArray[np.object_] | None:
    """The SAE gear oil grade (without W) of a viscosity at 100 °C; None below all grades.

    Raises:
        GradeError: for a viscosity that is not above 0 or no number.

    >>> sae_gear_grade(13.5), sae_gear_grade(18.5), sae_gear_grade(3.0)
    ('90', '110', None)
    """
    viscosity = _viscosity(kv100, "100 °C")
    place = np.searchsorted(_GEAR_ENDS, viscosity, side="right")
    found: str | NDArray[np.object_] | None = _GEAR_ONE[place]
    return found


_GEAR_ONE: Final = np.array([names[0] if names else None for names in _GEAR_HELD], dtype=np.object_)


class GradeEdges(NamedTuple):
    """The least and the highest viscosity still inside a grade, in mm2/s; NaN: the grade is silent.

    SAE grades stay below their upper end; here it is the last value a laboratory prints before it.
    """

    least_40: float
    most_40: float
    least_100: float
    most_100: float


NO_EDGES: Final = GradeEdges(np.nan, np.nan, np.nan, np.nan)

_PRINTED_STEP: Final = 0.01
"""The last place of a viscosity at 100 °C as ASTM D445 reports it, in mm2/s."""

_GEAR_WINTER: Final = {"70W": 3.8, "75W": 3.8, "80W": 8.5, "85W": 11.0}
"""Lowest viscosity at 100 °C of the gear oil grades with W (SAE J306, from memory, unconfirmed)."""

_ISO_GRADE: Final = re.compile(r"(?:ISO\s*)?VG\s*(\d+)")
_GEAR_GRADE: Final = re.compile(r"(?:SAE\s*)?(?:(7[05]W|8[05]W)(?:-(\d+))?|(\d+))")


def grade_edges(grade: str) -> GradeEdges:
    """The edges of a grade as a fluid's record names it; silent where the name is no grade.

    >>> grade_edges("ISO VG 46")[:2], grade_edges("SAE 15W-40")[2:], grade_edges("SAE 80W-90")[2:]
    ((41.4, 50.6), (12.5, 16.29), (13.5, 18.49))
    >>> grade_edges("coolant") is NO_EDGES
    True
    """
    name = grade.strip().upper()
    iso = _ISO_GRADE.fullmatch(name)
    if iso:
        found = [(low, high) for number, low, high in _ISO if number == int(iso[1])]
        return GradeEdges(*found[0], np.nan, np.nan) if found else NO_EDGES
    gear = _GEAR_GRADE.fullmatch(name)
    if gear and (gear[1] or gear[3] in _GEAR):
        summer = gear[2] or gear[3]
        if summer and summer not in _GEAR:
            return NO_EDGES
        low, below = _GEAR[summer] if summer else (0.0, np.inf)
        return _at_100(max(low, _GEAR_WINTER.get(gear[1], 0.0)), below)
    try:
        return _at_100(*sae_engine_limits(name))
    except GradeError:
        return NO_EDGES


def _at_100(low: float, below: float) -> GradeEdges:
    most = np.nan if np.isinf(below) else round(below - _PRINTED_STEP, 2)
    return GradeEdges(np.nan, np.nan, low, most)
