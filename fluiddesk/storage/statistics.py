"""Tells SQLite how much a value narrows a search, so that it never walks a whole table.

Every index begins with the site, and most stores have one site: left to guess, SQLite takes the
site for nearly unique and reads every row of it. The figures are those of a large fleet; a small
one is read fast in any order.
"""

from typing import Final

from sqlalchemy import Connection

_SITES: Final = 10
_LARGE: Final = 1_000_000
_ROWS: Final = {"reading": 25_000_000, "machine": 3_000, "compartment": 30_000, "site": _SITES}
_SAME_PARENT: Final = 30
"""About so many rows share a parent: samples of a compartment, readings of a sheet."""


def write_statistics(connection: Connection) -> None:
    """Write the expected figures of every index in place of those that stand there."""
    connection.exec_driver_sql("ANALYZE sqlite_schema")
    connection.exec_driver_sql("ANALYZE store_fact")  # makes the table of figures
    connection.exec_driver_sql("DELETE FROM sqlite_stat1")
    found = connection.exec_driver_sql(
        'SELECT t.name, i.name, i."unique", (SELECT count(*) FROM pragma_index_info(i.name)), '
        "i.origin, (SELECT name FROM pragma_index_info(i.name) WHERE seqno = 0), t.wr "
        "FROM pragma_table_list AS t, pragma_index_list(t.name) AS i "
        "WHERE t.type = 'table' AND t.schema = 'main' AND t.name NOT LIKE 'sqlite_%'"
    ).all()
    for table, index, is_unique, columns, origin, first, without_rowid in found:
        name = table if without_rowid and origin == "pk" else index
        stat = _figures(
            _ROWS.get(table, _LARGE),
            columns=columns,
            is_unique=bool(is_unique),
            is_by_site=first == "site_id",
        )
        connection.exec_driver_sql(
            "INSERT INTO sqlite_stat1 (tbl, idx, stat) VALUES (?, ?, ?)", (table, name, stat)
        )


def _figures(rows: int, *, columns: int, is_unique: bool, is_by_site: bool) -> str:
    """The number of rows, then how many share the first column, the first two, and so on."""
    shared = [min(rows, _SAME_PARENT)] * columns
    if is_by_site:
        shared[0] = max(1, rows // _SITES)
    if is_unique:
        shared[-1] = 1
    return " ".join(str(figure) for figure in (rows, *shared))
