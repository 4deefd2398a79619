"""Whole tables of the register as plain rows, for the files that carry a register in and out."""

from collections.abc import Sequence
from typing import Any, Final

from sqlalchemy import Table, select

from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.every import METADATA

REGISTER_TABLES: Final = frozenset(
    {
        "site", "machine", "machine_state_history", "meter", "meter_reading", "compartment",
        "component_fit", "sampling_point", "fluid", "fluid_reference", "fluid_batch",
        "compartment_event", "sample",
    }
)  # fmt: skip


class RegisterRows:
    """Reads register tables by the names of their columns, a few columns of many rows."""

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


def _table(name: str, columns: Sequence[str]) -> Table:
    if name not in REGISTER_TABLES:
        raise ValueError(f"{name!r} is no table of the register")
    table = METADATA.tables[name]
    unknown = [column for column in columns if column not in table.columns]
    if unknown:
        raise ValueError(f"table {name!r} has no columns {unknown}")
    return table
