"""A draft's cells as columns of numbers, for the checks."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import Sign
from fluiddesk.services.keyed_results.basis import CheckBasis, FormColumn
from fluiddesk.services.keyed_results.cells import canonical, read_text, reading_of
from fluiddesk.services.keyed_results.facts import CellRead, Draft

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """What was typed, shape (m,) over the analytes of the form; NaN where there is no number.

    Attributes:
        reads: every cell by its key.
        raw: numbers in the unit of the form, where a plain number stands in a cell of its own.
        decimals: places typed behind the point.
        plain: canonical values of plain numbers, also of values that cannot be.
        bounds: canonical bounds of values below or above them.
        is_below: which of them lie below their bound.
        worked: canonical values for forecasts: plain ones, half of a bound from above.
        values: canonical values, with 0 and 1 for absent and present.
    """

    reads: Mapping[str, CellRead]
    raw: FloatArray
    decimals: NDArray[np.int64]
    plain: FloatArray
    bounds: FloatArray
    is_below: NDArray[np.bool_]
    worked: FloatArray
    values: FloatArray


def typed(basis: CheckBasis, draft: Draft) -> Typed:
    """Read every cell of a draft."""
    width = len(basis.known.analytes)
    raw, plain, bounds, worked, values = (np.full(width, np.nan) for _ in range(5))
    is_below = np.zeros(width, dtype=np.bool_)
    decimals = np.zeros(width, dtype=np.int64)
    reads = {}
    for column in basis.columns:
        read = read_text(basis, column, draft.cells.get(column.key, ""))
        reads[column.key] = read
        for value, at in zip(column.values, column.places, strict=True):
            made = reading_of(read, value.analyte.code)
            if made is not None and made.value is not None:
                values[at] = made.value
                worked[at] = _worked(made.sign, made.value)
                if made.sign in (Sign.BELOW, Sign.ABOVE):
                    bounds[at], is_below[at] = made.value, made.sign is Sign.BELOW
            if read.is_impossible and read.raw[0] is not None:
                plain[at] = canonical(value, read.raw[0])
            elif made is not None and made.sign is Sign.PLAIN and made.value is not None:
                plain[at] = made.value
        _note_raw(column, read, raw, decimals)
    return Typed(
        reads=reads,
        raw=raw,
        decimals=decimals,
        plain=plain,
        bounds=bounds,
        is_below=is_below,
        worked=worked,
        values=values,
    )


def _worked(sign: Sign, value: float) -> float:
    if sign is Sign.PLAIN:
        return value
    return 0.5 * value if sign is Sign.BELOW else np.nan


def _note_raw(
    column: FormColumn, read: CellRead, raw: FloatArray, decimals: NDArray[np.int64]
) -> None:
    """Numbers with a sign are bounds, whose digits nobody need doubt."""
    text = read.text.strip().replace(",", ".")
    if column.is_code or not read.raw or read.raw[0] is None or text[:1] in "<>":
        return
    at = column.places[0]
    raw[at] = read.raw[0]
    digits = text.split("e")[0].split("E")[0]
    behind = digits.partition(".")[2]
    decimals[at] = len("".join(one for one in behind if one.isdigit()))
