"""Opens connections the one way that keeps every change whole.

The driver's own habits are switched off (``isolation_level=None``): left alone it commits before
some statements by itself, and a failed migration would leave half its tables behind.
SQLite keeps a rollback journal; its other mode had a corruption fault up to version 3.51.2, and
cannot work on network drives. ``synchronous=EXTRA``: a power cut loses no acknowledged save.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, QueuePool, create_engine, event

from fluiddesk.domain.errors import UnavailableError
from fluiddesk.storage.address import Address
from fluiddesk.storage.tables.base import moment_text

BUSY_TIMEOUT_MS: Final = 5000
CACHE_KB: Final = 64 * 1024
"""Room for the pages of a long import, which would else be written out again and again."""
OLDEST_SQLITE: Final = (3, 37, 0)
APPLICATION_ID: Final = 0x464C4453
"""Stands in the file's header, so that no other program's database is taken for ours."""

# Raw bulk statements bypass SQLAlchemy's types; these say how a day and a moment are written.
sqlite3.register_adapter(date, date.isoformat)
sqlite3.register_adapter(datetime, moment_text)


def open_engine(
    address: Address,
    *,
    read_only: bool = False,
    busy_timeout_ms: int = BUSY_TIMEOUT_MS,
    foreign_keys: bool = True,
) -> Engine:
    """An engine whose every transaction is begun by us; nothing is connected yet."""
    if address.path is not None:
        return _file_engine(
            address.path,
            mode="ro" if read_only else "rw",
            busy_timeout_ms=busy_timeout_ms,
            foreign_keys=foreign_keys,
        )
    assert address.url is not None  # noqa: S101  # an address has one or the other
    try:
        return create_engine(
            address.url,
            pool_pre_ping=True,
            hide_parameters=True,
            connect_args={"connect_timeout": 5, "application_name": "fluiddesk"},
        )
    except ModuleNotFoundError:
        raise UnavailableError(
            "The driver for PostgreSQL is not installed on this computer. Install psycopg."
        ) from None


def connect_file(path: Path, *, mode: str, busy_timeout_ms: int = BUSY_TIMEOUT_MS) -> Any:
    """A bare connection to a file; ``mode`` is "ro", "rw" or "rwc" (make it if missing)."""
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise UnavailableError(
            f"This Python brings SQLite {sqlite3.sqlite_version}; 3.37 or newer is needed."
        )
    return sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=busy_timeout_ms / 1000,
        isolation_level=None,
        check_same_thread=False,
        cached_statements=256,
    )


def _file_engine(path: Path, *, mode: str, busy_timeout_ms: int, foreign_keys: bool) -> Engine:
    def connect() -> Any:
        connection = connect_file(path, mode=mode, busy_timeout_ms=busy_timeout_ms)
        try:
            connection.execute(f"PRAGMA foreign_keys = {'ON' if foreign_keys else 'OFF'}")
            connection.execute("PRAGMA synchronous = EXTRA")
            connection.execute(f"PRAGMA cache_size = -{CACHE_KB}")
            if mode != "ro":
                connection.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.Error:
            connection.close()
            raise
        return connection

    engine = create_engine(
        "sqlite+pysqlite://", creator=connect, poolclass=QueuePool, hide_parameters=True
    )
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: Connection) -> None:
    # A writer takes the lock at once: two that read first and write later would block each other.
    is_reading = connection.get_execution_options().get("is_reading", False)
    connection.exec_driver_sql(f"PRAGMA query_only = {'ON' if is_reading else 'OFF'}")
    connection.exec_driver_sql("BEGIN" if is_reading else "BEGIN IMMEDIATE")


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """A transaction that is kept whole or undone whole."""
    with engine.begin() as connection:
        yield connection


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A view of the store at one moment, in which nothing can be changed."""
    options: dict[str, Any] = {"is_reading": True}
    if engine.dialect.name == "postgresql":
        options |= {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
    with engine.connect().execution_options(**options) as connection, connection.begin():
        yield connection
