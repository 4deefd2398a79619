"""Makes a new store, and brings an older one up to date on a copy."""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, delete, func, insert, inspect, select, table, text

from fluiddesk.domain.errors import CannotWriteError, OperatorError, UsageError
from fluiddesk.storage.address import Address, parse_address
from fluiddesk.storage.engine import APPLICATION_ID, connect_file, open_engine, writing
from fluiddesk.storage.faults import plain_faults
from fluiddesk.storage.state import (
    FACT_APPLICATION,
    FACT_SCHEMA,
    SCHEMA_VERSION,
    StoreKind,
    store_state,
)
from fluiddesk.storage.statistics import write_statistics
from fluiddesk.storage.store import refuse_unless_current
from fluiddesk.storage.tables.catalogue import StoreFactRow
from fluiddesk.storage.tables.every import METADATA, complete_tables

_MIGRATIONS: Final = Path(__file__).parent / "migrations"
_BOOKKEEPING: Final = {"alembic_version", "store_fact"}


class UpgradeError(OperatorError):
    """The upgrade was given up; the store is as it was."""


def create_store(address: str, *, moment: datetime) -> None:
    """Make a new store: a new file, or the tables in an empty database of a server.

    Raises:
        CannotWriteError: when the folder is missing or cannot be written.
        UsageError: when something is there already.
    """
    place = parse_address(address)
    state = store_state(address)
    if place.path is not None:
        if state.kind is not StoreKind.MISSING:
            raise UsageError(f"{place.name} exists already. Choose another name.")
        _create_file(place.path, moment)
        return
    if state.kind is not StoreKind.EMPTY:
        raise UsageError(f"{place.name} is not empty. Give the address of an empty database.")
    with plain_faults(place), _engine_for_migration(place) as engine, writing(engine) as connection:
        migrate(connection)
        _write_facts(connection, moment=moment)


def upgrade_store(address: str, *, moment: datetime) -> Path | None:
    """Bring an older store up to date. Returns the copy of its old state; ``None`` on a server.

    A file is copied, the copy migrated and checked, and only then put in its place. A server's
    database is migrated in one transaction: back it up with the server's own tools before.

    Raises:
        UpgradeError: when anything is lost or broken on the way; the store is then as it was.
        WrongVersionError: when the store is newer than the program.
    """
    place = parse_address(address)
    state = store_state(address)
    if state.kind is StoreKind.CURRENT:
        return None
    if state.kind is not StoreKind.OLDER:
        refuse_unless_current(place, state)
    if place.path is not None:
        return _upgrade_file(place.path, state.found or 0, moment)
    with plain_faults(place), _engine_for_migration(place) as engine, writing(engine) as connection:
        _migrate_and_compare(connection, place.name, moment)
    return None


def store_matches_tables(address: str) -> list[str]:
    """How the tables at an address differ from those the program expects; empty where equal."""
    from alembic.autogenerate import compare_metadata
    from alembic.migration import MigrationContext

    place = parse_address(address)
    with plain_faults(place), _engine_for_migration(place) as engine, writing(engine) as connection:
        options = {"compare_type": True, "compare_server_default": True}
        context = MigrationContext.configure(connection, opts=options)
        differences = [repr(one) for one in compare_metadata(context, complete_tables())]
        return differences + _check_differences(connection) + _trigger_differences(connection)


def migrate(connection: Connection) -> None:
    """Run the migrations that are missing, in the transaction that is open."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    config.set_main_option("path_separator", "os")
    config.attributes["connection"] = connection
    config.attributes["metadata"] = METADATA
    command.upgrade(config, "head")


def row_counts(connection: Connection) -> dict[str, int]:
    """The number of rows of every table but the bookkeeping ones."""
    names = sorted(set(inspect(connection).get_table_names()) - _BOOKKEEPING)
    return {
        name: int(connection.execute(select(func.count()).select_from(table(name))).scalar_one())
        for name in names
    }


@contextmanager
def _engine_for_migration(place: Address) -> Iterator[Any]:
    # Foreign keys are off: SQLite rebuilds a changed table by dropping it, and its children would
    # be touched. They are checked before the end instead.
    engine = open_engine(place, foreign_keys=False)
    try:
        yield engine
    finally:
        engine.dispose()


def _create_file(path: Path, moment: datetime) -> None:
    if not path.absolute().parent.is_dir():
        raise CannotWriteError(f"There is no folder {path.absolute().parent}. Make it first.")
    place = Address(path=path)
    try:
        with plain_faults(place):
            connect_file(path, mode="rwc").close()
            _fill_new_file(place, moment)
    except BaseException:
        remove_file(path)
        raise


def _fill_new_file(place: Address, moment: datetime) -> None:
    with _engine_for_migration(place) as engine, writing(engine) as connection:
        migrate(connection)
        _write_facts(connection, moment=moment)


def _write_facts(connection: Connection, *, moment: datetime) -> None:
    facts = {FACT_APPLICATION[0]: FACT_APPLICATION[1], FACT_SCHEMA: str(SCHEMA_VERSION)}
    here = connection.execute(select(StoreFactRow.key)).scalars().all()
    if "created_at" not in here:
        facts["created_at"] = moment.astimezone(UTC).isoformat()
    connection.execute(delete(StoreFactRow).where(StoreFactRow.key.in_(facts)))
    connection.execute(
        insert(StoreFactRow), [{"key": key, "value": value} for key, value in facts.items()]
    )
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.exec_driver_sql(f"PRAGMA user_version = {SCHEMA_VERSION}")
        write_statistics(connection)


def _upgrade_file(path: Path, found: int, moment: datetime) -> Path:
    stamp = moment.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    backup = path.with_name(f"{path.stem}-version{found}-{stamp}{path.suffix}")
    work = path.with_name(f".{path.name}.upgrading")
    remove_file(work)
    place = Address(path=path)
    with plain_faults(place):
        holder = connect_file(path, mode="rw")
        try:
            # Nobody may write between the copy and the swap.
            holder.execute("BEGIN IMMEDIATE")
            copy_file(path, backup)
            copy_file(path, work)
            _migrate_copy(work, name=str(path), moment=moment)
            if os.name == "nt":
                holder.close()
            work.replace(path)
        except OperatorError:
            raise
        except Exception as fault:
            raise UpgradeError(
                f"{path} could not be upgraded and is as it was: {fault}. "
                "Keep the file and report this."
            ) from fault
        finally:
            holder.close()
            remove_file(work)
    return backup


def copy_file(source: Path, target: Path) -> None:
    """Copy a file's content as it stands at one moment, while others may be reading it.

    Raises:
        CannotWriteError: when the target exists.
    """
    if target.exists():
        raise CannotWriteError(f"{target} exists already. Choose another name.")
    connection = connect_file(source, mode="ro")
    try:
        connection.execute("VACUUM INTO ?", (str(target.absolute()),))
    except BaseException:
        remove_file(target)
        raise
    finally:
        connection.close()


def _migrate_copy(work: Path, *, name: str, moment: datetime) -> None:
    with _engine_for_migration(Address(path=work)) as engine:
        with writing(engine) as connection:
            _migrate_and_compare(connection, name, moment)
        with engine.connect() as connection:
            verdict = connection.exec_driver_sql("PRAGMA integrity_check").scalar_one()
    if verdict != "ok":
        raise UpgradeError(f"{name} could not be upgraded and is as it was: {verdict}")


def _migrate_and_compare(connection: Connection, name: str, moment: datetime) -> None:
    before = row_counts(connection)
    migrate(connection)
    _write_facts(connection, moment=moment)
    after = row_counts(connection)
    lost = [one for one, count in before.items() if after.get(one, 0) != count]
    if lost:
        raise UpgradeError(
            f"{name} could not be upgraded and is as it was: rows would be lost in "
            f"{', '.join(lost)}. Keep the file and report this."
        )
    if connection.dialect.name == "sqlite":
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if broken:
            raise UpgradeError(
                f"{name} could not be upgraded and is as it was: {len(broken)} rows name a row "
                "that is not there. Keep the file and report this."
            )


def _check_differences(connection: Connection) -> list[str]:
    here = inspect(connection)
    wanted: set[tuple[str, str]] = set()
    for one in complete_tables().sorted_tables:
        for check in one.constraints:
            condition = getattr(check, "_ddl_if", None)
            is_meant = condition is None or condition.dialect == connection.dialect.name
            if type(check).__name__ == "CheckConstraint" and is_meant:
                wanted.add((one.name, str(check.name)))
    found = {
        (name, str(check["name"]))
        for name in METADATA.tables
        for check in (here.get_check_constraints(name) if here.has_table(name) else [])
    }
    return [f"check differs: {name} {check}" for name, check in sorted(wanted ^ found)]


def _trigger_differences(connection: Connection) -> list[str]:
    if connection.dialect.name == "sqlite":
        found = connection.execute(
            text("SELECT name FROM sqlite_master WHERE type = 'trigger'")
        ).scalars()
        wanted = {"audit_trail_no_update", "audit_trail_no_delete"}
    else:
        found = connection.execute(
            text("SELECT tgname FROM pg_trigger WHERE NOT tgisinternal")
        ).scalars()
        wanted = {f"audit_trail_no_{word}" for word in ("update", "delete", "truncate")}
    return [f"trigger differs: {name}" for name in sorted(wanted ^ set(found))]


def remove_file(path: Path) -> None:
    """Remove a file of SQLite's and its journal, where they are there."""
    for leftover in (path, path.with_name(path.name + "-journal")):
        with suppress(FileNotFoundError):
            leftover.unlink()
