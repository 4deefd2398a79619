"""`past-results`: counts, fates and that a preview changes nothing."""

from pathlib import Path

import pytest

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet, differing_tables, write_lab_file


@pytest.fixture
def past_file(fleet: Fleet) -> Path:
    """One sure row, one without a compartment, one of an unknown machine."""
    code = fleet.boxes("engine")[0].machine
    head = {"sampled on": "2024-03-05", "iron [mg/kg]": 20}
    return write_lab_file(
        fleet.folder / "past.csv",
        {"machine": code, "compartment": "Engine", "report": "P-1", **head},
        {"machine": code, "compartment": "", "report": "P-2", **head},
        {"machine": "nobody's", "compartment": "Engine", "report": "P-3", **head},
    )


def test_that_a_preview_says_the_fate_of_each_row_and_changes_nothing(
    run: Run, fleet: Fleet, past_file: Path
):
    before = fleet.dump()
    told = run(
        "past-results", past_file, "--preview", "--database", fleet.address, "--format", "json"
    )
    assert told.code == Exit.OK
    assert (told.json["sure"], told.json["doubtful"]) == (1, 2)
    assert [row["fate"] for row in told.json["rows"]] == ["sure", "doubtful", "doubtful"]
    assert differing_tables(before, fleet.dump()) == set()


def test_that_taking_in_counts_and_names_what_waits(run: Run, fleet: Fleet, past_file: Path):
    told = run("past-results", past_file, "--database", fleet.address)
    assert (
        "1 taken in, 2 to be confirmed on the Register page, 0 known already, 0 held." in told.out
    )
    assert 'no machine of the register is called "nobody\'s"' in told.out
    again = run("past-results", past_file, "--database", fleet.address)
    assert "already" in again.out
    assert fleet.check() == []
