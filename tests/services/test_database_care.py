"""Looking after the database: what stands where, copies both ways, checks that find."""

from pathlib import Path

import pytest

from fluiddesk.domain.errors import NotFoundError, WrongVersionError
from fluiddesk.domain.severity import Severity
from fluiddesk.services.database_care import (
    check_database,
    copy_database,
    database_status,
    differences_from_tables,
    upgrade_database,
)
from fluiddesk.services.founding import replayed_day
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables, dump, results, the_catalogue


def as_version(file: Path, version: int) -> None:
    """Mark a database file as of another version."""
    import sqlite3

    with sqlite3.connect(file) as connection:
        connection.execute(f"PRAGMA user_version = {version}")
    connection.close()


def test_that_a_status_tells_versions_and_how_much_there_is(fleet: Fleet):
    told = database_status(fleet.address)
    assert (told["state"], told["version"]) == ("current", told["program_expects"])
    assert told["address"] == fleet.address
    rows = fleet.dump()
    for name in ("site", "machine", "compartment", "sample", "reading", "assessment"):
        assert told[name] == len(rows[name])


def test_that_a_status_of_nothing_of_a_stranger_and_of_a_newer_one_is_told(
    tmp_path: Path, fleet_file: Path
):
    assert database_status(str(tmp_path / "none"))["state"] == "missing"
    stranger = tmp_path / "letter.txt"
    stranger.write_text("Dear quarry")
    assert database_status(str(stranger))["state"] == "foreign"
    as_version(fleet_file, 99)
    told = database_status(str(fleet_file))
    assert (told["state"], told["version"]) == ("newer", 99)


def test_that_a_password_never_shows_in_a_status(postgres_address: str):
    name = postgres_address.replace("postgres@", "postgres:secret@")
    told = database_status(name)
    assert told["state"] == "empty"
    assert "secret" not in str(told)


def test_that_a_new_database_matches_the_programs_tables():
    assert differences_from_tables() == []


def test_that_an_upgrade_of_a_current_database_does_nothing(fleet: Fleet):
    before = fleet.dump()
    assert upgrade_database(fleet.address, moment=NOW) == (
        "The database is of this version already; nothing was done."
    )
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_newer_database_is_refused_by_name_of_both_versions(fleet_file: Path):
    as_version(fleet_file, 99)
    for ask in (check_database, lambda address: upgrade_database(address, moment=NOW)):
        with pytest.raises(WrongVersionError, match=r"version 99; this program knows up to \d"):
            ask(str(fleet_file))


def test_that_a_copy_to_a_server_and_back_to_a_file_loses_nothing(
    fleet: Fleet, postgres_address: str, tmp_path: Path
):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=480)))
    before = fleet.dump()
    copy_database(fleet.address, postgres_address, moment=NOW)
    back = str(tmp_path / "back.fluiddesk")
    copy_database(postgres_address, back, moment=NOW)
    assert differing_tables(before, dump(postgres_address)) == set()
    assert differing_tables(before, dump(back)) == set()
    for address in (postgres_address, back):
        assert check_database(address) == []
        with open_store(address) as store:
            place = Workplace(store=store, catalogue=the_catalogue(), who="Kim")
            assert replayed_day(place) == LAST_DAY, "a copy of an invented fleet stays invented"


def test_that_nothing_is_copied_from_nowhere(tmp_path: Path):
    with pytest.raises(NotFoundError):
        copy_database(str(tmp_path / "none"), str(tmp_path / "copy"), moment=NOW)
    assert not (tmp_path / "copy").exists()


@pytest.mark.parametrize(
    ("damage", "told"),
    [
        ("UPDATE reading SET value = value + 1 WHERE sheet_id = (SELECT min(id) FROM result_sheet)",
         "differs from the readings in values"),
        ("UPDATE current_condition SET severity = 3 WHERE severity = 0",
         "is not what its assessment says"),
        ("UPDATE history_block SET block = x'00'", "cannot be read"),
        ("DELETE FROM current_condition WHERE severity = 0", "missing"),
    ],
)  # fmt: skip
def test_that_a_check_finds_what_does_not_agree(fleet: Fleet, damage: str, told: str):
    assert check_database(fleet.address) == []
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(damage)
    problems = check_database(fleet.address)
    assert problems
    assert all(told in problem for problem in problems)


def test_that_a_check_finds_an_audit_line_that_was_changed(fleet: Fleet):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=20)))
    import sqlite3

    with sqlite3.connect(fleet.address) as connection:
        names = [row[0] for row in connection.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'audit_trail'"
        )]  # fmt: skip
        for name in names:
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("UPDATE audit_trail SET who = 'nobody' WHERE who = 'Kim'")
    connection.close()
    problems = check_database(fleet.address)
    assert problems
    assert all("audit" in problem for problem in problems)
