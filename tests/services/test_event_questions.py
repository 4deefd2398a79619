"""A fluid change nobody recorded: asked once, answered, and worked out anew."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, UsageError
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import SampleId, bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.event_questions import (
    EventAnswer,
    answer_question,
    open_questions,
)
from tests.fleets import LAST_DAY, NOW, Fleet, results

WORN = {"iron": 60, "chromium": 4, "aluminium": 12, "copper": 14, "lead": 9}
ADDED = {"calcium": 2350, "zinc": 1150, "phosphorus": 1050}
LATER = NOW + timedelta(hours=1)


@pytest.fixture
def box(fleet: Fleet):
    return fleet.boxes("engine", Severity.NORMAL)[0]


def drawn(fleet: Fleet, box, number: int, *, on: date, fluid_hours: float, hours: float) -> str:
    """A bottle of the box's present fill, waiting for the laboratory."""
    code = bottle_code(f"26T{number:05}")
    last = fleet.samples(box.compartment_id)[0]
    newest = max(fleet.samples(box.compartment_id), key=lambda one: one.taken_on or date.min)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        sample = replace(
            last,
            id=SampleId(desk.new_id()),
            bottle_code=code,
            state=SampleState.SHIPPED,
            taken_on=on,
            meter_value=None,
            true_hours=hours,
            fluid_hours=fluid_hours,
            fill_number=newest.fill_number,
        )
        desk.sampling.add_samples([sample])
    return code


def fallen(fleet: Fleet, box, share: float = 0.12):
    """Two reports of one fill: a worn oil, then one that looks freshly changed."""
    newest = max(fleet.samples(box.compartment_id), key=lambda one: one.taken_on or date.min)
    start = newest.true_hours or 1000.0
    first = drawn(fleet, box, 1, on=LAST_DAY - timedelta(9), fluid_hours=400.0, hours=start + 20)
    second = drawn(fleet, box, 2, on=LAST_DAY - timedelta(2), fluid_hours=440.0, hours=start + 60)
    fleet.take_in(fleet.lab_file("first.csv", results(first, **WORN, **ADDED)))
    low = {code: max(1, round(value * share)) for code, value in WORN.items()}
    fleet.take_in(fleet.lab_file("second.csv", results(second, **low, **ADDED)))
    return second


def changes_of(fleet: Fleet, box) -> list[Certainty]:
    with fleet.place.store.reading() as desk:
        events = desk.fleet.events(box.compartment_id)
    return [one.certainty for one in events if one.note.startswith("asked")]


def test_that_values_fallen_as_after_a_change_raise_one_short_question(fleet: Fleet, box):
    code = fallen(fleet, box)
    [question] = open_questions(fleet.place)
    assert question.bottle_code == code
    assert question.told.startswith(f"Engine of {box.machine} looks like a fluid change between")
    assert question.told.endswith("Was the fluid changed?")
    assert "Iron 60 to 7" in question.told
    assert fleet.check() == []


def test_that_values_that_went_on_raise_none(fleet: Fleet, box):
    fallen(fleet, box, share=1.05)
    assert open_questions(fleet.place) == ()


def test_that_a_yes_is_recorded_and_the_fill_is_counted_anew(fleet: Fleet, box):
    code = fallen(fleet, box)
    [question] = open_questions(fleet.place)
    before = next(one for one in fleet.samples(box.compartment_id) if one.bottle_code == code)
    day = LAST_DAY - timedelta(3)
    changes = answer_question(
        fleet.place, question.id, EventAnswer.YES, on=day, moment=LATER, today=LAST_DAY
    )
    after = next(one for one in fleet.samples(box.compartment_id) if one.bottle_code == code)
    assert after.fill_number == before.fill_number + 1
    assert after.fluid_hours is not None
    assert before.fluid_hours is not None
    assert after.fluid_hours < before.fluid_hours
    assert changes_of(fleet, box) == [Certainty.RECORDED]
    assert box.compartment_id in changes.compartments
    assert open_questions(fleet.place) == ()
    assert fleet.check() == []


def test_that_a_no_is_kept_so_that_nobody_asks_again(fleet: Fleet, box):
    fallen(fleet, box)
    [question] = open_questions(fleet.place)
    answer_question(fleet.place, question.id, EventAnswer.NO, moment=LATER, today=LAST_DAY)
    assert changes_of(fleet, box) == [Certainty.DENIED]
    assert open_questions(fleet.place) == ()
    with pytest.raises(NotFoundError, match="answered before"):
        answer_question(fleet.place, question.id, EventAnswer.NO, moment=LATER, today=LAST_DAY)


def test_that_not_knowing_is_an_answer_without_an_event(fleet: Fleet, box):
    fallen(fleet, box)
    [question] = open_questions(fleet.place)
    answer_question(fleet.place, question.id, EventAnswer.UNKNOWN, moment=LATER, today=LAST_DAY)
    assert changes_of(fleet, box) == []
    assert open_questions(fleet.place) == ()


def test_that_a_day_outside_the_two_samples_is_refused(fleet: Fleet, box):
    fallen(fleet, box)
    [question] = open_questions(fleet.place)
    with pytest.raises(UsageError, match="outside the two samples"):
        answer_question(
            fleet.place,
            question.id,
            EventAnswer.YES,
            on=LAST_DAY - timedelta(60),
            moment=LATER,
            today=LAST_DAY,
        )


def test_that_a_recorded_change_leaves_nothing_to_ask(fleet: Fleet, box):
    from fluiddesk.services.register.boxes import add_event
    from fluiddesk.services.register.facts import EventFacts

    add_event(
        fleet.place,
        EventFacts(
            site=box.site_id,
            compartment=box.compartment_id,
            kind=EventKind.FLUID_CHANGE,
            happened_on=LAST_DAY - timedelta(4),
        ),
        today=LAST_DAY,
        moment=NOW,
    )
    fallen(fleet, box)
    assert open_questions(fleet.place) == ()
