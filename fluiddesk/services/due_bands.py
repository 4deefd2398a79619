"""By how much a due day that the meter sets may move: an 80 % band, from the day-to-day spread."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.sampling.forecast import forecast_due
from fluiddesk.domain.trends.usage import FEWEST_READINGS, LOOK_BACK_DAYS, day_to_day_spread
from fluiddesk.services.fleet_condition import FleetCondition
from fluiddesk.services.workplace import Workplace

BAND_SHARE: Final = 0.80
"""What the band of a due day holds (common practice, no source)."""

_LONGEST_DAYS: Final = 36_500.0
_MOST_HOURS_PER_DAY: Final = 24.0


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

    def words(self, index: int) -> str:
        """The band of one box in words, "" where the calendar sets its day or the day is past."""
        if self.too_few[index]:
            return f"no band: fewer than {FEWEST_READINGS} meter readings in twelve weeks"
        band = self.days(index)
        if band is None:
            return ""
        return f"{band[0].isoformat()} to {band[1].isoformat()} ({BAND_SHARE:.0%})"


def due_bands(place: Workplace, fleet: FleetCondition) -> DueBands:
    """The bands of all boxes of a fleet; one read of the meter readings of twelve weeks."""
    since = fleet.today - timedelta(days=LOOK_BACK_DAYS)
    with place.store.reading() as desk:
        readings = desk.hours.readings_since(since)
    return band_columns(fleet, readings)


def band_columns(fleet: FleetCondition, readings: Sequence[tuple[bytes, date, float]]) -> DueBands:
    """The bands that follow from meter readings.

    Args:
        fleet: the boxes and when they are due.
        readings: machine, day and true hours, those of one machine together and by day.
    """
    rates = {row.machine_id: row.hours_per_day for row in fleet.rows}
    spreads = _spreads(readings, rates)
    rate = np.array([row.hours_per_day or 0.0 for row in fleet.rows], dtype=np.float64)
    spread = np.array([spreads.get(row.machine_id, np.nan) for row in fleet.rows], dtype=np.float64)
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
            share=BAND_SHARE,
        )
        due_on = due.due_on[known]
        first = today + np.floor(np.minimum(found.low, _LONGEST_DAYS)).astype(np.int32)
        last = today + np.ceil(np.minimum(found.high, _LONGEST_DAYS)).astype(np.int32)
        last = np.minimum(last, _by_calendar(fleet)[known])
        low[known], high[known] = np.minimum(first, due_on), np.maximum(last, due_on)
    return DueBands(low=low, high=high, too_few=told & np.isnan(spread))


def _by_calendar(fleet: FleetCondition) -> NDArray[np.int32]:
    """The day on which the calendar makes each box due at the latest, whatever the meter says."""
    days = np.array([row.interval_days for row in fleet.rows], dtype=np.float64)
    day = fleet.today.toordinal() - fleet.age_days + days
    is_told = ~np.isnan(days) & (fleet.age_days >= 0) & ~fleet.is_awaited
    return np.where(is_told, day, NEVER).astype(np.int32)


def _spreads(
    readings: Sequence[tuple[bytes, date, float]], rates: dict[bytes, float | None]
) -> dict[bytes, float]:
    """The day-to-day spread of each machine with enough readings."""
    if not readings:
        return {}
    machines = [machine for machine, _, _ in readings]
    days = np.array([day.toordinal() for _, day, _ in readings], dtype=np.int64)
    hours = np.array([value for _, _, value in readings], dtype=np.float64)
    ends = [at for at in range(1, len(machines)) if machines[at] != machines[at - 1]]
    found = {}
    for start, stop in zip([0, *ends], [*ends, len(machines)], strict=True):
        rate = rates.get(machines[start])
        if rate is not None:
            found[machines[start]] = day_to_day_spread(
                days=days[start:stop], hours=hours[start:stop], hours_per_day=rate
            )
    return found
