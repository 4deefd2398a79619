"""The fleet at a glance: sentence, columns and lines."""

from datetime import date, timedelta

import pytest

from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.fleet_condition import (
    condition_columns,
    condition_lines,
    fleet_condition,
)
from fluiddesk.services.founding import found
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store
from tests.desktop.makers_fleet import TODAY, box_row
from tests.fleets import LAST_DAY, NOW, Fleet, results, the_catalogue

YESTERDAY = TODAY - timedelta(1)
LONG_AGO = TODAY - timedelta(1_000)


def sentence(*rows):
    return condition_columns(rows, today=TODAY).sentence


def well(number, **given):
    """One box of a machine of its own, sampled yesterday, by the calendar alone."""
    usual = {
        "machine": f"EX-{number:02}",
        "machine_id": b"m%d" % number,
        "compartment_id": b"c%d" % number,
        "interval_hours": None,
        "interval_days": 180,
        "taken_on": YESTERDAY.isoformat(),
    }
    return box_row(**(usual | given))


def ill(number, severity, **given):
    return well(number, severity=severity, **given)


# --- sentence ------------------------------------------------------------------------------------


def test_that_an_empty_fleet_is_told_what_to_do_next():
    assert sentence() == "No machines yet. Open the sample fleet, or start your own register."


def test_that_a_fleet_in_order_says_so():
    assert sentence(well(1), well(2)) == (
        "No machine needs a decision; every box is in its interval."
    )


@pytest.mark.parametrize(
    ("severities", "told"),
    [
        ([Severity.WATCH], "No machine needs a decision"),
        ([Severity.ACT], "1 machine needs your decision"),
        ([Severity.URGENT], "1 machine needs your decision (Urgent)"),
        ([Severity.ACT, Severity.ACT], "2 machines need your decision"),
        ([Severity.ACT, Severity.URGENT], "2 machines need your decision, 1 of them Urgent"),
    ],
)
def test_that_the_sentence_counts_machines_that_need_a_decision(severities, told):
    rows = [ill(number, severity) for number, severity in enumerate(severities)]
    assert sentence(*rows).startswith(f"{told};")


def test_that_a_machine_counts_once_by_its_worst_box():
    both = [ill(1, Severity.ACT, compartment_id=b"a"), ill(1, Severity.URGENT, compartment_id=b"b")]
    assert sentence(*both).startswith("1 machine needs your decision (Urgent);")


@pytest.mark.parametrize(
    ("count", "given", "told"),
    [
        (1, {"taken_on": LONG_AGO}, "1 box overdue for a sample."),
        (2, {"taken_on": LONG_AGO}, "2 boxes overdue for a sample."),
        (1, {"taken_on": None, "severity": None}, "1 never sampled."),
        (1, {"awaited_on": TODAY}, "1 at the laboratory."),
        (3, {"trust": Trust.SUSPECT}, "3 in doubt."),
    ],
)
def test_that_what_is_missing_or_in_doubt_is_counted(count, given, told):
    rows = [well(number, **given) for number in range(count)]
    assert sentence(*rows) == f"No machine needs a decision; {told}"


# --- columns -------------------------------------------------------------------------------------


def test_that_a_box_never_sampled_has_no_verdict_and_no_age():
    fleet = condition_columns(
        [well(1, severity=None, trust=None, taken_on=None, direction=None)], today=TODAY
    )
    assert fleet.severity.tolist() == [Severity.NO_VERDICT]
    assert fleet.age_days.tolist() == [-1]
    assert fleet.due.state.tolist() == [DueState.NEVER_SAMPLED]
    assert not fleet.is_stale[0]


def test_that_a_sample_is_stale_after_two_intervals():
    days = {"interval_days": 30}
    fleet = condition_columns(
        [
            well(1, taken_on=TODAY - timedelta(60), **days),
            well(2, taken_on=TODAY - timedelta(61), **days),
        ],
        today=TODAY,
    )
    assert fleet.is_stale.tolist() == [False, True]


def test_that_a_bottle_at_the_laboratory_begins_the_next_interval():
    waiting = well(1, interval_days=30, taken_on=TODAY - timedelta(60), awaited_on=TODAY)
    fleet = condition_columns([waiting], today=TODAY)
    assert fleet.is_awaited.tolist() == [True]
    assert fleet.due.due_on.tolist() == [TODAY.toordinal() + 30]
    assert fleet.age_days.tolist() == [60], "the verdict is as old as the sample it rests on"


def test_that_days_are_read_alike_as_text_and_as_dates():
    rows = [well(1, taken_on=YESTERDAY), well(1, taken_on=YESTERDAY.isoformat())]
    assert condition_columns(rows, today=TODAY).age_days.tolist() == [1, 1]


def test_that_machines_of_two_sites_with_one_number_stay_two():
    rows = [well(1, machine="EX-01"), well(2, machine="EX-01", site="South pit")]
    assert condition_columns(rows, today=TODAY).machine.tolist() == [0, 1]


# --- from the store ------------------------------------------------------------------------------


def test_that_the_fleet_is_read_alike_from_either_store(either_fleet: Fleet):
    seen = fleet_condition(either_fleet.place, today=LAST_DAY)
    dump = either_fleet.dump()
    assert len(seen) == len(dump["compartment"])
    by_box = {row[1]: row for row in dump["current_condition"]}
    for row, severity, age in zip(
        seen.rows, seen.severity.tolist(), seen.age_days.tolist(), strict=True
    ):
        stored = by_box[row.compartment_id]
        assert severity in stored
        assert LAST_DAY - timedelta(age) in stored
    order = [(row.site, row.machine) for row in seen.rows]
    assert order == sorted(order)


def test_that_a_database_without_machines_has_an_empty_fleet(tmp_path):
    address = str(tmp_path / "new.fluiddesk")
    found(address, the_catalogue(), who="Kim", moment=NOW)
    with open_store(address) as store:
        place = Workplace(store=store, catalogue=the_catalogue(), who="Kim")
        fleet = fleet_condition(place, today=LAST_DAY)
    assert len(fleet) == 0
    assert fleet.machines_at(Severity.URGENT) == 0
    assert condition_lines(fleet, the_catalogue()) == ()


def test_that_the_lines_come_worst_first_then_by_site_machine_and_box(fleet: Fleet):
    lines = condition_lines(fleet_condition(fleet.place, today=LAST_DAY), fleet.place.catalogue)
    keys = [(-line.severity, line.site, line.machine, line.compartment) for line in lines]
    assert keys == sorted(keys)
    assert lines[0].severity > lines[-1].severity
    assert all(line.reasons for line in lines if line.severity >= Severity.WATCH)
    assert not any(line.reasons for line in lines if line.severity <= Severity.NORMAL)


def test_that_a_line_names_the_value_and_the_limit_it_passed(fleet: Fleet):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=480)))
    lines = condition_lines(fleet_condition(fleet.place, today=LAST_DAY), fleet.place.catalogue)
    [line] = [one for one in lines if (one.machine, one.compartment) == (box.machine, "Engine")]
    assert "Iron above the Urgent limit: 480 mg/kg, limit 150" in line.reasons
    assert line.sampled_on == date(2026, 6, 28)
