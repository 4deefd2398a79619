"""The day on which a machine reached an hour, and back, by its meter's readings and its samples."""

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SLOWEST: Final = 0.01
"""A machine that runs fewer hours a day is counted by the calendar."""


class MachineClocks:
    """Day to hours and back, for each machine, by what its meter and its samples tell."""

    def __init__(
        self,
        pace: FloatArray,
        told: tuple[IntArray, FloatArray, FloatArray],
        *,
        number: Mapping[bytes, int],
        today: int,
    ) -> None:
        """Sort what is known.

        Args:
            pace: shape (machines,), hours a day; 0 where not known.
            told: machine, day and true hours of each reading or sample, in any order.
            number: by machine, the number that ``told`` holds.
            today: day ordinal.
        """
        self.number = number
        self.pace = pace
        owner, day, hours = told
        known = ~np.isnan(hours)
        if not known.all():
            owner, day, hours = owner[known], day[known], hours[known]
        order = np.lexsort((hours, day, owner))
        self._day = day[order].astype(np.float64)
        self._start = np.searchsorted(owner[order], np.arange(len(pace) + 1))
        self._hours = _never_back(hours[order], self._start)
        self._today = today

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
            hours: shape (n,), NaN gives NaN.
        """
        speed = np.maximum(self.pace, SLOWEST)
        return self._along(self._hours, self._day, machine, hours, slope=1.0 / speed)

    def hours_at(self, machine: IntArray, day: FloatArray) -> FloatArray:
        """The hours of machines on days, between readings in proportion.

        Args:
            machine: shape (n,), rising.
            day: shape (n,), NaN gives NaN.
        """
        return self._along(self._day, self._hours, machine, day, slope=self.pace)

    def _along(
        self,
        known: FloatArray,
        wanted: FloatArray,
        machine: IntArray,
        at: FloatArray,
        *,
        slope: FloatArray,
    ) -> FloatArray:
        """``wanted`` where ``known`` reaches a point; past both ends at a slope."""
        found = np.full(len(machine), np.nan)
        edges = np.flatnonzero(np.diff(machine, prepend=-1, append=-1))
        starts = self._start.tolist()
        for begin, end in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            one = int(machine[begin])
            first, stop = starts[one], starts[one + 1]
            if first == stop:
                continue
            points = at[begin:end]
            part = np.interp(points, known[first:stop], wanted[first:stop])
            after, before = points > known[stop - 1], points < known[first]
            part[after] = wanted[stop - 1] + (points[after] - known[stop - 1]) * slope[one]
            part[before] = wanted[first] - (known[first] - points[before]) * slope[one]
            found[begin:end] = part
        return found


def _never_back(hours: FloatArray, start: IntArray) -> FloatArray:
    """The hours with each machine's never falling."""
    falls = np.diff(hours) < 0
    falls[start[1:-1][(start[1:-1] > 0) & (start[1:-1] < len(hours))] - 1] = False
    if not falls.any():
        return hours
    kept = hours.copy()
    owner = np.searchsorted(start, np.flatnonzero(falls), side="right") - 1
    for one in np.unique(owner).tolist():
        part = slice(int(start[one]), int(start[one + 1]))
        kept[part] = np.maximum.accumulate(hours[part])
    return kept
