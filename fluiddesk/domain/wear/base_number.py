"""The base-number clock: how fast an oil uses up its reserve, and when that reaches a limit.

dB/dt = -k + (q/V)(B0 - B), the algebra of ``mass_balance.py`` with consumption in place of metal
made: fresh oil that makes up a loss stretches the life. Binf = B0 - k V/q (common practice). The
same clock serves any additive that is used up at an even pace.
"""

from dataclasses import dataclass
from typing import Final, Generic, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.balance import made_per_hour
from fluiddesk.domain.wear.inputs import FloatArray, Numbers, WearInputError, checked, same_length

N = TypeVar("N", float, NDArray[np.float64])

_TINY: Final = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseNumberClock(Generic[N]):
    """How a reserve runs down.

    Attributes:
        used_per_hour: k, in the unit of the reserve; negative where it rose, which no oil does by
            itself: noise, or a change or top-up that nobody recorded.
        hours_total: hours from the start until the limit; infinite where the reserve never gets
            there, because fresh oil carries it or it does not fall.
        hours_left: hours from the sample until the limit; negative once past.
        straight_line_hours_left: what a straight line through the two points says; infinite where
            it does not fall.
    """

    used_per_hour: N
    hours_total: N
    hours_left: N
    straight_line_hours_left: N


@overload
def base_number_clock(
    *, start: float, now: float, hours: float, limit: float, fresh: float, exchange: float = 0.0
) -> BaseNumberClock[float]: ...
@overload
def base_number_clock(
    *,
    start: Numbers,
    now: FloatArray,
    hours: Numbers,
    limit: Numbers,
    fresh: Numbers,
    exchange: Numbers = 0.0,
) -> BaseNumberClock[FloatArray]: ...
def base_number_clock(
    *,
    start: Numbers,
    now: Numbers,
    hours: Numbers,
    limit: Numbers,
    fresh: Numbers,
    exchange: Numbers = 0.0,
) -> BaseNumberClock[float] | BaseNumberClock[FloatArray]:
    """Consumption of a reserve and the hours until it reaches a limit.

    Args:
        start: base number after the change (``start_after_change``), mg KOH/g.
        now: base number at the sample.
        hours: hours between the two, above 0.
        limit: base number that ends the life: the higher of the absolute limit and the level at
            which the acid number meets it; below the start.
        fresh: base number of the oil that makes up, mg KOH/g.
        exchange: share of the oil lost and made up per hour (q/V).

    Raises:
        WearInputError: a figure is negative or not finite, or the limit is not below the start.

    >>> clock = base_number_clock(start=9.4, now=7.4, hours=250.0, limit=4.0, fresh=10.0,
    ...                           exchange=0.00032)
    >>> round(clock.used_per_hour, 6), round(clock.hours_total, 1)
    (0.008516, 727.1)
    >>> round(clock.hours_left), round(clock.straight_line_hours_left)
    (477, 425)
    """
    first = checked("the base number at the start", start, at_least=0)
    last = checked("the base number at the sample", now, at_least=0)
    ran = checked("the hours between the two", hours, above=0)
    end = checked("the limit of the base number", limit, at_least=0)
    new = checked("the base number of fresh oil", fresh, at_least=0)
    turned = checked("the share of the oil made up per hour", exchange, at_least=0)
    same_length(start=first, now=last, hours=ran, limit=end, fresh=new, exchange=turned)
    if (end >= first).any():
        raise WearInputError(
            "The limit of the base number is not below the start. Correct the limit or the start."
        )
    made = made_per_hour(first, last, fresh=turned * new, loss=turned, hours=ran)
    used = np.asarray(-made)
    falls = used + turned * (end - new)
    total = _hours_to(fall=first - end, falls=np.asarray(falls), exchange=turned)
    slope = np.asarray((first - last) / ran)
    straight = np.where(slope > 0, (last - end) / np.where(slope > 0, slope, 1.0), np.inf)
    used, total, left, straight = np.broadcast_arrays(used, total, total - ran, straight)
    if used.ndim:
        return BaseNumberClock(
            used_per_hour=used,
            hours_total=total,
            hours_left=left,
            straight_line_hours_left=straight,
        )
    return BaseNumberClock(
        used_per_hour=float(used),
        hours_total=float(total),
        hours_left=float(left),
        straight_line_hours_left=float(straight),
    )


def _hours_to(*, fall: FloatArray, falls: FloatArray, exchange: FloatArray) -> FloatArray:
    """Hours for a fall; ``falls`` is the pace still left at the limit, none or less for never."""
    reaches = falls > 0
    pace = np.where(reaches, falls, 1.0)
    slows = exchange > _TINY
    safe = np.where(slows, exchange, 1.0)
    even = fall / pace
    hours: FloatArray = np.where(slows, np.log1p(safe * even) / safe, even)
    return np.where(reaches, hours, np.inf)
