"""The list of what is due: states, parts, orders."""

from dataclasses import replace

import numpy as np
import pytest

from fluiddesk.desktop.viewstate.due_cells import DueColumn, due_facts
from fluiddesk.desktop.viewstate.due_list import DueList, DueOrder, DuePart, DueShown
from fluiddesk.desktop.viewstate.round_plan import RoundPlan
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls, SamplingFacts
from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Trust
from fluiddesk.services.due_standing import Standing
from fluiddesk.services.fleet_condition import condition_columns
from fluiddesk.services.visits.plan import PlanWishes
from tests.fleets import LAST_DAY, Fleet


@pytest.fixture
def facts(fleet: Fleet) -> SamplingFacts:
    return SamplingCalls(place=fleet.place).facts(PlanWishes(days=28), today=LAST_DAY)


def listed(fleet: Fleet, facts: SamplingFacts) -> DueList:
    return DueList(due_facts(facts, fleet.place.catalogue), visits=RoundPlan(facts).visits)


def test_that_every_box_stands_in_one_state(fleet: Fleet, facts: SamplingFacts) -> None:
    due = listed(fleet, facts)
    parts = (DuePart.MISSED, DuePart.LATE, DuePart.DUE, DuePart.SOON, DuePart.NEVER,
             DuePart.UNUSABLE)  # fmt: skip
    assert due.count(DuePart.OPEN) == sum(due.count(part) for part in parts)
    assert due.count(DuePart.ALL) == len(facts.fleet)
    assert len(due) == due.count(DuePart.OPEN)


def test_that_the_earliest_due_day_comes_first(fleet: Fleet, facts: SamplingFacts) -> None:
    due = listed(fleet, facts)
    days = [due.cell(place, DueColumn.DUE_ON) for place in range(len(due))]
    assert days == sorted(days)
    due.show(replace(due.shown, sort=(int(DueColumn.DUE_ON), True)))
    assert [due.cell(place, DueColumn.DUE_ON) for place in range(len(due))] == days[::-1]


def test_that_the_most_worthwhile_bottles_come_first(fleet: Fleet, facts: SamplingFacts) -> None:
    due = listed(fleet, facts)
    due.show(DueShown(part=DuePart.ALL, order=DueOrder.WORTH))
    shown = [due.compartment(place) for place in range(len(due))]
    assert shown == [line.compartment_id for line in facts.worth]
    assert due.tip(0, DueColumn.WORTH) == facts.worth[0].why


def test_that_words_and_sites_narrow_the_list(fleet: Fleet, facts: SamplingFacts) -> None:
    due = listed(fleet, facts)
    machine = due.cell(0, DueColumn.MACHINE)
    due.show(DueShown(part=DuePart.ALL, words=machine.casefold()))
    assert {due.cell(place, DueColumn.MACHINE) for place in range(len(due))} == {machine}
    due.show(DueShown(part=DuePart.ALL, site="nowhere"))
    assert len(due) == 0
    assert due.compartment(0) is None


def test_that_a_box_tells_its_visit(fleet: Fleet, facts: SamplingFacts) -> None:
    due = listed(fleet, facts)
    visit = facts.plan.visits[0]
    place = due.place_of(visit.boxes[0].compartment_id)
    assert due.cell(place, DueColumn.VISIT) == visit.planned_on.isoformat()
    due.take_visits(())
    assert due.cell(place, DueColumn.VISIT) == ""
    assert due.visit(place) is None


def test_that_late_turns_to_missed_half_an_interval_past_the_due_point(
    fleet: Fleet, facts: SamplingFacts
) -> None:
    due = facts.fleet.due
    late = np.flatnonzero(due.state == DueState.OVERDUE)
    assert len(late)
    standing = listed(fleet, facts).standing
    special = facts.fleet.special or ("",) * len(facts.fleet)
    for index in late.tolist():
        row = facts.fleet.rows[index]
        if special[index]:
            continue
        if due.by_hours[index]:
            is_missed = -due.hours_left[index] > 0.5 * float(row.interval_hours or 0)
        else:
            past = LAST_DAY.toordinal() - int(due.due_on[index])
            is_missed = past > 0.5 * float(row.interval_days or 0)
        assert standing[index] == (Standing.MISSED if is_missed else Standing.LATE)


def test_that_a_rejected_sample_is_unusable_and_a_standing_machine_excused(
    fleet: Fleet, facts: SamplingFacts
) -> None:
    place = int(np.flatnonzero(facts.fleet.due.state == DueState.NOT_YET)[0])
    rows = list(facts.fleet.rows)
    rows[place] = rows[place]._replace(trust=int(Trust.REJECTED), awaited_on=None)
    rows[-1] = rows[-1]._replace(machine_state=MachineState.STANDBY)
    changed = replace(facts, fleet=condition_columns(rows, today=LAST_DAY))
    due = listed(fleet, changed)
    assert due.standing[place] == Standing.UNUSABLE
    assert due.standing[-1] == Standing.EXCUSED
    due.show(DueShown(part=DuePart.EXCUSED))
    assert "standby" in due.tip(len(due) - 1, DueColumn.STATE)


def test_that_a_special_interval_says_why_and_is_measured_by_its_own_length(
    fleet: Fleet, facts: SamplingFacts
) -> None:
    sooner = [index for index, why in enumerate(facts.fleet.special) if why]
    assert sooner
    due = listed(fleet, facts)
    due.show(DueShown(part=DuePart.ALL))
    for index in sooner:
        box = CompartmentId(facts.fleet.rows[index].compartment_id)
        place = due.place_of(box)
        assert due.cell(place, DueColumn.BASIS) == facts.fleet.special[index]
        past = LAST_DAY.toordinal() - int(facts.fleet.due.due_on[index])
        whole = past * -1 + int(facts.fleet.age_days[index])
        if due.standing[index] in (Standing.LATE, Standing.MISSED):
            assert (due.standing[index] == Standing.MISSED) == (past > 0.5 * max(whole, 1))
