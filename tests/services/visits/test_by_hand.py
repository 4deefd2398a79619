"""Visits laid by hand."""

from datetime import timedelta

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.visits.book import save_visits
from fluiddesk.services.visits.by_hand import visits_by_hand
from fluiddesk.services.visits.crews import save_crew
from fluiddesk.services.visits.facts import Crew
from fluiddesk.services.visits.read import visits
from fluiddesk.storage import check_store
from tests.fleets import LAST_DAY, NOW, Fleet


def boxes_of(fleet: Fleet, machines: int) -> list[CompartmentId]:
    rows = fleet_condition(fleet.place, today=LAST_DAY).rows
    names = sorted({row.machine for row in rows})[:machines]
    return [CompartmentId(row.compartment_id) for row in rows if row.machine in names]


def test_that_each_machine_gets_one_visit_in_working_order(fleet: Fleet) -> None:
    boxes = boxes_of(fleet, 2)
    on = LAST_DAY + timedelta(days=3)
    made = visits_by_hand(fleet.place, boxes, on=on, today=LAST_DAY)
    assert len(made) == 2
    assert {one.planned_on for one in made} == {on}
    assert sorted(box.compartment_id for one in made for box in one.boxes) == sorted(boxes)
    assert all(one.minutes > 0 for one in made)
    ids = save_visits(fleet.place, made, moment=NOW)
    assert {one.id for one in visits(fleet.place, today=LAST_DAY)} == set(ids)
    assert check_store(fleet.place.store) == []


def test_that_the_only_crew_of_a_site_gets_the_visit(fleet: Fleet) -> None:
    [box, *_] = boxes_of(fleet, 1)
    rows = fleet_condition(fleet.place, today=LAST_DAY).rows
    site = next(row.site_id for row in rows if row.compartment_id == box)
    crew = Crew(site=site, name="North", hours_per_day=6)  # type: ignore[arg-type]
    save_crew(fleet.place, crew, moment=NOW)
    [made] = visits_by_hand(fleet.place, [box], on=LAST_DAY, today=LAST_DAY)
    assert made.crew == "North"


def test_that_a_past_day_no_box_and_a_box_on_a_visit_are_refused(fleet: Fleet) -> None:
    boxes = boxes_of(fleet, 1)
    yesterday = LAST_DAY - timedelta(days=1)
    with pytest.raises(OperatorError, match="passed"):
        visits_by_hand(fleet.place, boxes, on=yesterday, today=LAST_DAY)
    with pytest.raises(OperatorError, match="No box"):
        visits_by_hand(fleet.place, [], on=LAST_DAY, today=LAST_DAY)
    save_visits(
        fleet.place,
        visits_by_hand(fleet.place, boxes[:1], on=LAST_DAY, today=LAST_DAY),
        moment=NOW,
    )
    with pytest.raises(OperatorError, match="stands on a visit already"):
        visits_by_hand(fleet.place, boxes, on=LAST_DAY, today=LAST_DAY)
