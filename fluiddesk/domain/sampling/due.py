"""What is due, overdue or not yet, from the meter and the interval; columns in, columns out.

The window of a tenth of the interval before and after the due point follows US Army TB 43-0211,
question 12-6 ("10 % before or after in date, hours or miles"). Of two criteria, hours and days, the
one that comes first counts (TM 1-1500-328-23).
"""

from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.window import (
    GROUND_RULE,
    WindowRule,
    half_width_days,
    half_width_hours,
)

NEVER: Final = np.int32(2_000_000_000)
"""Day ordinal that stands for "no due day can be given"."""

_STANDING_HOURS_PER_DAY: Final = 1e-6
"""A machine that runs no more than this stands (some milliseconds a day: rounding, not work)."""

_LONGEST_FORECAST_DAYS: Final = 36_500.0
"""A machine that hardly runs comes due in thousands of years: dates end after a century."""


class DueState(IntEnum):
    """Where a box stands in its sampling interval."""

    EXCUSED = 0
    NOT_YET = 1
    DUE = 2
    OVERDUE = 3
    NEVER_SAMPLED = 4
    NO_INTERVAL = 5

    @property
    def word(self) -> str:
        """The word shown to people."""
        return self.name.replace("_", " ").capitalize()


@dataclass(frozen=True, slots=True, kw_only=True)
class DueColumns:
    """How far n boxes are from their next sample.

    Attributes:
        state: shape (n,), values of ``DueState``; of a machine that stands, by the hours at which
            it stopped.
        due_on: shape (n,), day ordinal of the due point, today where a machine stands within or
            past its window in hours; ``NEVER`` where none can be given.
        window_from: shape (n,), first day of the window, never after the due day.
        window_to: shape (n,), last day of the window, never before the due day.
        hours_left: shape (n,), machine hours to the due point, negative once past; NaN where the
            box has no interval in hours or the meter is not known.
        by_hours: shape (n,), whether the meter, not the calendar, sets the due point.
    """

    state: NDArray[np.int8]
    due_on: NDArray[np.int32]
    window_from: NDArray[np.int32]
    window_to: NDArray[np.int32]
    hours_left: NDArray[np.float64]
    by_hours: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class DuePoints:
    """Where n boxes fall due: true hours and day ordinal, NaN where there is none; shape (n,)."""

    hours: NDArray[np.float64]
    day: NDArray[np.float64]


def due_points(
    taken_on: NDArray[np.int32],
    taken_at_hours: NDArray[np.float64],
    interval_hours: NDArray[np.float64],
    interval_days: NDArray[np.float64],
) -> DuePoints:
    """The due points counted from the last sample; arguments as those of ``due_columns``."""
    return DuePoints(taken_at_hours + interval_hours, taken_on + interval_days)


def due_columns(  # noqa: PLR0913 - the columns of one table, all by keyword
    *,
    today: int,
    taken_on: NDArray[np.int32],
    taken_at_hours: NDArray[np.float64],
    interval_hours: NDArray[np.float64],
    interval_days: NDArray[np.float64],
    hours_now: NDArray[np.float64],
    hours_as_of: NDArray[np.int32],
    hours_per_day: NDArray[np.float64],
    is_excused: NDArray[np.bool_],
    rule: WindowRule = GROUND_RULE,
    due_at: DuePoints | None = None,
) -> DueColumns:
    """Forecast the next due day of n boxes.

    Args:
        today: day ordinal.
        taken_on: day of the last sample, 0 where there is none.
        taken_at_hours: true hours at the last sample, NaN where unknown.
        interval_hours: NaN where the box has none.
        interval_days: NaN where the box has none.
        hours_now: last known true hours of the machine, NaN where unknown.
        hours_as_of: day of that meter reading.
        hours_per_day: expected running hours a day; 0 or NaN for a machine that stands.
        is_excused: machines that owe no sample (standby, down, sold).
        rule: how wide the windows are.
        due_at: the due points, where they do not follow from the last sample alone.

    >>> due = due_columns(today=1000, taken_on=np.array([990], dtype=np.int32),
    ...     taken_at_hours=np.array([500.0]), interval_hours=np.array([250.0]),
    ...     interval_days=np.array([90.0]), hours_now=np.array([590.0]),
    ...     hours_as_of=np.array([1000], dtype=np.int32), hours_per_day=np.array([16.0]),
    ...     is_excused=np.array([False]))
    >>> int(due.due_on[0]) - 1000, due.hours_left.tolist(), bool(due.by_hours[0])
    (10, [160.0], True)
    """
    rate = np.where(hours_per_day > _STANDING_HOURS_PER_DAY, hours_per_day, np.nan)
    hours_today = _hours_today(today, hours_now, hours_as_of, rate)
    if due_at is None:
        due_at = due_points(taken_on, taken_at_hours, interval_hours, interval_days)
    hours_left = due_at.hours - hours_today
    days_by_hours = hours_left / rate
    slack = half_width_hours(interval_hours, rule=rule)
    # A machine that stands moves no further in its interval: what counts is where it stopped.
    stopped = np.where(np.isnan(rate), np.round(hours_left, 6), np.nan)
    days_by_hours = np.where(stopped <= slack, 0.0, days_by_hours)
    by_date = due_at.day - today
    by_hours = ~np.isnan(days_by_hours) & ~(by_date < days_by_hours)
    days_left = np.fmin(days_by_hours, by_date)
    wide = np.where(by_hours, slack / rate, half_width_days(interval_days, rule=rule))
    half = np.fmax(wide, 0.0)  # 0 where not known
    sampled = taken_on > 0
    known = sampled & ~np.isnan(days_left)
    days_left = np.where(known, days_left, 0.0)
    due_on = _day(np.floor, days_left, known=known, today=today)
    # A window below a day has no whole day in it: it then opens on the due day.
    window_from = np.minimum(_day(np.ceil, days_left - half, known=known, today=today), due_on)
    window_to = _day(np.floor, days_left + half, known=known, today=today)
    state = np.full(len(taken_on), DueState.NOT_YET, dtype=np.int8)
    state[known & (window_from <= today)] = DueState.DUE
    state[known & ((window_to < today) | (stopped < -slack))] = DueState.OVERDUE
    state[sampled & ~known & np.isnan(hours_left)] = DueState.NO_INTERVAL
    state[~sampled] = DueState.NEVER_SAMPLED
    state[is_excused] = DueState.EXCUSED
    return DueColumns(
        state=state,
        due_on=due_on,
        window_from=window_from,
        window_to=window_to,
        hours_left=np.where(sampled, hours_left, np.nan),
        by_hours=by_hours,
    )


def _hours_today(
    today: int,
    hours_now: NDArray[np.float64],
    hours_as_of: NDArray[np.int32],
    rate: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The hours of machines today, at their pace since the meter was read."""
    run_since = np.clip(today - hours_as_of.astype(np.float64), 0, None)
    hours: NDArray[np.float64] = hours_now + np.where(np.isnan(rate), 0.0, rate) * run_since
    return hours


def _day(
    whole: np.ufunc, days_left: NDArray[np.float64], *, known: NDArray[np.bool_], today: int
) -> NDArray[np.int32]:
    """Whole days from today on as day ordinals, rounded as told.

    What binary arithmetic adds in the last places (1475.2 - 1472.7) moves no window by a day.
    """
    near = np.clip(days_left, -_LONGEST_FORECAST_DAYS, _LONGEST_FORECAST_DAYS)
    return np.where(known, today + whole(np.round(near, 6)), NEVER).astype(np.int32)
