"""Column types, names of constraints and the rules that hold for every table."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from inspect import get_annotations
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Final, Generic, TypeVar, get_args

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
from sqlalchemy.schema import SchemaItem
from sqlalchemy.types import TypeEngine
from typing_extensions import override

KEY_BYTES: Final = 16
_T = TypeVar("_T")

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


_TYPES: Final[dict[Any, Any]] = {
    str: Text(),
    int: Integer(),
    float: Double(),
    bool: Boolean(),
    date: Date(),
    datetime: Moment(),
    bytes: LargeBinary(KEY_BYTES),
}
"""How a Python type is kept where a column says nothing else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """What a column says of itself beside its Python type.

    Attributes:
        kind: its type in the database, where it is not the usual one.
        default: what stands in it when a row says nothing, as SQL.
        is_key: whether it is part of the primary key.
    """

    kind: TypeEngine[Any] | None = None
    default: str | None = None
    is_key: bool = False


class Stored(Generic[_T]):
    """Declares a column in a class that describes a table; reading it there gives the column."""

    if TYPE_CHECKING:

        def __get__(self, _row: None, _table: type) -> Column[_T]: ...


class Base:
    """The parent of every class that describes a table.

    A subclass names its columns in annotations, ``code: Stored[str]``, its own first, then those
    of ``Made`` and ``Editable``. Reading such a name gives the column, and statements take the
    class for its table. Nothing is mapped: rows are plain tuples, and the mapper would be most of
    what the program waits for at its start.
    """

    metadata: ClassVar[MetaData] = MetaData(naming_convention=NAMES)
    __tablename__: ClassVar[str]
    __table_args__: ClassVar[tuple[SchemaItem, ...]] = ()
    __table__: ClassVar[Table]
    has_rowid: ClassVar[bool] = True
    """False for a table that SQLite keeps sorted by its primary key."""

    @override
    def __init_subclass__(cls) -> None:
        cls.__table__ = Table(
            cls.__tablename__,
            cls.metadata,
            *_declared_columns(cls),
            *cls.__table_args__,
            sqlite_with_rowid=cls.has_rowid,
        )
        for column in cls.__table__.columns:
            setattr(cls, column.name, column)

    @classmethod
    def __clause_element__(cls) -> Table:
        """What SQLAlchemy puts into a statement for the class."""
        return cls.__table__


def _declared_columns(cls: type) -> Iterator[Column[Any]]:
    for one in (cls, *reversed(cls.__mro__[1:])):
        if one is not Base:
            for name, annotation in get_annotations(one).items():
                yield _column(name, *get_args(annotation))


def _column(name: str, declared: Any) -> Column[Any]:
    """The column of an annotation: ``str``, ``str | None``, or one of the short words below."""
    of_type, *rest = get_args(declared) or (declared,)
    kept = next((one for one in rest if isinstance(one, Kept)), Kept())
    return Column(
        name,
        _TYPES[of_type] if kept.kind is None else kept.kind,
        primary_key=kept.is_key,
        autoincrement=False,
        nullable=type(None) in rest,
        server_default=None if kept.default is None else text(kept.default),
    )


SiteKey = Annotated[int, Kept(is_key=True)]
RowKey = Annotated[bytes, Kept(is_key=True)]
Number = Annotated[int, Kept(is_key=True)]
Code = Annotated[str, Kept(is_key=True)]
Blob = Annotated[bytes, Kept(kind=LargeBinary())]
Note = Annotated[str, Kept(default="''")]
Json = Annotated[str, Kept(default="'{}'")]
Yes = Annotated[bool, Kept(default="true")]
No = Annotated[bool, Kept(default="false")]
Zero = Annotated[int, Kept(default="0")]
One = Annotated[int, Kept(default="1")]
Three = Annotated[int, Kept(default="3")]


class Made:
    """Who wrote the row, and when."""

    created_at: Stored[datetime]
    created_by: Stored[str]


class Editable(Made):
    """A row that a person may change: it counts its versions, so that no edit is lost."""

    version: Stored[One]
    changed_at: Stored[datetime | None]
    changed_by: Stored[str | None]


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
