"""The figures a calculation accepts: finite, and inside the span that makes sense for them."""

from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError

FloatArray = NDArray[np.float64]
Numbers = float | FloatArray
"""One figure, or a column of them; columns of one call have one length."""


class WearInputError(OperatorError):
    """A figure given to a wear or sampling calculation cannot be true."""


def checked(
    name: str,
    value: Numbers,
    *,
    at_least: float | None = None,
    above: float | None = None,
    at_most: float | None = None,
) -> FloatArray:
    """A figure or column as an array, refused where a calculation would go astray.

    Args:
        name: what the figure is, in words with its unit, for the message.
        value: one figure or a column; an empty column stays empty.
        at_least: smallest figure accepted.
        above: every figure must be greater.
        at_most: largest figure accepted.

    Raises:
        WearInputError: naming the first figure refused, its row and the remedy.

    >>> checked("hours since the change", 250).item()
    250.0
    >>> checked("residue", np.array([0.1, 1.4]), at_most=1)
    Traceback (most recent call last):
    ...
    fluiddesk.domain.wear.inputs.WearInputError: Row 2: residue is 1.4, which is more than 1. \
Correct the figure, or leave the row out.
    """
    column = np.asarray(value, dtype=np.float64)
    rules = (
        (~np.isfinite(column), "not a finite number"),
        *_outside(column, at_least=at_least, above=above, at_most=at_most),
    )
    for wrong, why in rules:
        if wrong.any():
            row = int(np.flatnonzero(wrong)[0])
            place = f"Row {row + 1}: " if column.ndim else ""
            text = f"{place}{name} is {column.ravel()[row]:g}, which is {why}."
            remedy = "Correct the figure, or leave the row out." if place else "Correct the figure."
            raise WearInputError(f"{text[:1].upper()}{text[1:]} {remedy}")
    return column


def _outside(
    column: FloatArray, *, at_least: float | None, above: float | None, at_most: float | None
) -> Iterable[tuple[NDArray[np.bool_], str]]:
    if at_least is not None:
        yield column < at_least, "negative" if at_least == 0 else f"less than {at_least:g}"
    if above is not None:
        yield column <= above, "not above 0" if above == 0 else f"not above {above:g}"
    if at_most is not None:
        yield column > at_most, f"more than {at_most:g}"


def same_length(**columns: NDArray[Any]) -> None:
    """Refuse columns of different lengths; single figures go with any.

    Raises:
        WearInputError: naming the columns and their lengths.

    >>> same_length(litres=np.zeros(3), hours=np.asarray(2.0))
    >>> same_length(litres=np.zeros(3), hours=np.zeros(2))
    Traceback (most recent call last):
    ...
    fluiddesk.domain.wear.inputs.WearInputError: Columns of different lengths: litres 3, hours 2. \
Give every column the same number of rows.
    """
    lengths = {name: len(column) for name, column in columns.items() if column.ndim}
    if len(set(lengths.values())) > 1:
        told = ", ".join(f"{name} {length}" for name, length in lengths.items())
        raise WearInputError(
            f"Columns of different lengths: {told}. Give every column the same number of rows."
        )


def as_given(column: FloatArray) -> Numbers:
    """A column as it is, a single figure as a plain number.

    >>> as_given(np.asarray(2.5))
    2.5
    """
    return column if column.ndim else float(column)
