"""What stands outside the plan, read back as lists show it."""

from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import bottle_code
from fluiddesk.domain.samples import SampleOrigin, SampleReason, SampleState
from fluiddesk.services.outside_plan.fluid_samples import (
    FluidSampleKind,
    NewFluidSample,
    register_fluid_sample,
)
from fluiddesk.services.outside_plan.labels import issue_spare_labels
from fluiddesk.services.outside_plan.overview import (
    fluid_values,
    outside_facts,
    sample_of_bottle,
)
from fluiddesk.services.outside_plan.rejected import Rejection, reject_sample
from fluiddesk.services.outside_plan.walk_up import WalkUp, register_duplicate, register_sample
from tests.fleets import LAST_DAY, NOW, Fleet, results

FIRST, SECOND, DRUM = (bottle_code(f"26W{n:05}") for n in (1, 2, 3))
LATER = NOW + timedelta(hours=1)


def walk_up(fleet: Fleet, code: str = FIRST) -> None:
    told = WalkUp(
        bottle_code=code,
        compartment_id=fleet.boxes("engine")[0].compartment_id,
        taken_on=LAST_DAY - timedelta(1),
        taken_by="Kim",
        note="smelled burnt",
    )
    register_sample(fleet.place, told, moment=NOW, today=LAST_DAY)


def test_that_walk_ups_duplicates_and_rejected_bottles_are_listed_newest_first(
    either_fleet: Fleet,
):
    fleet = either_fleet
    known = {one.id for one in outside_facts(fleet.place).box_samples}
    walk_up(fleet)
    register_duplicate(
        fleet.place, sample_of_bottle(fleet.place, FIRST), SECOND, moment=LATER, today=LAST_DAY
    )
    planned = fleet.draw(fleet.boxes("engine")[1], 4)
    told = Rejection(bottle_code=planned, laboratory="lab_a", report_number="X-1", reason="leaked")
    reject_sample(fleet.place, told, moment=LATER, today=LAST_DAY)
    facts = outside_facts(fleet.place)
    twin, first, rejected = (one for one in facts.box_samples if one.id not in known)
    assert (twin.bottle_code, twin.first_bottle) == (SECOND, FIRST)
    assert (twin.reason, first.reason) == (SampleReason.DUPLICATE, SampleReason.SPECIAL)
    assert (first.origin, first.taken_by, first.note) == (
        SampleOrigin.WALK_UP, "Kim", "smelled burnt",
    )  # fmt: skip
    assert first.machine == fleet.boxes("engine")[0].machine
    assert (rejected.bottle_code, rejected.rejected_reason) == (planned, "leaked")
    assert rejected.state is SampleState.REPORTED


def test_that_spare_labels_and_fluid_samples_stand_beside_them(fleet: Fleet):
    site = fleet.boxes()[0].site_id
    codes = issue_spare_labels(fleet.place, site, 3, moment=NOW, today=LAST_DAY)
    drum(fleet)
    facts = outside_facts(fleet.place)
    assert tuple(one.code for one in facts.spare_labels) == codes
    assert [one.bottle_code for one in facts.fluid_samples] == [DRUM]


def drum(fleet: Fleet) -> None:
    with fleet.place.store.reading() as desk:
        fluid = next(iter(desk.fleet.references().values())).fluid_code
    told = NewFluidSample(
        site_id=fleet.boxes()[0].site_id,
        kind=FluidSampleKind.DRUM,
        fluid_code=fluid,
        bottle_code=DRUM,
        taken_on=LAST_DAY,
        container="drum 7",
    )
    register_fluid_sample(fleet.place, told, moment=NOW, today=LAST_DAY)


def test_that_values_of_a_drum_stand_beside_its_fluid_s_reference(fleet: Fleet):
    drum(fleet)
    assert fluid_values(fleet.place, DRUM) == ()
    fleet.take_in(fleet.lab_file("one.csv", results(DRUM, iron=3) | {"machine": ""}))
    [iron] = fluid_values(fleet.place, DRUM.lower())
    assert (iron.analyte, iron.printed, iron.printed_unit) == ("iron", "3", "mg/kg")
    with fleet.place.store.reading() as desk:
        held = next(iter(desk.fleet.references().values()))
    assert iron.reference == held.values.get("iron")


@pytest.mark.parametrize("ask", [fluid_values, sample_of_bottle])
def test_that_an_unknown_bottle_is_named(fleet: Fleet, ask):
    with pytest.raises(NotFoundError, match=FIRST):
        ask(fleet.place, FIRST)
