"""Copies a whole store to another place: file to file, file to server and back."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Connection, Engine, Table, delete

from fluiddesk.domain.errors import CannotWriteError, OperatorError, UsageError
from fluiddesk.storage.address import Address, parse_address
from fluiddesk.storage.engine import open_engine, reading, writing
from fluiddesk.storage.faults import plain_faults
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.session import NO_MOMENT, NOBODY, Session
from fluiddesk.storage.state import StoreKind, store_state
from fluiddesk.storage.store import refuse_unless_current
from fluiddesk.storage.tables.every import METADATA
from fluiddesk.storage.upgrade import copy_file, create_store, remove_file, row_counts

_BATCH: Final = 20_000
_FACTS: Final = "store_fact"


class CopyError(OperatorError):
    """The copy differs from its source and was given up; the source is untouched."""


def copy_store(source: str, target: str, *, moment: datetime) -> dict[str, int]:
    """Copy every record to a new file or to an empty database of a server.

    Returns the number of rows of each table. The copy is whole or not there at all; row counts and
    the audit trail are compared before it is kept.

    Raises:
        NotFoundError: when there is no source.
        CannotWriteError: when the folder of the target is missing or cannot be written.
        UsageError: when something is at the target already.
        CopyError: when the copy differs.
    """
    origin, goal = parse_address(source), parse_address(target)
    refuse_unless_current(origin, store_state(source))
    state = store_state(target)
    if goal.path is not None and state.kind is not StoreKind.MISSING:
        raise UsageError(f"{goal.name} exists already. Choose another name.")
    if goal.path is not None and not goal.path.absolute().parent.is_dir():
        raise CannotWriteError(f"There is no folder {goal.path.absolute().parent}. Make it first.")
    if goal.path is None and state.kind is not StoreKind.EMPTY:
        raise UsageError(f"{goal.name} is not empty. Give the address of an empty database.")
    if goal.path is None:
        return _copy_rows(origin, goal, target, moment)
    try:
        if origin.path is not None:
            return _copy_file(origin, goal)
        return _copy_rows(origin, goal, target, moment)
    except BaseException:
        remove_file(goal.path)
        raise


def _copy_file(origin: Address, goal: Address) -> dict[str, int]:
    assert origin.path is not None  # noqa: S101  # the caller has looked
    assert goal.path is not None  # noqa: S101
    with plain_faults(goal):
        copy_file(origin.path, goal.path)
    with _opened(origin) as here, reading(here) as connection:
        wanted = row_counts(connection)
    with _opened(goal) as there, reading(there) as connection:
        _compare(connection, wanted, goal)
    return wanted


def _copy_rows(origin: Address, goal: Address, target: str, moment: datetime) -> dict[str, int]:
    create_store(target, moment=moment)
    with (
        _opened(origin) as here,
        _opened(goal) as there,
        reading(here) as old,
        plain_faults(goal),
        writing(there) as new,
    ):
        session = Session(new, NOBODY, moment)
        for table in METADATA.sorted_tables:
            names = [column.name for column in table.columns]
            if table.name == _FACTS:
                # Both are of one version: what the old store tells of itself holds for the copy.
                new.execute(delete(table))
            session.load(table.name, names, _rows(old, table))
        wanted = row_counts(old)
        _compare(new, wanted, goal)
        return wanted


def _rows(connection: Connection, table: Table) -> Iterator[tuple[Any, ...]]:
    """Every row by the driver's bare cursor, in the order of the primary key, in batches."""
    names = ", ".join(column.name for column in table.columns)
    key = ", ".join(column.name for column in table.primary_key.columns)
    statement = f"SELECT {names} FROM {table.name} ORDER BY {key}"  # noqa: S608  # our own names
    driver: Any = connection.connection.driver_connection
    is_sqlite = connection.dialect.name == "sqlite"
    # A named cursor stays on the server; without a name all rows would come at once.
    cursor = driver.cursor() if is_sqlite else driver.cursor(name=f"copy_{table.name}")
    try:
        cursor.execute(statement)
        while batch := cursor.fetchmany(_BATCH):
            yield from batch
    finally:
        cursor.close()


def _compare(connection: Connection, wanted: dict[str, int], goal: Address) -> None:
    found = row_counts(connection)
    differing = [name for name, count in wanted.items() if found.get(name) != count]
    if differing:
        raise CopyError(
            f"The copy at {goal.name} has other rows in {', '.join(differing)}. "
            "It was given up; try again while nobody writes."
        )
    broken = AuditRecords(Session(connection, NOBODY, NO_MOMENT)).verify()
    if broken:
        raise CopyError(f"The audit trail does not hold in the copy: {broken[0]}. It was given up.")


@contextmanager
def _opened(place: Address) -> Iterator[Engine]:
    engine = open_engine(place)
    try:
        yield engine
    finally:
        engine.dispose()
