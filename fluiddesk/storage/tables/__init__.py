"""The mapped classes, one for each table; they never leave the storage."""

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

add_type_checks(Base.metadata)

METADATA = Base.metadata

__all__ = [
    "METADATA",
    "catalogue",
    "derived",
    "fleet",
    "judgement",
    "keying",
    "outside",
    "papers",
    "programme",
    "sampling",
]
