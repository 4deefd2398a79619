"""Plays one family of boxes visit by visit: every step is one set of columns over all its boxes."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear import balance
from fluiddesk.simulation import contamination
from fluiddesk.simulation.breakdowns import Breakdowns
from fluiddesk.simulation.diary import Diary
from fluiddesk.simulation.families import Family
from fluiddesk.simulation.fluids import WRONG_SHARE, FreshFluid
from fluiddesk.simulation.hours import Visits
from fluiddesk.simulation.plan import SimulationPlan
from fluiddesk.simulation.roster import Roster
from fluiddesk.simulation.setting import Setting
from fluiddesk.simulation.wear import WearRates

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

LARGE_TOP_UP = 0.03
"""Share of the capacity from which a top-up is worth a line in the book."""
_LOSS_SPREAD = 0.35
_EARLIEST_CHANGE = 0.9
_FAR = 10_000_000
_EXCHANGED_SHARE = 0.5
"""Repairs in which the whole component was exchanged and runs in again."""
_FLOORS = {"ph": 5.0, "base_number_d4739": 0.3, "coolant_glycol": 5.0}


@dataclass(frozen=True, kw_only=True)
class World:
    """What all families of one play share."""

    setting: Setting
    plan: SimulationPlan
    roster: Roster
    visits: Visits
    site: IntArray
    """Site of each machine."""


@dataclass(frozen=True, kw_only=True)
class FamilyTrace:
    """The samples of one family before any error of sampling or measuring; n samples."""

    family: Family
    compartment: IntArray
    visit: IntArray
    day: IntArray
    hours: FloatArray
    changed_at: FloatArray
    """Machine hours of the last change that the book knows."""
    fill: IntArray
    states: NDArray[np.float32]
    diary: Diary
    breakdowns: Breakdowns
    boxes: IntArray
    unit: FloatArray
    """Wear of each box relative to the median box, shape (boxes, states)."""
    made: FloatArray
    """Made per hour by each box when it is healthy, shape (boxes, states)."""


class FamilyRun:
    """All boxes of one family, from the first day to the last."""

    def __init__(
        self, world: World, family: Family, boxes: IntArray, rng: np.random.Generator
    ) -> None:
        self._world, self._family, self._boxes, self._rng = world, family, boxes, rng
        roster, plan = world.roster, world.plan
        chosen = [roster.compartments[box] for box in boxes]
        self._machine = roster.box_machine[boxes]
        self._capacity = np.array([box.capacity_l for box in chosen])
        self._residue = np.array([box.residue_share for box in chosen])
        self._interval = np.array([box.interval_hours for box in chosen])
        self._change_hours = np.array([box.change_hours for box in chosen])
        self._tank = FreshFluid(
            world.setting,
            family,
            first_day=plan.first_day.toordinal(),
            days=plan.days,
            rng=rng,
        )
        self._fluid = np.array([self._tank.codes.index(box.fluid) for box in chosen])
        self._rates = WearRates(family, len(boxes), rng)
        self.breakdowns = Breakdowns(family, boxes, rates=plan.rates, rng=rng)
        self._dust = contamination.dust_shares(plan.sites, family)
        self._coolant = contamination.coolant_shares(world.setting.leaking_coolant(), family)
        self._removed = family.column(family.removed)
        self._healthy()
        self._start()
        self._script()
        self.diary = Diary(boxes)
        self._rows: list[tuple[NDArray[Any], ...]] = []

    def _healthy(self) -> None:
        family, count = self._family, len(self._boxes)
        spread = np.exp(self._rng.normal(0.0, _LOSS_SPREAD, size=count))
        per_fill = 1.0 / self._change_hours
        self._loss = family.loss_per_fill * per_fill * spread
        self._used = -np.log1p(-family.column(family.used_up))[None, :] * per_fill[:, None]
        self._made = balance.made_for_level(
            family.column(family.levels)[None, :],
            loss=self._removed[None, :],
            hours=self._change_hours[:, None],
        )
        self._dust_made = family.dust_level * per_fill * self._rates.dust
        self._floor = np.array([_FLOORS.get(state, 0.0) for state in family.states])

    def _start(self) -> None:
        """Every box starts on a fill that is somewhere in its life."""
        roster, count = self._world.roster, len(self._boxes)
        first_day = self._world.plan.first_day.toordinal()
        age = roster.age[self._machine]
        used = np.minimum(self._rng.uniform(0.0, 0.7, size=count) * self._change_hours, age)
        self._fresh = self._tank.at(self._fluid, np.full(count, first_day))
        self._state = self._fresh.copy()
        self._hours_at = age - used
        self._changed_at = age - used
        self._known_change = age - used
        per_day = roster.per_year[self._machine] / 365.25
        self._first_change_day = (first_day - np.ceil(used / per_day)).astype(np.int64)
        self._fitted_at = np.zeros(count)
        self._fill = np.zeros(count, dtype=np.int64)

    def _script(self) -> None:
        script, roster = self._world.plan.script, self._world.roster
        place = {int(box): row for row, box in enumerate(self._boxes)}
        self._skip_from = np.full(len(self._boxes), _FAR)
        self._unlogged_from = np.full(len(self._boxes), _FAR)
        for fault in script.faults:
            if (box := roster.box(fault.box)) in place:
                self.breakdowns.expect(place[box], fault)
        for name, day in script.skipped:
            if (box := roster.box(name)) in place:
                self._skip_from[place[box]] = day.toordinal()
        for name, day in script.unlogged_changes:
            if (box := roster.box(name)) in place:
                self._unlogged_from[place[box]] = day.toordinal()

    def play(self) -> FamilyTrace:
        """Go through all visits."""
        everything = np.arange(len(self._boxes))
        self.diary.changes(
            everything, self._first_change_day, self._hours_at, self._capacity, self._fluid
        )
        for visit in range(self._world.visits.most):
            here = np.flatnonzero(self._world.visits.valid[self._machine, visit])
            if len(here):
                self._visit(here, visit)
        return self._trace()

    def _visit(self, idx: IntArray, visit: int) -> None:
        machine = self._machine[idx]
        day = self._world.visits.day[machine, visit]
        hours = self._world.visits.hours[machine, visit]
        self._advance(idx, day, hours)
        sampled = self._is_sampled(idx, day, visit)
        self._sample(idx[sampled], visit, day[sampled], hours[sampled])
        self.breakdowns.notice(idx[sampled], day[sampled], hours[sampled])
        repaired = self.breakdowns.due_for_repair(idx, day, hours)
        self._repair(idx[repaired], day[repaired], hours[repaired])
        due = hours - self._changed_at[idx] >= _EARLIEST_CHANGE * self._change_hours[idx]
        due |= repaired | (self._unlogged_from[idx] <= day)
        self._change(idx[due], day[due], hours[due])

    def _advance(self, idx: IntArray, day: IntArray, hours: FloatArray) -> None:
        step = hours - self._hours_at[idx]
        self._hours_at[idx] = hours
        self.breakdowns.begin(idx, day, hours, step)
        site = self._world.site[self._machine[idx]]
        air = contamination.dust_in_the_air(self._world.plan.sites, site, day, self._rng)
        made = self._made[idx] * self._rates.factor_of(idx, step, hours - self._fitted_at[idx])
        dust = self._dust_made[idx] * air
        loss = self._loss[idx][:, None] + self._used[idx] + self._removed[None, :]
        rows, added, used, breach, coolant = self.breakdowns.made(
            idx, hours, step, self._removed, self._interval
        )
        made[rows] += added + coolant[:, None] * self._coolant[None, :]
        loss[rows] += used
        dust[rows] += breach * air[rows]
        made += dust[:, None] * self._dust[site]
        fresh = self._fresh[idx]
        state = balance.after(
            self._state[idx],
            made=made,
            fresh=self._loss[idx][:, None] * fresh,
            loss=loss,
            hours=step[:, None],
        )
        burst = contamination.burst_hoses(self._rng, step, self._family.name == "hydraulic")
        state += burst[:, None] * (fresh - state)
        self._state[idx] = np.maximum(state, self._floor)
        self._top_up(idx, day, hours, self._loss[idx] * step + burst)

    def _top_up(self, idx: IntArray, day: IntArray, hours: FloatArray, share: FloatArray) -> None:
        known = self._rng.random(len(idx)) >= self._world.plan.rates.unlogged_top_up
        large = (share >= LARGE_TOP_UP) & known
        litres = share * self._capacity[idx] * np.exp(self._rng.normal(0.0, 0.1, size=len(idx)))
        where = idx[large]
        self.diary.top_ups(
            where, day[large], hours[large], np.round(litres[large], 1), self._fluid[where]
        )
        forgotten = idx[(share >= LARGE_TOP_UP) & ~known]
        self.diary.forget("top_up", forgotten, day[(share >= LARGE_TOP_UP) & ~known])

    def _is_sampled(self, idx: IntArray, day: IntArray, visit: int) -> BoolArray:
        roster, box = self._world.roster, self._boxes[idx]
        back = self._world.visits.most - 1 - visit
        due = (back + roster.phase[box]) % roster.visits_between[box] == 0
        missed = self._rng.random(len(idx)) < self._world.plan.rates.missed_sample
        missed &= ~self.breakdowns.scripted[idx]
        sampled: BoolArray = due & ~missed & (day < self._skip_from[idx])
        return sampled

    def _sample(self, where: IntArray, visit: int, day: IntArray, hours: FloatArray) -> None:
        self._rows.append(
            (
                self._boxes[where],
                np.full(len(where), visit),
                day,
                hours,
                self._known_change[where],
                self._fill[where],
                self._state[where].astype(np.float32),
            )
        )

    def _repair(self, where: IntArray, day: IntArray, hours: FloatArray) -> None:
        mode = self.breakdowns.mode[where]
        exchanged = self._rng.random(len(where)) < _EXCHANGED_SHARE
        self.diary.repairs(where, day, hours, mode, exchanged)
        self.breakdowns.end(where, day, hours)
        self._fitted_at[where[exchanged]] = hours[exchanged]

    def _change(self, where: IntArray, day: IntArray, hours: FloatArray) -> None:
        rates, count = self._world.plan.rates, len(where)
        fresh = self._tank.at(self._fluid[where], day)
        wrong = self._rng.random(count) < rates.wrong_fluid
        wrong &= ~self.breakdowns.scripted[where]
        other = self._tank.like_fluids[
            self._rng.integers(0, len(self._tank.like_fluids), size=count)
        ]
        mixed = (1.0 - WRONG_SHARE) * fresh + WRONG_SHARE * self._tank.at(other, day)
        fresh = np.where(wrong[:, None], mixed, fresh)
        residue = self._residue[where] * np.exp(self._rng.normal(0.0, 0.25, size=count))
        residue = np.clip(residue, 0.01, 0.6)
        self._state[where] = balance.after_change(self._state[where], fresh, residue[:, None])
        self._fresh[where] = fresh
        self._changed_at[where] = hours
        changed = np.zeros(len(self._boxes), dtype=np.bool_)
        changed[where] = True
        self._rates.begin_fill(changed)
        self.diary.mixed(where[wrong], day[wrong], other[wrong])
        self._write_changes(where, day, hours)

    def _write_changes(self, where: IntArray, day: IntArray, hours: FloatArray) -> None:
        scripted = self._unlogged_from[where] <= day
        drawn = self._rng.random(len(where)) < self._world.plan.rates.unlogged_change
        unlogged = scripted | (drawn & ~self.breakdowns.scripted[where])
        self._unlogged_from[where[scripted]] = _FAR
        known = where[~unlogged]
        self.diary.changes(
            known, day[~unlogged], hours[~unlogged], self._capacity[known], self._fluid[known]
        )
        self.diary.forget("fluid_change", where[unlogged], day[unlogged])
        self._known_change[known] = hours[~unlogged]
        self._fill[known] += 1

    def _trace(self) -> FamilyTrace:
        columns = [np.concatenate(parts) for parts in zip(*self._rows, strict=True)]
        self._rows.clear()
        box, visit, day, hours, changed_at, fill, states = columns
        return FamilyTrace(
            family=self._family,
            compartment=box,
            visit=visit,
            day=day,
            hours=hours,
            changed_at=changed_at,
            fill=fill,
            states=states,
            diary=self.diary,
            breakdowns=self.breakdowns,
            boxes=self._boxes,
            unit=self._rates.unit,
            made=self._made * self._rates.unit,
        )
