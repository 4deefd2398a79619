"""`register export` and `register import`: what they print, exit codes, nothing half saved."""

import csv
from pathlib import Path

import pytest

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet, differing_tables


@pytest.fixture
def exported(run: Run, fleet: Fleet) -> Path:
    folder = fleet.folder / "out"
    assert run("register", "export", folder, "--database", fleet.address).code == Exit.OK
    return folder


def change(file: Path, column: str, value: str) -> None:
    """Write another value into the first row of a file."""
    with file.open(encoding="utf-8-sig", newline="") as text:
        rows = list(csv.DictReader(text))
    rows[0][column] = value
    with file.open("w", encoding="utf-8", newline="") as text:
        writer = csv.DictWriter(text, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def test_that_export_lists_its_files(run: Run, fleet: Fleet):
    folder = fleet.folder / "out"
    told = run("register", "export", folder, "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert {one["kind"]: one["rows"] for one in told.json}["machines"] == 5
    assert all(Path(one["path"]).is_file() for one in told.json)


def test_that_an_export_is_not_written_over(run: Run, fleet: Fleet, exported: Path):
    told = run("register", "export", exported, "--database", fleet.address)
    assert told.code == Exit.CANNOT_CREATE
    assert "is there already" in told.err


def test_that_a_folder_is_imported_whole_and_again_changes_nothing(
    run: Run, fleet: Fleet, exported: Path
):
    before = fleet.dump()
    told = run("register", "import", exported, "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert {(one["added"], one["changed"]) for one in told.json["files"]} == {(0, 0)}
    assert told.json["problems"] == []
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_preview_tells_and_changes_nothing(run: Run, fleet: Fleet, exported: Path):
    file = exported / "compartments.csv"
    change(file, "capacity_l", "41.5")
    before = fleet.dump()
    told = run("register", "import", file, "--preview", "--database", fleet.address)
    assert told.code == Exit.OK
    assert told.out.startswith("Preview; nothing was changed. 0 to add, 1 to change, ")
    assert differing_tables(before, fleet.dump()) == set()
    done = run("register", "import", file, "--database", fleet.address)
    assert done.out.startswith("0 added, 1 changed, ")
    assert "compartment" in differing_tables(before, fleet.dump())
    assert fleet.check() == []


@pytest.mark.parametrize("form", ["text", "json", "csv"])
def test_that_a_problem_is_told_in_one_line_and_stops_the_import(
    run: Run, fleet: Fleet, exported: Path, form: str
):
    file = exported / "compartments.csv"
    change(file, "capacity_l", "0")
    before = fleet.dump()
    words = ("register", "import", file, "--database", fleet.address, "--format", form)
    seen = run(*words, "--preview")
    assert seen.code == Exit.ATTENTION
    told = run(*words)
    assert told.code == Exit.BAD_DATA
    assert "1 problem stands in the way" in told.err.splitlines()[-1]
    if form == "json":
        [problem] = told.json["problems"]
        assert (problem["row"], problem["column"], problem["value"]) == (2, "capacity_l", "0")
        assert problem["refuses"] is True
    else:
        assert told.err.startswith('compartments.csv: Row 2, column "capacity_l": "0" is not above')
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_warning_is_marked_as_one(run: Run, fleet: Fleet):
    file = fleet.folder / "sites.csv"
    file.write_text("site,colour\nNew pit,red\n", encoding="utf-8")
    told = run("register", "import", file, "--database", fleet.address)
    assert told.code == Exit.OK
    assert told.err.rstrip().endswith("(warning)")
    assert "1 added" in told.out


def test_that_a_file_that_is_not_there_is_told(run: Run, fleet: Fleet):
    told = run("register", "import", fleet.folder / "x.csv", "--database", fleet.address)
    assert told.code == Exit.NO_INPUT
