"""Cleanliness classes per 100 mL: SAE AS4059, NAS 1638 and the classes of the US Navy.

- AS4059 revision E, cumulative counts: each size has a class of its own, such as 7A or 6B.
- NAS 1638 (January 1964), counts by size band. The standard does not say how to quote a single
  class; the worst over all bands is common use. For every class the running sum of its bands from
  the largest is the AS4059 limit at B to F, which is how misprints in reprints of the table show.
- US Navy particle classes (NAVEDTRA 14315, table 8-1): a count above the limit of a class in any
  one band gives the next class; 5 is the worst acceptable for aircraft systems.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.columns import FloatColumn, checked, refuse
from fluiddesk.domain.errors import OperatorError

TextColumn = NDArray[np.str_]

AS4059_SIZES: Final = "ABCDEF"
"""A to F: above 4, 6, 14, 21, 38 and 70 µm(c), or 1, 5, 15, 25, 50 and 100 µm by microscope."""
_TWO_ZEROS_DOWN: Final = ("000", "00", *map(str, range(13)))
_AS4059: Final = np.array(
    [
        [195, 76, 14, 3, 1, 0],
        [390, 152, 27, 5, 1, 0],
        [780, 304, 54, 10, 2, 0],
        [1560, 609, 109, 20, 4, 1],
        [3120, 1217, 217, 39, 7, 1],
        [6250, 2432, 432, 76, 13, 2],
        [12500, 4864, 864, 152, 26, 4],
        [25000, 9731, 1731, 306, 53, 8],
        [50000, 19462, 3462, 612, 106, 16],
        [100000, 38924, 6924, 1224, 212, 32],
        [200000, 77849, 13849, 2449, 424, 64],
        [400000, 155698, 27698, 4898, 848, 128],
        [800000, 311396, 55396, 9796, 1696, 256],
        [1600000, 622792, 110792, 19592, 3392, 512],
        [3200000, 1245584, 221584, 39184, 6784, 1024],
    ],
    dtype=np.float64,
)
"""Most particles per 100 mL: a row a class from 000 to 12, a column a size from A to F."""
_NAS1638: Final = np.array(
    [
        [125, 22, 4, 1, 0],
        [250, 44, 8, 2, 0],
        [500, 89, 16, 3, 1],
        [1000, 178, 32, 6, 1],
        [2000, 356, 63, 11, 2],
        [4000, 712, 126, 22, 4],
        [8000, 1425, 253, 45, 8],
        [16000, 2850, 506, 90, 16],
        [32000, 5700, 1012, 180, 32],
        [64000, 11400, 2025, 360, 64],
        [128000, 22800, 4050, 720, 128],
        [256000, 45600, 8100, 1440, 256],
        [512000, 91200, 16200, 2880, 512],
        [1024000, 182400, 32400, 5760, 1024],
    ],
    dtype=np.float64,
)
"""Classes 00 to 12; bands 5-15, 15-25, 25-50, 50-100 and above 100 µm."""
_NAVY: Final = np.array(
    [
        [2700, 670, 93, 16, 1],
        [4600, 1340, 210, 28, 3],
        [9700, 2680, 380, 56, 5],
        [24000, 5360, 780, 110, 11],
        [32000, 10700, 1510, 225, 21],
        [87000, 21400, 3130, 430, 41],
        [128000, 42000, 6500, 1000, 92],
    ],
    dtype=np.float64,
)
"""Classes 0 to 6; bands 5-10, 10-25, 25-50, 50-100 and above 100 µm."""


class ParticleCountError(OperatorError):
    """Particle counts, a code or a class that cannot be."""


def refuse_rising(counts: Sequence[FloatColumn]) -> None:
    """Refuse cumulative counts that rise from one size to the next larger.

    Raises:
        ParticleCountError: naming the first count that is above that of a smaller size.
    """
    for smaller, larger in pairwise(counts):
        refuse(
            np.asarray(larger > smaller),
            larger,
            what="particle count",
            error=ParticleCountError,
            why="is more than was counted at a smaller size",
            remedy="Counts include all larger particles: look for swapped columns or a slip.",
        )


@overload
def as4059_classes(cumulative_per_100ml: Sequence[float | None]) -> list[str]: ...
@overload
def as4059_classes(cumulative_per_100ml: FloatColumn) -> TextColumn: ...
def as4059_classes(
    cumulative_per_100ml: Sequence[float | None] | FloatColumn,
) -> list[str] | TextColumn:
    """The AS4059 class at each size from A on, of particles of that size and larger per 100 mL.

    One sample: a list of counts from A on, None where a size was not counted. Many: an array of
    shape (n, up to 6), with texts of the same shape. ">12C" is above the table.

    Raises:
        ParticleCountError: for a count that is negative, no number, or above that of a smaller
            size; for more than six.

    >>> as4059_classes([60_000, 18_000, 3_000, 500, 90, 12])
    ['7A', '6B', '6C', '6D', '6E', '6F']
    """
    if isinstance(cumulative_per_100ml, np.ndarray) and cumulative_per_100ml.ndim > 1:
        return _as4059(cumulative_per_100ml, range(cumulative_per_100ml.shape[1]))
    given = list(cumulative_per_100ml)
    places = [place for place, count in enumerate(given) if count is not None]
    counts = np.array([[count for count in given if count is not None]], dtype=np.float64)
    texts: list[str] = _as4059(counts, places)[0].tolist()
    return texts


def _as4059(counts: FloatColumn, places: Sequence[int]) -> TextColumn:
    if not places or max(places) >= len(AS4059_SIZES):
        raise ParticleCountError(
            f"{len(places)} counts: AS4059 has six sizes, A to F. Give one to six counts."
        )
    checked(counts, what="particles per 100 mL", error=ParticleCountError, at_least=0.0)
    refuse_rising([counts[:, column] for column in range(counts.shape[1])])
    words = np.array([*_TWO_ZEROS_DOWN, ">12"])
    columns = [
        np.strings.add(
            words[np.searchsorted(_AS4059[:, place], counts[:, column])], AS4059_SIZES[place]
        )
        for column, place in enumerate(places)
    ]
    return np.stack(columns, axis=1)


def as4059_limit(label: str) -> int:
    """The most particles per 100 mL of a class at a size, such as 6B.

    Raises:
        ParticleCountError: when there is no such class.

    >>> as4059_limit("6B")
    19462
    """
    name, size = label[:-1], label[-1:]
    if name not in _TWO_ZEROS_DOWN or size not in AS4059_SIZES or not size:
        raise ParticleCountError(
            f'"{label}" is no AS4059 class. Write 000, 00 or 0 to 12 with a size A to F, like 6B.'
        )
    return int(_AS4059[_TWO_ZEROS_DOWN.index(name), AS4059_SIZES.index(size)])


@overload
def nas1638_class(differential_per_100ml: Sequence[float]) -> str: ...
@overload
def nas1638_class(differential_per_100ml: FloatColumn) -> TextColumn: ...
def nas1638_class(differential_per_100ml: Sequence[float] | FloatColumn) -> str | TextColumn:
    """The NAS 1638 class, the worst over the bands 5-15, 15-25, 25-50, 50-100, above 100 µm.

    Counts of each band alone, per 100 mL; many samples as an array of shape (n, 5). ">12" is above
    the table.

    Raises:
        ParticleCountError: unless there are five counts, all at least 0.

    >>> nas1638_class([15_000, 2_900, 400, 80, 10])
    '7'
    """
    return _worst_class(differential_per_100ml, _NAS1638, [*_TWO_ZEROS_DOWN[1:], ">12"])


@overload
def navy_class(differential_per_100ml: Sequence[float]) -> str: ...
@overload
def navy_class(differential_per_100ml: FloatColumn) -> TextColumn: ...
def navy_class(differential_per_100ml: Sequence[float] | FloatColumn) -> str | TextColumn:
    """The US Navy particle class, the worst over 5-10, 10-25, 25-50, 50-100, above 100 µm.

    Counts of each band alone, per 100 mL; many samples as an array of shape (n, 5). ">6" is above
    the table.

    Raises:
        ParticleCountError: unless there are five counts, all at least 0.

    >>> navy_class([9_000, 2_700, 300, 50, 5])
    '3'
    """
    return _worst_class(differential_per_100ml, _NAVY, [*map(str, range(7)), ">6"])


def _worst_class(
    given: Sequence[float] | FloatColumn, limits: FloatColumn, words: Sequence[str]
) -> str | TextColumn:
    counts = np.asarray(given, dtype=np.float64)
    if counts.ndim == 0 or counts.shape[-1] != limits.shape[1]:
        raise ParticleCountError(
            f"Counts of shape {counts.shape}: the table has five size bands. "
            "Give five counts a sample, each of its band alone."
        )
    checked(counts, what="particles per 100 mL", error=ParticleCountError, at_least=0.0)
    places = np.max(
        [np.searchsorted(limits[:, band], counts[..., band]) for band in range(limits.shape[1])],
        axis=0,
    )
    found = np.array(words)[places]
    return str(found) if counts.ndim == 1 else found
