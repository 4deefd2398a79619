"""Turns what a driver raises into a sentence with a remedy, where the person can mend it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError

from fluiddesk.domain.errors import (
    BusyError,
    CannotWriteError,
    OperatorError,
    UnavailableError,
)
from fluiddesk.storage.address import Address

_DISK_FULL_CODES = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR}
_DAMAGE_CODES = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB}
_PRIMARY_CODE = 0xFF
_BUSY_STATES = {"55P03", "40P01", "40001"}
_GONE_STATES = {"57P01", "57P02", "57P03", "53300", "28P01", "28000", "3D000"}


@contextmanager
def plain_faults(address: Address) -> Iterator[None]:
    """Raise an ``OperatorError`` for a driver's fault that a person can mend; let others pass."""
    try:
        yield
    except (DBAPIError, sqlite3.Error) as fault:
        meant = operator_error(fault, address)
        if meant is None:
            raise
        raise meant from (None if address.url is not None else fault)
    except Exception as fault:
        if not type(fault).__module__.startswith("psycopg"):
            raise
        meant = operator_error(fault, address)
        if meant is None:
            raise
        raise meant from None


def operator_error(fault: Exception, address: Address) -> OperatorError | None:
    """What a driver's fault means for the person at the desk; ``None`` where it is our fault."""
    cause = fault.orig if isinstance(fault, DBAPIError) else fault
    if isinstance(cause, sqlite3.Error):
        return _of_sqlite(cause, address)
    if type(cause).__module__.startswith("psycopg"):
        return _of_postgres(cause, address)
    return None


def _of_sqlite(cause: sqlite3.Error, address: Address) -> OperatorError | None:
    code = getattr(cause, "sqlite_errorcode", 0) & _PRIMARY_CODE
    name = address.name
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BusyError(f"{name} is being used by another program. Wait a moment and try again.")
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_CANTOPEN):
        return CannotWriteError(
            f"{name} cannot be written. Check the permissions of the file and of its folder."
        )
    if code in _DISK_FULL_CODES:
        return CannotWriteError(
            f"{name} could not be written: {cause}. Nothing was changed. "
            "Free some space on the disk and try again."
        )
    if code in _DAMAGE_CODES:
        return OperatorError(f"{name} is damaged ({cause}). Restore the newest backup.")
    return None


def _of_postgres(cause: BaseException | None, address: Address) -> OperatorError | None:
    state: str | None = getattr(cause, "sqlstate", None)
    text = address.without_secrets(str(cause)).strip().partition("\n")[0]
    if state in _BUSY_STATES:
        return BusyError(f"{address.name} is being used by another desk. Try again.")
    is_connection = type(cause).__name__ in ("OperationalError", "ConnectionTimeout")
    if state in _GONE_STATES or (state or "").startswith("08") or (is_connection and not state):
        return UnavailableError(
            f"{address.name} cannot be reached: {text}. "
            "Check that the server runs, the address, the name and the password."
        )
    if state in ("42501", "25006"):
        return OperatorError(
            f"{address.name} does not allow this: {text}. Ask the database's administrator."
        )
    return None
