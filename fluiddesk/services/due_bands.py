"""By how much a due day that the meter sets may move: an 80 % band.

It comes from the day-to-day spread of the hours a machine runs, over the days to come and over
those since its meter was last read.
"""

import operator
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.sampling.forecast import forecast_due
from fluiddesk.domain.trends.usage import FEWEST_READINGS, LOOK_BACK_DAYS, day_to_day_spreads
from fluiddesk.domain.units import percent_text
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.fleet_condition import FleetCondition
from fluiddesk.services.workplace import Workplace

BAND_SHARE: Final = 0.80
"""What the band of a due day holds (common practice, no source)."""

CRITICAL_FROM: Final = 4
"""Boxes this critical or more are planned on the early edge of their band (common practice)."""

NO_BAND: Final = "no band: too few readings"

_LONGEST_DAYS: Final = 36_500.0
_MOST_HOURS_PER_DAY: Final = 24.0


Reading = tuple[bytes, date | str, float]
"""Machine, day (text on SQLite) and true hours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DueBands:
    """The first and last likely due day of each box of a fleet; all columns shape (n,).

    Attributes:
        low: day ordinal, 0 where there is no band.
        high: day ordinal, 0 where there is no band.
        too_few: whether the band is missing because too few meter readings are known.
    """

    low: NDArray[np.int32]
    high: NDArray[np.int32]
    too_few: NDArray[np.bool_]

    def days(self, index: int) -> tuple[date, date] | None:
        """The band of one box as days."""
        if not self.low[index]:
            return None
        return (
            date.fromordinal(int(self.low[index])),
            date.fromordinal(int(self.high[index])),
        )

    def short(self, index: int) -> str:
        """The band of one box for a column, or briefly why there is none."""
        band = self.days(index)
        if band is None:
            return NO_BAND if self.too_few[index] else ""
        return f"{band[0].isoformat()} to {band[1].isoformat()}"

    def words(self, index: int) -> str:
        """The band of one box in words, "" where the calendar sets its day or the day is past."""
        if self.too_few[index]:
            return f"{NO_BAND} (fewer than {FEWEST_READINGS} in twelve weeks)"
        told = self.short(index)
        return f"{told} ({percent_text(BAND_SHARE)})" if told else ""


def early_edge(fleet: FleetCondition, bands: DueBands) -> NDArray[np.int32]:
    """The day on which each critical box is planned: the first day of its band.

    It never lies before the window opens, where a sample would count as early. 0 where the box is
    not critical, has no band, or is due on that day anyway.
    """
    critical = np.array([row.criticality >= CRITICAL_FROM for row in fleet.rows], dtype=bool)
    day = np.maximum(np.maximum(bands.low, fleet.due.window_from), fleet.today.toordinal())
    return np.where(critical & (bands.low > 0) & (day < fleet.due.due_on), day, 0).astype(np.int32)


def due_bands(place: Workplace, fleet: FleetCondition) -> DueBands:
    """The bands of all boxes of a fleet; one read of the meter readings of twelve weeks."""
    since = fleet.today - timedelta(days=LOOK_BACK_DAYS)
    with place.store.reading() as desk:
        readings = desk.hours.readings_since(since)
    return band_columns(fleet, readings)


def band_columns(fleet: FleetCondition, readings: Sequence[Reading]) -> DueBands:
    """The bands that follow from meter readings.

    Args:
        fleet: the boxes and when they are due.
        readings: machine, day and true hours, those of one machine together and by day.
    """
    rate = np.array([row.hours_per_day for row in fleet.rows], dtype=np.float64)
    spread = _spreads(fleet, readings, rate)
    rate = np.nan_to_num(rate, nan=0.0)
    due, today = fleet.due, fleet.today.toordinal()
    # Of the hours that are left, none can be told where the due point has passed.
    told = due.by_hours & (due.hours_left > 0) & (rate > 0) & (due.due_on >= today)
    told &= np.isin(due.state, (DueState.NOT_YET, DueState.DUE))
    known = told & ~np.isnan(spread)
    low, high = np.zeros(len(fleet), dtype=np.int32), np.zeros(len(fleet), dtype=np.int32)
    if known.any():
        found = forecast_due(
            hours_left=due.hours_left[known],
            hours_per_day=np.minimum(rate[known], _MOST_HOURS_PER_DAY),
            sd_per_day=spread[known],
            days_since_read=_days_since_read(fleet)[known],
            share=BAND_SHARE,
        )
        due_on = due.due_on[known]
        first = today + np.floor(np.minimum(found.low, _LONGEST_DAYS)).astype(np.int32)
        last = today + np.ceil(np.minimum(found.high, _LONGEST_DAYS)).astype(np.int32)
        last = np.minimum(last, _by_calendar(fleet)[known])
        low[known], high[known] = np.minimum(first, due_on), np.maximum(last, due_on)
    return DueBands(low=low, high=high, too_few=told & np.isnan(spread))


def _days_since_read(fleet: FleetCondition) -> NDArray[np.float64]:
    """How old each machine's last meter reading is; 0 where none is known or it lies ahead."""
    as_of = [row.usage_as_of for row in fleet.rows]
    today = fleet.today.toordinal()
    age = {day: 0 if day is None else max(today - day_ordinal(day), 0) for day in set(as_of)}
    return np.array([age[day] for day in as_of], dtype=np.float64)


def _by_calendar(fleet: FleetCondition) -> NDArray[np.int32]:
    """The day on which the calendar makes each box due at the latest, whatever the meter says."""
    days = np.array([row.interval_days for row in fleet.rows], dtype=np.float64)
    day = fleet.today.toordinal() - fleet.age_days + days
    is_told = ~np.isnan(days) & (fleet.age_days >= 0) & ~fleet.is_awaited
    return np.where(is_told, day, NEVER).astype(np.int32)


def _spreads(
    fleet: FleetCondition, readings: Sequence[Reading], rate: NDArray[np.float64]
) -> NDArray[np.float64]:
    """The day-to-day spread of each box's machine, NaN where it has too few readings."""
    starts = np.flatnonzero(np.diff(fleet.machine, prepend=-1))
    if not readings or not len(starts):
        return np.full(len(fleet), np.nan)
    machines, days, hours = zip(*readings, strict=True)
    places = {fleet.rows[at].machine_id: place for place, at in enumerate(starts.tolist())}
    ordinals = {day: day_ordinal(day) for day in set(days)}
    # One look-up a machine: its readings stand together.
    begins = np.flatnonzero(
        np.fromiter((True, *map(operator.ne, machines[1:], machines[:-1])), bool, len(machines))
    )
    owners = [places.get(machines[at], -1) for at in begins.tolist()]
    runs = np.diff(np.append(begins, len(machines)))
    owner = np.repeat(np.array(owners, dtype=np.int64), runs)
    ours = owner >= 0
    found = day_to_day_spreads(
        machine=owner[ours],
        days=np.array([ordinals[day] for day in days], dtype=np.int64)[ours],
        hours=np.array(hours, dtype=np.float64)[ours],
        hours_per_day=rate[starts],
    )
    return found[fleet.machine]
