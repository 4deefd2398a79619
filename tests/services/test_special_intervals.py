"""Shorter intervals: after Act 125 h or 14 days, after Urgent 50 h, a fitted component at 50 and
150 h, back after a long rest within a week (all common practice, no source).
"""

from datetime import date, timedelta

import pytest

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.storage import RecordKey, RecordKind
from tests.fleets import LAST_DAY, NOW, Fleet


def at(fleet: FleetCondition, box: CompartmentId) -> int:
    return next(place for place, row in enumerate(fleet.rows) if row.compartment_id == box)


def normal_box(fleet: Fleet) -> CompartmentId:
    """A box that is Normal, not due, with a sample behind it."""
    found = fleet_condition(fleet.place, today=LAST_DAY)
    return next(
        CompartmentId(row.compartment_id)
        for place, row in enumerate(found.rows)
        if found.severity[place] == Severity.NORMAL
        and found.due.due_on[place] > LAST_DAY.toordinal() + 20
        and not found.special[place]
    )


def set_severity(fleet: Fleet, box: CompartmentId, severity: Severity) -> None:
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            f"UPDATE current_condition SET severity = {int(severity)} "  # noqa: S608 - a number
            f"WHERE hex(compartment_id) = '{box.hex().upper()}'"
        )


@pytest.mark.parametrize(("severity", "hours"), [(Severity.ACT, 125.0), (Severity.URGENT, 50.0)])
def test_that_a_box_in_trouble_is_due_sooner_and_says_why(
    fleet: Fleet, severity: Severity, hours: float
) -> None:
    box = normal_box(fleet)
    before = fleet_condition(fleet.place, today=LAST_DAY)
    usual = before.rows[at(before, box)].interval_hours
    assert usual is not None
    set_severity(fleet, box, severity)
    after = fleet_condition(fleet.place, today=LAST_DAY)
    place = at(after, box)
    assert after.due.hours_left[place] == pytest.approx(
        before.due.hours_left[place] - (usual - hours)
    )
    assert after.due.due_on[place] < before.due.due_on[place]
    assert severity.word in after.special[place]
    shown = compartment_history(fleet.place, box, today=LAST_DAY).due
    assert shown.due_on == date.fromordinal(int(after.due.due_on[place]))
    assert severity.word in shown.interval


def test_that_compliance_owes_the_usual_interval(fleet: Fleet) -> None:
    box = normal_box(fleet)
    before = event_columns(fleet.place, today=LAST_DAY)
    set_severity(fleet, box, Severity.URGENT)
    after = event_columns(fleet.place, today=LAST_DAY)
    assert after.due_on.tolist() == before.due_on.tolist()


def test_that_a_fitted_component_asks_for_samples_at_50_and_150_hours(fleet: Fleet) -> None:
    box = normal_box(fleet)
    before = fleet_condition(fleet.place, today=LAST_DAY)
    drawn = before.rows[at(before, box)].true_hours
    assert drawn is not None
    for fitted, left in ((drawn + 10, 60.0), (drawn - 60, 90.0)):
        with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
            owner = desk.fleet.compartment(box)
            desk.session.connection.exec_driver_sql("DELETE FROM component_fit")
            desk.register.add(
                RecordKey(RecordKind.FIT, owner.site, desk.new_id()),
                {
                    "compartment_id": box,
                    "serial": "S1",
                    "fitted_on": LAST_DAY,
                    "fitted_at_hours": fitted,
                    "hours_before": 0.0,
                    "condition": "new",
                    "reason": "",
                },
                name="component",
            )
        after = fleet_condition(fleet.place, today=LAST_DAY)
        row = after.rows[at(after, box)]
        gone = (row.interval_hours or 0.0) - float(before.due.hours_left[at(before, box)])
        assert float(after.due.hours_left[at(after, box)]) == pytest.approx(left - gone)
        assert after.special[at(after, box)] == "a component was fitted"


def test_that_a_machine_back_from_a_long_rest_is_sampled_within_a_week(fleet: Fleet) -> None:
    box = normal_box(fleet)
    back = LAST_DAY - timedelta(days=1)
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        owner = desk.fleet.compartment(box)
        for state, day in (("standby", back - timedelta(days=45)), ("working", back)):
            desk.register.add(
                RecordKey(RecordKind.STATE, owner.site, desk.new_id()),
                {"machine_id": owner.machine, "state": state, "since": day, "note": ""},
                name="state",
            )
        desk.session.connection.exec_driver_sql(
            f"UPDATE current_condition SET taken_on = '{back - timedelta(days=60)}'"  # noqa: S608
        )
    after = fleet_condition(fleet.place, today=LAST_DAY)
    place = at(after, box)
    assert date.fromordinal(int(after.due.due_on[place])) <= back + timedelta(days=7)
    assert after.special[place] == "back after standing"


def test_that_a_stored_request_holds_until_a_sample_answers_it(fleet: Fleet) -> None:
    box = normal_box(fleet)
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        owner = desk.fleet.compartment(box)
        desk.register.add(
            RecordKey(RecordKind.SPECIAL_INTERVAL, owner.site, desk.new_id()),
            {
                "compartment_id": box,
                "reason": "resample",
                "interval_days": 3,
                "valid_from": LAST_DAY,
                "note": "bottle lost",
            },
            name="resample",
        )
    after = fleet_condition(fleet.place, today=LAST_DAY)
    place = at(after, box)
    assert date.fromordinal(int(after.due.due_on[place])) == LAST_DAY + timedelta(days=3)
    assert after.special[place] == "bottle lost"
    with fleet.place.store.transaction(who="planner", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            f"UPDATE current_condition SET taken_on = '{LAST_DAY}'"  # noqa: S608 - a day
        )
    answered = fleet_condition(fleet.place, today=LAST_DAY)
    assert answered.special[at(answered, box)] == ""
