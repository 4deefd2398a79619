"""Every due event of the fleet, worked out anew from intervals, samples, meters and states.

A box is counted on the meter where its machine has one and the hours come before the days at the
pace it has run; else on the calendar. Windows on the meter become days by the meter's readings, so
that a period, a month and an absence are days for every box.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.sampling.events import NO_SAMPLE, DueEvents, due_events
from fluiddesk.domain.sampling.outcome import OutcomeColumns, outcome_columns
from fluiddesk.domain.sampling.window import Convention, half_width_days, half_width_hours
from fluiddesk.domain.severity import Trust
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.interval_compliance.clocks import (
    SLOWEST,
    FloatArray,
    IntArray,
    MachineClocks,
)
from fluiddesk.services.interval_compliance.excuses import Reasons, excused_by_state, noted
from fluiddesk.services.interval_compliance.facts import EventBox, EventColumns
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import RecordKind


@dataclass(frozen=True, slots=True)
class _Samples:
    """Routine samples, by box; shape (s,) each."""

    box: IntArray
    day: IntArray
    hours: FloatArray
    usable: NDArray[np.bool_]
    sampler: IntArray
    samplers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Axis:
    """What boxes are counted on; shape (n,) each. ``interval`` and ``half`` in hours or days."""

    by_hours: NDArray[np.bool_]
    interval: FloatArray
    half: FloatArray


def event_columns(
    place: Workplace, *, today: date, convention: Convention = Convention.ROLLING
) -> EventColumns:
    """Work out the due events of every box that has an interval and gave a sample.

    A box owes samples from its first routine sample on: what was owed before the programme knew
    the box cannot be told.
    """
    fleet = fleet_condition(place, today=today)
    with place.store.reading() as desk:
        routine = desk.programme.routine_samples()
        states = desk.programme.machine_states()
        readings = desk.programme.meter_hours()
        notes = desk.register.all(RecordKind.DUE_NOTE)
    boxes = [
        EventBox(
            compartment_id=row.compartment_id,
            site=row.site,
            machine=row.machine,
            machine_kind=row.machine_kind,
            compartment=place.catalogue.box_name(row.kind, row.position),
            compartment_kind=row.kind,
        )
        for row in fleet.rows
    ]
    numbers = {one.compartment_id: at for at, one in enumerate(boxes)}
    samples = _samples(routine, numbers)
    clocks = MachineClocks(fleet, readings, (samples.box, samples.day, samples.hours))
    axis = _axis(fleet, clocks)
    counted = _counted(samples, axis, clocks, today=today.toordinal(), convention=convention)
    return _told(
        boxes, samples, axis, clocks, counted, today=today.toordinal(), states=states, notes=notes
    )


def _samples(rows: Sequence[tuple[Any, ...]], numbers: Mapping[bytes, int]) -> _Samples:
    kept = [row for row in rows if row[0] in numbers]
    known = {day: day_ordinal(day) for day in {row[2] for row in kept}}
    names: dict[str, int] = {"": 0}
    sampler = [names.setdefault(row[6], len(names)) for row in kept]
    lost = SampleState.LOST.value
    return _Samples(
        np.array([numbers[row[0]] for row in kept], dtype=np.int64),
        np.array([known[row[2]] for row in kept], dtype=np.int64),
        np.array([row[3] for row in kept], dtype=np.float64),
        np.array([row[4] != lost and row[5] != Trust.REJECTED for row in kept], dtype=bool),
        np.array(sampler, dtype=np.int64),
        tuple(names),
    )


def _axis(fleet: FleetCondition, clock: MachineClocks) -> _Axis:
    interval_hours, interval_days = _intervals(fleet)
    pace = clock.pace[clock.machine] if len(clock.machine) else np.empty(0)
    has_meter = clock.has_meter()[clock.machine] if len(clock.machine) else np.empty(0, bool)
    can = has_meter & (interval_hours > 0) & (pace > SLOWEST)
    days_by_hours = np.divide(
        interval_hours, pace, out=np.full(len(pace), np.inf), where=can & (pace > 0)
    )
    by_hours = can & ~(interval_days < days_by_hours)
    interval = np.where(by_hours, interval_hours, interval_days)
    half = np.where(
        by_hours,
        half_width_hours(np.nan_to_num(interval_hours, nan=1.0)),
        half_width_days(np.nan_to_num(interval_days, nan=1.0)),
    )
    return _Axis(by_hours, interval, half)


def _intervals(fleet: FleetCondition) -> tuple[FloatArray, FloatArray]:
    hours = np.array([row.interval_hours for row in fleet.rows], dtype=np.float64)
    days = np.array([row.interval_days for row in fleet.rows], dtype=np.float64)
    return hours, days


@dataclass(frozen=True, slots=True)
class _Counted:
    """Due events on each box's own axis; ``box`` and ``sample`` among all, not only those counted.

    ``sample`` of an event that has none is the number of samples. ``early``: shape (s,).
    """

    box: IntArray
    due: FloatArray
    sample: IntArray
    sampled_at: FloatArray
    early: NDArray[np.bool_]


def _counted(
    samples: _Samples,
    axis: _Axis,
    clocks: MachineClocks,
    *,
    today: int,
    convention: Convention,
) -> _Counted:
    at = np.where(axis.by_hours[samples.box], samples.hours, samples.day.astype(np.float64))
    rows = np.flatnonzero(~np.isnan(at) & (axis.interval[samples.box] > 0))
    order = rows[np.lexsort((at[rows], samples.box[rows]))]
    owner = samples.box[order]
    begins = np.flatnonzero(np.diff(owner, prepend=-1))
    early = np.zeros(len(samples.box), dtype=bool)
    kept = owner[begins]
    if not len(kept):
        none, nothing = np.empty(0, dtype=np.int64), np.empty(0)
        return _Counted(none, nothing, none, nothing, early)
    number = np.full(len(axis.interval), -1, dtype=np.int64)
    number[kept] = np.arange(len(kept))
    # The first sample begins the count; it answers no due event.
    later = np.delete(np.arange(len(order)), begins)
    hours_now = np.nan_to_num(clocks.hours_today(), nan=0.0)[clocks.machine[kept]]
    now = np.where(axis.by_hours[kept], hours_now, float(today))
    start = at[order[begins]]
    found = due_events(
        sample_box=number[owner[later]],
        taken_at=at[order[later]],
        counted_from=start,
        interval=axis.interval[kept],
        half=axis.half[kept],
        now=np.maximum(now, start),
        convention=convention,
    )
    early[order[later][_is_early(found, axis.half[kept])]] = True
    real = np.append(order[later], len(samples.box))
    sample = real[np.where(found.sample == NO_SAMPLE, len(later), found.sample)]
    return _Counted(kept[found.box], found.due, sample, found.sampled_at, early)


def _is_early(found: DueEvents, half: FloatArray) -> NDArray[np.bool_]:
    """Samples before the window of the event they answer, or that answer none."""
    early = found.is_extra.copy()
    answered = np.flatnonzero(found.sample != NO_SAMPLE)
    opens = found.due[answered] - half[found.box[answered]]
    before = np.round(found.sampled_at[answered], 6) < np.round(opens, 6)
    early[found.sample[answered[before]]] = True
    return early


def _told(
    boxes: Sequence[EventBox],
    samples: _Samples,
    axis: _Axis,
    clocks: MachineClocks,
    counted: _Counted,
    *,
    today: int,
    states: Sequence[tuple[Any, ...]],
    notes: Sequence[Mapping[str, Any]],
) -> EventColumns:
    box, hours = counted.box, axis.by_hours[counted.box]
    machine = clocks.machine[box]
    half = axis.half[box]

    def days(point: FloatArray) -> FloatArray:
        return np.where(hours, clocks.days_at(machine, point), point)

    due_on = days(counted.due)
    low, high = days(counted.due - half), days(counted.due + half)
    excused = excused_by_state(states, number=clocks.number, machine=machine, low=low, high=high)
    place = {one.compartment_id: at for at, one in enumerate(boxes)}
    by_people, reasons = noted(notes, place=place, box=box, due_on=due_on)
    excused[by_people] = True
    now = np.nan_to_num(clocks.hours_today(), nan=0.0)
    outcome = outcome_columns(
        due=counted.due,
        half=half,
        interval=axis.interval[box],
        sampled_at=counted.sampled_at,
        now=np.where(hours, now[machine], float(today)),
        is_excused=excused,
        is_usable=np.append(samples.usable, True)[counted.sample],
        next_due=_next_due(box, counted.due),
    )
    return _columns(boxes, samples, counted, (low, due_on, high), outcome, reasons, hours)


def _next_due(box: IntArray, due: FloatArray) -> FloatArray:
    """The due point after each; NaN at the last of a box."""
    following = np.append(due[1:], np.nan)[: len(due)]
    is_last = np.append(box[1:] != box[:-1], np.True_)[: len(box)]
    return np.where(is_last, np.nan, following)


def _columns(
    boxes: Sequence[EventBox],
    samples: _Samples,
    counted: _Counted,
    days: tuple[FloatArray, FloatArray, FloatArray],
    outcome: OutcomeColumns,
    reasons: Reasons,
    by_hours: NDArray[np.bool_],
) -> EventColumns:
    low, due_on, high = days
    return EventColumns(
        boxes=boxes,
        box=counted.box,
        due_on=np.floor(due_on).astype(np.int64),
        opens_on=np.ceil(low).astype(np.int64),
        closes_on=np.floor(high).astype(np.int64),
        by_hours=by_hours,
        due_hours=np.where(by_hours, counted.due, np.nan),
        sampled_on=np.append(samples.day, 0)[counted.sample],
        outcome=outcome,
        sampler=np.append(samples.sampler, 0)[counted.sample],
        samplers=samples.samplers,
        sample_box=samples.box,
        sample_day=samples.day,
        sample_sampler=samples.sampler,
        sample_is_early=counted.early,
        reasons=reasons,
    )
