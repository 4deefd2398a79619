"""One transaction: the connection, who acts, when, and the few ways rows are written."""

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import islice
from typing import Any, Final

from sqlalchemy import Connection, Table, func, select, update
from sqlalchemy.sql import ColumnElement

from fluiddesk.domain.errors import NotFoundError, StaleEditError
from fluiddesk.domain.identity import SiteId, new_row_id, new_row_ids
from fluiddesk.storage.tables.catalogue import AnalyteRow
from fluiddesk.storage.tables.fleet import CompartmentRow, SiteRow

_BATCH: Final = 50_000
_MANY: Final = 1_000
_PART: Final = 5_000
"""Rows handed on at a time."""
_STAMPS: Final = ("created_at", "created_by")
NOBODY: Final = ""
NO_MOMENT: Final = datetime(1970, 1, 1, tzinfo=UTC)
"""Who acts, and when, where nothing is changed."""


def canonical_json(value: Any) -> str:
    """The one spelling of a value, so that equal values have equal text.

    >>> canonical_json({"b": 1, "a": "é"})
    '{"a":"é","b":1}'
    """
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False)


@dataclass(slots=True)
class Session:
    """What every record object of one transaction shares."""

    connection: Connection
    who: str
    moment: datetime
    _analytes: dict[str, int] = field(default_factory=dict)
    _site_of: dict[bytes, SiteId] = field(default_factory=dict)

    @property
    def is_sqlite(self) -> bool:
        """Whether the store is a file of SQLite's."""
        return self.connection.dialect.name == "sqlite"

    def new_id(self) -> bytes:
        """A new row's identifier, made at this transaction's moment."""
        return new_row_id(milliseconds=int(self.moment.timestamp() * 1000))

    def new_ids(self, count: int) -> list[bytes]:
        """Identifiers of many new rows, rising."""
        return new_row_ids(count, milliseconds=int(self.moment.timestamp() * 1000))

    def stamps(self) -> dict[str, Any]:
        """Who made the row, and when."""
        return {"created_at": self.moment, "created_by": self.who}

    def rows(self, statement: Any, parameters: Sequence[Any] = ()) -> list[tuple[Any, ...]]:
        """Every row of one statement, by the driver's bare cursor: the fastest way to many rows.

        All are fetched before the answer: an open cursor would keep writers out.
        """
        cursor = self.connection.connection.cursor()
        try:
            cursor.execute(statement, parameters)
            return cursor.fetchall()  # type: ignore[return-value]  # a tuple, by both drivers
        finally:
            cursor.close()

    def parts(
        self, statement: Any, parameters: Sequence[Any] = (), *, size: int = _PART
    ) -> Iterator[list[tuple[Any, ...]]]:
        """The rows of one statement, some thousand at a time, for turning them into columns.

        Half a million rows at once would keep the interpreter busy looking after them. Take all
        of them before anything is written.
        """
        cursor = self.connection.connection.cursor()
        try:
            cursor.execute(statement, parameters)
            while part := cursor.fetchmany(size):
                yield part  # type: ignore[misc]  # tuples, by both drivers
        finally:
            cursor.close()

    def analyte_numbers(self) -> dict[str, int]:
        """The number of each analyte's code."""
        if not self._analytes:
            pairs = self.connection.execute(select(AnalyteRow.code, AnalyteRow.number))
            self._analytes.update(pairs.all())
        return self._analytes

    def forget_analytes(self) -> None:
        """Read the analytes again when they are next asked for."""
        self._analytes.clear()

    def any_site(self, column: Any) -> ColumnElement[bool]:
        """True for every row: an index that starts with the site is used without naming one."""
        return column.in_(select(SiteRow.site_id))  # type: ignore[no-any-return]

    def site_of(self, compartment: bytes) -> SiteId:
        """The site that owns a compartment.

        Raises:
            NotFoundError: when there is no such compartment.
        """
        if compartment not in self._site_of:
            pairs: Iterable[tuple[Any, ...]]
            if self._site_of:
                pairs = self.rows("SELECT id, site_id FROM compartment")
            else:
                one = select(CompartmentRow.id, CompartmentRow.site_id).where(
                    self.any_site(CompartmentRow.site_id), CompartmentRow.id == compartment
                )
                pairs = map(tuple, self.connection.execute(one))
            self._site_of.update((key, SiteId(site)) for key, site in pairs)
        if compartment not in self._site_of:
            raise NotFoundError(f"There is no compartment {compartment.hex()} in this store.")
        return self._site_of[compartment]

    def load(self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> int:
        """Write many new rows; see ``Desk.load``."""
        target = self._known_table(table, columns)
        missing = [name for name in _STAMPS if name in target.columns and name not in columns]
        if missing:
            stamps = tuple(self.stamps()[name] for name in missing)
            columns = [*columns, *missing]
            rows = (row + stamps for row in rows)
        if self.is_sqlite:
            return self._load_sqlite(table, columns, rows)
        return self._load_postgres(table, columns, rows)

    def put(self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]) -> None:
        """Write rows of a derived table; a row with the same primary key is replaced."""
        target = self._known_table(table, columns)
        key = [column.name for column in target.primary_key.columns]
        changed = ", ".join(f"{name} = excluded.{name}" for name in columns if name not in key)
        conflict = f"ON CONFLICT ({', '.join(key)}) DO UPDATE SET {changed}"
        self.run_many(f"{self._insert(table, columns)} {conflict}", list(rows))

    def run_many(self, statement: str, rows: Sequence[tuple[Any, ...]]) -> None:
        """Run one statement of the driver's own spelling for each row."""
        cursor = self.connection.connection.cursor()
        try:
            cursor.executemany(statement, rows)
        finally:
            cursor.close()

    def edit(
        self,
        table: Table,
        key: Mapping[str, Any],
        values: Mapping[str, Any],
        *,
        version: int | None,
        name: str,
    ) -> None:
        """Change one row, unless somebody else has changed it since it was read.

        Args:
            table: an editable table.
            key: the columns of its primary key.
            values: what is to stand in the row.
            version: the version that was read; ``None`` writes over whatever stands there.
            name: what the message calls the record.

        Raises:
            StaleEditError: naming the record, who changed it and when.
            NotFoundError: when there is no such row.
        """
        here = [table.c[column] == value for column, value in key.items()]
        guarded = here if version is None else [*here, table.c.version == version]
        stamps = {"changed_at": self.moment, "changed_by": self.who}
        statement = (
            update(table).where(*guarded).values(**values, **stamps, version=table.c.version + 1)
        )
        if self.connection.execute(statement).rowcount == 1:
            return
        found = self.connection.execute(
            select(
                table.c.version,
                # A row that was only ever added was "changed" by whoever added it.
                func.coalesce(table.c.changed_by, table.c.created_by).label("changed_by"),
                func.coalesce(table.c.changed_at, table.c.created_at).label("changed_at"),
            ).where(*here)
        ).first()
        if found is None:
            raise NotFoundError(f"{name} is not in this store.")
        raise StaleEditError(
            f"{name} was changed by {found.changed_by} at {found.changed_at:%Y-%m-%d %H:%M} UTC "
            f"(version {found.version}, you had {version}). "
            "Look at it again and repeat your change."
        )

    def _known_table(self, name: str, columns: Sequence[str]) -> Table:
        from fluiddesk.storage.tables.every import METADATA

        table = METADATA.tables.get(name)
        if table is None:
            raise ValueError(f"there is no table {name!r}")
        unknown = [column for column in columns if column not in table.columns]
        if unknown:
            raise ValueError(f"table {name!r} has no columns {unknown}")
        return table

    def _insert(self, table: str, columns: Sequence[str]) -> str:
        places = ", ".join(["?" if self.is_sqlite else "%s"] * len(columns))
        # The names come from our own tables, never from outside.
        return f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({places})"  # noqa: S608

    def _load_sqlite(
        self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]
    ) -> int:
        cursor: Any = self.connection.connection.cursor()
        try:
            cursor.executemany(self._insert(table, columns), rows)
            return max(0, int(cursor.rowcount))
        finally:
            cursor.close()

    def _load_postgres(
        self, table: str, columns: Sequence[str], rows: Iterable[tuple[Any, ...]]
    ) -> int:
        source = iter(rows)
        count = 0
        driver: Any = self.connection.connection.driver_connection
        statement = f"COPY {table} ({', '.join(columns)}) FROM STDIN"
        with driver.cursor() as cursor:
            # In batches: one COPY of everything would check its foreign keys only at its end.
            while batch := list(islice(source, _BATCH)):
                with cursor.copy(statement) as copy:
                    for row in batch:
                        copy.write_row(row)
                count += len(batch)
        if count >= _MANY:
            # The server plans by figures it gathers later by itself; a use case goes on now.
            self.connection.exec_driver_sql(f"ANALYZE {table}")
        return count
