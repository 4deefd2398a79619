"""How the first migration spells its tables, the same for both databases.

Part of that migration, in a module of its own for its length: it never changes again.
"""

from collections.abc import Callable
from typing import Any

import sqlalchemy as sa
from alembic import op

MADE = "created_at MOMENT, created_by TEXT"
EDITED = f"{MADE}, version INT=1, changed_at MOMENT?, changed_by TEXT?"

Maker = Callable[[str], Any]
"""Makes a constraint of the table whose name it is given."""


def make(
    table: str,
    columns: str,
    *makers: Maker,
    key: str = "site_id, id",
    stamps: str = "",
    has_rowid: bool = True,
) -> None:
    """Make one table from a list of columns.

    Args:
        table: its name.
        columns: "name TYPE", with "?" where it may be empty and "=..." for a default.
        makers: further constraints.
        key: the columns of the primary key.
        stamps: further columns, those which many tables share.
        has_rowid: false for a table that SQLite keeps sorted by its primary key.
    """
    parts: list[Any] = []
    for text in (f"{columns}, {stamps}" if stamps else columns).split(", "):
        name, kind = text.split(" ", 1)
        parts += _column(table, name, kind)
    primary = sa.PrimaryKeyConstraint(*key.split(", "), name=op.f(f"pk_{table}"))
    made = [maker(table) for maker in makers]
    op.create_table(table, *parts, primary, *made, sqlite_with_rowid=has_rowid)


def _column(table: str, name: str, kind: str) -> list[Any]:
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    kind, _, default = kind.partition("=")
    word = kind.rstrip("?")
    moment = sa.Text() if is_sqlite else sa.DateTime(timezone=True)
    types: dict[str, tuple[Any, str, str]] = {
        "INT": (sa.Integer(), "integer", f"typeof({name}) IN ('integer', 'null')"),
        "REAL": (sa.Double(), "real", f"typeof({name}) IN ('real', 'null')"),
        "BOOL": (sa.Boolean(), "boolean", f"{name} IN (0, 1)"),
        "DATE": (sa.Date(), "date", f"date({name}) IS {name}"),
        "MOMENT": (moment, "moment", f"typeof({name}) IN ('text', 'null')"),
        "TEXT": (sa.Text(), "", ""),
        "BLOB": (sa.LargeBinary(), "", ""),
        "KEY": (sa.LargeBinary(16), "key", f"length({name}) = 16"),
    }
    made, rule_word, rule = types[word]
    if word == "REAL" and not is_sqlite:
        rule_word, rule = "number", f"{name} <> 'NaN'"
    column = sa.Column(
        name,
        made,
        nullable=kind.endswith("?"),
        server_default=sa.text(default) if default else None,
        autoincrement=False,
    )
    is_checked = rule and (is_sqlite or word in ("KEY", "REAL"))
    return [column, check(f"{name}_is_{rule_word}", rule)(table)] if is_checked else [column]


def check(name: str, rule: str) -> Maker:
    """A rule that every row must keep."""
    return lambda table: sa.CheckConstraint(rule, name=op.f(f"ck_{table}_{name}"))


def one_of(column: str, words: str) -> Maker:
    """A column that holds one of a few words."""
    listed = ", ".join(f"'{word}'" for word in words.split())
    return check(f"{column}_known", f"{column} IN ({listed})")


def between(column: str, low: int, high: int) -> Maker:
    """A column whose value lies in a range, ends included."""
    return check(f"{column}_range", f"{column} BETWEEN {low} AND {high}")


def unique(*columns: str) -> Maker:
    """Columns of which no two rows hold the same."""
    return lambda table: sa.UniqueConstraint(*columns, name=op.f("_".join(["uq", table, *columns])))


def catalogue(column: str, target: str) -> Maker:
    """A column that names an entry of a catalogue, which all sites share."""
    return lambda table: sa.ForeignKeyConstraint(
        [column], [target], name=op.f(f"fk_{table}_{column}")
    )


def parent(column: str, target: str, key: str = "id", *, is_deferred: bool = False) -> Maker:
    """A column that names a row of the same site."""
    return lambda table: sa.ForeignKeyConstraint(
        ["site_id", column],
        [f"{target}.site_id", f"{target}.{key}"],
        name=op.f(f"fk_{table}_site_id_{column}"),
        deferrable=True if is_deferred else None,
        initially="DEFERRED" if is_deferred else None,
    )


def index(table: str, columns: str, *, where: str = "", name: str = "") -> None:
    """An index; with ``where`` a unique one over the rows that fulfil it."""
    names = columns.split(", ")
    condition = sa.text(where) if where else None
    op.create_index(
        op.f(name or "_".join(["ix", table, *names])),
        table,
        names,
        unique=bool(where),
        sqlite_where=condition,
        postgresql_where=condition,
    )
