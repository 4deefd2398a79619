"""The day on which a machine reached an hour, by its meter's readings and its samples."""

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.fleet_condition import FleetCondition

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SLOWEST: Final = 0.01
"""A machine that runs fewer hours a day is counted by the calendar."""


class MachineClocks:
    """Day to hours and back, for each machine, by its meter's readings and its samples."""

    def __init__(
        self,
        fleet: FleetCondition,
        readings: Sequence[tuple[Any, ...]],
        samples: tuple[IntArray, IntArray, FloatArray],
    ) -> None:
        """``samples``: box, day and hours of each; ``readings``: machine, day and hours."""
        sample_box, sample_day, sample_hours = samples
        self.machine = fleet.machine.astype(np.int64)
        count = int(self.machine[-1]) + 1 if len(self.machine) else 0
        first = np.flatnonzero(np.diff(self.machine, prepend=-1))
        self.number: Mapping[bytes, int] = {
            fleet.rows[row].machine_id: int(self.machine[row]) for row in first.tolist()
        }
        number = self.number
        pace = np.array(
            [fleet.rows[row].hours_per_day or 0.0 for row in first.tolist()], dtype=np.float64
        )
        self.pace = pace if count else np.empty(0)
        told = [
            (number[row[0]], day_ordinal(row[1]), float(row[2]))
            for row in readings
            if row[0] in number
        ]
        owner = np.array([one[0] for one in told], dtype=np.int64)
        day = np.array([one[1] for one in told], dtype=np.float64)
        hours = np.array([one[2] for one in told], dtype=np.float64)
        known = ~np.isnan(sample_hours)
        owner = np.concatenate([owner, self.machine[sample_box[known]]])
        day = np.concatenate([day, sample_day[known].astype(np.float64)])
        hours = np.concatenate([hours, sample_hours[known]])
        order = np.lexsort((hours, day, owner))
        self._day, self._hours = day[order], hours[order]
        self._start = np.searchsorted(owner[order], np.arange(count + 1))
        self._today = fleet.today.toordinal()

    def has_meter(self) -> NDArray[np.bool_]:
        """Whether each machine's hours are known, shape (machines,)."""
        has: NDArray[np.bool_] = np.diff(self._start) > 0
        return has

    def hours_today(self) -> FloatArray:
        """Each machine's hours today, at its pace since it was last read."""
        found = np.full(len(self.pace), np.nan)
        last = self._start[1:] - 1
        has = self.has_meter()
        gone = np.maximum(self._today - self._day[last[has]], 0.0)
        found[has] = self._hours[last[has]] + gone * self.pace[has]
        return found

    def days_at(self, machine: IntArray, hours: FloatArray) -> FloatArray:
        """The day on which machines reach hours, between readings in proportion.

        Args:
            machine: shape (n,), rising.
            hours: shape (n,).
        """
        found = np.full(len(machine), np.nan)
        edges = np.flatnonzero(np.diff(machine, prepend=-1, append=-1))
        for begin, end in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            one = int(machine[begin])
            span = slice(int(self._start[one]), int(self._start[one + 1]))
            found[begin:end] = self._along(span, hours[begin:end], pace=float(self.pace[one]))
        return found

    def _along(self, span: slice, hours: FloatArray, *, pace: float) -> FloatArray:
        days, known = self._day[span], np.maximum.accumulate(self._hours[span])
        if not len(days):
            return np.full(len(hours), np.nan)
        found: FloatArray = np.interp(hours, known, days)
        speed = max(pace, SLOWEST)
        after, before = hours > known[-1], hours < known[0]
        found[after] = days[-1] + (hours[after] - known[-1]) / speed
        found[before] = days[0] - (known[0] - hours[before]) / speed
        return found
