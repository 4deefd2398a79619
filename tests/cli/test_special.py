"""`special` and `due-notes`; what `due` says of bands and states."""

from fluiddesk.cli.output import Exit
from fluiddesk.services.due_notes import due_notes
from fluiddesk.services.special_by_hand import specials
from fluiddesk.services.visits.boxes import note_due
from tests.cli.conftest import Run
from tests.fleets import LAST_DAY, NOW, Fleet


def some_box(run: Run, fleet: Fleet) -> tuple[str, str]:
    lines = run("due", "--all", "--database", fleet.address, "--format", "json").json
    one = next(
        line for line in lines if line["standing"] == "Early" and "after" not in line["basis"]
    )
    return one["machine"], one["compartment"]


def test_that_a_special_interval_is_added_listed_ended_and_taken_back(
    run: Run, fleet: Fleet
) -> None:
    box = some_box(run, fleet)
    where = ("--database", fleet.address)
    added = run("special", "add", *box, "--reason", "laboratory_asks", "--days", 3, *where)
    assert added.code == Exit.OK
    listed = run("special", "list", *where, "--format", "json").json
    assert [(one["machine"], one["compartment"]) for one in listed] == [box]
    assert listed[0]["interval"] == "3 days"
    assert "in force" in run("special", "list", *where).out
    due = run("due", "--all", *where, "--format", "json").json
    assert "laboratory asks" in {one["basis"] for one in due}
    ended = run("special", "end", *box, "--why", "steady", *where)
    assert "The usual interval holds again" in ended.err
    assert specials(fleet.place, today=LAST_DAY) == ()
    assert run("special", "list", "--all", *where, "--format", "json").json[0]["ended_on"]
    assert run("special", "undo", *box, *where).code == Exit.OK
    assert len(specials(fleet.place, today=LAST_DAY)) == 1


def test_that_what_cannot_be_is_refused_in_one_line(run: Run, fleet: Fleet) -> None:
    box = some_box(run, fleet)
    where = ("--database", fleet.address)
    refused = run("special", "add", *box, "--reason", "whim", "--days", 3, *where)
    assert refused.code != Exit.OK
    assert "Choose: laboratory_asks" in refused.err
    nothing = run("special", "end", *box, "--why", "x", *where)
    assert nothing.code == Exit.NO_INPUT
    for reason in ("after_act", "laboratory_asks"):
        run("special", "add", *box, "--reason", reason, "--days", 3, *where)
    several = run("special", "end", *box, "--why", "x", *where)
    assert "Give --reason: after_act, laboratory_asks." in several.err
    assert run("special", "end", *box, "--why", "x", "--reason", "after_act", *where).code == 0


def test_that_a_note_is_taken_back_with_a_reason(run: Run, fleet: Fleet) -> None:
    box = some_box(run, fleet)
    where = ("--database", fleet.address)
    key = next(
        one.compartment_id
        for one in fleet.boxes()
        if (one.machine, fleet.place.catalogue.box_name(one.kind, one.position)) == box
    )
    note_due(
        fleet.place, key, due_on=LAST_DAY, is_excused=True, reason="weather", note="", moment=NOW
    )
    assert "excused: weather" in run("due-notes", "list", *where).out
    wrong = run("due-notes", "void", *box, "2020-01-01", "--why", "mistake", *where)
    assert wrong.code == Exit.NO_INPUT
    assert LAST_DAY.isoformat() in wrong.err
    done = run("due-notes", "void", *box, LAST_DAY.isoformat(), "--why", "mistake", *where)
    assert done.code == Exit.OK
    assert due_notes(fleet.place) == ()
    assert run("due-notes", "list", "--all", *where, "--format", "json").json[0]["taken_back"]


def test_that_due_tells_the_band_and_every_state(run: Run, fleet: Fleet) -> None:
    where = ("--database", fleet.address)
    told = run("due", "--all", *where)
    head = told.out.splitlines()[0].split()
    assert {"standing", "band", "why"} <= set(head)
    lines = run("due", "--all", *where, "--format", "json").json
    banded = [one for one in lines if one["due_band"]]
    assert banded
    assert f"{banded[0]['due_band'][0]} to {banded[0]['due_band'][1]}" in told.out
    assert len(lines) == len(fleet.boxes())
    assert len(lines) > len(run("due", *where, "--format", "json").json)
