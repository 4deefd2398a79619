"""`register show` and `register missing`."""

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet


def test_that_every_machine_is_shown_with_its_boxes_and_hours(run: Run, fleet: Fleet):
    told = run("register", "show", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert len(told.json) == 5
    for line in told.json:
        assert line["boxes"] >= 1
        assert line["hours"] > 0
        assert line["state"] in ("working", "standby", "down", "sold")
    boxes = {box.compartment_id for box in fleet.boxes()}
    assert sum(line["boxes"] for line in told.json) == len(boxes)


def test_that_what_keeps_work_from_going_can_be_asked_for_alone(run: Run, fleet: Fleet):
    asked = ("register", "missing", "--database", fleet.address, "--format", "json")
    every, blocking = run(*asked), run(*asked, "--blocking")
    assert {line["field"] for line in every.json} >= {"users", "test_lists"}
    assert [line for line in every.json if line["blocks"]] == blocking.json
    assert every.err.startswith(f"{len(every.json)} things are missing, {len(blocking.json)} of")


def test_that_yes_and_no_are_words_in_the_text(run: Run, fleet: Fleet):
    lines = run("register", "missing", "--database", fleet.address).out.splitlines()[1:]
    assert {line.split()[-1] for line in lines} <= {"yes", "no"}
