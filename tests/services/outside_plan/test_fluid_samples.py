"""Samples of drums, tanks and new fluid, from the label to the reference."""

from datetime import date, timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.services.lab_intake.take_in import undo_intake
from fluiddesk.services.outside_plan.fluid_samples import (
    FluidSampleKind,
    NewFluidSample,
    fluid_samples,
    register_fluid_sample,
    take_as_reference,
)
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.search.find import find
from fluiddesk.services.search.index import build_index
from tests.fleets import LAST_DAY, NOW, Fleet, results

CODE = bottle_code("26F00001")
LATER = NOW + timedelta(hours=1)


def fluid_of(fleet: Fleet) -> str:
    with fleet.place.store.reading() as desk:
        return desk.catalogue.fluids()[0].code


def register(fleet: Fleet, **told: object) -> bytes:
    facts: dict[str, object] = {
        "site_id": fleet.boxes()[0].site_id,
        "kind": FluidSampleKind.NEW_FLUID,
        "fluid_code": fluid_of(fleet),
        "bottle_code": CODE,
        "taken_on": LAST_DAY,
        "container": "drum 7 of delivery 12",
    }
    made = NewFluidSample(**(facts | told))  # type: ignore[arg-type]
    return register_fluid_sample(fleet.place, made, moment=NOW, today=LAST_DAY)


def test_that_a_drum_s_result_is_taken_in_revised_and_undone(either_fleet: Fleet):
    register(either_fleet)
    row = results(CODE, iron=1) | {"machine": "", "remark": "as new"}
    first = either_fleet.take_in(either_fleet.lab_file("one.csv", row))
    assert (first.taken_in, first.held) == (1, 0)
    second = either_fleet.take_in(
        either_fleet.lab_file("two.csv", row | {"issue": 2, "iron [mg/kg]": 3}), moment=LATER
    )
    [facts] = fluid_samples(either_fleet.place)
    assert (facts.state, facts.report_number) == (SampleState.REPORTED, f"R-{CODE}")
    assert second.intake_id is not None
    undo_intake(either_fleet.place, second.intake_id, moment=LATER, today=LAST_DAY)
    with either_fleet.place.store.reading() as desk:
        [record] = desk.outside.fluid_samples()
        values = desk.outside.readings_of(record.site, record.id)
    assert (record.issue, values["iron"].value) == (1, 1.0)
    assert first.intake_id is not None
    undo_intake(either_fleet.place, first.intake_id, moment=LATER, today=LAST_DAY)
    [facts] = fluid_samples(either_fleet.place)
    assert (facts.state, facts.report_number) == (SampleState.RECEIVED, "")
    assert either_fleet.check() == []


def test_that_new_fluid_becomes_the_reference_from_a_day_on(fleet: Fleet):
    register(fleet)
    with pytest.raises(OperatorError, match="no results yet"):
        take_as_reference(fleet.place, CODE, valid_from=LAST_DAY, moment=NOW)
    row = results(CODE, iron=2, copper="<1")
    fleet.take_in(fleet.lab_file("one.csv", row))
    number, _ = take_as_reference(fleet.place, CODE, valid_from=LAST_DAY, moment=LATER)
    with fleet.place.store.reading() as desk:
        reference = desk.catalogue.references()[number]
    assert (reference.fluid_code, reference.valid_from) == (fluid_of(fleet), LAST_DAY)
    assert reference.values == {"iron": 2.0}


def test_that_boxes_with_the_fluid_are_judged_by_the_reference_at_once(either_fleet: Fleet):
    fleet = either_fleet
    box = fleet.boxes("engine")[0]
    with fleet.place.store.reading() as desk:
        fluid = desk.fleet.compartment(box.compartment_id).fluid
        before = desk.blocks.one(box.compartment_id)
    assert before is not None
    since = date.fromordinal(int(before.taken_on[-1]))
    register(fleet, fluid_code=fluid)
    fleet.take_in(fleet.lab_file("one.csv", results(CODE, iron=2)))
    number, changes = take_as_reference(fleet.place, CODE, valid_from=since, moment=LATER)
    with fleet.place.store.reading() as desk:
        after = desk.blocks.one(box.compartment_id)
    assert after is not None
    expected = [number if day >= since.toordinal() else old
                for day, old in zip(after.taken_on, before.reference, strict=True)]  # fmt: skip
    assert after.reference.tolist() == expected
    assert box.compartment_id in changes.compartments
    assert fleet.check() == []


def test_that_only_new_fluid_gives_a_reference(fleet: Fleet):
    register(fleet, kind=FluidSampleKind.TANK)
    with pytest.raises(OperatorError, match="only new fluid"):
        take_as_reference(fleet.place, CODE, valid_from=LAST_DAY, moment=NOW)
    with pytest.raises(NotFoundError, match="Register it first"):
        take_as_reference(fleet.place, bottle_code("26F00009"), valid_from=LAST_DAY, moment=NOW)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"taken_on": LAST_DAY + timedelta(1)}, "lies after today"),
        ({"container": " "}, "not said which drum"),
        ({"fluid_code": "nothing"}, "no fluid"),
        ({"site_id": 99}, "no site 99"),
    ],
)
def test_that_what_cannot_be_is_refused(fleet: Fleet, told: dict[str, object], said: str):
    before = fleet.dump()
    with pytest.raises(OperatorError, match=said):
        register(fleet, **told)
    assert fleet.dump() == before


def test_that_a_bottle_is_used_once(fleet: Fleet):
    register(fleet)
    with pytest.raises(OperatorError, match="is a fluid sample"):
        register(fleet)


def test_that_a_fluid_sample_is_found_by_bottle_and_words(fleet: Fleet):
    register(fleet)
    index = build_index(fleet.place)
    [by_code] = find(index, CODE).hits
    [by_words] = find(index, "delivery 12").hits
    assert by_code == by_words
    assert by_code.kind is HitKind.FLUID_SAMPLE
