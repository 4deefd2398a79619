"""Column types, names of constraints and the rules that hold for every table."""

from collections.abc import Sequence
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Annotated, Any, Final

from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Dialect,
    Double,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    text,
)
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column
from sqlalchemy.types import TypeEngine
from typing_extensions import override

KEY_BYTES: Final = 16

NAMES: Final = {
    "pk": "pk_%(table_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
}
"""Every constraint has a name, since a later migration can only drop what has one."""


@lru_cache(maxsize=64)
def moment_text(moment: datetime) -> str:
    """A moment as SQLite keeps it: UTC, always with microseconds, so that text sorts by time.

    >>> moment_text(datetime(2026, 3, 1, 12, tzinfo=UTC))
    '2026-03-01T12:00:00.000000+00:00'
    """
    return moment.astimezone(UTC).isoformat(timespec="microseconds")


class Moment(TypeDecorator[datetime]):
    """A moment in UTC: ISO 8601 text on SQLite, a timestamp with time zone on PostgreSQL."""

    impl = DateTime
    cache_ok = True

    @override
    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        if dialect.name == "sqlite":
            return dialect.type_descriptor(Text())
        return dialect.type_descriptor(DateTime(timezone=True))

    @override
    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        if value is None or dialect.name != "sqlite":
            return value
        return moment_text(value)

    @override
    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        moment = datetime.fromisoformat(value) if isinstance(value, str) else value
        return moment.astimezone(UTC)


class Base(DeclarativeBase):
    """The parent of every mapped class."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map = {  # noqa: RUF012  # SQLAlchemy reads it, nobody changes it
        str: Text,
        int: Integer,
        float: Double,
        bool: Boolean,
        date: Date,
        datetime: Moment,
        bytes: LargeBinary(KEY_BYTES),
    }


SiteKey = Annotated[int, mapped_column(Integer, primary_key=True, autoincrement=False)]
RowKey = Annotated[bytes, mapped_column(LargeBinary(KEY_BYTES), primary_key=True)]
Number = Annotated[int, mapped_column(Integer, primary_key=True, autoincrement=False)]
Code = Annotated[str, mapped_column(Text, primary_key=True)]
Blob = Annotated[bytes, mapped_column(LargeBinary)]
Note = Annotated[str, mapped_column(Text, server_default=text("''"))]
Json = Annotated[str, mapped_column(Text, server_default=text("'{}'"))]
Yes = Annotated[bool, mapped_column(Boolean, server_default=text("true"))]
No = Annotated[bool, mapped_column(Boolean, server_default=text("false"))]
Zero = Annotated[int, mapped_column(Integer, server_default=text("0"))]
Three = Annotated[int, mapped_column(Integer, server_default=text("3"))]


class Made:
    """Who wrote the row, and when."""

    created_at: Mapped[datetime] = mapped_column(sort_order=90)
    created_by: Mapped[str] = mapped_column(sort_order=91)


class Editable(Made):
    """A row that a person may change: it counts its versions, so that no edit is lost."""

    version: Mapped[int] = mapped_column(server_default=text("1"), sort_order=92)
    changed_at: Mapped[datetime | None] = mapped_column(sort_order=93)
    changed_by: Mapped[str | None] = mapped_column(sort_order=94)


def parent(column: str, table: str, key: str = "id") -> ForeignKeyConstraint:
    """A row of the same site that this one belongs to."""
    return ForeignKeyConstraint(["site_id", column], [f"{table}.site_id", f"{table}.{key}"])


def successor(column: str, table: str) -> ForeignKeyConstraint:
    """A row of the same table that may be written later in the same transaction."""
    return ForeignKeyConstraint(
        ["site_id", column],
        [f"{table}.site_id", f"{table}.id"],
        deferrable=True,
        initially="DEFERRED",
    )


def catalogue(column: str, target: str) -> ForeignKeyConstraint:
    """An entry of a catalogue that all sites share."""
    return ForeignKeyConstraint([column], [target])


def one_of(column: str, words: Sequence[str]) -> CheckConstraint:
    """A column that holds one of a few words."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def between(column: str, low: float, high: float) -> CheckConstraint:
    """A column whose value lies in a range, ends included."""
    return CheckConstraint(f"{column} BETWEEN {low:g} AND {high:g}", name=f"{column}_range")


def add_type_checks(metadata: MetaData) -> None:
    """Make every column refuse values of another type, which SQLite by itself would take."""
    for table in metadata.sorted_tables:
        for column in list(table.columns):
            _add_type_check(table, column)


def _add_type_check(table: Table, column: Column[Any]) -> None:
    name, kind = column.name, column.type
    if isinstance(kind, LargeBinary):
        if kind.length == KEY_BYTES:
            table.append_constraint(
                CheckConstraint(f"length({name}) = {KEY_BYTES}", name=f"{name}_is_key")
            )
        return
    sqlite_rules: list[tuple[type, str, str]] = [
        (Double, "real", f"typeof({name}) IN ('real', 'null')"),
        (Boolean, "boolean", f"{name} IN (0, 1)"),
        (Integer, "integer", f"typeof({name}) IN ('integer', 'null')"),
        (Date, "date", f"date({name}) IS {name}"),
        (Moment, "moment", f"typeof({name}) IN ('text', 'null')"),
    ]
    for of_type, word, rule in sqlite_rules:
        if isinstance(kind, of_type):
            check = CheckConstraint(rule, name=f"{name}_is_{word}")
            table.append_constraint(check.ddl_if(dialect="sqlite"))
    if isinstance(kind, Double):
        # SQLite turns "not a number" into NULL by itself; PostgreSQL would keep it.
        number = CheckConstraint(f"{name} <> 'NaN'", name=f"{name}_is_number")
        table.append_constraint(number.ddl_if(dialect="postgresql"))
