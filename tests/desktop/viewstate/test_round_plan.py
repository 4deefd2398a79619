"""Visits as the planner lays them, and what the page says of them."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.desktop.viewstate.round_plan import LoadRow, MachineRow, RoundPlan, Standing
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls, SamplingFacts
from fluiddesk.desktop.viewstate.sampling_words import (
    page_sentence,
    plan_line,
    several_lines,
    spoken,
    visit_lines,
)
from fluiddesk.services.visits.facts import Crew
from fluiddesk.services.visits.plan import PlanWishes
from tests.fleets import LAST_DAY, NOW, Fleet

WISHES = PlanWishes(days=28)


@pytest.fixture
def calls(fleet: Fleet) -> SamplingCalls:
    return SamplingCalls(place=fleet.place)


@pytest.fixture
def facts(calls: SamplingCalls) -> SamplingFacts:
    return calls.facts(WISHES, today=LAST_DAY)


def test_that_every_proposed_bottle_stands_on_the_board_once(facts: SamplingFacts) -> None:
    plan = RoundPlan(facts)
    drawn = [
        box.compartment_id
        for row in plan.rows
        if isinstance(row, MachineRow)
        for one in row.visits
        for box in one.visit.boxes
    ]
    wanted = [box.compartment_id for one in facts.plan.visits for box in one.boxes]
    assert wanted
    assert sorted(drawn) == sorted(wanted)
    assert plan_line(plan) == f"{len(facts.plan.visits)} proposed"
    assert page_sentence(facts, plan).startswith(f"{len(facts.plan.visits)} visit")


def test_that_a_moved_visit_keeps_its_bottles_and_never_goes_before_today(
    facts: SamplingFacts,
) -> None:
    plan = RoundPlan(facts)
    one = plan.visits[0]
    later = one.visit.planned_on + timedelta(days=40)
    assert plan.move(one.key, later)
    moved = plan.visit(one.key)
    assert moved is not None
    assert moved.visit.boxes == one.visit.boxes
    assert moved.is_late
    assert "after it" in visit_lines(moved)[1]
    assert plan.days[-1] == later
    assert not plan.move(one.key, LAST_DAY - timedelta(days=1))
    assert not plan.move(b"nobody", later)


def test_that_a_proposal_gives_way_to_the_visit_it_became(
    calls: SamplingCalls, facts: SamplingFacts
) -> None:
    plan = RoundPlan(facts)
    before, bottles = len(plan.visits), sum(one.bottles for one in plan.visits)
    calls.keep([plan.visits[0].visit], moment=NOW)
    plan.show_kept(calls.kept(today=LAST_DAY))
    assert len(plan.visits) == before
    assert sum(one.bottles for one in plan.visits) == bottles
    assert [one.standing for one in plan.visits].count(Standing.KEPT) == 1
    assert "kept" in spoken(next(one for one in plan.visits if one.is_kept))


def test_that_days_of_proposals_outlive_a_new_reading(facts: SamplingFacts) -> None:
    plan, again = RoundPlan(facts), RoundPlan(facts)
    one = plan.visits[0]
    to = one.visit.planned_on + timedelta(days=2)
    plan.move(one.key, to)
    again.take_days(plan)
    moved = again.visit(one.key)
    assert moved is not None
    assert moved.visit.planned_on == to


def test_that_more_work_than_hours_makes_a_day_overfull(facts: SamplingFacts) -> None:
    first = facts.plan.visits[0]
    crew = Crew(site=first.site_id, id=b"c" * 16, name="North", hours_per_day=0.1)
    visits = tuple(
        replace(one, crew_id=crew.id, crew=crew.name) if one.site_id == crew.site else one
        for one in facts.plan.visits
    )
    full = replace(facts, crews=(crew,), plan=replace(facts.plan, visits=visits))
    plan = RoundPlan(full)
    loads = [row for row in plan.rows if isinstance(row, LoadRow) and row.crew == "North"]
    minutes = sum(one.minutes for one in visits if one.site_id == crew.site)
    assert sum(day.minutes for day in loads[0].days.values()) == pytest.approx(minutes)
    assert plan.overfull == len(loads[0].days)
    assert "overfull" in page_sentence(full, plan)


def test_that_one_site_can_be_shown_alone(facts: SamplingFacts) -> None:
    plan = RoundPlan(facts)
    site = plan.visits[0].visit.site
    plan.show_site(site)
    assert {one.visit.site for one in plan.visits} == {site}
    plan.show_site("nowhere")
    assert plan.visits == ()
    assert plan.days[0] == LAST_DAY
    assert page_sentence(facts, plan).startswith("No visit until")


def test_that_several_visits_are_told_together(facts: SamplingFacts) -> None:
    plan = RoundPlan(facts)
    bottles = sum(one.bottles for one in plan.visits)
    told, hours = several_lines(plan.visits)
    assert told.startswith(f"{bottles} bottle")
    assert hours.endswith("h at the machines")


def test_that_a_visit_left_behind_is_still_on_the_bar(
    calls: SamplingCalls, facts: SamplingFacts
) -> None:
    calls.keep([facts.plan.visits[0]], moment=NOW)
    [kept] = calls.kept(today=LAST_DAY)
    week_later = kept.planned_on + timedelta(days=5)
    plan = RoundPlan(replace(facts, plan=replace(facts.plan, today=week_later), kept=(kept,)))
    assert plan.days[0] == kept.planned_on
    long_ago = replace(kept, planned_on=date(2020, 1, 1))
    plan.show_kept([long_ago])
    assert plan.days[0] == week_later - timedelta(days=7)
