"""Every due event of the fleet, worked out anew from intervals, samples, meters and states.

Each event is held to the interval, window and convention of its own time. A box is counted on the
meter where the hours run out before the days, else on the calendar. Windows on the meter become
days by the meter's readings, so that a period, a month and an absence are days for every box.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.events import NO_SAMPLE, DueEvents, Epochs, due_events
from fluiddesk.domain.sampling.outcome import OutcomeColumns, outcome_columns
from fluiddesk.services.due_counting.axes import (
    DAYS,
    HOURS,
    BoxFigures,
    SampleFigures,
    ready,
    today_points,
)
from fluiddesk.services.due_counting.clocks import FloatArray, IntArray, MachineClocks
from fluiddesk.services.due_counting.intervals_held import (
    HeldColumns,
    held_columns,
    interval_changes,
)
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.interval_compliance.excuses import Reasons, excused_by_state, noted
from fluiddesk.services.interval_compliance.facts import EventBox, EventColumns
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import DrawnColumns, ReadingColumns, RecordKind


@dataclass(frozen=True, slots=True)
class _Samples:
    """Samples by box and day; shape (s,) each."""

    box: IntArray
    day: IntArray
    hours: FloatArray
    usable: NDArray[np.bool_]
    answers: NDArray[np.bool_]
    sampler: IntArray
    samplers: tuple[str, ...]


def event_columns(place: Workplace, *, today: date) -> EventColumns:
    """Work out the due events of every box that has an interval and gave a sample.

    A box owes samples from its first routine sample on: what was owed before the programme knew
    the box cannot be told.
    """
    fleet = fleet_condition(place, today=today)
    numbers = {row.compartment_id: at for at, row in enumerate(fleet.rows)}
    machines = _machines(fleet)
    with place.store.reading() as desk:
        drawn = desk.programme.drawn_samples(numbers)
        states = desk.programme.machine_states()
        readings = desk.programme.meter_hours(machines)
        notes = desk.register.all(RecordKind.DUE_NOTE)
        sets, changes = desk.intervals.sets(), interval_changes(desk)
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
    held = held_columns(fleet.registered, sets, changes, today=today)
    samples = _samples(drawn, len(fleet))
    clocks = _clocks(fleet, machines, readings, samples)
    counted = _counted(fleet, samples, held, clocks)
    return _told(boxes, samples, held, clocks, counted, states=states, notes=notes)


def _machines(fleet: FleetCondition) -> dict[bytes, int]:
    first = np.flatnonzero(np.diff(fleet.machine, prepend=-1))
    return {fleet.rows[row].machine_id: int(fleet.machine[row]) for row in first.tolist()}


def _samples(drawn: DrawnColumns, boxes: int) -> _Samples:
    """In order, and of each box from its first routine sample on."""
    order = np.lexsort((drawn.hours, drawn.day, drawn.box))
    box, answers = drawn.box[order], drawn.is_routine[order]
    if not answers.all():
        first = np.full(boxes, len(order))
        routine = np.flatnonzero(answers)
        first[box[routine][::-1]] = routine[::-1]
        order = order[np.arange(len(order)) >= first[box]]
        box, answers = drawn.box[order], drawn.is_routine[order]
    return _Samples(
        box,
        drawn.day[order],
        drawn.hours[order],
        drawn.is_usable[order],
        answers,
        drawn.sampler[order],
        drawn.samplers,
    )


def _clocks(
    fleet: FleetCondition,
    machines: Mapping[bytes, int],
    readings: ReadingColumns,
    samples: _Samples,
) -> MachineClocks:
    first = np.flatnonzero(np.diff(fleet.machine, prepend=-1))
    pace = np.array([fleet.rows[row].hours_per_day or 0.0 for row in first.tolist()], np.float64)
    machine = fleet.machine.astype(np.int64)
    told = (
        np.concatenate([readings.machine, machine[samples.box]]),
        np.concatenate([readings.day, samples.day]),
        np.concatenate([readings.hours, samples.hours]),
    )
    return MachineClocks(pace, told, number=machines, today=fleet.today.toordinal())


@dataclass(frozen=True, slots=True)
class _Counted:
    """Due events on the axes of their counts, with what they are held to.

    ``early``: shape (s,), routine samples before a window; ``machine``: of each box.
    """

    found: DueEvents
    epochs: Epochs
    now: FloatArray
    early: NDArray[np.bool_]
    machine: IntArray


def _counted(
    fleet: FleetCondition, samples: _Samples, held: HeldColumns, clocks: MachineClocks
) -> _Counted:
    boxes = BoxFigures(
        machine=fleet.machine.astype(np.int64),
        has_hours=np.array([row.hours_now is not None for row in fleet.rows], dtype=np.bool_),
        goes_by_hours=fleet.usual.by_hours,
    )
    figures = SampleFigures(
        box=samples.box, day=samples.day, hours=samples.hours, answers=samples.answers
    )
    drawn, epochs = ready(figures, held, boxes, clocks)
    now = today_points(boxes, clocks, today=fleet.today.toordinal())
    found = due_events(drawn, epochs, now=now)
    early = _is_early(found, epochs.half[found.epoch, found.axis])
    return _Counted(found, epochs, now, early, boxes.machine)


def _is_early(found: DueEvents, half: FloatArray) -> NDArray[np.bool_]:
    """Samples before the window of the event they answer, or that answer none."""
    early = found.is_extra.copy()
    answered = np.flatnonzero(found.sample != NO_SAMPLE)
    opens = found.due[answered] - half[answered]
    before = np.round(found.sampled_at[answered], 6) < np.round(opens, 6)
    early[found.sample[answered[before]]] = True
    return early


def _told(
    boxes: Sequence[EventBox],
    samples: _Samples,
    held: HeldColumns,
    clocks: MachineClocks,
    counted: _Counted,
    *,
    states: Sequence[tuple[Any, ...]],
    notes: Sequence[Mapping[str, Any]],
) -> EventColumns:
    found = counted.found
    box, hours = found.box, found.axis == HOURS
    machine = counted.machine[box]
    half = counted.epochs.half[found.epoch, found.axis]
    length = counted.epochs.interval[found.epoch, found.axis]

    def days(point: FloatArray) -> FloatArray:
        told = point.copy()
        told[hours] = clocks.days_at(machine[hours], point[hours])
        return told

    due_on, low, high = days(found.due), days(found.due - half), days(found.due + half)
    excused = excused_by_state(states, number=clocks.number, machine=machine, low=low, high=high)
    place = {one.compartment_id: at for at, one in enumerate(boxes)}
    by_people, reasons = noted(notes, place=place, box=box, due_on=due_on)
    excused[by_people] = True
    now = counted.now[box, found.axis]
    outcome = outcome_columns(
        due=found.due,
        half=half,
        interval=length,
        sampled_at=found.sampled_at,
        # What a later sample moved on from is settled.
        now=np.where(found.is_tail, now, np.maximum(now, found.due + length + half)),
        is_excused=excused,
        is_usable=np.append(samples.usable, np.True_)[found.sample],
        next_due=_next_due(box, found.axis, found.due),
    )
    told = _Days(low, due_on, high)
    return _columns(boxes, samples, held, counted, days=told, outcome=outcome, reasons=reasons)


def _next_due(box: IntArray, axis: IntArray, due: FloatArray) -> FloatArray:
    """The due point after each on its axis; NaN where that is another's, or counted otherwise."""
    following = np.append(due[1:], np.nan)[: len(due)]
    other = (box[1:] != box[:-1]) | (axis[1:] != axis[:-1])
    return np.where(np.append(other, np.True_)[: len(box)], np.nan, following)


@dataclass(frozen=True, slots=True)
class _Days:
    low: FloatArray
    due_on: FloatArray
    high: FloatArray


def _columns(
    boxes: Sequence[EventBox],
    samples: _Samples,
    held: HeldColumns,
    counted: _Counted,
    *,
    days: _Days,
    outcome: OutcomeColumns,
    reasons: Reasons,
) -> EventColumns:
    found = counted.found
    routine = np.flatnonzero(samples.answers)
    return EventColumns(
        boxes=boxes,
        box=found.box,
        due_on=np.floor(days.due_on).astype(np.int64),
        opens_on=np.ceil(days.low).astype(np.int64),
        closes_on=np.floor(days.high).astype(np.int64),
        by_hours=found.axis == HOURS,
        due_hours=np.where(found.axis == HOURS, found.due, np.nan),
        due_day=np.where(found.axis == DAYS, found.due, np.nan),
        is_owed=found.is_owed,
        sampled_on=np.append(samples.day, 0)[found.sample],
        outcome=outcome,
        sampler=np.append(samples.sampler, 0)[found.sample],
        samplers=samples.samplers,
        sample_box=samples.box[routine],
        sample_day=samples.day[routine],
        sample_sampler=samples.sampler[routine],
        sample_is_early=counted.early[routine],
        reasons=reasons,
        held=held,
        held_row=found.epoch,
    )
