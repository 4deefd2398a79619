"""Fair comparison of like machines: draw an uncertain mean towards its group's.

Shrunk mean = group + B (own - group), B = between^2 / (between^2 + within^2 / n): few results say
little, so they count little (common practice, no source).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.statistics.entry import (
    FloatColumn,
    OutOfRangeError,
    between,
    refuse_unfinished,
)

FEWEST_TO_RANK = 3
"""A machine with fewer results is never ranked (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shrunk:
    """Means drawn towards the group, the deviation left in each, and how much was its own.

    ``own_share`` is B: 0 takes the group's mean, 1 the machine's own.
    """

    mean: FloatColumn
    deviation: FloatColumn
    own_share: FloatColumn
    may_rank: NDArray[np.bool_]


def own_share(n: NDArray[np.int64], *, between_sd: float, within_sd: float) -> FloatColumn:
    """How much each machine's own mean counts, from 0 (no result) towards 1.

    Args:
        n: how many results each machine has.
        between_sd: deviation from machine to machine in the group, above zero.
        within_sd: deviation from result to result in one machine, above zero.

    Raises:
        OutOfRangeError: for a negative count or a deviation not above zero.

    >>> own_share(np.array([1, 3, 10]), between_sd=3, within_sd=4).round(2).tolist()
    [0.36, 0.63, 0.85]
    """
    between(between_sd, low=0, high=np.inf, name="deviation between machines")
    between(within_sd, low=0, high=np.inf, name="deviation within a machine")
    counts = np.asarray(n)
    if (counts < 0).any():
        raise OutOfRangeError(f"{counts.min()} results: a count is never below zero. Correct it.")
    share: FloatColumn = counts * between_sd**2 / (counts * between_sd**2 + within_sd**2)
    return share


def shrink(
    own_mean: FloatColumn,
    *,
    n: NDArray[np.int64],
    group_mean: float,
    between_sd: float,
    within_sd: float,
) -> Shrunk:
    """Draw each machine's mean towards its group's, the more the fewer results it has.

    Raises:
        NotANumberError: when a mean is not finite.
        OutOfRangeError: see ``own_share``.

    >>> found = shrink(np.array([20.0]), n=np.array([3]), group_mean=10, between_sd=3, within_sd=4)
    >>> found.mean.round(2).tolist(), found.may_rank.tolist()
    ([16.28], [True])
    """
    means = np.asarray(own_mean, dtype=np.float64)
    refuse_unfinished(means, name="means")
    refuse_unfinished(np.asarray(group_mean, dtype=np.float64), name="mean of the group")
    share = own_share(n, between_sd=between_sd, within_sd=within_sd)
    return Shrunk(
        mean=group_mean + share * (means - group_mean),
        deviation=between_sd * np.sqrt(1 - share),
        own_share=share,
        may_rank=np.asarray(n) >= FEWEST_TO_RANK,
    )
