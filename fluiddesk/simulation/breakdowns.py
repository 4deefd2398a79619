"""Which boxes have a fault, since when, and how it ended: the history of one family."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear import balance
from fluiddesk.simulation.families import Family
from fluiddesk.simulation.faults import (
    LONGEST_DOUBLING_H,
    MODES,
    SHORTEST_DOUBLING_H,
    detectable_hours,
    failure_hours,
    mean_intensity,
    mode_number,
    modes_of,
)
from fluiddesk.simulation.plan import ErrorRates, ScriptedFault

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_PLAIN_AFTER_DOUBLINGS = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueFault:
    """A fault as it was: machine hours of its start, first visible moment, failure and end.

    ``ended_hours`` is NaN for one that still grows.
    """

    compartment: int
    mode: str
    start_hours: float
    detectable_hours: float
    failure_hours: float
    doubling_hours: float
    ended_hours: float
    ended_day: int


class Breakdowns:
    """At most one fault a box at a time; drawn, or scripted from a day on."""

    def __init__(
        self, family: Family, boxes: IntArray, *, rates: ErrorRates, rng: np.random.Generator
    ) -> None:
        count = len(boxes)
        self._boxes = boxes
        self._rates = rates
        self._rng = rng
        self._modes = np.array(modes_of(family.name))
        self._adds = np.array([family.column(mode.adds) for mode in MODES])
        self._uses = np.array([-np.log1p(-family.column(mode.uses_up)) for mode in MODES])
        self._dust = np.array([mode.dust for mode in MODES])
        self._coolant = np.array([mode.coolant for mode in MODES])
        self.mode: IntArray = np.full(count, -1)
        self.start: FloatArray = np.zeros(count)
        self.doubling: FloatArray = np.ones(count)
        self.repair_from: IntArray = np.full(count, 10_000_000)
        self.scripted: BoolArray = np.zeros(count, dtype=np.bool_)
        self._seen_on: IntArray = np.zeros(count, dtype=np.int64)
        self._waiting: list[tuple[int, ScriptedFault]] = []
        self.ended: list[TrueFault] = []

    def expect(self, place: int, fault: ScriptedFault) -> None:
        """Let a scripted fault begin in a box (place within this family) on its day."""
        self.scripted[place] = True
        self._waiting.append((place, fault))

    def begin(self, idx: IntArray, day: IntArray, hours: FloatArray, step: FloatArray) -> None:
        """Start the faults that begin between the last visit of these boxes and this one."""
        chance = 1.0 - np.exp(-self._rates.faults_per_1000_h * step / 1000.0)
        new = (self._rng.random(len(idx)) < chance) & (self.mode[idx] < 0) & ~self.scripted[idx]
        where = idx[new]
        count = len(where)
        self.mode[where] = self._modes[self._rng.integers(0, len(self._modes), size=count)]
        self.start[where] = hours[new] - step[new] * self._rng.random(count)
        drawn = self._rng.uniform(SHORTEST_DOUBLING_H, LONGEST_DOUBLING_H, size=count)
        self.doubling[where] = drawn
        self.repair_from[where] = 10_000_000
        for place, fault in list(self._waiting):
            row = np.flatnonzero(idx == place)
            if len(row) and day[row[0]] >= fault.started_on.toordinal():
                since = float(day[row[0]] - fault.started_on.toordinal())
                share = since / max(float(day[row[0]] - self._seen_on[place]), 1.0)
                self._begin_scripted(place, fault, float(hours[row[0]] - share * step[row[0]]))
        self._seen_on[idx] = day

    def _begin_scripted(self, place: int, fault: ScriptedFault, hours: float) -> None:
        self.mode[place] = mode_number(fault.mode)
        self.start[place] = hours
        self.doubling[place] = fault.doubling_hours
        ends = fault.repaired_on.toordinal() if fault.repaired_on else 10_000_000
        self.repair_from[place] = ends
        self._waiting = [other for other in self._waiting if other[1] is not fault]

    def made(
        self,
        idx: IntArray,
        hours: FloatArray,
        step: FloatArray,
        removed: FloatArray,
        interval: FloatArray,
    ) -> tuple[IntArray, FloatArray, FloatArray, FloatArray, FloatArray]:
        """What the faults add per hour in a step.

        Returns:
            The rows of ``idx`` that have a fault, and for these: states made per hour, share used
            up per hour, dust per hour, percent of coolant per hour.
        """
        rows = np.flatnonzero(self.mode[idx] >= 0)
        where = idx[rows]
        mode = self.mode[where]
        now = hours[rows]
        strength = mean_intensity(self.start[where], self.doubling[where], now - step[rows], now)
        every = interval[where]
        level = balance.made_for_level(
            self._adds[mode], loss=removed[None, :], hours=every[:, None]
        )
        per_hour = strength / every
        return (
            rows,
            strength[:, None] * level,
            per_hour[:, None] * self._uses[mode],
            per_hour * self._dust[mode],
            per_hour * self._coolant[mode],
        )

    def notice(self, idx: IntArray, day: IntArray, hours: FloatArray) -> None:
        """After a sample, some faults are acted on: repair from the next day on.

        The chance rises from 0 when the fault can first be seen to ``notice`` two doublings on.
        """
        seen_for = hours - detectable_hours(self.start[idx], self.doubling[idx])
        plain = np.clip(seen_for / self.doubling[idx] / _PLAIN_AFTER_DOUBLINGS, 0.0, 1.0)
        seen = self._rng.random(len(idx)) < self._rates.notice * plain
        seen &= (self.mode[idx] >= 0) & ~self.scripted[idx]
        where = idx[seen]
        self.repair_from[where] = np.minimum(self.repair_from[where], day[seen] + 1)

    def due_for_repair(self, idx: IntArray, day: IntArray, hours: FloatArray) -> BoolArray:
        """Which boxes are repaired at this visit: noticed before, or broken."""
        broken = hours >= failure_hours(self.start[idx], self.doubling[idx])
        due: BoolArray = (self.mode[idx] >= 0) & (
            (self.repair_from[idx] <= day) | (broken & ~self.scripted[idx])
        )
        return due

    def end(self, where: IntArray, day: IntArray, hours: FloatArray) -> None:
        """Take the faults of these boxes away and keep them as truth."""
        for place, on, at in zip(where.tolist(), day.tolist(), hours.tolist(), strict=True):
            self.ended.append(self._true_fault(place, at, on))
        self.mode[where] = -1
        self.repair_from[where] = 10_000_000

    def all_faults(self) -> list[TrueFault]:
        """Every fault there was, those still growing last."""
        growing = np.flatnonzero(self.mode >= 0).tolist()
        return self.ended + [self._true_fault(place, float("nan"), 0) for place in growing]

    def _true_fault(self, place: int, ended: float, day: int) -> TrueFault:
        start, doubling = self.start[place : place + 1], self.doubling[place : place + 1]
        return TrueFault(
            compartment=int(self._boxes[place]),
            mode=MODES[self.mode[place]].code,
            start_hours=float(start[0]),
            detectable_hours=float(detectable_hours(start, doubling)[0]),
            failure_hours=float(failure_hours(start, doubling)[0]),
            doubling_hours=float(doubling[0]),
            ended_hours=ended,
            ended_day=day,
        )
