"""How many hours a machine runs a day, as a robust slope of its meter."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

LOOK_BACK_DAYS: Final = 84
"""Span of meter readings that count, about twelve weeks (common practice, no source)."""

FEWEST_READINGS: Final = 3
"""Fewer readings give no rate of their own (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Usage:
    """A machine's meter today: hours, the day they were read, hours a day and their spread."""

    hours_now: float
    as_of: int
    hours_per_day: float
    spread: float
    readings: int


def usage(
    *, days: NDArray[np.int64], hours: NDArray[np.float64], fallback_hours_per_day: float
) -> Usage | None:
    """The median of all pairwise slopes over the last twelve weeks (Theil-Sen).

    Args:
        days: day ordinals of meter readings, rising, shape (n,).
        hours: true hours at each, shape (n,).
        fallback_hours_per_day: used where fewer than three readings are known.

    Returns:
        ``None`` without a reading. The spread is the median absolute deviation of the slopes,
        scaled to a standard deviation.

    >>> one = usage(days=np.array([0, 10, 20]), hours=np.array([0.0, 80.0, 160.0]),
    ...             fallback_hours_per_day=5.0)
    >>> one.hours_per_day, one.hours_now
    (8.0, 160.0)
    """
    if not len(days):
        return None
    recent = days >= days[-1] - LOOK_BACK_DAYS
    day, hour = days[recent].astype(np.float64), hours[recent]
    first, second = np.triu_indices(len(day), k=1)
    gap = day[second] - day[first]
    slopes = (hour[second] - hour[first])[gap > 0] / gap[gap > 0]
    enough = len(day) >= FEWEST_READINGS and len(slopes) > 0
    rate = float(np.median(slopes)) if enough else fallback_hours_per_day
    spread = float(np.median(np.abs(slopes - rate)) * 1.4826) if enough else float("nan")
    return Usage(
        hours_now=float(hour[-1]),
        as_of=int(days[-1]),
        hours_per_day=max(rate, 0.0),
        spread=spread,
        readings=len(day),
    )


def day_to_day_spread(
    *, days: NDArray[np.int64], hours: NDArray[np.float64], hours_per_day: float
) -> float:
    """The standard deviation of a machine's hours from day to day, in hours.

    Days are taken as independent of each other, so that the hours between two readings g days apart
    vary by g times as much variance as one day (common practice, no source). ``forecast_due`` asks
    for this figure.

    Args:
        days: day ordinals of meter readings, rising, shape (n,).
        hours: true hours at each, shape (n,).
        hours_per_day: what the machine runs a day.

    Returns:
        NaN for fewer than three readings that lie on days of their own.

    >>> day_to_day_spread(days=np.array([0, 1, 2]), hours=np.array([0.0, 6.0, 16.0]),
    ...                   hours_per_day=8.0)
    2.0
    """
    found = day_to_day_spreads(
        machine=np.zeros(len(days), dtype=np.int64),
        days=days,
        hours=hours,
        hours_per_day=np.array([hours_per_day]),
    )
    return float(found[0])


def day_to_day_spreads(
    *,
    machine: NDArray[np.int64],
    days: NDArray[np.int64],
    hours: NDArray[np.float64],
    hours_per_day: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The day-to-day spread of many machines at once, as ``day_to_day_spread`` gives it.

    Args:
        machine: whose reading each one is, an index into ``hours_per_day``; the readings of one
            machine together and by day, shape (n,).
        days: day ordinals of the readings, shape (n,).
        hours: true hours at each, shape (n,).
        hours_per_day: what each machine runs a day, NaN where unknown, shape (m,).

    Returns:
        Shape (m,); NaN for a machine with fewer than three readings on days of their own, or whose
        hours a day are not known.

    >>> day_to_day_spreads(machine=np.array([0, 0, 0, 1]), days=np.array([0, 1, 2, 0]),
    ...                    hours=np.array([0.0, 6.0, 16.0, 5.0]),
    ...                    hours_per_day=np.array([8.0, 8.0])).tolist()
    [2.0, nan]
    """
    gap = np.diff(days).astype(np.float64)
    apart = (gap > 0) & (np.diff(machine) == 0)
    owner, gap = machine[1:][apart], gap[apart]
    beside = (np.diff(hours)[apart] - hours_per_day[owner] * gap) ** 2 / gap
    count = np.bincount(owner, minlength=len(hours_per_day))
    total = np.bincount(owner, weights=beside, minlength=len(hours_per_day))
    enough = count >= FEWEST_READINGS - 1
    variance = np.divide(total, count, out=np.full(len(total), np.nan), where=enough)
    spreads: NDArray[np.float64] = np.sqrt(variance)
    return spreads
