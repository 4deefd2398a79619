"""Bottles that no plan asked for: registered, answered, never counted in compliance."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.fleet import MeterReadingError
from fluiddesk.domain.identity import BottleCodeError, CompartmentId, bottle_code
from fluiddesk.domain.samples import DrawMethod, SampleOrigin, SampleReason, SampleState
from fluiddesk.domain.severity import Trust
from fluiddesk.services.outside_plan.labels import issue_spare_labels, spare_labels
from fluiddesk.services.outside_plan.walk_up import (
    RegisteredSample,
    WalkUp,
    register_duplicate,
    register_sample,
)
from fluiddesk.services.register.boxes import save_compartment
from fluiddesk.services.register.read import register_facts
from fluiddesk.services.register.transfer import transfer_machine
from tests.fleets import LAST_DAY, NOW, Fleet, results

CODE = bottle_code("26W00001")
LATER = NOW + timedelta(hours=1)


def register(fleet: Fleet, code: str = CODE, **told: object) -> RegisteredSample:
    box = fleet.boxes("engine")[0]
    facts: dict[str, object] = {
        "bottle_code": code,
        "compartment_id": box.compartment_id,
        "taken_on": LAST_DAY,
    }
    walk_up = WalkUp(**(facts | told))  # type: ignore[arg-type]
    return register_sample(fleet.place, walk_up, moment=NOW, today=LAST_DAY)


def test_that_a_walk_up_is_registered_and_its_result_taken_in(either_fleet: Fleet):
    box = either_fleet.boxes("engine")[0]
    made = register(either_fleet, note="smelled burnt", taken_by="Kim")
    assert made.origin is SampleOrigin.WALK_UP
    either_fleet.take_in(either_fleet.lab_file("lab.csv", results(CODE, iron=900)))
    [sample] = [one for one in either_fleet.samples(box.compartment_id) if one.id == made.sample_id]
    assert (sample.state, sample.reason) == (SampleState.REPORTED, SampleReason.SPECIAL)
    assert not sample.origin.counts_in_compliance
    assert either_fleet.condition(box.compartment_id)["sample_id"] == made.sample_id
    assert either_fleet.check() == []


def test_that_a_row_put_aside_is_taken_in_once_its_bottle_is_registered(fleet: Fleet):
    known = fleet.draw(fleet.boxes("engine")[1], 3)
    file = fleet.lab_file("lab.csv", results(known, iron=5), results(CODE, iron=9))
    first = fleet.take_in(file)
    assert (first.taken_in, first.held) == (1, 1)
    register(fleet)
    again = fleet.take_in(file, moment=LATER)
    assert (again.taken_in, again.held, again.unchanged) == (1, 0, 1)
    with fleet.place.store.reading() as desk:
        assert desk.results.held_rows() == []
        assert len({one.sha256 for one in desk.results.intakes()}) == len(desk.results.intakes())
    assert fleet.take_in(file, moment=LATER).already_taken_in


def test_that_a_spare_label_is_used_up_by_its_sample(fleet: Fleet):
    site = fleet.boxes("engine")[0].site_id
    first, second = issue_spare_labels(fleet.place, site, 2, moment=NOW, today=LAST_DAY)
    assert [one.code for one in spare_labels(fleet.place)] == [first, second]
    made = register(fleet, first.lower().replace("-", ""))
    assert (made.bottle_code, made.origin) == (first, SampleOrigin.SPARE_LABEL)
    assert [one.code for one in spare_labels(fleet.place)] == [second]
    [third] = issue_spare_labels(fleet.place, site, 1, moment=LATER, today=LAST_DAY)
    assert third[:-2] > second[:-2]
    with pytest.raises(OperatorError, match=rf"{first} is the sample of 2026-06-30 of"):
        register(fleet, first)


def test_that_a_label_of_another_site_is_refused(fleet: Fleet):
    own = fleet.boxes("engine")[0].site_id
    other = next(box.site_id for box in fleet.boxes() if box.site_id != own)
    [label] = issue_spare_labels(fleet.place, other, 1, moment=NOW, today=LAST_DAY)
    with pytest.raises(OperatorError, match="was issued at"):
        register(fleet, label)


@pytest.mark.parametrize("count", [0, 501])
def test_that_labels_are_made_in_sensible_numbers(fleet: Fleet, count: int):
    with pytest.raises(OperatorError, match="Ask for 1 to 500"):
        issue_spare_labels(fleet.place, fleet.boxes()[0].site_id, count, moment=NOW, today=LAST_DAY)


def test_that_a_meter_value_gives_hours_and_stays_as_a_reading(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.machine(box.machine)
        last = desk.fleet.meter_readings(machine.id)[-1]
    made = register(fleet, meter_value=last.value + 5, taken_on=LAST_DAY)
    [sample] = [one for one in fleet.samples(box.compartment_id) if one.id == made.sample_id]
    assert sample.true_hours == pytest.approx(last.true_hours + 5)
    with fleet.place.store.reading() as desk:
        assert desk.fleet.usage()[machine.id].hours_now == pytest.approx(last.true_hours + 5)


@pytest.mark.parametrize(
    ("told", "fault", "said"),
    [
        ({"code": "26W-00001-0"}, BottleCodeError, "check character"),
        ({"taken_on": LAST_DAY + timedelta(1)}, OperatorError, "lies after today"),
        ({"meter_value": 1.0}, MeterReadingError, "Correct the reading"),
        ({"reason": SampleReason.DUPLICATE}, OperatorError, "its first bottle"),
        ({"compartment_id": CompartmentId(bytes(16))}, NotFoundError, "no compartment"),
    ],
)
def test_that_what_cannot_be_is_refused_and_nothing_saved(
    fleet: Fleet, told: dict[str, object], fault: type[Exception], said: str
):
    before = fleet.dump()
    with pytest.raises(fault, match=said):
        register(fleet, **told)  # type: ignore[arg-type]
    assert fleet.dump() == before


def test_that_a_box_out_of_use_takes_no_sample(either_fleet: Fleet):
    fleet = either_fleet
    box = fleet.boxes("engine")[0]
    facts = next(
        one
        for one in register_facts(fleet.place, today=LAST_DAY).compartments
        if one.id == box.compartment_id
    )
    save_compartment(fleet.place, replace(facts, retired=True), today=LAST_DAY, moment=NOW)
    before = fleet.dump()
    with pytest.raises(OperatorError, match=rf"{box.machine}, Engine is retired\. Choose the box"):
        register(fleet, compartment_id=box.compartment_id)
    assert fleet.dump() == before


def test_that_a_machine_that_went_to_another_site_takes_none_after_it(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    other = next(one for one in fleet.boxes() if one.site_id != box.site_id)
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.compartment(box.compartment_id).machine
    moved_on = LAST_DAY - timedelta(1)
    transfer_machine(
        fleet.place, machine, to=other.site_id, on=moved_on, today=LAST_DAY, moment=NOW
    )
    with pytest.raises(OperatorError, match=rf"went to {other.site} on 2026-06-29, but the sample"):
        register(fleet, compartment_id=box.compartment_id, taken_on=moved_on)
    late = register(fleet, compartment_id=box.compartment_id, taken_on=moved_on - timedelta(1))
    assert late.changes.compartments == {box.compartment_id}


def test_that_a_meter_value_a_day_too_fast_is_taken_with_a_warning(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    with fleet.place.store.reading() as desk:
        last = desk.fleet.meter_readings(desk.fleet.compartment(box.compartment_id).machine)[-1]
    days = (LAST_DAY - last.read_on).days
    made = register(fleet, meter_value=last.value + 24.0 * days + 3)
    [warning] = made.warnings
    assert "Check the reading, unless the first was read early" in warning
    code = bottle_code("26W00002")
    with pytest.raises(MeterReadingError, match="at most"):
        register(fleet, code, meter_value=last.value + 24.0 * (days + 1) + 40)


def test_that_the_drain_stream_makes_a_sample_suspect(fleet: Fleet):
    made = register(fleet, draw_method=DrawMethod.DRAIN_STREAM)
    box = fleet.boxes("engine")[0]
    [sample] = [one for one in fleet.samples(box.compartment_id) if one.id == made.sample_id]
    assert sample.trust is Trust.SUSPECT


def test_that_a_duplicate_belongs_to_the_same_draw(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    first = register(fleet)
    made = register_duplicate(
        fleet.place, first.sample_id, bottle_code("26W00002"), moment=LATER, today=LAST_DAY
    )
    samples = {one.id: one for one in fleet.samples(box.compartment_id)}
    twin, original = samples[made.sample_id], samples[first.sample_id]
    assert (twin.reason, twin.duplicate_of) == (SampleReason.DUPLICATE, original.id)
    assert (twin.taken_on, twin.true_hours) == (original.taken_on, original.true_hours)
    third = register_duplicate(
        fleet.place, twin.id, bottle_code("26W00003"), moment=LATER, today=LAST_DAY
    )
    again = {one.id: one for one in fleet.samples(box.compartment_id)}[third.sample_id]
    assert again.duplicate_of == original.id
