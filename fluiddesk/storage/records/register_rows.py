"""Whole tables of the register as plain rows, for the files that carry a register in and out."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from sqlalchemy import Table, bindparam, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables import METADATA

REGISTER_TABLES: Final = frozenset(
    {
        "site", "machine", "machine_state_history", "meter", "meter_reading", "compartment",
        "component_fit", "sampling_point", "fluid", "fluid_reference", "fluid_batch",
        "compartment_event", "sample",
    }
)  # fmt: skip


class RegisterRows:
    """Reads register tables by the names of their columns and changes single rows."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def read(self, table: str, columns: Sequence[str]) -> list[tuple[Any, ...]]:
        """Every row of a table of the register, in the order in which the rows were made.

        Args:
            table: the table's name.
            columns: what stands where in each row.

        Raises:
            ValueError: when the register has no such table or column.
        """
        known = _table(table, columns)
        wanted = select(*(known.c[name] for name in columns)).order_by(*known.primary_key.columns)
        return [tuple(row) for row in self._session.connection.execute(wanted)]

    def edit(
        self, table: str, key: Mapping[str, Any], values: Mapping[str, Any], *, name: str
    ) -> None:
        """Change one row, whatever version it has reached.

        Raises:
            NotFoundError: when there is no such row.
            ValueError: when the register has no such table or column.
        """
        known = _table(table, [*key, *values])
        if "version" in known.columns:
            self._session.edit(known, key, values, version=None, name=name)
            return
        here = [known.c[column] == value for column, value in key.items()]
        if (
            self._session.connection.execute(update(known).where(*here).values(**values)).rowcount
            != 1
        ):
            raise NotFoundError(f"{name} is not in this store.")

    def set_true_hours(self, readings: Iterable[tuple[int, bytes, float]]) -> None:
        """Write the true hours of meter readings anew, as (site, identifier, hours)."""
        table = METADATA.tables["meter_reading"]
        rows = [{"site": site, "key": key, "hours": hours} for site, key, hours in readings]
        if rows:
            changed = (
                update(table)
                .where(table.c.site_id == bindparam("site"), table.c.id == bindparam("key"))
                .values(true_hours=bindparam("hours"))
            )
            self._session.connection.execute(changed, rows)


def _table(name: str, columns: Sequence[str]) -> Table:
    if name not in REGISTER_TABLES:
        raise ValueError(f"{name!r} is no table of the register")
    table = METADATA.tables[name]
    unknown = [column for column in columns if column not in table.columns]
    if unknown:
        raise ValueError(f"table {name!r} has no columns {unknown}")
    return table
