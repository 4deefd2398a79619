"""The classes that describe the tables, one for each; they never leave the storage."""

from functools import cache

from sqlalchemy import MetaData

from fluiddesk.storage.tables import (
    catalogue,
    derived,
    fleet,
    judgement,
    keying,
    outside,
    papers,
    programme,
    sampling,
)
from fluiddesk.storage.tables.base import Base, add_type_checks

METADATA = Base.metadata


@cache
def complete_tables() -> MetaData:
    """The tables with everything that a database holds of them, for comparing.

    Neither the checks of types nor what partial indexes say on PostgreSQL, which would load that
    whole dialect, is needed to read and write; adding them would make every start slower.
    """
    add_type_checks(METADATA)
    for table in METADATA.tables.values():
        for index in table.indexes:
            condition = index.dialect_options["sqlite"]["where"]
            if condition is not None:
                index.dialect_options["postgresql"]["where"] = condition
    return METADATA


__all__ = [
    "METADATA",
    "catalogue",
    "complete_tables",
    "derived",
    "fleet",
    "judgement",
    "keying",
    "outside",
    "papers",
    "programme",
    "sampling",
]
