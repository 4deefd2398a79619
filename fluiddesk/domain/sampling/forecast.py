"""In how many days a box comes due, with a band.

A machine that runs m hours a day, from day to day with standard deviation s, covers h hours in
h / m days with standard deviation s sqrt(h / m) / m days (days independent of each other; common
practice, first order). The days run since the meter was last read are as uncertain as those to
come: they count in the h / m under the root.
"""

from dataclasses import dataclass
from typing import Generic, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.inputs import FloatArray, Numbers, checked, same_length
from fluiddesk.domain.wear.rate_band import half_width

N = TypeVar("N", float, NDArray[np.float64])


@dataclass(frozen=True, slots=True, kw_only=True)
class DueForecast(Generic[N]):
    """Days from today to the due point, and a band; all infinite for a machine that stands.

    0 where the due point has passed.
    """

    days: N
    low: N
    high: N


@overload
def forecast_due(
    *,
    hours_left: float,
    hours_per_day: float,
    sd_per_day: float,
    days_since_read: float = 0.0,
    share: float = 0.80,
) -> DueForecast[float]: ...
@overload
def forecast_due(
    *,
    hours_left: FloatArray,
    hours_per_day: Numbers,
    sd_per_day: Numbers,
    days_since_read: Numbers = 0.0,
    share: float = 0.80,
) -> DueForecast[FloatArray]: ...
def forecast_due(
    *,
    hours_left: Numbers,
    hours_per_day: Numbers,
    sd_per_day: Numbers,
    days_since_read: Numbers = 0.0,
    share: float = 0.80,
) -> DueForecast[float] | DueForecast[FloatArray]:
    """Days until a box comes due on the meter.

    Args:
        hours_left: hours to the due point today, negative once past; what was run since the meter
            was read is taken off at ``hours_per_day``.
        hours_per_day: what the machine runs a day; 0 for one that stands.
        sd_per_day: standard deviation of that from day to day.
        days_since_read: age of the meter reading; the band widens with it.
        share: what the band holds.

    Raises:
        WearInputError: a figure is not finite, or hours a day or their spread negative.

    >>> found = forecast_due(hours_left=160.0, hours_per_day=16.0, sd_per_day=5.0)
    >>> round(found.days, 2), round(found.low, 2), round(found.high, 2)
    (10.0, 8.73, 11.27)
    >>> old = forecast_due(hours_left=160.0, hours_per_day=16.0, sd_per_day=5.0, days_since_read=30)
    >>> round(old.days, 2), round(old.low, 2), round(old.high, 2)
    (10.0, 7.47, 12.53)
    """
    left = checked("the hours left", hours_left)
    rate = checked("the hours a day", hours_per_day, at_least=0, at_most=24)
    spread = checked("the spread of the hours a day", sd_per_day, at_least=0)
    age = checked("the days since the meter was read", days_since_read, at_least=0)
    same_length(left=left, rate=rate, spread=spread, age=age)
    left, rate, spread, age = np.broadcast_arrays(np.maximum(left, 0.0), rate, spread, age)
    runs = rate > 0
    pace = np.where(runs, rate, 1.0)
    days = np.where(runs, left / pace, np.inf)
    days = np.where(left > 0, days, 0.0)
    known = np.where(np.isinf(days), 0.0, days)
    reach = half_width(share) * spread * np.sqrt(known + np.where(known > 0, age, 0.0)) / pace
    low, high = np.maximum(days - reach, 0.0), days + reach
    if days.ndim:
        return DueForecast(days=days, low=low, high=high)
    return DueForecast(days=float(days), low=float(low), high=float(high))
