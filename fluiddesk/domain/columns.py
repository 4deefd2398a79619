"""What every calculation asks of its numbers, before a wrong one becomes a silent answer.

One value and a whole column take the same way through numpy; a single value comes out as a plain
number again.
"""

from numbers import Real

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError

FloatColumn = NDArray[np.float64]
BoolColumn = NDArray[np.bool_]
Numbers = float | FloatColumn


def checked(
    values: Numbers,
    *,
    what: str,
    error: type[OperatorError],
    above: float = -np.inf,
    at_least: float = -np.inf,
    at_most: float = np.inf,
) -> FloatColumn:
    """The values as floats, all finite and between the bounds.

    Raises:
        OperatorError: of the kind given, with the first bad value, its place and the bounds.

    >>> float(checked(3.5, what="viscosity", error=OperatorError, above=0.0))
    3.5
    """
    column = np.asarray(values, dtype=np.float64)
    sound = np.isfinite(column) & (column > above) & (column >= at_least) & (column <= at_most)
    bounds = [
        f"{word} {bound:g}"
        for word, bound in (("above", above), ("at least", at_least), ("at most", at_most))
        if np.isfinite(bound)
    ]
    refuse(
        ~sound,
        column,
        what=what,
        error=error,
        why=" ".join(["must be a finite number", " and ".join(bounds)]).strip(),
    )
    return column


def refuse(
    wrong: BoolColumn | np.bool_,
    values: Numbers,
    *,
    what: str,
    error: type[OperatorError],
    why: str,
    remedy: str = "Correct the value or leave the sample out.",
) -> None:
    """Raise for the first value that is wrong, naming it, its place and what to do.

    Raises:
        OperatorError: of the kind given, when any is wrong.

    >>> refuse(np.array([False, True]), np.array([1.0, -2.0]), what="count", error=OperatorError,
    ...        why="must be at least 0")
    Traceback (most recent call last):
    fluiddesk.domain.errors.OperatorError: count, place 2: -2 must be at least 0. Correct the ...
    """
    if not np.any(wrong):
        return
    column, marks = np.broadcast_arrays(np.asarray(values, dtype=np.float64), wrong)
    first = int(np.flatnonzero(marks)[0])
    place = f", place {first + 1}" if column.ndim else ""
    raise error(f"{what}{place}: {column.flat[first]:.9g} {why}. {remedy}")


def as_given(result: FloatColumn) -> Numbers:
    """A column as it is, the answer to single values as a plain number.

    >>> as_given(np.float64(2.0) * np.asarray(1.5))
    3.0
    """
    return float(result) if isinstance(result, Real) or result.ndim == 0 else result
