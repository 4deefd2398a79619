"""Every record a person sets up: added and changed one at a time, with its own list of changes."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from typing import Any, Final

from sqlalchemy import Column, Date, LargeBinary, Table, and_, func, insert, select

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import SiteId
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.judgement import AuditTrailRow, RecordChangeRow

_STAMPS: Final = ("created_at", "created_by", "version", "changed_at", "changed_by")

_INTERVAL: Final = {"interval_hours", "interval_days"}
_CHANGE: Final = (
    "site_id", "id", "compartment_id", "valid_from", "old_hours", "old_days", "new_hours",
    "new_days", "why", "approved_by",
)  # fmt: skip

_NOT_LISTED: Final = ("created_at", "created_by", "changed_at", "changed_by")


class RecordKind(StrEnum):
    """A kind of record; the value is its table."""

    SITE = "site"
    MACHINE = "machine"
    STATE = "machine_state_history"
    METER = "meter"
    METER_READING = "meter_reading"
    COMPARTMENT = "compartment"
    FIT = "component_fit"
    POINT = "sampling_point"
    EVENT = "compartment_event"
    FLUID = "fluid"
    REFERENCE = "fluid_reference"
    BATCH = "fluid_batch"
    TANK = "fluid_tank"
    LABORATORY = "laboratory"
    TEST_LIST = "test_list"
    USER = "desk_user"
    TRANSFER = "machine_transfer"
    CREW = "crew"
    SERVICE_DATE = "service_date"
    VISIT = "visit"
    VISIT_BOX = "visit_box"
    SPECIAL_INTERVAL = "special_interval"
    DUE_NOTE = "due_note"
    TAKING = "sample_taking"
    TAKING_DRAFT = "taking_draft"
    INTERVAL_CHANGE = "interval_change"
    CUSTODY_STEP = "custody_step"
    SHIPMENT = "shipment"
    FLUID_SAMPLE = "fluid_sample"


@dataclass(frozen=True, slots=True)
class RecordKey:
    """Which record: its kind, its site (``NO_SITE`` for a shared catalogue) and its key there."""

    kind: RecordKind
    site: SiteId
    key: bytes | str | int

    @property
    def text(self) -> str:
        """The key as the list of changes spells it."""
        return self.key.hex() if isinstance(self.key, bytes) else str(self.key)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeRecord:
    """One change of one record. ``undoes``: the place of the change it takes back."""

    site: SiteId
    place: int
    at: datetime
    who: str
    what: str
    old: Mapping[str, Any] | None
    new: Mapping[str, Any] | None
    undoes: int | None


class RegisterRecords:
    """Reads, adds and changes records; each change stands in the audit trail."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def all(self, kind: RecordKind, **where: Any) -> list[Mapping[str, Any]]:
        """Every row of a kind, by primary key, or those with the given values in some columns.

        Who made and changed a row, and when, is left out: ``row`` tells it of a single one.
        """
        table = _table(kind)
        columns = [one for one in table.columns if one.name not in _NOT_LISTED]
        wanted = select(*columns).where(*(table.c[name] == value for name, value in where.items()))
        if where and "site_id" in table.c and "site_id" not in where:
            wanted = wanted.where(self._session.any_site(table.c.site_id))
        ordered = wanted.order_by(*table.primary_key.columns)
        names = [one.name for one in columns]
        # Whole fleets come through here: plain rows are made twice as fast as mappings.
        rows = self._session.connection.execute(ordered).all()
        return [dict(zip(names, found, strict=True)) for found in rows]

    def last_readings(self) -> dict[bytes, Mapping[str, Any]]:
        """The newest meter reading of each machine that is not voided."""
        table = _table(RecordKind.METER_READING)
        newest = func.max(table.c.read_on).over(partition_by=(table.c.site_id, table.c.machine_id))
        marked = select(table, newest.label("newest_on")).where(table.c.voided_reason.is_(None))
        inner = marked.subquery()
        wanted = select(inner).where(inner.c.read_on == inner.c.newest_on).order_by(inner.c.id)
        found = self._session.connection.execute(wanted).mappings()
        return {row["machine_id"]: dict(row) for row in found}

    def links(self, table: str) -> list[tuple[Any, ...]]:
        """Every row of a table that hangs on a test list, by primary key."""
        known = _named(table)
        wanted = select(known).order_by(*known.primary_key.columns)
        return [tuple(found) for found in self._session.connection.execute(wanted)]

    def row(self, key: RecordKey, *, name: str = "") -> dict[str, Any]:
        """One record by the names of its columns.

        Raises:
            NotFoundError: when there is none; ``name`` is what the message calls it.
        """
        table = _table(key.kind)
        found = self._session.connection.execute(select(table).where(_is(table, key))).mappings()
        one = found.first()
        if one is None:
            raise NotFoundError(f"{name or key.kind.value} {key.text} is not in this store.")
        return dict(one)

    def add(self, key: RecordKey, values: Mapping[str, Any], *, name: str) -> None:
        """Add a record.

        Args:
            key: its key, which stands in ``values`` no more.
            values: the other columns.
            name: what the audit trail calls it: "machine EX-01".
        """
        table = _table(key.kind)
        row = {**_key_columns(table, key), **values, **self._session.stamps()}
        known = {column: value for column, value in row.items() if column in table.c}
        self._session.connection.execute(insert(table).values(**known))
        self._note(key, name, None, _told(values))

    def change(
        self,
        key: RecordKey,
        values: Mapping[str, Any],
        *,
        version: int | None,
        name: str,
        undoes: int | None = None,
        on: date | None = None,
    ) -> tuple[str, ...]:
        """Change what differs of a record; returns the columns that did.

        Another sampling interval of a compartment is noted with the day from which it holds, so
        that the past is judged by what held then.

        Args:
            key: its key.
            values: what is to stand in its columns.
            version: the version that was read; ``None`` writes over whatever stands there.
            name: what the audit trail calls it.
            undoes: the place of the change that this one takes back.
            on: the day at the desk; that of the transaction where it is left out.

        Raises:
            StaleEditError: when somebody else has changed it since.
            NotFoundError: when there is no such record.
        """
        table = _table(key.kind)
        before = self.row(key, name=name)
        differing = {one: value for one, value in values.items() if before[one] != value}
        if not differing:
            return ()
        if "version" in table.c:
            columns = _key_columns(table, key)
            self._session.edit(table, columns, differing, version=version, name=name)
        else:
            statement = table.update().where(_is(table, key)).values(**differing)
            self._session.connection.execute(statement)
        old = {one: before[one] for one in differing}
        self._note(key, name, _told(old), _told(differing), undoes)
        if key.kind is RecordKind.COMPARTMENT and not _INTERVAL.isdisjoint(differing):
            why = "" if undoes is None else "a change was taken back"
            self._note_interval(key, before, differing, on=on, why=why)
        return tuple(differing)

    def _note_interval(
        self,
        key: RecordKey,
        before: Mapping[str, Any],
        new: Mapping[str, Any],
        *,
        on: date | None,
        why: str,
    ) -> None:
        after = {**before, **new}
        hours = [None if one is None else float(one)
                 for one in (before["interval_hours"], after["interval_hours"])]  # fmt: skip
        row = (
            int(key.site), self._session.new_id(), key.key, on or self._session.moment.date(),
            hours[0], before["interval_days"], hours[1], after["interval_days"], why,
            self._session.who,
        )  # fmt: skip
        self._session.load(RecordKind.INTERVAL_CHANGE.value, _CHANGE, [row])

    def note(self, key: RecordKey, name: str, old: Any, new: Any) -> None:
        """Add a change to the trail that was written to rows beside the record's own."""
        self._note(key, name, old, new)

    def replace_links(
        self, table: str, owner: str, code: str, rows: Iterable[Mapping[str, Any]]
    ) -> None:
        """Write the rows that hang on a test list in place of those that did."""
        known = _named(table)
        self._session.connection.execute(known.delete().where(known.c[owner] == code))
        made = list(rows)
        if made:
            self._session.connection.execute(insert(known), made)

    def changes(self, key: RecordKey, *, count: int = 100) -> list[ChangeRecord]:
        """The newest changes of a record, newest first."""
        link, trail = RecordChangeRow, AuditTrailRow
        same = and_(link.site_id == trail.site_id, link.place == trail.place)
        wanted = (
            select(trail.site_id, trail.place, trail.at, trail.who, trail.what, trail.old,
                   trail.new, link.undoes)
            .join(link, same)
            .where(
                link.site_id == key.site,
                link.record_kind == key.kind.value,
                link.record_key == key.text,
            )
            .order_by(trail.place.desc())
            .limit(count)
        )  # fmt: skip
        return [
            ChangeRecord(
                site=SiteId(one.site_id),
                place=one.place,
                at=one.at,
                who=one.who,
                what=one.what,
                old=None if one.old is None else json.loads(one.old),
                new=None if one.new is None else json.loads(one.new),
                undoes=one.undoes,
            )
            for one in self._session.connection.execute(wanted)
        ]

    def as_stored(self, kind: RecordKind, told: Mapping[str, Any]) -> dict[str, Any]:
        """Values of the list of changes as the columns hold them."""
        table = _table(kind)
        return {name: _stored(table.c[name], value) for name, value in told.items()}

    def _note(
        self, key: RecordKey, name: str, old: Any, new: Any, undoes: int | None = None
    ) -> None:
        place = self._audit.append(key.site, name, old, new)
        row = (int(key.site), place, key.kind.value, key.text, undoes)
        columns = ("site_id", "place", "record_kind", "record_key", "undoes")
        self._session.load("record_change", columns, [row])


def _table(kind: RecordKind) -> Table:
    return _named(kind.value)


def _named(table: str) -> Table:
    # Imported here: kinds of records are named at every start, most tables are not needed then.
    from fluiddesk.storage.tables.every import METADATA

    return METADATA.tables[table]


def _key_columns(table: Table, key: RecordKey) -> dict[str, Any]:
    names = [column.name for column in table.primary_key.columns]
    if names == ["site_id"]:
        return {"site_id": key.site}
    if names[0] == "site_id":
        return {"site_id": key.site, names[1]: key.key}
    return {names[0]: key.key}


def _is(table: Table, key: RecordKey) -> Any:
    return and_(*(table.c[name] == value for name, value in _key_columns(table, key).items()))


def _told(values: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _plain(value) for name, value in values.items() if name not in _STAMPS}


def _plain(value: Any) -> Any:
    if isinstance(value, bytes):
        return value.hex()
    return value.isoformat() if isinstance(value, date) else value


def _stored(column: Column[Any], value: Any) -> Any:
    if value is None:
        return None
    if isinstance(column.type, LargeBinary):
        return bytes.fromhex(value)
    return date.fromisoformat(value) if isinstance(column.type, Date) else value
