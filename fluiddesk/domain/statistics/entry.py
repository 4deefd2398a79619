"""What may enter a calculation: finite numbers, as many as belong together, enough of them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fluiddesk.domain.errors import OperatorError

FloatColumn = NDArray[np.float64]
BoolColumn = NDArray[np.bool_]
IntColumn = NDArray[np.int64]


class NotANumberError(OperatorError):
    """A value is missing (NaN) or infinite where a number is needed."""


class NotPositiveError(OperatorError):
    """A value is zero or negative where the method takes logarithms."""


class WrongOrderError(OperatorError):
    """Hours (or days) run backwards."""


class LengthsDifferError(OperatorError):
    """Columns that belong together are not equally long, or not one-dimensional."""


class OutOfRangeError(OperatorError):
    """A setting of a method, such as a share or a weight, lies outside its range."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotEnough:
    """The answer where too little is known: what there is and what is needed.

    >>> NotEnough(have=1, need=3, of="results").sentence
    'Not enough: 1 of at least 3 results.'
    """

    have: int
    need: int
    of: str

    @property
    def sentence(self) -> str:
        """The words for a screen or a command."""
        return f"Not enough: {self.have} of at least {self.need} {self.of}."


def column(values: ArrayLike, *, name: str) -> FloatColumn:
    """The values as a column of finite numbers.

    Raises:
        LengthsDifferError: when the values are not one-dimensional.
        NotANumberError: naming the first value that is not finite, and its place.

    >>> column([3, 4.5], name="iron").tolist()
    [3.0, 4.5]
    """
    numbers = np.asarray(values, dtype=np.float64)
    if numbers.ndim != 1:
        raise LengthsDifferError(
            f"{name}: {numbers.ndim} dimensions where a single column is needed. "
            f"Give one series at a time."
        )
    refuse_unfinished(numbers, name=name)
    return numbers


def refuse_unfinished(numbers: FloatColumn, *, name: str) -> None:
    """Refuse NaN and infinity anywhere in an array.

    Raises:
        NotANumberError: naming the first value that is not finite, and its place.
    """
    odd = np.flatnonzero(~np.isfinite(numbers))
    if len(odd):
        place = int(odd[0])
        raise NotANumberError(
            f"{name}: value {place + 1} is {numbers.ravel()[place]:g}, not a number to calculate "
            f"with. Correct it or leave it out."
        )


def same_length(first: NDArray[np.generic], second: NDArray[np.generic], *, names: str) -> None:
    """Refuse two columns of different length.

    Raises:
        LengthsDifferError: with both lengths.
    """
    if first.shape != second.shape:
        raise LengthsDifferError(
            f"{names}: {first.size} and {second.size} values, which cannot belong together. "
            f"Give as many of one as of the other."
        )


def series(at: ArrayLike, values: ArrayLike) -> tuple[FloatColumn, FloatColumn]:
    """Hours (or days) and values as two columns, checked; the hours may repeat but never fall.

    Raises:
        LengthsDifferError: when they are not equally long.
        NotANumberError: when one is not finite.
        WrongOrderError: naming the hours that run backwards.

    >>> series([100, 250], [12, 17])[0].tolist()
    [100.0, 250.0]
    """
    hours, numbers = column(at, name="hours"), column(values, name="values")
    same_length(hours, numbers, names="hours and values")
    back = np.flatnonzero(np.diff(hours) < 0)
    if len(back):
        place = int(back[0])
        raise WrongOrderError(
            f"hours: {hours[place + 1]:g} follows {hours[place]:g}. Put the samples in the order "
            f"they were taken, or correct the hours."
        )
    return hours, numbers


def positive(numbers: FloatColumn, *, name: str) -> FloatColumn:
    """The same numbers, none of them zero or negative.

    Raises:
        NotPositiveError: naming the first that is, and its place.
    """
    low = np.flatnonzero(numbers <= 0)
    if len(low):
        place = int(low[0])
        raise NotPositiveError(
            f"{name}: value {place + 1} is {numbers[place]:g}, but the method needs values above "
            f"zero. Correct it; a result below detection is given by its limit and its sign."
        )
    return numbers


def between(value: float, *, low: float, high: float, name: str) -> float:
    """The same setting, strictly between two bounds.

    Raises:
        OutOfRangeError: with the value and the bounds; NaN lies outside too.
    """
    if not low < value < high:
        raise OutOfRangeError(
            f"{name} is {value:g}. Give a number above {low:g} and below {high:g}."
        )
    return value


def censored(values: ArrayLike, *, below: ArrayLike) -> tuple[FloatColumn, BoolColumn]:
    """Results above zero and which of them are "less than" results.

    Args:
        values: results; for a "less than" result the limit it is below.
        below: true where the result is below its limit.

    Raises:
        LengthsDifferError: when they are not equally long.
        NotANumberError: when a value is not finite.
        NotPositiveError: when a value or limit is not above zero.

    >>> censored([5, 12.1], below=[True, False])[1].tolist()
    [True, False]
    """
    numbers = positive(column(values, name="values"), name="values")
    marks = np.asarray(below, dtype=np.bool_)
    same_length(numbers, marks, names='values and "less than" marks')
    return numbers, marks
