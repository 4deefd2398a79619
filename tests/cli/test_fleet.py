"""`condition`, `history`, `due` and `reassess`: keys, order, forms and exit codes."""

import csv
import io
from datetime import timedelta

import pytest

from fluiddesk.cli.output import Exit
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.register.transfer import transfer_machine
from tests.cli.conftest import Run
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables, results

WORST_FIRST = ["Urgent", "Act", "Watch", "Normal", "No verdict"]


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


# --- condition -----------------------------------------------------------------------------------


def test_that_condition_is_a_list_with_the_fixed_keys_worst_first(run: Run, fleet: Fleet):
    told = run("condition", "--database", fleet.address, "--format", "json")
    lines = told.json
    assert told.code == Exit.ATTENTION
    assert len(lines) == len(fleet.boxes())
    for line in lines:
        assert {
            "site", "machine", "compartment", "severity", "trust", "sampled_on", "reasons",
        } <= set(line)  # fmt: skip
        assert isinstance(line["reasons"], list)
    order = [
        (WORST_FIRST.index(one["severity"]), one["site"], one["machine"], one["compartment"])
        for one in lines
    ]
    assert order == sorted(order)
    assert told.err == ""


def test_that_condition_leaves_with_0_when_nobody_must_decide(run: Run, fleet: Fleet):
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql("UPDATE current_condition SET severity = 1")
    assert run("condition", "--database", fleet.address).code == Exit.OK
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql("UPDATE current_condition SET severity = 2")
    assert run("condition", "--database", fleet.address).code == Exit.ATTENTION


def test_that_condition_reads_alike_in_all_forms(run: Run, fleet: Fleet):
    asked = ("condition", "--database", fleet.address, "--format")
    lines, table, text = run(*asked, "json"), run(*asked, "csv"), run(*asked, "text")
    for line, row in zip(lines.json, rows_of(table.out), strict=True):
        assert row["reasons"] == "; ".join(line["reasons"])
        for key in ("site", "machine", "compartment", "severity", "trust", "sampled_on"):
            assert row[key] == line[key]
    head, *body = text.out.splitlines()
    assert head.split()[:4] == ["severity", "site", "machine", "compartment"]
    assert [line.split()[0] for line in body] == [
        line["severity"].split()[0] for line in lines.json
    ]


def test_that_text_that_reads_as_a_formula_is_marked_in_csv_alone(run: Run, fleet: Fleet):
    box = fleet.boxes()[0]
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            "UPDATE machine SET code = '=1+1' WHERE code = ?", (box.machine,)
        )
    table = run("condition", "--database", fleet.address, "--format", "csv")
    machines = {row["machine"] for row in rows_of(table.out)}
    assert "'=1+1" in machines
    assert "=1+1" not in machines
    lines = run("condition", "--database", fleet.address, "--format", "json").json
    assert "=1+1" in {line["machine"] for line in lines}


# --- history -------------------------------------------------------------------------------------


@pytest.fixture
def urgent_engine(fleet: Fleet):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=480)))
    return box


def test_that_history_tells_what_the_page_shows(run: Run, fleet: Fleet, urgent_engine):
    box = urgent_engine
    told = run(
        "history", box.machine, "engine", "--database", fleet.address, "--format", "json"
    ).json
    page = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    assert {"samples", "events", "hours_left"} <= set(told)
    assert (told["site"], told["machine"], told["compartment"]) == (box.site, box.machine, "Engine")
    assert (told["severity"], told["trust"]) == ("Urgent", "Good")
    assert told["sentence"] == page.sentence
    assert [one["bottle"] for one in told["samples"]] == [one.bottle_code for one in page.samples]
    assert [one["hours"] for one in told["samples"]] == [one.hours for one in page.samples]
    assert len(told["events"]) == len(page.events)
    [iron] = [one for one in told["samples"][-1]["readings"] if one["analyte"] == "iron"]
    assert (iron["value"], iron["unit"], iron["sign"]) == (480, "mg/kg", "plain")
    assert (iron["severity"], iron["printed"]) == ("Urgent", "480 mg/kg")


def test_that_history_tells_when_the_fluid_is_to_be_changed(run: Run, fleet: Fleet, urgent_engine):
    box = urgent_engine
    asked = ("history", box.machine, "engine", "--database", fleet.address, "--format", "json")
    assert run(*asked).json["due"]["next_fluid_change"] is None
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            "UPDATE compartment SET change_interval_days = 3650"
        )
    page = compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)
    told = run(*asked).json["due"]
    change = page.due.next_change
    assert change is not None
    assert told["next_fluid_change"]["planned_on"] == change.planned_on.isoformat()
    assert told["next_fluid_change"]["is_sampled"] is False
    assert told["due_on"] == page.due.due_on.isoformat()


def test_that_hours_left_is_three_numbers_or_none_with_the_reason(
    run: Run, fleet: Fleet, urgent_engine
):
    told = run(
        "history", urgent_engine.machine, "engine", "--database", fleet.address, "--format", "json"
    ).json["hours_left"]
    bands = [told["p10"], told["p50"], told["p90"]]
    assert all(isinstance(one, float) for one in bands) or (bands == [None] * 3 and told["why"])


def test_that_history_goes_on_over_a_change_of_site(run: Run, fleet: Fleet, urgent_engine):
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.compartment(urgent_engine.compartment_id).machine
        to = next(one for one in desk.fleet.sites() if one.site != urgent_engine.site_id)
    words = ("history", urgent_engine.machine, "engine", "--database", fleet.address)
    before = run(*words, "--format", "json").json
    transfer_machine(fleet.place, machine, to=to.site, on=LAST_DAY, today=LAST_DAY, moment=NOW)
    after = run(*words, "--format", "json").json
    assert (after["site"], after["earlier_sites"]) == (to.name, [urgent_engine.site])
    assert after["samples"] == before["samples"]
    assert after["severity"] == "Urgent"
    assert f"Before at {urgent_engine.site}; samples from there included." in run(*words).out


def test_that_history_in_csv_has_a_column_for_each_analyte(run: Run, fleet: Fleet, urgent_engine):
    told = run(
        "history", urgent_engine.machine, "engine", "--database", fleet.address, "--format", "csv"
    )
    head = told.out.splitlines()[0].split(",")
    assert len(set(head)) == len(head), "no two analytes share a column"
    last = rows_of(told.out)[-1]
    assert (last["Fe"], last["severity"], last["sampled_on"]) == ("480", "Urgent", "2026-06-28")


def test_that_history_leaves_with_0_however_bad_the_box_is(run: Run, fleet: Fleet, urgent_engine):
    told = run("history", urgent_engine.machine, "engine", "--database", fleet.address)
    assert told.code == Exit.OK
    assert "Urgent: iron above the Urgent limit (480 mg/kg, limit 150)" in told.out


def test_that_a_box_that_is_not_there_leaves_with_66_and_says_what_there_is(run: Run, fleet: Fleet):
    machine = fleet.boxes("engine")[0].machine
    told = run("history", machine, "wing", "--database", fleet.address, "--format", "json")
    assert (told.code, told.out) == (Exit.NO_INPUT, "")
    assert "It has: " in told.err
    assert len(told.err.splitlines()) == 1


# --- due -----------------------------------------------------------------------------------------


def test_that_due_has_the_fixed_keys_and_1_only_when_something_is_overdue(run: Run, fleet: Fleet):
    told = run("due", "--database", fleet.address, "--format", "json", "--within", "52w")
    lines = told.json
    for line in lines:
        assert {"machine", "compartment", "due_on", "window", "state"} <= set(line)
        assert line["window"] is None or line["window"][0] <= line["due_on"] <= line["window"][1]
        band = line["due_band"]
        assert band is None or band[0] <= line["due_on"] <= band[1]
    states = [line["state"] for line in lines]
    ranks = [["Overdue", "Due", "Never sampled", "Not yet"].index(one) for one in states]
    assert ranks == sorted(ranks)
    assert told.code == (Exit.ATTENTION if "Overdue" in states else Exit.OK)
    fewer = run("due", "--database", fleet.address, "--format", "json", "--within", "0d").json
    assert len(fewer) < len(lines)


def test_that_due_leaves_with_1_when_a_box_is_overdue(run: Run, fleet: Fleet):
    long_ago = (LAST_DAY - timedelta(3_000)).isoformat()
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            "UPDATE current_condition SET taken_on = ?, true_hours = 0", (long_ago,)
        )
    told = run("due", "--database", fleet.address)
    assert told.code == Exit.ATTENTION
    assert told.out.splitlines()[1].startswith("Missed")


@pytest.mark.parametrize("span", ["soon", "14x", "-3d", "", "3.5d"])
def test_that_a_span_that_is_none_leaves_with_64(run: Run, fleet: Fleet, span: str):
    told = run("due", "--database", fleet.address, f"--within={span}")
    assert (told.code, told.out) == (Exit.USAGE, "")
    assert "Write for example 14d or 2w." in told.err


# --- reassess ------------------------------------------------------------------------------------


def test_that_reassess_says_that_nothing_changed(run: Run, fleet: Fleet):
    before = fleet.dump()
    told = run("reassess", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert told.json == {"samples": len(before["assessment"]), "changed": 0, "moved": []}
    assert "0 verdicts changed, 0 compartments moved." in told.err
    assert differing_tables(before, fleet.dump()) == set()


def test_that_reassess_all_writes_an_assessment_for_every_sample(run: Run, fleet: Fleet):
    count = len(fleet.dump()["assessment"])
    told = run("reassess", "--all", "--database", fleet.address, "--format", "json").json
    assert told["changed"] == told["samples"] == count
    assert len(fleet.dump()["assessment"]) == 2 * count
    assert fleet.check() == []
