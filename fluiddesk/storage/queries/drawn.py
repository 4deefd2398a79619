"""Samples drawn and meters read, of the whole fleet or of some boxes, as columns of numbers."""

from collections.abc import Callable, Collection, Hashable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.storage.queries.boxes import FEW
from fluiddesk.storage.queries.packed_text import KeyPlaces, TextKind, text_parts
from fluiddesk.storage.session import Session

_PART: Final = 20_000
"""Rows turned into numbers at a time: they stay small beside the columns."""

_FLAGS: Final = (
    "CASE WHEN reason = 'routine' AND origin = 'plan' THEN 1 ELSE 0 END "
    "+ CASE WHEN state = 'lost' OR trust = 2 THEN 2 ELSE 0 END"
)
_WAS_DRAWN: Final = "taken_on IS NOT NULL AND state NOT IN ('void', 'not_taken')"
_SAMPLE: Final = (
    (TextKind.KEY, "compartment_id"),
    (TextKind.DAY, "taken_on"),
    (TextKind.NUMBER, "true_hours"),
    (TextKind.DIGIT, _FLAGS),
    (TextKind.NAME, "taken_by"),
)
_IS_READ: Final = "voided_reason IS NULL"
_READING: Final = (
    (TextKind.KEY, "machine_id"),
    (TextKind.DAY, "read_on"),
    (TextKind.NUMBER, "true_hours"),
)
_ROUTINE, _UNUSABLE = 1, 2


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnColumns:
    """Samples that were drawn, of the boxes asked for, in no order; columns of shape (s,).

    Attributes:
        box: place of the box among those asked for.
        day: day ordinal.
        hours: true hours, NaN where not known.
        is_routine: whether it is a routine sample of the plan, which alone counts in compliance.
        is_usable: whether it led to a verdict, or still may.
        sampler: index into ``samplers``.
        samplers: names; the first is empty.
    """

    box: NDArray[np.int64]
    day: NDArray[np.int64]
    hours: NDArray[np.float64]
    is_routine: NDArray[np.bool_]
    is_usable: NDArray[np.bool_]
    sampler: NDArray[np.int64]
    samplers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingColumns:
    """Meter readings of the machines asked for, in no order; columns of shape (r,).

    Attributes:
        machine: place of the machine among those asked for.
        day: day ordinal.
        hours: true hours.
    """

    machine: NDArray[np.int64]
    day: NDArray[np.int64]
    hours: NDArray[np.float64]


def drawn_samples(session: Session, boxes: Mapping[bytes, int]) -> DrawnColumns:
    """Every sample that was drawn of some boxes, by the place each is to have."""
    names = _Numbers(lambda _, made: made)
    names.of([""])
    box, day, hours, flags, sampler = _columns(
        session, "sample", _WAS_DRAWN, _SAMPLE, keys=boxes, names=names
    )
    return DrawnColumns(
        box=box,
        day=day,
        hours=hours,
        is_routine=(flags & _ROUTINE) > 0,
        is_usable=(flags & _UNUSABLE) == 0,
        sampler=sampler,
        samplers=tuple(str(name) for name in names.known),
    )


def meter_hours(session: Session, machines: Mapping[bytes, int]) -> ReadingColumns:
    """True hours at every meter reading of some machines, by the place each is to have."""
    machine, day, hours = _columns(
        session, "meter_reading", _IS_READ, _READING, keys=machines, names=None
    )
    return ReadingColumns(machine=machine, day=day, hours=hours)


class _Numbers:
    """Numbers of values that occur again and again; each is worked out once."""

    def __init__(self, number: Callable[[Any, int], int]) -> None:
        self.known: dict[Hashable, int] = {}
        self._number = number

    def of(self, values: Collection[Any]) -> NDArray[np.int64]:
        """The number of each value."""
        for value in set(values).difference(self.known):
            self.known[value] = self._number(value, len(self.known))
        return np.fromiter(map(self.known.__getitem__, values), np.int64, len(values))


_Columns = tuple[tuple[TextKind, str], ...]


def _columns(
    session: Session,
    table: str,
    where: str,
    columns: _Columns,
    *,
    keys: Mapping[bytes, int],
    names: _Numbers | None,
) -> list[NDArray[Any]]:
    """The columns of the rows whose first column is among the keys."""
    found: list[list[NDArray[Any]]] = [[np.empty(0, _TYPES[kind])] for kind, _ in columns]
    for part in _parts(session, table, where, columns, keys=keys):
        told = [names.of(one) if isinstance(one, list) and names else one for one in part]
        wanted = told[0] >= 0
        for place, column in enumerate(told):
            found[place].append(column if wanted.all() else column[wanted])
    return [np.concatenate(column) for column in found]


_TYPES: Final[Mapping[TextKind, type[Any]]] = {
    TextKind.KEY: np.int64,
    TextKind.DAY: np.int64,
    TextKind.NUMBER: np.float64,
    TextKind.DIGIT: np.int64,
    TextKind.NAME: np.int64,
}


def _parts(
    session: Session, table: str, where: str, columns: _Columns, *, keys: Mapping[bytes, int]
) -> Iterator[list[Any]]:
    """The columns, a part at a time; of few keys by the index, else of the whole table."""
    if not keys:
        return
    if len(keys) > FEW and session.is_sqlite:
        places = KeyPlaces(keys)
        if places.is_sure:
            for first, *others in text_parts(session, table, where, columns):
                yield [places.of(first), *others]
            return
    days = _Numbers(
        lambda day, _: (date.fromisoformat(day) if isinstance(day, str) else day).toordinal()
    )
    statement = f"SELECT {', '.join(one for _, one in columns)} FROM {table} WHERE {where}"  # noqa: S608  # ours
    if len(keys) <= FEW:
        told = ", ".join(
            f"X'{key.hex()}'" if session.is_sqlite else f"'\\x{key.hex()}'::bytea" for key in keys
        )
        mine = "AND site_id IN (SELECT site_id FROM site)"
        statement = f"{statement} {mine} AND {columns[0][1]} IN ({told})"
    for part in session.parts(statement, size=_PART):
        yield [
            _read(kind, column, keys, days)
            for (kind, _), column in zip(columns, zip(*part, strict=True), strict=True)
        ]


def _read(
    kind: TextKind, column: Collection[Any], keys: Mapping[bytes, int], days: _Numbers
) -> Any:
    if kind is TextKind.KEY:
        return np.fromiter((keys.get(key, -1) for key in column), np.int64, len(column))
    if kind is TextKind.DAY:
        return days.of(column)
    # numpy reads None as "not a number" here.
    return list(column) if kind is TextKind.NAME else np.array(column, dtype=_TYPES[kind])
