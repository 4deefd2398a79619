from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.services.due_bands import DueBands
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.visits.book import (
    drop_visit,
    issue_bottles,
    move_visit,
    save_visits,
)
from fluiddesk.services.visits.crews import crews, save_crew
from fluiddesk.services.visits.facts import BoxOutcome, Crew, ServiceDate, VisitState
from fluiddesk.services.visits.plan import PlanWishes, plan_of, propose_visits
from fluiddesk.services.visits.read import visits
from fluiddesk.services.visits.service_days import save_service_date
from fluiddesk.services.visits.surroundings import surroundings
from fluiddesk.storage import check_store
from tests.fleets import LAST_DAY, NOW, Fleet

WISHES = PlanWishes(days=28)


def test_that_every_box_whose_window_closes_in_time_is_on_one_visit(either_fleet: Fleet) -> None:
    plan = propose_visits(either_fleet.place, today=LAST_DAY, wishes=WISHES)
    condition = fleet_condition(either_fleet.place, today=LAST_DAY)
    planned = [box.compartment_id for one in plan.visits for box in one.boxes]
    assert len(planned) == len(set(planned))
    until = plan.until.toordinal()
    owed = {
        row.compartment_id
        for at, row in enumerate(condition.rows)
        if condition.due.state[at] in (DueState.DUE, DueState.OVERDUE, DueState.NOT_YET)
        and condition.due.window_to[at] <= until
    }
    assert owed
    assert owed <= set(planned)
    assert plan.sentence.startswith(f"{len(plan.visits)} visit")


def test_that_a_visit_lies_inside_the_windows_of_its_boxes(fleet: Fleet) -> None:
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    for visit in plan.visits:
        assert visit.planned_on >= LAST_DAY
        assert visit.planned_on.weekday() < 5 or visit.first_day == visit.last_day
        for box in visit.boxes:
            if box.state in (DueState.DUE, DueState.NOT_YET) and not box.is_pulled_in:
                assert box.window is not None
                assert max(box.window[0], LAST_DAY) <= visit.planned_on <= box.window[1]


def test_that_a_service_day_draws_the_visit_to_it(fleet: Fleet) -> None:
    before = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    visit = next(one for one in before.visits if (one.last_day - one.first_day).days >= 3)
    other = next(
        day
        for day in (visit.first_day + timedelta(one) for one in range(4))
        if day != visit.planned_on and day >= LAST_DAY
    )
    service = ServiceDate(site=visit.site_id, machine=visit.machine_id, planned_on=other)
    save_service_date(fleet.place, service, moment=NOW)
    after = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    moved = [one for one in after.visits if one.machine_id == visit.machine_id and one.at_service]
    assert [one.planned_on for one in moved] == [other]


def test_that_a_crew_gets_no_more_than_its_day_where_the_windows_allow_it(fleet: Fleet) -> None:
    site = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES).visits[0].site_id
    save_crew(fleet.place, Crew(site=site, name="North round", hours_per_day=3), moment=NOW)
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    mine = [one for one in plan.visits if one.site_id == site]
    assert {one.crew for one in mine} == {"North round"}
    assert sum(one.minutes for one in plan.crew_days) == pytest.approx(
        sum(one.minutes for one in mine)
    )
    for day in plan.crew_days:
        if day.is_overfull:
            stuck = [one for one in mine if one.planned_on == day.day]
            assert sum(one.last_day == one.first_day or one.minutes > 180 for one in stuck) or all(
                any(
                    full.day == other and full.minutes + one.minutes > full.minutes_there_are
                    for full in plan.crew_days
                    for other in [one.planned_on]
                )
                for one in stuck
            )


def test_that_two_crews_share_the_machines_of_a_site_without_areas(fleet: Fleet) -> None:
    site = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES).visits[0].site_id
    for name, hours in (("Early", 4), ("Late", 2)):
        save_crew(fleet.place, Crew(site=site, name=name, hours_per_day=hours), moment=NOW)
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    mine = [one for one in plan.visits if one.site_id == site]
    work = {
        name: sum(one.minutes for one in mine if one.crew == name) for name in ("Early", "Late")
    }
    assert work["Early"] > work["Late"] > 0
    machines = {(one.machine_id, one.crew) for one in mine}
    assert len(machines) == len({machine for machine, _ in machines})


def test_that_a_second_crew_of_one_name_and_a_day_of_no_hours_are_refused(fleet: Fleet) -> None:
    site = fleet.boxes()[0].site_id
    save_crew(fleet.place, Crew(site=site, name="North", hours_per_day=6), moment=NOW)
    with pytest.raises(OperatorError, match="North") as raised:
        save_crew(fleet.place, Crew(site=site, name="North", hours_per_day=0), moment=NOW)
    assert "already" in str(raised.value)
    assert "Hours a day cannot be 0" in str(raised.value)
    assert [one.name for one in crews(fleet.place)] == ["North"]


def test_that_saved_visits_are_read_back_and_not_planned_twice(either_fleet: Fleet) -> None:
    place = either_fleet.place
    plan = propose_visits(place, today=LAST_DAY, wishes=WISHES)
    ids = save_visits(place, plan.visits, moment=NOW)
    kept = visits(place, today=LAST_DAY)
    assert {one.id for one in kept} == set(ids)
    assert sorted(len(one.boxes) for one in kept) == sorted(len(one.boxes) for one in plan.visits)
    again = propose_visits(place, today=LAST_DAY, wishes=WISHES)
    planned = {box.compartment_id for one in plan.visits for box in one.boxes}
    assert not planned & {box.compartment_id for one in again.visits for box in one.boxes}
    with pytest.raises(OperatorError, match="stands on the visit of"):
        save_visits(place, plan.visits[:1], moment=NOW)
    assert len(visits(place, today=LAST_DAY)) == len(kept)


def test_that_a_moved_visit_takes_its_bottles_along(fleet: Fleet) -> None:
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    [visit_id] = save_visits(fleet.place, plan.visits[:1], moment=NOW)
    issue_bottles(fleet.place, [visit_id], today=LAST_DAY, moment=NOW)
    [before] = visits(fleet.place, today=LAST_DAY)
    to = LAST_DAY + timedelta(9)
    move_visit(fleet.place, visit_id, to=to, version=before.version, today=LAST_DAY, moment=NOW)
    [after] = visits(fleet.place, today=LAST_DAY)
    assert after.planned_on == to
    assert after.boxes == before.boxes
    with pytest.raises(StaleEditError):
        move_visit(
            fleet.place,
            visit_id,
            to=to + timedelta(1),
            version=before.version,
            today=LAST_DAY,
            moment=NOW,
        )
    with pytest.raises(OperatorError, match=r"2026-06-29 has passed"):
        move_visit(
            fleet.place,
            visit_id,
            to=date(2026, 6, 29),
            version=after.version,
            today=LAST_DAY,
            moment=NOW,
        )


def test_that_issued_bottles_have_codes_of_their_own_and_keep_them(either_fleet: Fleet) -> None:
    place = either_fleet.place
    plan = propose_visits(place, today=LAST_DAY, wishes=WISHES)
    ids = save_visits(place, plan.visits[:2], moment=NOW)
    issued = issue_bottles(place, ids, today=LAST_DAY, moment=NOW)
    codes = [code for one in ids for code in issued.codes[one]]
    assert issued.count == len(set(codes)) == sum(len(one.boxes) for one in plan.visits[:2])
    assert issue_bottles(place, ids, today=LAST_DAY, moment=NOW).codes == issued.codes
    with place.store.reading() as desk:
        samples = desk.sampling.by_bottle(codes)
    assert {one.state for one in samples.values()} == {SampleState.ISSUED}
    kept = visits(place, today=LAST_DAY, ids=ids)
    assert {one.state for one in kept} == {VisitState.ISSUED}
    assert {box.bottle_code for one in kept for box in one.boxes} == set(codes)
    assert check_store(place.store) == []


def test_that_a_visit_given_up_leaves_its_boxes_due_and_its_labels_void(fleet: Fleet) -> None:
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    [visit_id] = save_visits(fleet.place, plan.visits[:1], moment=NOW)
    codes = issue_bottles(fleet.place, [visit_id], today=LAST_DAY, moment=NOW).codes[visit_id]
    [kept] = visits(fleet.place, today=LAST_DAY)
    with pytest.raises(OperatorError, match="Say why"):
        drop_visit(fleet.place, visit_id, why=" ", version=kept.version, moment=NOW)
    drop_visit(fleet.place, visit_id, why="road closed", version=kept.version, moment=NOW)
    assert visits(fleet.place, today=LAST_DAY) == ()
    [dropped] = visits(fleet.place, today=LAST_DAY, ids=[visit_id])
    assert dropped.state is VisitState.DROPPED
    assert {one.outcome for one in dropped.boxes} == {BoxOutcome.NOT_TAKEN}
    assert {one.why_not for one in dropped.boxes} == {"road closed"}
    with fleet.place.store.reading() as desk:
        assert {one.state for one in desk.sampling.by_bottle(codes).values()} == {SampleState.VOID}
    again = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    boxes = {box.compartment_id for one in again.visits for box in one.boxes}
    assert {one.compartment_id for one in dropped.boxes} <= boxes
    with pytest.raises(OperatorError, match="given up"):
        issue_bottles(fleet.place, [visit_id], today=LAST_DAY, moment=NOW)


def test_that_a_failed_save_keeps_no_part_of_the_visits(fleet: Fleet) -> None:
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=WISHES)
    twice = (*plan.visits[:2], replace(plan.visits[0], note="the same again"))
    with pytest.raises(OperatorError, match="already"):
        save_visits(fleet.place, twice, moment=NOW)
    assert visits(fleet.place, today=LAST_DAY) == ()


def test_that_a_critical_box_is_visited_on_the_early_edge_of_its_band(fleet: Fleet) -> None:
    condition = fleet_condition(fleet.place, today=LAST_DAY)
    with fleet.place.store.reading() as desk:
        around = surroundings(desk)
    usual = plan_of(condition, around, fleet.place.catalogue, wishes=WISHES)
    due = condition.due
    visit, box, at = next(
        (one, box, at)
        for one in usual.visits
        for box in one.boxes
        for at, row in enumerate(condition.rows)
        if row.compartment_id == box.compartment_id
        and len(one.boxes) == 1
        and due.state[at] == DueState.NOT_YET
        and due.due_on[at] - due.window_from[at] >= 2
        and due.window_from[at] > LAST_DAY.toordinal()
    )
    edge = int(due.window_from[at])
    bands = DueBands(
        low=np.where(np.arange(len(condition)) == at, edge, 0).astype(np.int32),
        high=np.where(np.arange(len(condition)) == at, due.window_to[at], 0).astype(np.int32),
        too_few=np.zeros(len(condition), dtype=np.bool_),
    )
    wishes = replace(WISHES, works_weekends=True)

    def planned_on(criticality: int) -> date:
        rows = list(condition.rows)
        rows[at] = rows[at]._replace(criticality=criticality)
        given = replace(condition, rows=rows)
        plan = plan_of(given, around, fleet.place.catalogue, wishes=wishes, bands=bands)
        [found] = [
            one
            for one in plan.visits
            if any(each.compartment_id == box.compartment_id for each in one.boxes)
        ]
        return found.planned_on

    assert planned_on(4) == planned_on(5)
    assert planned_on(5) < planned_on(3)
    assert planned_on(5).toordinal() >= edge
    assert visit.boxes == (box,)
