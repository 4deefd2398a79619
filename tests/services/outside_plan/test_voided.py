from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import SiteId, bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.services.outside_plan.fluid_samples import (
    FluidSampleKind,
    NewFluidSample,
    fluid_samples,
    register_fluid_sample,
)
from fluiddesk.services.outside_plan.voided import void_sample
from fluiddesk.services.outside_plan.walk_up import WalkUp, register_sample
from fluiddesk.storage import check_store
from tests.fleets import LAST_DAY, NOW, Fleet, results

CODE = bottle_code("26W00001")


def walk_up(fleet: Fleet) -> None:
    box = fleet.boxes("engine")[0]
    told = WalkUp(bottle_code=CODE, compartment_id=box.compartment_id, taken_on=LAST_DAY)
    register_sample(fleet.place, told, moment=NOW, today=LAST_DAY)


def test_that_a_sample_registered_by_mistake_is_void_and_the_box_stands_as_before(
    either_fleet: Fleet,
) -> None:
    box = either_fleet.boxes("engine")[0].compartment_id
    before = either_fleet.condition(box)
    walk_up(either_fleet)
    with pytest.raises(OperatorError, match="Say why"):
        void_sample(either_fleet.place, CODE, why=" ", moment=NOW)
    void_sample(either_fleet.place, CODE, why="typed twice", moment=NOW + timedelta(1))
    after = either_fleet.condition(box)
    assert {key: after[key] for key in ("severity", "taken_on", "awaited_on")} == {
        key: before[key] for key in ("severity", "taken_on", "awaited_on")
    }
    with either_fleet.place.store.reading() as desk:
        assert desk.sampling.by_bottle([CODE])[CODE].state is SampleState.VOID
    with pytest.raises(OperatorError, match="void already"):
        void_sample(either_fleet.place, CODE, why="again", moment=NOW)
    assert check_store(either_fleet.place.store) == []


def test_that_a_sample_with_results_is_not_void(fleet: Fleet) -> None:
    walk_up(fleet)
    fleet.take_in(fleet.lab_file("r.csv", results(CODE, iron=20)))
    with pytest.raises(OperatorError, match="Undo their intake first"):
        void_sample(fleet.place, CODE, why="wrong box", moment=NOW)


def test_that_a_bottle_of_nobody_is_named(fleet: Fleet) -> None:
    with pytest.raises(NotFoundError, match="No sample has the bottle"):
        void_sample(fleet.place, bottle_code("26W99999"), why="x", moment=NOW)


def test_that_a_fluid_sample_can_be_void_too(fleet: Fleet) -> None:
    site = SiteId(fleet.boxes()[0].site_id)
    with fleet.place.store.reading() as desk:
        fluid = desk.fleet.fluids()[0].code
    told = NewFluidSample(
        bottle_code=CODE,
        site_id=site,
        kind=FluidSampleKind.DRUM,
        fluid_code=fluid,
        container="drum 4",
        taken_on=LAST_DAY,
    )
    register_fluid_sample(fleet.place, told, moment=NOW, today=LAST_DAY)
    void_sample(fleet.place, CODE, why="typed twice", moment=NOW)
    [one] = [one for one in fluid_samples(fleet.place) if one.bottle_code == CODE]
    assert one.state is SampleState.VOID
