import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import create_engine, text

from fluiddesk.storage import (
    SCHEMA_VERSION,
    check_store,
    open_store,
    store_matches_tables,
    store_state,
    unpack_fleet,
    upgrade_store,
)
from fluiddesk.storage.upgrade import row_counts
from tests.stores import LATER

FOLDER = Path(__file__).parent / "old_databases"
OLD = sorted(FOLDER.glob("version*.sql"))
NEW_TABLES = {
    "machine_transfer",
    "test_list",
    "fluid_sample",
    "attachment",
    "record_change",
    "interval_rule",
    "verdict_block",
    "forecast",
    "key_draft",
    "saved_layout",
    "interval_change",
    "taking_draft",
}


def build(script: Path, folder: Path) -> Path:
    file = folder / f"{script.stem}.fluiddesk"
    connection = sqlite3.connect(file)
    connection.executescript(script.read_text(encoding="utf-8"))
    connection.close()
    return file


def counts(file: Path) -> dict[str, int]:
    engine = create_engine(f"sqlite:///{file}")
    with engine.connect() as connection:
        found = row_counts(connection)
    engine.dispose()
    return found


def test_that_there_is_an_old_database_of_every_earlier_version() -> None:
    assert [one.stem for one in OLD] == [f"version{n}" for n in range(1, SCHEMA_VERSION)]


@pytest.mark.parametrize("script", OLD, ids=lambda one: one.stem)
def test_that_an_old_database_is_upgraded_whole_and_its_old_state_kept(
    tmp_path: Path, script: Path
) -> None:
    file = build(script, tmp_path)
    before = counts(file)
    backup = upgrade_store(str(file), moment=LATER)
    assert backup is not None
    assert store_state(str(backup)).found == int(script.stem.removeprefix("version"))
    assert store_matches_tables(str(file)) == []
    after = counts(file)
    assert {name: after[name] for name in before} == before
    assert set(after) >= NEW_TABLES
    with open_store(str(file)) as store:
        assert check_store(store) == []


def test_that_rows_of_version_1_get_the_meaning_they_always_had(tmp_path: Path) -> None:
    file = build(FOLDER / "version1.sql", tmp_path)
    upgrade_store(str(file), moment=LATER)
    engine = create_engine(f"sqlite:///{file}")
    with engine.connect() as connection:
        ask = connection.execute
        assert set(ask(text("SELECT origin, test_list_code FROM sample"))) == {("plan", None)}
        assert set(ask(text("SELECT rejected_reason FROM result_sheet"))) == {("",)}
        assert set(ask(text("SELECT retired FROM fluid"))) == {(0,)}
        laboratory = "SELECT layout, methods, lane_days, retired, version FROM laboratory"
        assert ask(text(laboratory)).all() == [("", "{}", None, 0, 1)]
        assert ask(text("SELECT version, changed_by FROM fluid_batch")).all() == [(1, None)]
    engine.dispose()


@pytest.mark.parametrize("version", range(1, SCHEMA_VERSION))
def test_that_a_server_of_an_earlier_version_is_upgraded_in_place(
    postgres_address: str, monkeypatch: pytest.MonkeyPatch, version: int
) -> None:
    from alembic import command

    import fluiddesk.storage.upgrade as upgrading
    from fluiddesk.storage import create_store

    to_head = command.upgrade
    monkeypatch.setattr(command, "upgrade", lambda config, _: to_head(config, f"r{version:04}"))
    monkeypatch.setattr(upgrading, "SCHEMA_VERSION", version)
    create_store(postgres_address, moment=LATER)
    monkeypatch.undo()
    assert store_state(postgres_address).found == version
    upgrade_store(postgres_address, moment=LATER)
    assert store_matches_tables(postgres_address) == []


def test_that_limits_of_version_2_keep_every_column_and_may_be_of_the_new_kinds(
    tmp_path: Path,
) -> None:
    file = build(FOLDER / "version2.sql", tmp_path)
    ask = "SELECT place, kind, analyte, watch, act, urgent, source, boundary, note FROM limit_row"
    with closing(sqlite3.connect(file)) as connection:
        before = connection.execute(ask).fetchall()
    upgrade_store(str(file), moment=LATER)
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute(ask).fetchall() == before
        since = "SELECT DISTINCT least_change, off_until, derivation FROM limit_row"
        assert connection.execute(since).fetchall() == [(None, None, "")]
        named = "SELECT kind, companion FROM limit_row WHERE companion <> ''"
        assert connection.execute(named).fetchall() == [("companion_ratio", "iron")]
        assert connection.execute("SELECT settings, based_on FROM limit_set").fetchall() == [
            ("{}", None)
        ]
        connection.execute("UPDATE limit_row SET kind = 'own_step' WHERE place = 0")
        with pytest.raises(sqlite3.IntegrityError, match="ck_limit_row_kind_known"):
            connection.execute("UPDATE limit_row SET kind = 'guess' WHERE place = 0")


def test_that_an_upgraded_store_has_no_verdict_blocks_and_still_knows_its_verdicts(
    tmp_path: Path,
) -> None:
    file = build(FOLDER / "version2.sql", tmp_path)
    upgrade_store(str(file), moment=LATER)
    with open_store(str(file)) as store, store.reading() as desk:
        assert [len(columns) for columns in unpack_fleet(desk.blocks.all()[1])] == [3]
    with closing(sqlite3.connect(file)) as connection:
        assert connection.execute("SELECT count(*) FROM verdict_block").fetchone() == (0,)
