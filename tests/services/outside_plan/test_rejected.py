"""Bottles rejected by the laboratory: the box is due again, its verdict of before stays."""

from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.severity import Trust
from fluiddesk.services.lab_intake.take_in import undo_intake
from fluiddesk.services.outside_plan.fluid_samples import (
    FluidSampleKind,
    NewFluidSample,
    fluid_samples,
    register_fluid_sample,
)
from fluiddesk.services.outside_plan.overview import fluid_values
from fluiddesk.services.outside_plan.rejected import Rejection, reject_sample
from tests.fleets import LAST_DAY, NOW, Fleet, results

LATER = NOW + timedelta(hours=1)


def reject(fleet: Fleet, code: str, reason: str = "bottle leaked") -> None:
    told = Rejection(bottle_code=code, laboratory="lab_a", report_number="X-1", reason=reason)
    reject_sample(fleet.place, told, moment=NOW, today=LAST_DAY)


def test_that_a_rejected_bottle_leaves_the_verdict_as_it_was(either_fleet: Fleet):
    box = either_fleet.boxes("engine")[0]
    before = either_fleet.condition(box.compartment_id)
    code = either_fleet.draw(box, 1)
    reject(either_fleet, code)
    after = either_fleet.condition(box.compartment_id)
    assert (after["sample_id"], after["severity"]) == (before["sample_id"], before["severity"])
    [sample] = [one for one in either_fleet.samples(box.compartment_id) if one.bottle_code == code]
    assert (sample.state, sample.trust) == (SampleState.REPORTED, Trust.REJECTED)
    assert sample.trust_reason == "rejected by the laboratory"
    assert either_fleet.check() == []


def test_that_a_row_without_results_in_a_file_is_a_rejection(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    code, other = fleet.draw(box, 1), fleet.draw(fleet.boxes("engine")[1], 2)
    empty = results(code) | {"iron [mg/kg]": "", "remark": "bottle empty"}
    taken = fleet.take_in(fleet.lab_file("lab.csv", empty, results(other, iron=4)))
    [sample] = [one for one in fleet.samples(box.compartment_id) if one.bottle_code == code]
    assert sample.trust is Trust.REJECTED
    assert taken.intake_id is not None
    undo_intake(fleet.place, taken.intake_id, moment=LATER, today=LAST_DAY)
    [sample] = [one for one in fleet.samples(box.compartment_id) if one.bottle_code == code]
    assert (sample.trust, sample.trust_reason) == (Trust.GOOD, "")
    assert fleet.check() == []


def test_that_a_later_issue_with_results_is_believed_again(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    code = fleet.draw(box, 1)
    reject(fleet, code)
    fleet.take_in(fleet.lab_file("lab.csv", results(code, issue=2, iron=7)), moment=LATER)
    [sample] = [one for one in fleet.samples(box.compartment_id) if one.bottle_code == code]
    assert (sample.trust, sample.trust_reason) == (Trust.GOOD, "")
    assert fleet.condition(box.compartment_id)["sample_id"] == sample.id


def test_that_rejections_that_cannot_be_are_refused(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    code = fleet.draw(box, 1)
    with pytest.raises(OperatorError, match="reason is missing"):
        reject(fleet, code, " ")
    with pytest.raises(NotFoundError, match="Register the sample first"):
        reject(fleet, bottle_code("26W09999"))
    fleet.take_in(fleet.lab_file("lab.csv", results(code, iron=7)))
    with pytest.raises(OperatorError, match="has results"):
        reject(fleet, code)


def test_that_a_rejected_drum_has_a_report_without_values(either_fleet: Fleet):
    place, code = either_fleet.place, bottle_code("26F00009")
    with place.store.reading() as desk:
        fluid = desk.catalogue.fluids()[0].code
    told = NewFluidSample(
        site_id=either_fleet.boxes()[0].site_id, kind=FluidSampleKind.DRUM, fluid_code=fluid,
        bottle_code=code, taken_on=LAST_DAY, container="drum 7",
    )  # fmt: skip
    register_fluid_sample(place, told, moment=NOW, today=LAST_DAY)
    reject(either_fleet, code)
    [facts] = fluid_samples(place)
    assert (facts.state, facts.report_number) == (SampleState.REPORTED, "X-1")
    assert fluid_values(place, code) == ()
    either_fleet.take_in(
        either_fleet.lab_file("lab.csv", results(code, issue=2, iron=7) | {"machine": ""}),
        moment=LATER,
    )
    with pytest.raises(OperatorError, match="has results"):
        reject(either_fleet, code)
    assert either_fleet.check() == []
