"""What is due: which boxes, in which order, and what sets the day."""

from datetime import timedelta

from fluiddesk.domain.sampling.due import DueState
from fluiddesk.services.fleet_condition import condition_columns
from fluiddesk.services.sampling_plan import due_lines
from tests.desktop.makers_fleet import TODAY, box_row
from tests.fleets import the_catalogue


def box(machine, *, days_ago, **given):
    """A box by the calendar alone, sampled so many days ago, due after 100 days."""
    usual = {
        "machine": machine,
        "machine_id": machine.encode(),
        "compartment_id": machine.encode(),
        "interval_hours": None,
        "interval_days": 100,
        "taken_on": None if days_ago is None else TODAY - timedelta(days_ago),
    }
    return box_row(**(usual | given))


def lines(*rows, within=14):
    fleet = condition_columns(rows, today=TODAY)
    return due_lines(fleet, the_catalogue(), until=TODAY + timedelta(within))


def test_that_overdue_comes_first_then_due_then_never_sampled_then_what_falls_due():
    found = lines(
        box("soon", days_ago=88),
        box("never", days_ago=None, severity=None),
        box("due", days_ago=99),
        box("far", days_ago=10),
        box("late", days_ago=120),
        box("later", days_ago=200),
    )
    assert [(line.machine, line.state) for line in found] == [
        ("later", DueState.OVERDUE),
        ("late", DueState.OVERDUE),
        ("due", DueState.DUE),
        ("never", DueState.NEVER_SAMPLED),
        ("soon", DueState.NOT_YET),
    ]


def test_that_lines_of_one_day_come_by_site_and_machine():
    rows = [
        box("b", days_ago=99), box("a", days_ago=99), box("c", days_ago=99, site="Another pit"),
    ]  # fmt: skip
    assert [line.machine for line in lines(*rows)] == ["c", "a", "b"]


def test_that_the_span_decides_what_falls_due():
    soon = box("soon", days_ago=80)
    assert lines(soon, within=19) == ()
    [line] = lines(soon, within=20)
    assert line.due_on == TODAY + timedelta(20)
    assert line.window == (TODAY + timedelta(10), TODAY + timedelta(30))


def test_that_the_basis_names_what_comes_first():
    by_meter = box(
        "m", days_ago=10, interval_hours=250.0, true_hours=1_000.0, hours_now=1_240.0,
        usage_as_of=TODAY, hours_per_day=10.0,
    )  # fmt: skip
    [line] = lines(by_meter)
    assert (line.basis, line.hours_left) == ("250 h on the meter", 10)
    assert line.due_on == TODAY + timedelta(1)
    [calendar] = lines(box("d", days_ago=99))
    assert (calendar.basis, calendar.hours_left) == ("100 days", None)


def test_that_a_box_never_sampled_has_no_day():
    [line] = lines(box("n", days_ago=None, severity=None))
    assert (line.due_on, line.window, line.basis) == (None, None, "never sampled")


def test_that_a_machine_that_stands_by_owes_nothing():
    assert lines(box("s", days_ago=500, machine_state="standby")) == ()


def test_that_a_box_at_the_laboratory_is_not_asked_for_again():
    assert lines(box("w", days_ago=120, awaited_on=TODAY - timedelta(3))) == ()


def test_that_nothing_is_due_in_an_empty_fleet():
    assert lines() == ()
