"""Every table at once, for what goes through all of them; the start needs only a few."""

from functools import cache

from sqlalchemy import MetaData

from fluiddesk.storage.tables import (  # noqa: F401  # each declares its tables when imported
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
