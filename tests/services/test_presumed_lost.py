"""A bottle gone for longer than its lane keeps to is asked for again, until it or another comes."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.custody.read import custody
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.presumed_lost import presumed_lost, usual_way_days
from fluiddesk.services.sampling_plan import due_lines
from tests.fleets import NOW, Fleet, results

WAY = timedelta(days=usual_way_days())


def due_of(fleet: Fleet, compartment: bytes, today: date):
    condition = fleet_condition(fleet.place, today=today)
    lines = due_lines(condition, fleet.place.catalogue, until=today + timedelta(400))
    return next((one for one in lines if one.compartment_id == compartment), None)


@pytest.fixture
def sent(either_fleet: Fleet):
    """A bottle drawn and sent on the last day."""
    fleet = either_fleet
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    code = fleet.draw(box, 0)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        sample = desk.sampling.by_bottle([code])[code]
        desk.sampling.edit_sample(replace(sample, state=SampleState.SHIPPED), version=None)
    assert sample.taken_on is not None
    return fleet, box, code, sample.taken_on


def test_that_a_bottle_past_the_usual_way_is_asked_for_again(sent):
    fleet, box, code, drawn = sent
    inside, past = drawn + WAY, drawn + WAY + timedelta(2)
    for today, is_lost in ((inside, False), (past, True)):
        with fleet.place.store.reading() as desk:
            assert (box.compartment_id in presumed_lost(desk, today=today)) is is_lost
            one = presumed_lost(desk, today=today, compartment=box.compartment_id)
        assert bool(one) is is_lost
        told = {one.code for one in custody(fleet.place, today=today).presumed_lost}
        assert (code in told) is is_lost
    line = due_of(fleet, box.compartment_id, past)
    assert line is not None
    assert line.basis == f"bottle {code} presumed lost: take again"
    assert line.due_on is not None
    assert line.due_on <= past + timedelta(3)


def test_that_its_report_takes_the_request_back(sent):
    fleet, box, code, drawn = sent
    fleet.take_in(fleet.lab_file("late.csv", results(code, iron=12)))
    line = due_of(fleet, box.compartment_id, drawn + WAY + timedelta(2))
    assert line is None or "presumed lost" not in line.basis
