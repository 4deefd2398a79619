"""Whether results rise or fall over time, whatever the shape: the Mann-Kendall test.

USEPA QA/G-9S (February 2006): S is the sum of the signs of all later-minus-earlier differences;
its variance is corrected for ties; Z takes the continuity step of one. For ten results or fewer
the probability is exact (documentation after Gilbert 1987), with ties too: with ties the number of
falling pairs over all orders of the values is counted by the Gaussian multinomial coefficient.
"""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import IntColumn, NotEnough, column, same_length

FEWEST_RESULTS: Final = 3
"""Two results have a difference, not a trend (common practice, no source)."""

EXACT_UP_TO: Final = 10
"""Up to this many results the probability is exact."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MannKendall:
    """The test's answer: positive ``s``, ``z`` and ``tau`` mean rising.

    ``probability`` is two-sided: how often at least so strong a trend shows where there is none.
    ``tau`` is S over the number of pairs (tau a). ``is_exact`` tells how it was found.
    """

    n: int
    s: int
    variance: float
    z: float
    tau: float
    probability: float
    is_exact: bool


def mann_kendall(values: ArrayLike, *, below: ArrayLike | None = None) -> MannKendall | NotEnough:
    """Test results, in the order they were taken, for a rise or a fall.

    Args:
        values: results; for a "less than" result the limit it is below.
        below: true where the result is below its limit. Everything below the highest such limit
            then counts as equal and below the rest, so that a changing limit makes no trend.

    Returns:
        ``NotEnough`` with fewer than three results, or where all lie below the highest limit.

    Raises:
        LengthsDifferError: when marks and values are not equally many.
        NotANumberError: when a value is not finite.

    >>> found = mann_kendall([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15])
    >>> found.s, round(found.variance, 2), round(found.z, 3)
    (22, 155.33, 1.685)
    """
    numbers = column(values, name="values")
    n = len(numbers)
    if n < FEWEST_RESULTS:
        return NotEnough(have=n, need=FEWEST_RESULTS, of="results")
    if below is not None:
        marks = np.asarray(below, dtype=np.bool_)
        same_length(numbers, marks, names='values and "less than" marks')
        if marks.any():
            numbers = np.where(marks | (numbers < numbers[marks].max()), -np.inf, numbers)
        if np.isneginf(numbers).all():
            return NotEnough(have=0, need=1, of="results above the highest limit")
    earlier, later = np.triu_indices(n, k=1)
    s = int(np.count_nonzero(numbers[later] > numbers[earlier]))
    s -= int(np.count_nonzero(numbers[later] < numbers[earlier]))
    ties = np.unique(numbers, return_counts=True)[1].astype(np.int64)
    variance = (n * (n - 1) * (2 * n + 5) - tie_correction(ties)) / 18
    z = float((s - np.sign(s)) / np.sqrt(variance)) if variance else 0.0
    is_exact = n <= EXACT_UP_TO
    return MannKendall(
        n=n,
        s=s,
        variance=variance,
        z=z,
        tau=s / (n * (n - 1) / 2),
        probability=_exact(s, ties) if is_exact else 2 * NormalDist().cdf(-abs(z)),
        is_exact=is_exact,
    )


def tie_correction(ties: IntColumn) -> int:
    """The sum of t (t - 1) (2 t + 5) over groups of t equal results.

    >>> tie_correction(np.array([4, 2, 1]))
    174
    """
    return int((ties * (ties - 1) * (2 * ties + 5)).sum())


def _exact(s: int, ties: IntColumn) -> float:
    """The two-sided probability of S by counting every order of the values."""
    ways = _orders_by_falling_pairs([int(t) for t in ties])
    pairs = len(ways) - 1
    # With f falling pairs S is pairs - 2 f, the tied pairs counting nothing.
    extreme = sum(count for f, count in enumerate(ways) if abs(pairs - 2 * f) >= abs(s))
    return extreme / sum(ways)


def _orders_by_falling_pairs(ties: list[int]) -> list[int]:
    """How many different orders of the values have 0, 1, 2 ... falling pairs.

    The Gaussian multinomial: the product of (1 - q^k) for k up to n, divided by the same product
    for every group of equal values; factors (1 - q) cancel, as there are n of them on each side.
    """
    ways = [1]
    for k in range(2, sum(ties) + 1):
        ways = _times_run(ways, k)
    for group in ties:
        for k in range(2, group + 1):
            ways = _over_run(ways, k)
    return ways


def _times_run(ways: list[int], k: int) -> list[int]:
    """The polynomial times 1 + q + ... + q^(k-1)."""
    return [sum(ways[max(0, place - k + 1) : place + 1]) for place in range(len(ways) + k - 1)]


def _over_run(ways: list[int], k: int) -> list[int]:
    """The polynomial divided by 1 + q + ... + q^(k-1); it goes without a rest."""
    quotient: list[int] = []
    for place in range(len(ways) - k + 1):
        quotient.append(ways[place] - sum(quotient[max(0, place - k + 1) : place]))
    return quotient
