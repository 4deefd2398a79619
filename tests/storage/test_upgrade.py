import sqlite3
from pathlib import Path

import pytest
from alembic.config import Config
from alembic.script import ScriptDirectory

import fluiddesk.storage.upgrade as upgrading
from fluiddesk.domain.errors import WrongVersionError
from fluiddesk.storage import (
    SCHEMA_VERSION,
    UpgradeError,
    create_store,
    open_store,
    store_matches_tables,
    store_state,
    upgrade_store,
)
from fluiddesk.storage.engine import APPLICATION_ID
from tests.stores import MOMENT, make_store


def make_older_file(folder: Path) -> Path:
    """A store from before the first tables, with a note that must not get lost."""
    file = folder / "old.fluid"
    connection = sqlite3.connect(file)
    connection.execute("CREATE TABLE note (text TEXT)")
    connection.execute("INSERT INTO note VALUES ('kept')")
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.commit()
    connection.close()
    return file


def test_that_the_version_is_the_number_of_the_newest_migration() -> None:
    config = Config()
    config.set_main_option("script_location", str(Path(upgrading.__file__).parent / "migrations"))
    head = ScriptDirectory.from_config(config).get_current_head()
    assert head == f"r{SCHEMA_VERSION:04}"


def test_that_an_older_file_is_brought_up_to_date_and_its_old_state_kept(tmp_path: Path) -> None:
    file = make_older_file(tmp_path)
    before = file.read_bytes()
    backup = upgrade_store(str(file), moment=MOMENT)
    assert backup is not None
    assert backup.name == "old-version0-20260301T120000Z.fluid"
    open_store(str(file)).close()
    assert [one for one in store_matches_tables(str(file)) if "note" not in one] == []
    connection = sqlite3.connect(file)
    assert connection.execute("SELECT text FROM note").fetchall() == [("kept",)]
    connection.close()
    assert len(backup.read_bytes()) == len(before)


def test_that_a_store_of_the_right_version_is_left_as_it_is(tmp_path: Path) -> None:
    make_store(tmp_path).close()
    before = (tmp_path / "pit.fluid").read_bytes()
    assert upgrade_store(str(tmp_path / "pit.fluid"), moment=MOMENT) is None
    assert (tmp_path / "pit.fluid").read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == ["pit.fluid"]


def test_that_a_newer_store_is_not_touched(tmp_path: Path) -> None:
    file = make_older_file(tmp_path)
    connection = sqlite3.connect(file)
    connection.execute("PRAGMA user_version = 9")
    connection.close()
    with pytest.raises(WrongVersionError, match="version 9"):
        upgrade_store(str(file), moment=MOMENT)


def break_down(_connection: object) -> None:
    raise RuntimeError("the migration broke")


def lose_rows(connection: object) -> None:
    connection.exec_driver_sql("DELETE FROM note")  # type: ignore[attr-defined]
    REAL_MIGRATE(connection)  # type: ignore[arg-type]


def leave_orphans(connection: object) -> None:
    REAL_MIGRATE(connection)  # type: ignore[arg-type]
    connection.exec_driver_sql("CREATE TABLE child (fluid TEXT REFERENCES fluid (code))")  # type: ignore[attr-defined]
    connection.exec_driver_sql("INSERT INTO child VALUES ('none')")  # type: ignore[attr-defined]


REAL_MIGRATE = upgrading.migrate


@pytest.mark.parametrize("fault", [break_down, lose_rows, leave_orphans])
def test_that_an_upgrade_that_fails_leaves_the_old_file_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: object
) -> None:
    file = make_older_file(tmp_path)
    before = file.read_bytes()
    monkeypatch.setattr(upgrading, "migrate", fault)
    with pytest.raises(UpgradeError, match="is as it was"):
        upgrade_store(str(file), moment=MOMENT)
    assert file.read_bytes() == before
    assert store_state(str(file)).found == 0
    assert not list(tmp_path.glob(".*"))


def test_that_a_failed_creation_leaves_no_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upgrading, "migrate", break_down)
    with pytest.raises(RuntimeError):
        create_store(str(tmp_path / "new.fluid"), moment=MOMENT)
    assert list(tmp_path.iterdir()) == []


def test_that_an_older_servers_store_is_upgraded_in_one_transaction(
    postgres_address: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    import psycopg

    with psycopg.connect(postgres_address) as connection:
        connection.execute("CREATE TABLE note (text TEXT)")
        connection.execute("INSERT INTO note VALUES ('kept')")
        connection.execute("CREATE TABLE store_fact (key TEXT, value TEXT)")
        connection.execute("INSERT INTO store_fact VALUES ('application', 'fluiddesk')")
    monkeypatch.setattr(upgrading, "migrate", lose_rows)
    with pytest.raises(Exception, match="store_fact"):
        upgrade_store(postgres_address, moment=MOMENT)
    with psycopg.connect(postgres_address) as connection:
        assert connection.execute("SELECT text FROM note").fetchall() == [("kept",)]
    assert store_state(postgres_address).found == 0
