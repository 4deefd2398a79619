"""Due boxes join the visits that are kept already; visits left behind are told and moved on."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.sampling.visits import PULL_IN_DAYS
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.visits.book import (
    drop_visit,
    issue_bottles,
    keep_proposals,
    move_visit,
    save_visits,
)
from fluiddesk.services.visits.boxes import remove_box
from fluiddesk.services.visits.crews import save_crew
from fluiddesk.services.visits.facts import Crew, Visit, VisitPlan, VisitState
from fluiddesk.services.visits.left_behind import move_left_behind
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from fluiddesk.services.visits.read import visits
from fluiddesk.storage import check_store
from tests.fleets import LAST_DAY, NOW, Fleet

WISHES = PlanWishes(days=28)


def plan_of(fleet: Fleet, today: date = LAST_DAY) -> VisitPlan:
    return propose_visits(fleet.place, today=today, wishes=WISHES)


def with_part_of(fleet: Fleet) -> tuple[Visit, Visit]:
    """A kept visit with all boxes of a proposal but its last, and the proposal."""
    chosen = next(one for one in plan_of(fleet).visits if len(one.boxes) >= 3)
    save_visits(fleet.place, [replace(chosen, boxes=chosen.boxes[:-1])], moment=NOW)
    [kept] = visits(fleet.place, today=LAST_DAY)
    return kept, chosen


def join_to(plan: VisitPlan, visit: Visit) -> Visit:
    [found] = [one for one in plan.joins if one.joins == visit.id]
    return found


def boxes_of(some: Iterable[Visit]) -> list[bytes]:
    return [box.compartment_id for one in some for box in one.boxes]


def test_that_a_due_box_joins_the_kept_visit_of_its_machine(either_fleet: Fleet) -> None:
    kept, chosen = with_part_of(either_fleet)
    plan = plan_of(either_fleet)
    join = join_to(plan, kept)
    assert join.planned_on == kept.planned_on
    assert chosen.boxes[-1].compartment_id in boxes_of([join])
    assert "join" in plan.sentence
    found = keep_proposals(either_fleet.place, [join], moment=NOW)
    assert found.ids == (kept.id,)
    assert found.to_print_again == ()
    [after] = visits(either_fleet.place, today=LAST_DAY)
    assert sorted(boxes_of([after])) == sorted(boxes_of([kept, join]))
    # Laid in two steps, it is the visit that it would have been in one.
    assert boxes_of([after]) == boxes_of([chosen])
    assert after.minutes == pytest.approx(chosen.minutes)
    assert [box.place for box in after.boxes] == list(range(1, len(after.boxes) + 1))
    assert plan_of(either_fleet).joins == ()
    assert check_store(either_fleet.place.store) == []


def test_that_an_issued_visit_that_grows_is_planned_again_and_its_sheet_told(fleet: Fleet) -> None:
    kept, _ = with_part_of(fleet)
    codes = issue_bottles(fleet.place, [kept.id], today=LAST_DAY, moment=NOW).codes[kept.id]
    join = join_to(plan_of(fleet), kept)
    assert join.state is VisitState.ISSUED
    found = keep_proposals(fleet.place, [join], moment=NOW)
    assert found.to_print_again == (f"{kept.machine} on {kept.planned_on.isoformat()}",)
    [after] = visits(fleet.place, today=LAST_DAY)
    assert after.state is VisitState.PLANNED
    again = issue_bottles(fleet.place, [kept.id], today=LAST_DAY, moment=NOW).codes[kept.id]
    assert set(codes) < set(again)


def test_that_the_crew_s_day_counts_kept_visits_and_what_joins_them(fleet: Fleet) -> None:
    site = plan_of(fleet).visits[0].site_id
    crew = save_crew(fleet.place, Crew(site=site, name="North", hours_per_day=8), moment=NOW)
    chosen = next(
        one for one in plan_of(fleet).visits if one.crew_id == crew and len(one.boxes) >= 3
    )
    part = replace(chosen, boxes=chosen.boxes[:-1], minutes=chosen.minutes - 8)
    save_visits(fleet.place, [part], moment=NOW)
    plan = plan_of(fleet)
    mine = sum(one.minutes for one in plan.visits if one.crew_id == crew)
    told = sum(one.minutes for one in plan.crew_days if one.crew == "North")
    assert told == pytest.approx(mine + part.minutes)


def test_that_a_visit_closed_meanwhile_keeps_no_part_of_the_plan(fleet: Fleet) -> None:
    kept, _ = with_part_of(fleet)
    plan = plan_of(fleet)
    drop_visit(fleet.place, kept.id, why="rain", version=kept.version, moment=NOW)
    ordered = sorted(plan.visits, key=lambda one: one.joins is not None)
    with pytest.raises(OperatorError, match="given up"):
        keep_proposals(fleet.place, ordered, moment=NOW)
    assert visits(fleet.place, today=LAST_DAY) == ()


def test_that_a_bottle_taken_off_a_visit_can_join_it_again(fleet: Fleet) -> None:
    kept, _ = with_part_of(fleet)
    issue_bottles(fleet.place, [kept.id], today=LAST_DAY, moment=NOW)
    off = kept.boxes[0]
    remove_box(fleet.place, off.id, why="no access", moment=NOW)
    join = join_to(plan_of(fleet), kept)
    assert off.compartment_id in boxes_of([join])
    keep_proposals(fleet.place, [join], moment=NOW)
    [after] = visits(fleet.place, today=LAST_DAY)
    assert off.compartment_id in {box.compartment_id for box in after.open_boxes}
    codes = issue_bottles(fleet.place, [kept.id], today=LAST_DAY, moment=NOW).codes[kept.id]
    assert len(codes) == len(after.open_boxes)
    assert fleet.check() == []


@pytest.mark.parametrize("seed", range(6))
def test_that_every_window_is_met_once_however_visits_are_kept_moved_and_shortened(
    fleet: Fleet, seed: int
) -> None:
    """Every window that can be met is met, no box stands on two visits, no bottle is lost."""
    chance, today = np.random.default_rng(seed), LAST_DAY
    for _ in range(5):
        plan = propose_visits(
            fleet.place, today=today, wishes=PlanWishes(days=int(chance.choice((7, 14, 28))))
        )
        refuse_unmet(fleet, plan)
        some = [one for one in plan.visits if chance.random() < 0.6]
        shorter = [
            one if one.joins or chance.random() < 0.5 else replace(one, boxes=one.boxes[:1])
            for one in some
        ]
        keep_proposals(fleet.place, shorter, moment=NOW)
        for visit in visits(fleet.place, today=today):
            if chance.random() < 0.3:
                to = today + timedelta(days=int(chance.integers(20)))
                before = boxes_of([visit])
                move_visit(
                    fleet.place, visit.id, to=to, version=visit.version, today=today, moment=NOW
                )
                [moved] = visits(fleet.place, today=today, ids=[visit.id])
                assert boxes_of([moved]) == before
        today += timedelta(days=int(chance.integers(4)))
        kept = visits(fleet.place, today=today)
        if any(one.planned_on < today for one in kept):
            move_left_behind(fleet.place, today=today, moment=NOW)
            after = visits(fleet.place, today=today)
            assert sorted(boxes_of(after)) == sorted(boxes_of(kept))
            assert all(one.planned_on >= today for one in after)
    refuse_unmet(fleet, propose_visits(fleet.place, today=today, wishes=WISHES))


def refuse_unmet(fleet: Fleet, plan: VisitPlan) -> None:
    """Every box whose window closes within the plan stands on one visit, in its window."""
    condition = fleet_condition(fleet.place, today=plan.today)
    kept = {one.id: one for one in visits(fleet.place, today=plan.today)}
    on_visits = [box for one in kept.values() for box in (b.compartment_id for b in one.open_boxes)]
    planned = boxes_of(plan.visits)
    assert len(on_visits) == len(set(on_visits))
    assert len(planned) == len(set(planned))
    assert not set(planned) & set(on_visits)
    due, until = condition.due, plan.until.toordinal()
    for at, row in enumerate(condition.rows):
        owes = due.state[at] in (DueState.DUE, DueState.OVERDUE, DueState.NOT_YET)
        if owes and due.window_to[at] <= until:
            assert row.compartment_id in {*planned, *on_visits}
    for one in plan.joins:
        assert one.joins in kept
        assert one.machine_id == kept[one.joins].machine_id
        assert one.planned_on == kept[one.joins].planned_on >= plan.today
        for box in one.boxes:
            if box.state in (DueState.DUE, DueState.NOT_YET) and box.window:
                first = box.window[0] - timedelta(days=PULL_IN_DAYS if box.is_pulled_in else 0)
                assert first <= one.planned_on <= box.window[1]


def test_that_a_visit_left_behind_is_told_and_moved_with_its_bottles_by_one_act(
    either_fleet: Fleet,
) -> None:
    place = either_fleet.place
    plan = plan_of(either_fleet)
    ids = save_visits(place, plan.visits[:3], moment=NOW)
    codes = issue_bottles(place, ids[:1], today=LAST_DAY, moment=NOW).codes[ids[0]]
    later = max(one.planned_on for one in plan.visits[:3]) + timedelta(days=3)
    behind = plan_of(either_fleet, later)
    assert {one.id for one in behind.left_behind} == set(ids)
    assert "3 kept visits passed undone" in behind.sentence
    assert [one.id for one in behind.left_behind if one.is_issued] == [ids[0]]
    moved = move_left_behind(place, today=later, moment=NOW)
    assert {one.id for one in moved.visits} == set(ids)
    after = visits(place, today=later)
    assert {one.id for one in after} == set(ids)
    for one in after:
        assert later <= one.planned_on <= later + timedelta(days=7)
        assert one.planned_on.weekday() < 5
    [issued] = [one for one in after if one.id == ids[0]]
    assert issued.state is VisitState.ISSUED
    assert [box.bottle_code for box in issued.boxes] == list(codes)
    assert plan_of(either_fleet, later).left_behind == ()
    with pytest.raises(OperatorError, match="No kept visit lies in the past"):
        move_left_behind(place, today=later, moment=NOW)


def test_that_visits_left_behind_take_only_the_time_a_crew_has(fleet: Fleet) -> None:
    site = plan_of(fleet).visits[0].site_id
    crew = save_crew(fleet.place, Crew(site=site, name="North", hours_per_day=2), moment=NOW)
    mine = [one for one in plan_of(fleet).visits if one.crew_id == crew][:3]
    assert len(mine) == 3
    day = LAST_DAY + timedelta(days=1)
    save_visits(
        fleet.place, [replace(one, planned_on=day, minutes=100.0) for one in mine], moment=NOW
    )
    monday = date(2026, 7, 6)
    moved = move_left_behind(fleet.place, today=monday, moment=NOW)
    assert sorted(one.after for one in moved.visits) == [
        monday,
        monday + timedelta(days=1),
        monday + timedelta(days=2),
    ]
