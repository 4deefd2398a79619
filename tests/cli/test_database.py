"""`database status|new|upgrade|copy|check`, and databases that cannot be used."""

import sqlite3
from contextlib import closing
from functools import partial
from pathlib import Path

import pytest

from fluiddesk import storage
from fluiddesk.cli.output import Exit
from fluiddesk.domain.severity import Severity
from fluiddesk.storage import store as storing
from tests.cli.conftest import Run
from tests.fleets import Fleet, differing_tables, dump, results


def test_that_status_tells_what_is_there(run: Run, fleet: Fleet):
    told = run("database", "status", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    assert (told.json["state"], told.json["machine"]) == ("current", 5)
    assert "machine" in run("database", "status", "--database", fleet.address).out


def test_that_status_of_nothing_leaves_with_66(run: Run, tmp_path: Path):
    told = run("database", "status", "--database", tmp_path / "none", "--format", "json")
    assert told.code == Exit.NO_INPUT
    assert told.json["state"] == "missing"
    assert "Check the address." in told.err


def test_that_status_check_compares_the_tables(run: Run):
    told = run("database", "status", "--check", "--format", "json")
    assert (told.code, told.json) == (Exit.OK, [])


def test_that_new_makes_a_database_once(run: Run, tmp_path: Path):
    target = tmp_path / "new.fluiddesk"
    told = run("database", "new", target)
    assert (told.code, told.out) == (Exit.OK, "")
    assert run("condition", "--database", target, "--format", "json").json == []
    assert run("due", "--database", target, "--format", "json").json == []
    before = target.read_bytes()
    again = run("database", "new", target)
    assert again.code == Exit.USAGE
    assert "exists already" in again.err
    assert target.read_bytes() == before


def test_that_an_empty_database_prints_its_headings_and_leaves_with_0(run: Run, tmp_path: Path):
    target = tmp_path / "new.fluiddesk"
    run("database", "new", target)
    told = run("condition", "--database", target)
    assert told.code == Exit.OK
    assert told.out.split() == [
        "severity", "site", "machine", "compartment", "sampled", "on", "trust", "reasons",
    ]  # fmt: skip


def test_that_upgrade_of_a_current_database_says_so(run: Run, fleet: Fleet):
    told = run("database", "upgrade", "--database", fleet.address)
    assert (told.code, told.out) == (Exit.OK, "")
    assert "of this version already" in told.err


def test_that_copy_copies_and_never_writes_over(run: Run, fleet: Fleet, tmp_path: Path):
    target = tmp_path / "copy.fluiddesk"
    assert run("database", "copy", target, "--database", fleet.address).code == Exit.OK
    assert differing_tables(fleet.dump(), dump(str(target))) == set()
    again = run("database", "copy", target, "--database", fleet.address)
    assert again.code == Exit.USAGE
    nowhere = run("database", "copy", tmp_path / "none" / "x", "--database", fleet.address)
    assert nowhere.code == Exit.CANNOT_CREATE
    assert "Make it first." in nowhere.err


def test_that_copy_to_a_server_hides_its_password(run: Run, fleet: Fleet, postgres_address: str):
    address = postgres_address.replace("postgres@", "postgres:secret@")
    told = run("database", "copy", address, "--database", fleet.address)
    assert told.code == Exit.OK
    assert "secret" not in told.out + told.err
    lines = [
        run("condition", "--database", one, "--format", "json") for one in (address, fleet.address)
    ]
    assert lines[0].json == lines[1].json
    assert lines[0].code == lines[1].code


def test_that_the_folder_of_papers_is_shown_and_named(
    run: Run, fleet: Fleet, postgres_address: str, tmp_path: Path
):
    shown = run("database", "papers", "--database", fleet.address, "--format", "json")
    assert shown.json == [{"folder": f"{fleet.address}.papers", "problems": []}]
    refused = run("database", "papers", tmp_path / "shared", "--database", fleet.address)
    assert refused.code == Exit.USAGE
    assert "No other folder can be named." in refused.err
    told = run("database", "copy", postgres_address, "--database", fleet.address)
    assert told.code == Exit.OK
    unnamed = run("database", "papers", "--database", postgres_address)
    assert unnamed.code == Exit.USAGE
    assert "fluiddesk database papers FOLDER" in unnamed.err
    named = run("database", "papers", tmp_path / "shared", "--database", postgres_address)
    assert named.code == Exit.OK
    assert f"kept in {tmp_path / 'shared'} from now on" in named.err
    shown = run("database", "papers", "--database", postgres_address, "--format", "json")
    assert shown.json == [{"folder": str(tmp_path / "shared"), "problems": []}]


def test_that_check_leaves_with_1_when_something_is_wrong(run: Run, fleet: Fleet):
    told = run("database", "check", "--database", fleet.address, "--format", "json")
    assert (told.code, told.json) == (Exit.OK, [])
    with closing(sqlite3.connect(fleet.address)) as other:
        other.execute("UPDATE current_condition SET severity = 3 WHERE severity = 0")
        other.commit()
    told = run("database", "check", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.ATTENTION
    assert all("is not what its assessment says" in one["problem"] for one in told.json)


# --- which database ------------------------------------------------------------------------------


def test_that_without_a_database_known_the_command_says_how_to_get_one(run: Run):
    told = run("condition")
    assert (told.code, told.out) == (Exit.USAGE, "")
    assert "--database FILE" in told.err
    assert "fluiddesk sample --out FILE" in told.err


def test_that_the_database_opened_last_is_used_and_named(run: Run, fleet: Fleet):
    from fluiddesk.wiring import open_desk

    open_desk(fleet.address, remember=True).close()
    told = run("condition", "--format", "json")
    assert told.err.splitlines() == [f"Database: {fleet.address}"]
    assert len(told.json) == len(fleet.boxes())


def test_that_naming_a_database_for_a_command_does_not_change_which_is_the_last(
    run: Run, fleet: Fleet
):
    run("condition", "--database", fleet.address)
    assert run("condition").code == Exit.USAGE


# --- databases that cannot be used ---------------------------------------------------------------


@pytest.mark.parametrize(
    "words", [("reassess", "--all"), ("intake", "FILE"), ("intake", "FILE", "--preview")]
)
def test_that_a_locked_database_leaves_with_75_and_the_remedy(
    run: Run, fleet: Fleet, words, monkeypatch: pytest.MonkeyPatch
):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    file = fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=480))
    before = fleet.dump()
    patient = partial(storage.open_store, busy_timeout_ms=50)
    monkeypatch.setattr(storage, "open_store", patient)
    asked = [str(file) if word == "FILE" else word for word in words]
    with closing(sqlite3.connect(fleet.address, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        told = run(*asked, "--database", fleet.address)
        assert told.code == Exit.TRY_AGAIN
        assert "is being used by another program. Wait a moment and try again." in told.err
        # Reading goes on beside the writer.
        assert run("condition", "--database", fleet.address).code == Exit.ATTENTION
        other.execute("ROLLBACK")
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_newer_database_leaves_with_78_and_names_both_versions(run: Run, fleet_file: Path):
    with closing(sqlite3.connect(fleet_file)) as other:
        other.execute("PRAGMA user_version = 99")
        other.commit()
    before = fleet_file.read_bytes()
    for words in (["condition"], ["reassess"], ["database", "check"], ["database", "upgrade"]):
        told = run(*words, "--database", fleet_file)
        assert (told.code, told.out) == (Exit.CONFIG, ""), words
        assert "version 99" in told.err
        assert "knows up to" in told.err
    assert fleet_file.read_bytes() == before


@pytest.mark.parametrize(
    ("content", "code", "told"),
    [
        (None, Exit.NO_INPUT, "There is no database at"),
        ("Dear quarry", Exit.BAD_DATA, "is not a database of this program. Nothing was changed."),
        ("", Exit.BAD_DATA, "is empty"),
    ],
)
def test_that_what_is_no_database_is_named_with_the_remedy(
    run: Run, tmp_path: Path, content, code, told
):
    file = tmp_path / "file"
    if content is not None:
        file.write_text(content)
    answer = run("condition", "--database", file)
    assert (answer.code, answer.out) == (code, "")
    assert told in answer.err
    assert content is None or file.read_text() == content


def test_that_the_remedy_of_a_missing_database_is_a_command_there_is(run: Run, tmp_path: Path):
    told = run("condition", "--database", tmp_path / "none")
    assert "`fluiddesk database new`" in told.err
    assert run("database", "new", tmp_path / "none").code == Exit.OK


def test_that_a_server_that_does_not_answer_leaves_with_69(run: Run, tmp_path: Path):
    told = run("condition", "--database", f"postgresql://kim:secret@/fleet?host={tmp_path}")
    assert told.code == Exit.UNAVAILABLE
    assert "cannot be reached" in told.err
    assert "secret" not in told.err


def test_that_an_address_that_is_none_leaves_with_64(run: Run):
    told = run("condition", "--database", "mysql://x/y")
    assert told.code == Exit.USAGE
    assert "postgresql://" in told.err


def test_that_a_folder_that_cannot_be_written_is_named(
    run: Run, fleet: Fleet, monkeypatch: pytest.MonkeyPatch
):
    folder = Path(fleet.address).parent
    # Root may write anywhere, so permissions alone would not hold everywhere the tests run.
    real = storing.os.access
    monkeypatch.setattr(
        storing.os, "access", lambda path, mode: Path(path) != folder and real(path, mode)
    )
    before = fleet.dump()
    told = run("reassess", "--all", "--database", fleet.address)
    assert told.code == Exit.CANNOT_CREATE
    assert "cannot be written, and each change needs a journal beside the file" in told.err
    assert differing_tables(before, fleet.dump()) == set()


@pytest.mark.skipif(not Path("/proc/version").exists(), reason="needs Linux's /proc")
def test_that_a_database_cannot_be_made_where_nothing_can_be_written(run: Run):
    told = run("database", "new", "/proc/new.fluiddesk")
    assert told.code == Exit.CANNOT_CREATE
    assert "cannot be written" in told.err


@pytest.mark.parametrize("part", ["status", "check", "upgrade"])
def test_that_the_database_may_be_named_without_the_option(run: Run, fleet: Fleet, part: str):
    assert run("database", part, fleet.address).code == Exit.OK
    twice = run("database", part, fleet.address, "--database", fleet.address)
    assert (twice.code, "Name one." in twice.err) == (Exit.USAGE, True)
