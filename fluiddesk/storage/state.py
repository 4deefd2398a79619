"""What stands at an address: nothing, our store of some version, or something else."""

import os
import sqlite3
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, inspect, text

from fluiddesk.domain.errors import NoPermissionError
from fluiddesk.storage.address import Address, parse_address
from fluiddesk.storage.engine import (
    APPLICATION_ID,
    BUSY_TIMEOUT_MS,
    connect_file,
    open_engine,
    reading,
)
from fluiddesk.storage.faults import plain_faults

SCHEMA_VERSION: Final = 4
"""The number of the newest migration; it stands in the file's header and in ``store_fact``."""

FACT_APPLICATION: Final = ("application", "fluiddesk")
FACT_SCHEMA: Final = "schema"


class StoreKind(StrEnum):
    """What stands at an address."""

    MISSING = "missing"
    EMPTY = "empty"
    CURRENT = "current"
    OLDER = "older"
    NEWER = "newer"
    FOREIGN = "foreign"


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreState:
    """What stands at an address. ``found`` is the version there, ``expected`` the program's own."""

    kind: StoreKind
    found: int | None = None
    expected: int = SCHEMA_VERSION


def store_state(address: str, *, busy_timeout_ms: int = BUSY_TIMEOUT_MS) -> StoreState:
    """Look what stands at an address, changing nothing.

    Raises:
        BusyError: when another program is just writing the file.
        UnavailableError: when the server cannot be reached.
    """
    place = parse_address(address)
    with plain_faults(place):
        if place.path is not None:
            return _state_of_file(place.path, busy_timeout_ms)
        return _state_of_server(place)


def _state_of_file(path: Path, busy_timeout_ms: int) -> StoreState:
    if not path.exists():
        return StoreState(kind=StoreKind.MISSING)
    if not path.is_file():
        return StoreState(kind=StoreKind.FOREIGN)
    # The file is looked at through SQLite alone: opening and closing it in any other way would
    # drop the locks this process may hold on it.
    if not os.access(path, os.R_OK):
        raise NoPermissionError(
            f"{path} is there, but you may not read it. Ask its owner for the permission."
        )
    if path.stat().st_size == 0:
        return StoreState(kind=StoreKind.EMPTY)
    connection = connect_file(path, mode=_looking_mode(path), busy_timeout_ms=busy_timeout_ms)
    try:
        application = connection.execute("PRAGMA application_id").fetchone()[0]
        found = connection.execute("PRAGMA user_version").fetchone()[0]
    except sqlite3.DatabaseError as fault:
        if fault.sqlite_errorcode == sqlite3.SQLITE_NOTADB:
            return StoreState(kind=StoreKind.FOREIGN)
        raise
    finally:
        connection.close()
    if application != APPLICATION_ID:
        return StoreState(kind=StoreKind.FOREIGN)
    return _compared(found)


def _looking_mode(path: Path) -> str:
    """Read only, unless a crash left a journal behind.

    SQLite then brings the file back to its last whole state first, for which it must write.
    """
    has_journal = path.with_name(f"{path.name}-journal").exists()
    return "rw" if has_journal and os.access(path, os.W_OK) else "ro"


def _state_of_server(place: Address) -> StoreState:
    engine = open_engine(place)
    try:
        with reading(engine) as connection:
            return _state_of_database(connection)
    finally:
        engine.dispose()


def _state_of_database(connection: Connection) -> StoreState:
    tables = inspect(connection).get_table_names()
    if not tables:
        return StoreState(kind=StoreKind.EMPTY)
    if "store_fact" not in tables:
        return StoreState(kind=StoreKind.FOREIGN)
    columns = {column["name"] for column in inspect(connection).get_columns("store_fact")}
    if columns != {"key", "value"}:
        return StoreState(kind=StoreKind.FOREIGN)
    found: dict[str, str] = dict(
        connection.execute(text("SELECT key, value FROM store_fact")).all()
    )
    key, value = FACT_APPLICATION
    if found.get(key) != value:
        return StoreState(kind=StoreKind.FOREIGN)
    return _compared(int(found.get(FACT_SCHEMA, "0")))


def _compared(found: int) -> StoreState:
    if found == SCHEMA_VERSION:
        return StoreState(kind=StoreKind.CURRENT, found=found)
    kind = StoreKind.NEWER if found > SCHEMA_VERSION else StoreKind.OLDER
    return StoreState(kind=kind, found=found)
