"""A fixed grid through the store, from meter readings to what is due and to compliance.

A sample inside the window does not move the next due point (US Army TB 43-0211, question 12-7); the
window is a tenth of the interval before and after (question 12-6); of hours and days whichever
comes first counts (TB 43-0211, para 6-4d: 90 days or 100 h).
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.identity import CompartmentId, SampleId
from fluiddesk.domain.samples import Sample, SampleReason, SampleState
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.services.interval_compliance.facts import EventLine
from fluiddesk.services.interval_compliance.tables import event_lines
from fluiddesk.services.register.boxes import hours_on, save_compartment
from fluiddesk.services.register.meters import save_meter
from fluiddesk.services.sampling_plan import DueLine, due_lines
from tests.intervals import interval_rule, put_in_force
from tests.services.register.desk import MOMENT, START, TODAY, Register

NOW = START + timedelta(55)
A_DAY = 8.0
"""Hours a day."""


def runs_on_one_meter(register: Register) -> None:
    for day in range(0, 56, 5):
        register.read(day, A_DAY * day)


def runs_on_two_meters(register: Register) -> None:
    for day in range(0, 35, 5):
        register.read(day, A_DAY * day)
    register.replace_meter(32, 5.0, ends_last_at=A_DAY * 32)
    for day in range(35, 56, 5):
        register.read(day, A_DAY * (day - 32) + 5.0)


def runs_over_the_top(register: Register) -> None:
    meter = register.record().meters[0]
    rolls = replace(meter, rolls_over_at=10_000.0, start_value=9_800.0)
    save_meter(register.place, rolls, today=TODAY, moment=MOMENT)
    for day in range(0, 56, 5):
        register.read(day, (9_800.0 + A_DAY * day) % 10_000.0)


METERS = [runs_on_one_meter, runs_on_two_meters, runs_over_the_top]


def draw(
    register: Register, *days: int, reason: SampleReason = SampleReason.ROUTINE
) -> CompartmentId:
    """Samples of the engine, their hours read off the meter; the laboratory has them."""
    box = register.box()
    assert box.id is not None
    with register.place.store.transaction(who="Kim", moment=MOMENT) as desk:
        desk.sampling.add_samples(
            Sample(
                site=register.site,
                id=SampleId(desk.new_id()),
                compartment=CompartmentId(box.id),
                bottle_code="",
                reason=reason,
                state=SampleState.TAKEN,
                taken_on=START + timedelta(day),
                true_hours=hours_on(desk, register.machine, START + timedelta(day)),
            )
            for day in days
        )
    return CompartmentId(box.id)


def lines_of(register: Register, box: CompartmentId, today: date = NOW) -> list[EventLine]:
    events = event_columns(register.place, today=today)
    ever = {"first_day": date(2000, 1, 1), "last_day": date(2100, 1, 1)}
    return list(event_lines(events, compartment=box, **ever))


def due_line(register: Register, box: CompartmentId, today: date = NOW) -> DueLine:
    fleet = fleet_condition(register.place, today=today)
    lines = due_lines(fleet, register.place.catalogue, until=date(2100, 1, 1))
    return next(one for one in lines if one.compartment_id == box)


@pytest.mark.parametrize("runs", METERS)
def test_that_a_grid_on_the_meter_stands_whatever_the_meter_shows(register: Register, runs) -> None:
    runs(register)
    put_in_force(
        register.place,
        interval_rule(hours=100.0, days=90, convention="grid"),
        since=START - timedelta(1),
    )
    # 96 h and 208 h lie in their windows, 288 h before its own, 312 h after it, 408 h in its own.
    box = draw(register, 0, 12, 26, 36, 39, 51)
    lines = lines_of(register, box)
    assert [(one.due_hours, one.outcome) for one in lines] == [
        (100.0, Outcome.ON_TIME),
        (200.0, Outcome.ON_TIME),
        (300.0, Outcome.LATE),
        (400.0, Outcome.ON_TIME),
        (500.0, Outcome.OPEN),
    ]
    assert {one.interval for one in lines} == {"100 h or 90 days, fixed grid"}
    due = due_line(register, box)
    # 60 h are left at 440 h, at 8 h a day.
    assert (due.hours_left, due.due_on) == (60, NOW + timedelta(7))
    assert due.basis == "100 h on the meter, fixed grid"
    assert due.due_on == lines[-1].due_on
    history = compartment_history(register.place, box, today=NOW)
    assert history.due.due_on == due.due_on


@pytest.mark.parametrize("runs", METERS)
def test_that_without_a_grid_the_same_samples_are_counted_from(register: Register, runs) -> None:
    runs(register)
    put_in_force(register.place, interval_rule(hours=100.0, days=90), since=START - timedelta(1))
    box = draw(register, 0, 12, 26, 36, 39, 51)
    lines = lines_of(register, box)
    assert [one.due_hours for one in lines] == [100.0, 196.0, 308.0, 388.0, 412.0, 508.0]
    due = due_line(register, box)
    assert (due.hours_left, due.basis) == (68, "100 h on the meter")


# US Army TB 43-0211: a 90-day sample due on 1 April may be drawn from 23 March to 10 April.
@pytest.mark.parametrize("drawn", [date(2024, 3, 23), date(2024, 4, 1), date(2024, 4, 10)])
def test_that_a_calendar_grid_is_not_moved_within_the_published_window(
    register: Register, drawn: date
) -> None:
    save_compartment(
        register.place,
        replace(register.box(), interval_hours=None, interval_days=90),
        today=START,
        moment=MOMENT,
    )
    put_in_force(
        register.place, interval_rule(days=90, convention="grid"), since=START - timedelta(1)
    )
    first = date(2024, 4, 1) - timedelta(90)
    box = draw(register, (first - START).days, (drawn - START).days)
    today = date(2024, 4, 20)
    lines = lines_of(register, box, today)
    assert [(one.due_on, one.outcome) for one in lines] == [
        (date(2024, 4, 1), Outcome.ON_TIME),
        (date(2024, 6, 30), Outcome.OPEN),
    ]
    assert lines[0].window == (date(2024, 3, 23), date(2024, 4, 10))
    due = due_line(register, box, today)
    assert (due.due_on, due.basis) == (date(2024, 6, 30), "90 days, fixed grid")


def test_that_a_resample_moves_no_grid_but_what_is_counted_from_the_last_sample(
    register: Register,
) -> None:
    runs_on_one_meter(register)
    box = draw(register, 0, 12)
    draw(register, 20, reason=SampleReason.RESAMPLE)
    put_in_force(register.place, interval_rule(hours=100.0), since=START - timedelta(1))
    hours = [one.due_hours for one in lines_of(register, box)]
    # 196 h was still to come when the resample was drawn at 160 h.
    assert hours == [100.0, 260.0, 360.0, 460.0]
    assert due_line(register, box).hours_left == 260 - 440
    put_in_force(
        register.place, interval_rule(hours=100.0, convention="grid"), since=START - timedelta(1)
    )
    hours = [one.due_hours for one in lines_of(register, box)]
    assert hours == [100.0, 200.0, 300.0, 400.0]
    assert due_line(register, box).hours_left == 200 - 440


def test_that_a_grid_box_without_a_routine_sample_waits_for_one(register: Register) -> None:
    runs_on_one_meter(register)
    put_in_force(
        register.place, interval_rule(hours=100.0, convention="grid"), since=START - timedelta(1)
    )
    box = draw(register, 50, reason=SampleReason.SPECIAL)
    assert lines_of(register, box) == []
    assert due_line(register, box).hours_left == 60


def test_that_a_fleet_without_a_grid_reads_no_samples_for_what_is_due(register: Register) -> None:
    runs_on_one_meter(register)
    draw(register, 0, 12)
    fleet = fleet_condition(register.place, today=NOW)
    assert not fleet.is_grid.any()
    with register.place.store.reading() as desk:
        asked: list[str] = []
        desk.programme.drawn_samples = lambda boxes: asked.append("samples")  # type: ignore[method-assign,assignment,return-value,func-returns-value]
        from fluiddesk.services.due_counting.grid_points import grid_points

        assert grid_points(desk, fleet.rows, (interval_rule(hours=100.0),), today=NOW) is None
        assert asked == []
