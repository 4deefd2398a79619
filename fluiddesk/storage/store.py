"""Opens a store and hands out transactions on it."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Engine

from fluiddesk.domain.errors import (
    CannotWriteError,
    NotFoundError,
    OperatorError,
    UsageError,
    WrongVersionError,
)
from fluiddesk.storage.address import Address, parse_address
from fluiddesk.storage.desk import Desk
from fluiddesk.storage.engine import BUSY_TIMEOUT_MS, open_engine, reading, writing
from fluiddesk.storage.faults import plain_faults
from fluiddesk.storage.session import NO_MOMENT, NOBODY, Session
from fluiddesk.storage.state import StoreKind, StoreState, store_state


class DeskStore:
    """An open store. Any thread may begin a transaction; each has a connection of its own."""

    def __init__(self, place: Address, engine: Engine, *, address: str, read_only: bool) -> None:
        self._place = place
        self._engine = engine
        self.address = address
        self.is_read_only = read_only

    @property
    def name(self) -> str:
        """The short name for people: the file's name, or the database and its server."""
        return self._place.path.name if self._place.path is not None else self._place.name

    @property
    def is_file(self) -> bool:
        """Whether the store is a file on this computer."""
        return self._place.is_file

    @contextmanager
    def transaction(self, *, who: str, moment: datetime) -> Iterator[Desk]:
        """A change that is kept whole, or undone whole when anything is raised inside.

        Args:
            who: the person who acts, for the audit trail.
            moment: now, with a time zone.

        Raises:
            BusyError: when another desk is writing and does not finish in time.
            UsageError: when the store was opened for reading.
        """
        if self.is_read_only:
            raise UsageError(
                f"{self.name} was opened for reading. Open it for writing to change it."
            )
        if moment.tzinfo is None:
            raise ValueError("the moment needs a time zone")
        with plain_faults(self._place), writing(self._engine) as connection:
            yield Desk(Session(connection, who, moment))

    @contextmanager
    def reading(self) -> Iterator[Desk]:
        """A view at one moment. Fetch, leave, then compute: a file's writers wait for its end."""
        with plain_faults(self._place), reading(self._engine) as connection:
            yield Desk(Session(connection, NOBODY, NO_MOMENT))

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def open_store(
    address: str, *, read_only: bool = False, busy_timeout_ms: int = BUSY_TIMEOUT_MS
) -> DeskStore:
    """Open the store at an address: a file's path, or postgresql://...

    Raises:
        NotFoundError: when nothing is there.
        OperatorError: when something else than our store is there.
        WrongVersionError: when it is of a newer or older version; both are named.
        CannotWriteError: when it is to be written but the file or its folder does not allow it.
        BusyError: when another program is just writing it.
        UnavailableError: when the server cannot be reached.
    """
    place = parse_address(address)
    state = store_state(address, busy_timeout_ms=busy_timeout_ms)
    refuse_unless_current(place, state)
    if place.path is not None and not read_only:
        _refuse_unwritable(place.path)
    engine = open_engine(place, read_only=read_only, busy_timeout_ms=busy_timeout_ms)
    return DeskStore(place, engine, address=address, read_only=read_only)


def refuse_unless_current(place: Address, state: StoreState) -> None:
    """Raise what keeps a store from being opened; pass where it can be."""
    name = place.name
    if state.kind is StoreKind.MISSING:
        raise NotFoundError(
            f"There is no database at {name}. Check the path, or make a new one with "
            "`fluiddesk database new`."
        )
    if state.kind is StoreKind.EMPTY:
        raise OperatorError(
            f"{name} is empty: it holds no database of this program. Choose another one, or make "
            "a new one with `fluiddesk database new`."
        )
    if state.kind is StoreKind.FOREIGN:
        raise OperatorError(
            f"{name} is not a database of this program. Nothing was changed. Choose another one."
        )
    if state.kind is StoreKind.NEWER:
        raise WrongVersionError(
            f"{name} was made by a newer version of the program (tables of version {state.found}; "
            f"this program knows up to {state.expected}). Install the newer version."
        )
    if state.kind is StoreKind.OLDER:
        raise WrongVersionError(
            f"{name} has tables of version {state.found}; this program needs {state.expected}. "
            "Run `fluiddesk database upgrade`: it keeps a copy of the old state."
        )


def _refuse_unwritable(path: Path) -> None:
    if not os.access(path, os.W_OK):
        raise CannotWriteError(
            f"{path} cannot be written. Change its permissions; commands that only read, and the "
            "window, open it all the same."
        )
    if not os.access(path.absolute().parent, os.W_OK):
        raise CannotWriteError(
            f"The folder of {path} cannot be written, and each change needs a journal beside the "
            "file. Move the file to a folder of yours; commands that only read, and the window, "
            "open it all the same."
        )
