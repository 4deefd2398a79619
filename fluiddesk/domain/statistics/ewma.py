"""Exponentially weighted moving average: sees a slow drift that single results hide.

NIST/SEMATECH e-Handbook of Statistical Methods 6.3.2.4: E(i) = w x(i) + (1 - w) E(i-1), E(0) the
centre; limits centre +- width * sigma * sqrt(w / (2 - w)). The limits of the first points are
narrower by sqrt(1 - (1 - w)^(2 i)) where asked for (from memory, unconfirmed).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fluiddesk.domain.statistics.entry import (
    BoolColumn,
    FloatColumn,
    NotEnough,
    OutOfRangeError,
    between,
    refuse_unfinished,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class EwmaChart:
    """The averages, their limits, and where an average lies outside them."""

    average: FloatColumn
    upper: FloatColumn
    lower: FloatColumn
    is_signal: BoolColumn


def ewma(values: ArrayLike, *, start: float | FloatColumn, weight: float = 0.3) -> FloatColumn:
    """The moving average after each result.

    Args:
        values: one series, or many equally long ones, the last axis in the order of time.
        start: the average before the first result; one number, or one for each series.
        weight: of the newest result, above 0 and at most 1.

    Raises:
        NotANumberError: when a value or start is not finite.
        OutOfRangeError: for a weight outside its range.

    >>> ewma([52.0, 47.0, 53.0], start=50.0).round(3).tolist()
    [50.6, 49.52, 50.564]
    """
    numbers = np.asarray(values, dtype=np.float64)
    before = np.asarray(start, dtype=np.float64)
    refuse_unfinished(numbers, name="values")
    refuse_unfinished(before, name="start")
    if not 0 < weight <= 1:
        raise OutOfRangeError(f"weight is {weight:g}. Give a number above 0, at most 1.")
    average = np.empty_like(numbers)
    for place in range(numbers.shape[-1]):
        before = weight * numbers[..., place] + (1 - weight) * before
        average[..., place] = before
    return average


def ewma_chart(
    values: ArrayLike,
    *,
    centre: float,
    sigma: float,
    weight: float = 0.3,
    width: float = 3.0,
    narrow_start: bool = False,
) -> EwmaChart | NotEnough:
    """The averages with their limits.

    Args:
        values: one series, or many with the same centre and sigma, last axis time.
        centre: where the process should be.
        sigma: the deviation of a single result, above zero.
        weight: of the newest result.
        width: how many deviations of the average the limits are wide.
        narrow_start: narrower limits for the first points.

    Returns:
        ``NotEnough`` without a result.

    Raises:
        NotANumberError: when a value is not finite.
        OutOfRangeError: for a setting outside its range.

    >>> chart = ewma_chart([12.4, 12.6, 12.9, 12.7], centre=10.75, sigma=1.1778, width=2.8)
    >>> chart.average.round(2).tolist(), round(float(chart.upper[0]), 2), chart.is_signal.tolist()
    ([11.24, 11.65, 12.03, 12.23], 12.14, [False, False, False, True])
    """
    between(sigma, low=0, high=np.inf, name="sigma")
    between(width, low=0, high=np.inf, name="width")
    average = ewma(values, start=centre, weight=weight)
    if not average.size:
        return NotEnough(have=0, need=1, of="results")
    reach = np.full(average.shape[-1], width * sigma * np.sqrt(weight / (2 - weight)))
    if narrow_start:
        place: NDArray[np.int64] = np.arange(1, len(reach) + 1)
        reach *= np.sqrt(1 - (1 - weight) ** (2 * place))
    return EwmaChart(
        average=average,
        upper=centre + reach,
        lower=centre - reach,
        is_signal=np.abs(average - centre) > reach,
    )
