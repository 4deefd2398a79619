"""Cumulative sums: find a lasting shift of the level, small as it may be.

Tabular form of NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.3: upper sum
max(0, S + x - target - k), lower sum max(0, S + target - k - x); signal above h. With the fast
initial response both sums start at h / 2 (from memory, unconfirmed), so that a process that is
off from the first result is found sooner. Sums go on after a signal.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import (
    BoolColumn,
    FloatColumn,
    NotEnough,
    between,
    refuse_unfinished,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class CusumChart:
    """Both sums after each result, and where one of them exceeds h."""

    upper: FloatColumn
    lower: FloatColumn
    is_signal: BoolColumn


def cusum(
    values: ArrayLike, *, target: float, k: float, h: float, fast_start: bool = False
) -> CusumChart | NotEnough:
    """The tabular cumulative sums.

    Args:
        values: one series, or many equally long ones, the last axis in the order of time.
        target: where the process should be.
        k: what a result may be off without being counted, in the unit of the values; often half
            the shift to be found.
        h: the sum that signals, in the unit of the values, above zero.
        fast_start: both sums start at h / 2.

    Returns:
        ``NotEnough`` without a result.

    Raises:
        NotANumberError: when a value is not finite.
        OutOfRangeError: for a setting outside its range.

    >>> z = (np.array([12.4, 12.6, 12.9, 12.7]) - 10.75) / 1.1778
    >>> chart = cusum(z, target=0, k=0.5, h=4)
    >>> round(float(chart.upper[-1]), 2), chart.is_signal.tolist()
    (4.45, [False, False, False, True])
    """
    between(target, low=-np.inf, high=np.inf, name="target")
    between(k, low=-np.finfo(np.float64).tiny, high=np.inf, name="k")
    between(h, low=0, high=np.inf, name="h")
    numbers = np.asarray(values, dtype=np.float64)
    refuse_unfinished(numbers, name="values")
    if not numbers.size:
        return NotEnough(have=0, need=1, of="results")
    upper, lower = np.empty_like(numbers), np.empty_like(numbers)
    high = low = np.full(numbers.shape[:-1], h / 2 if fast_start else 0.0)
    for place in range(numbers.shape[-1]):
        away = numbers[..., place] - target
        high = np.maximum(0.0, high + away - k)
        low = np.maximum(0.0, low - away - k)
        upper[..., place], lower[..., place] = high, low
    return CusumChart(upper=upper, lower=lower, is_signal=(upper > h) | (lower > h))
