"""Where the spread comes from: variance by nested levels, such as machine, fill, sampler.

Nested random effects by analysis of variance: mean squares are set equal to what they are
expected to be, with the coefficients of unequal group sizes (standard text-book method, from
memory, unconfirmed). For equal group sizes it gives the same as restricted likelihood where no part
is negative; a negative part means "not distinguishable from none" and is shown as it is.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fluiddesk.domain.statistics.entry import (
    FloatColumn,
    LengthsDifferError,
    NotEnough,
    column,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NestedVariance:
    """Variance of each level from the outermost in, the last one between single results.

    ``degrees`` are the degrees of freedom behind each. ``parts`` may be negative, ``shares`` count
    a negative part as none; they are NaN where nothing varies at all.
    """

    parts: FloatColumn
    shares: FloatColumn
    degrees: NDArray[np.int64]


def nested_variance(
    values: ArrayLike, *, levels: Sequence[NDArray[np.int64]]
) -> NestedVariance | NotEnough:
    """Split the variance of results over nested levels.

    Args:
        values: results, better as logarithms or departures from what was expected.
        levels: for each level, from the outermost in, the number of the group each result belongs
            to; a number means a group only within its outer group.

    Returns:
        ``NotEnough`` where a level has nothing to compare inside its outer groups: its part is
        then unknown. Levels count from the outermost; the single results are the last.

    Raises:
        LengthsDifferError: without a level, or when columns are not equally long.
        NotANumberError: when a value is not finite.

    >>> machine = np.array([1, 1, 1, 1, 2, 2, 2, 2])
    >>> fill = np.array([1, 1, 2, 2, 1, 1, 2, 2])
    >>> nested_variance([1, 3, 2, 4, 9, 11, 12, 14], levels=[machine, fill]).parts.tolist()
    [39.25, 1.5, 2.0]
    """
    numbers = column(values, name="values")
    if not levels or any(level.shape != numbers.shape for level in levels):
        raise LengthsDifferError(
            f"{len(numbers)} values and levels of {[level.size for level in levels]}. Give at "
            f"least one level, each with a group for every value."
        )
    groups = _groups(levels, count=len(numbers))
    sizes = np.array([int(level.max(initial=-1)) + 1 for level in groups])
    degrees = np.diff(sizes)
    short = np.flatnonzero(degrees < 1)
    if len(short):
        level = int(short[0]) + 1
        return NotEnough(have=0, need=1, of=f"degrees of freedom at level {level}")
    squares = np.diff([float(_means(numbers, level) @ numbers) for level in groups])
    parts = np.linalg.solve(_coefficients(groups, sizes), squares)
    positive = np.maximum(parts, 0.0)
    with np.errstate(invalid="ignore"):
        shares = positive / positive.sum()
    return NestedVariance(parts=parts, shares=shares, degrees=degrees)


def _groups(levels: Sequence[NDArray[np.int64]], *, count: int) -> list[NDArray[np.int64]]:
    """Groups numbered from 0 at every level, from all results in one to each by itself."""
    numbered = [np.zeros(count, dtype=np.int64)]
    for level in levels:
        pair = np.stack([numbered[-1], np.asarray(level, dtype=np.int64)])
        numbered.append(np.unique(pair, axis=1, return_inverse=True)[1].ravel())
    return [*numbered, np.arange(count)]


def _means(numbers: FloatColumn, group: NDArray[np.int64]) -> FloatColumn:
    """For each result the mean of its group."""
    means: FloatColumn = (np.bincount(group, weights=numbers) / np.bincount(group))[group]
    return means


def _coefficients(groups: list[NDArray[np.int64]], sizes: NDArray[np.int64]) -> FloatColumn:
    """How much of each level's variance each sum of squares is expected to hold."""
    depth = len(groups)
    inside = np.zeros((depth, depth))
    for outer in range(depth):
        size = np.bincount(groups[outer])
        for inner in range(outer, depth):
            own = np.bincount(groups[inner])
            first = np.unique(groups[inner], return_index=True)[1]
            inside[outer, inner] = (own**2 / size[groups[outer][first]]).sum()
        # Levels further out are shared by the whole group: they add each result once.
        inside[outer, :outer] = sizes[-1]
    return np.diff(inside, axis=0)[:, 1:]
