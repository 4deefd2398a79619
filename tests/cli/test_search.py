"""`search` and its exit codes."""

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet


def test_that_search_prints_what_was_found_and_where(run: Run, fleet: Fleet):
    box = fleet.boxes("engine")[0]
    told = run("search", box.machine, "engine", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert told.json[0]["place"] == f"{box.site}, {box.machine}, Engine"
    text = run("search", box.machine, "--database", fleet.address)
    assert text.out.splitlines()[1].startswith("machine")


def test_that_nothing_found_is_said_and_leaves_with_its_own_code(run: Run, fleet: Fleet):
    told = run("search", "zzz999", "--database", fleet.address)
    assert told.code == Exit.ATTENTION
    assert 'Nothing is called "zzz999".' in told.err
