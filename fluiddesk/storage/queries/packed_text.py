"""Columns of a whole table as long texts of some ten thousand rows: SQLite's way to many numbers.

A row at a time makes an object for each key, day and figure of a million samples. Glued together by
the database they are turned into numbers at once.
"""

from collections.abc import Iterator, Mapping
from enum import Enum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.storage.session import Session

_ROWS: Final = 50_000
"""Rows glued together at a time; their texts stay below some megabytes."""
_UNIX_DAY: Final = 719_163
"""Ordinal of 1 January 1970."""
_BETWEEN: Final = "\x1f"


class TextKind(Enum):
    """How a column is glued together."""

    KEY = "group_concat(hex({0}), '')"
    DAY = "group_concat({0}, '')"
    NUMBER = "group_concat(coalesce({0}, 'nan'), ',')"
    DIGIT = "group_concat(({0}), '')"
    """A digit from 0 to 9, never empty."""
    NAME = "group_concat(replace({0}, char(31), ' '), char(31))"


class KeyPlaces:
    """Places of keys of 16 bytes, found for a whole column at once."""

    def __init__(self, keys: Mapping[bytes, int]) -> None:
        told = np.frombuffer(b"".join(keys), dtype=">u8").reshape(-1, 2)
        self._order = np.argsort(told[:, 1], kind="stable")
        self._keys = told[self._order].astype(np.uint64)
        self._places = np.fromiter(keys.values(), np.int64, len(keys))[self._order]
        low = self._keys[:, 1]
        self.is_sure = bool(len(low)) and bool((low[1:] != low[:-1]).all())
        """Whether the lower half alone tells the keys apart, as with random ones it does."""

    def of(self, keys: NDArray[np.uint64]) -> NDArray[np.int64]:
        """The place of each key, -1 for a stranger; shape (n, 2) to (n,)."""
        at = np.minimum(np.searchsorted(self._keys[:, 1], keys[:, 1]), len(self._keys) - 1)
        found: NDArray[np.int64] = np.where(
            (self._keys[at] == keys).all(axis=1), self._places[at], -1
        )
        return found


def text_parts(
    session: Session, table: str, where: str, columns: tuple[tuple[TextKind, str], ...]
) -> Iterator[list[Any]]:
    """The columns of a table's rows, a part at a time; names as texts, zeros where all are empty.

    Args:
        session: an SQLite one.
        table: which has row numbers.
        where: which rows count.
        columns: how each is glued, and its expression.
    """
    glued = ", ".join(kind.value.format(expression) for kind, expression in columns)
    [(top,)] = session.rows(f"SELECT coalesce(max(rowid), 0) FROM {table}")  # noqa: S608  # ours
    statement = f"SELECT count(*), {glued} FROM {table} WHERE {where}"  # noqa: S608  # ours
    for begin in range(1, int(top) + 1, _ROWS):
        span = f" AND rowid BETWEEN {begin} AND {begin + _ROWS - 1}"
        [(count, *texts)] = session.rows(statement + span)
        if count:
            yield [_read(kind, text, count) for (kind, _), text in zip(columns, texts, strict=True)]


def _read(kind: TextKind, text: str, count: int) -> Any:
    if kind is TextKind.KEY:
        return np.frombuffer(bytes.fromhex(text), dtype=">u8").reshape(-1, 2).astype(np.uint64)
    if kind is TextKind.DAY:
        days = np.frombuffer(text.encode(), dtype="S10").astype("datetime64[D]")
        return days.astype(np.int64) + _UNIX_DAY
    if kind is TextKind.NUMBER:
        return np.fromstring(text, dtype=np.float64, sep=",")
    if kind is TextKind.DIGIT:
        return (np.frombuffer(text.encode(), dtype=np.uint8) - ord("0")).astype(np.int64)
    # Where nobody is named there is nothing to take apart.
    return np.zeros(count, dtype=np.int64) if len(text) == count - 1 else text.split(_BETWEEN)
