"""What goes wrong where a report is typed by hand, or issued twice."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import Sign
from fluiddesk.simulation.plan import ErrorRates

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

KINDS: Final = ("decimal_slip", "transposition", "column", "unit")
_COLUMN: Final = KINDS.index("column")
_ODDS: Final = (0.40, 0.30, 0.20, 0.10)
_UNIT_FACTOR: Final = 100.0
_TWO_DIGITS: Final = 10.0


@dataclass(frozen=True, kw_only=True)
class Mistyped:
    """Which fields were typed wrongly, how, and what the paper said."""

    row: IntArray
    column: IntArray
    kind: NDArray[np.int8]
    on_paper: FloatArray


def mistype(
    values: FloatArray, signs: NDArray[np.uint8], rates: ErrorRates, rng: np.random.Generator
) -> Mistyped:
    """Spoil some numbers in place: a slipped point, two digits exchanged, a column, a unit."""
    count, width = values.shape
    typed = np.flatnonzero(rng.random(count) < rates.keyed_share)
    wrong = rng.random((len(typed), width)) < rates.keying_error
    wrong &= signs[typed] == Sign.PLAIN
    rows, column = np.nonzero(wrong)
    row = typed[rows]
    kind = rng.choice(len(KINDS), size=len(row), p=_ODDS).astype(np.int8)
    paper = values[row, column]
    up = rng.choice([10.0, 0.1], size=len(row))
    neighbour = values[row, np.minimum(column + 1, width - 1)]
    typed_in = np.select(
        [kind == 0, kind == 1, (kind == _COLUMN) & np.isfinite(neighbour) & (neighbour > 0)],
        [paper * up, transposed(paper), neighbour],
        paper * _UNIT_FACTOR,
    )
    values[row, column] = typed_in
    return Mistyped(row=row, column=column, kind=kind, on_paper=paper)


def transposed(values: FloatArray) -> FloatArray:
    """The last two digits of the whole number exchanged; below 10 the digit and its decimal.

    >>> transposed(np.array([36.0, 163.0, 4.5])).tolist()
    [63.0, 136.0, 5.4]
    """
    scale = np.where(np.abs(values) < _TWO_DIGITS, 10.0, 1.0)
    whole = np.round(values * scale)
    tens, units = (whole // 10) % 10, whole % 10
    swapped: FloatArray = (whole + 9.0 * (units - tens)) / scale
    return swapped


def first_issues(
    values: FloatArray, signs: NDArray[np.uint8], share: float, rng: np.random.Generator
) -> tuple[IntArray, FloatArray, NDArray[np.uint8]]:
    """Reports that were revised later: their rows, and what the first issue said.

    One number of the first issue is a quarter to twice too high.
    """
    rows = np.flatnonzero(rng.random(len(values)) < share)
    earlier, earlier_signs = values[rows].copy(), signs[rows].copy()
    column = rng.integers(0, values.shape[1], size=len(rows))
    lane = np.arange(len(rows))
    plain = earlier_signs[lane, column] == Sign.PLAIN
    factor = np.where(plain, rng.uniform(1.25, 2.0, size=len(rows)), 1.0)
    earlier[lane, column] = np.round(earlier[lane, column] * factor)
    return rows, earlier, earlier_signs
