from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import EventKind, MeterReadingError
from fluiddesk.domain.samples import DrawMethod, SampleState
from fluiddesk.domain.severity import Trust
from fluiddesk.domain.trust.taking import FillLevel
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.takings.facts import BottleTaken, VisitDone
from fluiddesk.services.takings.record import record_visit
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.facts import BoxOutcome, Visit, VisitState
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from fluiddesk.services.visits.read import visits
from fluiddesk.storage import RecordKey, RecordKind, check_store
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables

AFTER = NOW + timedelta(days=1)
TODAY = LAST_DAY + timedelta(days=1)


def issued(fleet: Fleet, *, at_least: int = 3) -> Visit:
    """A visit with several bottles, all labelled."""
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    chosen = next(one for one in plan.visits if len(one.boxes) >= at_least)
    [key] = save_visits(fleet.place, [chosen], moment=NOW)
    issue_bottles(fleet.place, [key], today=LAST_DAY, moment=NOW)
    [visit] = visits(fleet.place, today=LAST_DAY)
    return visit


def last_meter(fleet: Fleet, visit: Visit) -> float:
    with fleet.place.store.reading() as desk:
        return max(one.value for one in desk.fleet.meter_readings(visit.machine_id))


def done(fleet: Fleet, visit: Visit, **changes: Any) -> VisitDone:
    """The visit as it should be done: everything said, nothing odd."""
    bottles = tuple(
        BottleTaken(
            visit_box_id=box.id,
            method=DrawMethod.VALVE_PROBE,
            flushed=True,
            warm=True,
            mixed=True,
            fill_level=FillLevel.ABOVE_LINE,
            cap_marked=True,
            litres_added=0.0,
            fluid_changed=False,
            filter_changed=False,
        )
        for box in visit.boxes
    )
    given: dict[str, Any] = {
        "visit_id": visit.id,
        "taken_on": TODAY,
        "taken_at": "10:30",
        "taken_by": "Robin",
        "meter_value": last_meter(fleet, visit) + 5,
        "bottles": bottles,
    }
    return VisitDone(**(given | changes))


def with_first(visit: VisitDone, **changes: Any) -> VisitDone:
    return replace(visit, bottles=(replace(visit.bottles[0], **changes), *visit.bottles[1:]))


def test_that_a_recorded_visit_has_taken_samples_with_hours_and_a_meter_reading(
    either_fleet: Fleet,
) -> None:
    visit = issued(either_fleet)
    told = done(either_fleet, visit)
    came = record_visit(either_fleet.place, told, today=TODAY, moment=AFTER)
    assert came.sentence == f"{len(visit.boxes)} taken."
    with either_fleet.place.store.reading() as desk:
        samples = desk.sampling.samples(came.samples)
        readings = desk.fleet.meter_readings(visit.machine_id)
        taking = desk.register.row(
            RecordKey(RecordKind.TAKING, visit.site_id, came.samples[0]), name="taking"
        )
        steps = desk.programme_rows.steps_of(visit.boxes[0].bottle_code)
    for sample in samples.values():
        assert sample.state is SampleState.TAKEN
        assert sample.taken_on == TODAY
        assert sample.true_hours is not None
        assert sample.trust is Trust.GOOD
    assert any(one.read_on == TODAY and one.value == told.meter_value for one in readings)
    assert taking["taken_by"] == "Robin"
    assert [step for step, *_ in steps] == ["issued", "taken"]
    [after] = visits(either_fleet.place, today=TODAY, ids=[visit.id])
    assert after.state is VisitState.DONE
    assert after.done_on == TODAY
    assert {one.outcome for one in after.boxes} == {BoxOutcome.TAKEN}
    assert check_store(either_fleet.place.store) == []


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"taken_by": " "}, "taken_by", "Who took the samples"),
        ({"meter_value": None}, "meter_value", "could not be read"),
        ({"taken_on": TODAY + timedelta(days=1)}, "taken_on", "future"),
        ({"taken_at": "25:00"}, "taken_at", '"25:00" is no time of day'),
    ],
)
def test_that_a_must_of_the_sheet_that_is_missing_is_refused_and_nothing_saved(
    fleet: Fleet, change: dict[str, Any], field: str, words: str
) -> None:
    visit = issued(fleet)
    before = fleet.dump()
    with pytest.raises(RegisterFaultsError, match=words) as raised:
        record_visit(fleet.place, done(fleet, visit, **change), today=TODAY, moment=AFTER)
    assert field in {one.field for one in raised.value.faults}
    assert differing_tables(before, fleet.dump()) == set()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"litres_added": None}, r"Litres added \(0 is an answer\) for bottle 1 is missing"),
        ({"fluid_changed": None}, "Whether the fluid was changed is missing for bottle 1"),
        ({"is_taken": False}, "Why bottle 1 was not taken"),
        ({"litres_added": -1.0}, "cannot be -1"),
    ],
)
def test_that_every_must_of_a_bottle_is_asked_for(
    fleet: Fleet, change: dict[str, Any], words: str
) -> None:
    visit = issued(fleet)
    told = with_first(done(fleet, visit), **change)
    with pytest.raises(RegisterFaultsError, match=words):
        record_visit(fleet.place, told, today=TODAY, moment=AFTER)


def test_that_all_that_is_missing_is_told_at_once(fleet: Fleet) -> None:
    visit = issued(fleet)
    told = with_first(done(fleet, visit, taken_by=""), litres_added=None, fluid_changed=None)
    with pytest.raises(RegisterFaultsError) as raised:
        record_visit(fleet.place, told, today=TODAY, moment=AFTER)
    assert len(raised.value.faults) == 3


def test_that_an_unreadable_meter_is_an_answer(fleet: Fleet) -> None:
    visit = issued(fleet)
    told = done(fleet, visit, meter_value=None, meter_unreadable=True)
    came = record_visit(fleet.place, told, today=TODAY, moment=AFTER)
    with fleet.place.store.reading() as desk:
        assert desk.sampling.sample(came.samples[0]).true_hours is None


def test_that_a_meter_that_cannot_show_that_is_refused(fleet: Fleet) -> None:
    visit = issued(fleet)
    before = fleet.dump()
    wrong = done(fleet, visit, meter_value=last_meter(fleet, visit) * 10)
    with pytest.raises(MeterReadingError, match="can show"):
        record_visit(fleet.place, wrong, today=TODAY, moment=AFTER)
    assert differing_tables(before, fleet.dump()) == set()


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"method": DrawMethod.DRAIN_STREAM}, "drain stream"),
        ({"flushed": False}, "not flushed"),
        ({"cap_marked": False}, "lid not marked"),
    ],
)
def test_that_a_badly_drawn_sample_is_suspect_with_its_reason(
    fleet: Fleet, change: dict[str, Any], why: str
) -> None:
    visit = issued(fleet)
    told = with_first(done(fleet, visit), **change)
    came = record_visit(fleet.place, told, today=TODAY, moment=AFTER)
    [(code, reason)] = came.suspect
    assert code == visit.boxes[0].bottle_code
    assert why in reason
    with fleet.place.store.reading() as desk:
        assert desk.sampling.sample(came.samples[0]).trust is Trust.SUSPECT


def test_that_litres_and_changes_become_events_and_the_fill_goes_on(fleet: Fleet) -> None:
    visit = issued(fleet)
    told = with_first(done(fleet, visit), litres_added=3.5, fluid_changed=True, filter_changed=True)
    record_visit(fleet.place, told, today=TODAY, moment=AFTER)
    with fleet.place.store.reading() as desk:
        events = [
            one
            for one in desk.fleet.events(visit.boxes[0].compartment_id)
            if one.happened_on == TODAY
        ]
    assert {one.kind for one in events} == {
        EventKind.TOP_UP, EventKind.FLUID_CHANGE, EventKind.FILTER_CHANGE,
    }  # fmt: skip
    assert next(one for one in events if one.kind is EventKind.TOP_UP).litres == 3.5
    assert {one.source for one in events} == {"visit sheet"}


def test_that_a_bottle_not_taken_keeps_its_reason_and_the_rest_stays_open(fleet: Fleet) -> None:
    visit = issued(fleet)
    told = done(fleet, visit)
    first = BottleTaken(visit_box_id=visit.boxes[0].id, is_taken=False, why_not="no access")
    part = replace(told, bottles=(first, told.bottles[1]))
    came = record_visit(fleet.place, part, today=TODAY, moment=AFTER)
    assert came.not_taken == 1
    assert came.still_open == len(visit.boxes) - 2
    [after] = visits(fleet.place, today=TODAY, ids=[visit.id])
    assert after.state is VisitState.ISSUED
    assert after.boxes[0].outcome is BoxOutcome.NOT_TAKEN
    assert after.boxes[0].why_not == "no access"
    with fleet.place.store.reading() as desk:
        left = desk.sampling.by_bottle([visit.boxes[0].bottle_code])
    assert {one.state for one in left.values()} == {SampleState.NOT_TAKEN}


def test_that_a_visit_is_recorded_once(fleet: Fleet) -> None:
    visit = issued(fleet)
    told = done(fleet, visit)
    record_visit(fleet.place, told, today=TODAY, moment=AFTER)
    with pytest.raises(OperatorError, match="recorded or given up before"):
        record_visit(fleet.place, told, today=TODAY, moment=AFTER)
