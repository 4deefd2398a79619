"""The sample before a planned fluid change (US Army TB 43-0211, para 6-3c).

The window opens a tenth of the change interval before it (question 12-6), half of the sampling
interval at most (common practice, no source).
"""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition, fleet_condition
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.services.register.boxes import add_event, save_compartment
from fluiddesk.services.register.facts import CompartmentFacts, EventFacts
from fluiddesk.services.register.read import register_facts
from fluiddesk.services.sampling_plan import due_lines
from fluiddesk.services.special_by_hand import SpecialWish, add_special
from fluiddesk.services.visit_papers.sheets import visit_sheets
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.services.test_special_intervals import at, normal_box


def condition(fleet: Fleet) -> FleetCondition:
    return fleet_condition(fleet.place, today=LAST_DAY)


def facts_of(fleet: Fleet, box: CompartmentId) -> CompartmentFacts:
    found = register_facts(fleet.place, today=LAST_DAY)
    return next(one for one in found.compartments if one.id == box)


def plan(fleet: Fleet, box: CompartmentId, **given: Any) -> None:
    save_compartment(
        fleet.place, replace(facts_of(fleet, box), **given), today=LAST_DAY, moment=NOW
    )


def change_fluid(fleet: Fleet, box: CompartmentId, *, on: date, hours: float) -> None:
    facts = EventFacts(
        site=facts_of(fleet, box).site,
        compartment=box,
        kind=EventKind.FLUID_CHANGE,
        happened_on=on,
        true_hours=hours,
    )
    add_event(fleet.place, facts, today=LAST_DAY, moment=NOW)


def row_of(fleet: Fleet, box: CompartmentId) -> BoxRow:
    found = condition(fleet)
    return found.rows[at(found, box)]


def hours_today(found: FleetCondition, place: int) -> float:
    """The machine's hours today at its pace, as everything due is reckoned from."""
    row = found.rows[place]
    assert row.true_hours is not None
    assert row.interval_hours is not None
    return float(row.true_hours + row.interval_hours - found.due.hours_left[place])


def planned_in(fleet: Fleet, hours: float, *, every: float = 500.0) -> CompartmentId:
    """A Normal box whose fluid is to be changed in so many hours, and was changed by that plan."""
    box = normal_box(fleet)
    found = condition(fleet)
    due_at = hours_today(found, at(found, box)) + hours
    change_fluid(fleet, box, on=LAST_DAY - timedelta(days=1), hours=due_at - every)
    plan(fleet, box, change_interval_hours=every)
    return box


def test_that_a_box_is_due_before_its_planned_change_and_the_window_closes_at_it(
    either_fleet: Fleet,
) -> None:
    fleet = either_fleet
    before = condition(fleet)
    box = planned_in(fleet, 60.0, every=400.0)
    found = condition(fleet)
    place = at(found, box)
    row = found.rows[place]
    assert row.hours_per_day is not None
    assert found.due.hours_left[place] == pytest.approx(60.0)
    assert found.due.due_on[place] < before.due.due_on[at(before, box)]
    day = LAST_DAY.toordinal() + int(np.floor(60.0 / row.hours_per_day))
    assert found.due.due_on[place] == found.due.window_to[place] == day
    width = int(np.floor(min(40.0, (row.interval_hours or 0.0) / 2) / row.hours_per_day))
    assert found.due.window_from[place] == day - width
    assert found.special[place].startswith("before the fluid change at ")
    assert found.before_change(place) == found.special[place]
    [line] = [
        one
        for one in due_lines(found, fleet.place.catalogue, until=date.max)
        if one.compartment_id == box
    ]
    assert line.basis == found.special[place]
    shown = compartment_history(fleet.place, box, today=LAST_DAY).due
    assert shown.next_change is not None
    assert shown.next_change.planned_on == date.fromordinal(day)
    assert shown.next_change.hours_left == pytest.approx(60.0)
    assert not shown.next_change.is_sampled
    assert found.special[place] in shown.interval


def test_that_a_change_is_told_at_the_true_hours_of_the_machine(fleet: Fleet) -> None:
    box = normal_box(fleet)
    change_fluid(fleet, box, on=LAST_DAY - timedelta(days=1), hours=12_000.0)
    plan(fleet, box, change_interval_hours=500.0)
    changes = condition(fleet).changes
    assert changes is not None
    assert changes.words(at(condition(fleet), box)) == "before the fluid change at 12,500 h"


def test_that_days_count_where_they_come_first(fleet: Fleet) -> None:
    box = normal_box(fleet)
    changed = LAST_DAY - timedelta(days=355)
    change_fluid(fleet, box, on=changed, hours=10.0)
    plan(fleet, box, change_interval_hours=90_000.0, change_interval_days=365)
    found = condition(fleet)
    place = at(found, box)
    assert date.fromordinal(int(found.due.due_on[place])) == changed + timedelta(days=365)
    assert found.special[place] == f"before the fluid change on {changed + timedelta(days=365)}"
    assert found.changes is not None
    half = int((found.rows[place].interval_days or 0) * 0.5)
    assert found.changes.opens_days[place] == min(36, half)


def test_that_a_sample_in_the_window_answers_it_and_one_before_it_does_not(fleet: Fleet) -> None:
    box = normal_box(fleet)
    drawn = row_of(fleet, box).true_hours
    assert drawn is not None
    # The window opens 50 h before the change.
    for gone, is_sampled, day in ((51.0, False, 1), (49.0, True, 0)):
        start = drawn + gone - 500.0
        plan(fleet, box, change_interval_hours=500.0)
        change_fluid(fleet, box, on=LAST_DAY - timedelta(days=day), hours=start)
        found = condition(fleet)
        place = at(found, box)
        assert found.changes is not None
        assert bool(found.changes.is_sampled[place]) is is_sampled
        assert bool(found.before_change(place)) is not is_sampled


def test_that_a_recorded_change_starts_the_next_fill(fleet: Fleet) -> None:
    box = planned_in(fleet, 60.0, every=400.0)
    found = condition(fleet)
    assert found.changes is not None
    old = float(found.changes.at_hours[at(found, box)])
    change_fluid(fleet, box, on=LAST_DAY, hours=old - 60.0)
    changes = condition(fleet).changes
    assert changes is not None
    assert changes.at_hours[at(condition(fleet), box)] == pytest.approx(old - 60.0 + 400.0)


def test_that_without_a_recorded_change_the_hours_on_the_fluid_tell_the_start(
    fleet: Fleet,
) -> None:
    box = normal_box(fleet)
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql("DELETE FROM compartment_event")
        desk.session.connection.exec_driver_sql("UPDATE current_condition SET fluid_hours = 100.0")
    plan(fleet, box, change_interval_hours=400.0, change_interval_days=40)
    found = condition(fleet)
    place = at(found, box)
    row = found.rows[place]
    assert found.changes is not None
    assert row.true_hours is not None
    assert found.changes.at_hours[place] == pytest.approx(row.true_hours + 300.0)
    # The day of the last change is not known, so nothing is counted in days.
    assert bool(found.changes.due.by_hours[place])


def test_that_a_standing_machine_owes_none(fleet: Fleet) -> None:
    box = planned_in(fleet, 60.0, every=400.0)
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql("UPDATE machine SET state = 'standby'")
    found = condition(fleet)
    assert found.due.state[at(found, box)] == DueState.EXCUSED
    assert found.before_change(at(found, box)) == ""


def test_that_compliance_owes_the_usual_interval(fleet: Fleet) -> None:
    before = event_columns(fleet.place, today=LAST_DAY)
    planned_in(fleet, 60.0, every=400.0)
    after = event_columns(fleet.place, today=LAST_DAY)
    assert after.due_on.tolist() == before.due_on.tolist()


def test_that_the_sheet_says_draw_before_the_change_and_the_bottle_stays_routine(
    fleet: Fleet,
) -> None:
    box = planned_in(fleet, 60.0, every=400.0)
    proposed = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28)).visits
    [planned] = [one for visit in proposed for one in visit.boxes if one.compartment_id == box]
    assert planned.before_change.startswith("before the fluid change at ")
    assert planned.reason is SampleReason.ROUTINE
    visit = next(one for one in proposed if planned in one.boxes)
    assert planned.window is not None
    assert visit.planned_on <= planned.window[1]
    ids = save_visits(fleet.place, [visit], moment=NOW)
    issue_bottles(fleet.place, ids, today=LAST_DAY, moment=NOW)
    [sheet] = visit_sheets(fleet.place, ids, today=LAST_DAY)
    told = {row.compartment: row.before_change for row in sheet.rows}
    assert told[planned.compartment] == planned.before_change
    assert sum(bool(one) for one in told.values()) == 1


def by_hand(fleet: Fleet, box: CompartmentId, days: int) -> None:
    wish = SpecialWish(compartment=box, reason="before_change", days=days, valid_from=LAST_DAY)
    add_special(fleet.place, wish, today=LAST_DAY, moment=NOW)


def test_that_a_change_planned_by_hand_names_its_day_until_a_change_is_recorded(
    either_fleet: Fleet,
) -> None:
    fleet = either_fleet
    box = normal_box(fleet)
    usual = condition(fleet)
    by_hand(fleet, box, days=6)
    found = condition(fleet)
    place = at(found, box)
    day = LAST_DAY + timedelta(days=6)
    assert found.special[place] == f"before the fluid change on {day}"
    assert date.fromordinal(int(found.due.due_on[place])) == day
    assert date.fromordinal(int(found.due.window_from[place])) == LAST_DAY
    assert date.fromordinal(int(found.due.window_to[place])) == day
    assert found.due.state[place] == DueState.DUE
    change_fluid(fleet, box, on=LAST_DAY, hours=1.0)
    after = condition(fleet)
    assert after.special[at(after, box)] == ""
    assert after.due.due_on.tolist() == usual.due.due_on.tolist()


def test_that_a_sample_drawn_since_answers_a_change_planned_by_hand(fleet: Fleet) -> None:
    box = normal_box(fleet)
    by_hand(fleet, box, days=6)
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            f"UPDATE current_condition SET taken_on = '{LAST_DAY}'"  # noqa: S608 - a day
        )
    found = condition(fleet)
    assert found.special[at(found, box)] == ""


def test_that_a_fleet_without_planned_changes_has_none(fleet: Fleet) -> None:
    assert condition(fleet).changes is None
