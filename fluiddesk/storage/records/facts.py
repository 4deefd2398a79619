"""What the store says about itself, and how much is in it."""

from typing import Final

from sqlalchemy import delete, func, insert, select

from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.catalogue import StoreFactRow

_COUNTED: Final = (
    "site", "machine", "compartment", "sample", "result_sheet", "reading", "assessment",
    "limit_set",
)  # fmt: skip


class FactRecords:
    """Reads and writes short facts by name."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def get(self, key: str) -> str | None:
        """The fact of this name, or ``None``."""
        wanted = select(StoreFactRow.value).where(StoreFactRow.key == key)
        found: str | None = self._session.connection.execute(wanted).scalar()
        return found

    def put(self, key: str, value: str) -> None:
        """Write a fact in place of what stood there."""
        connection = self._session.connection
        connection.execute(delete(StoreFactRow).where(StoreFactRow.key == key))
        connection.execute(insert(StoreFactRow).values(key=key, value=value))

    def counts(self) -> dict[str, int]:
        """How many rows the main tables hold, by table."""
        from fluiddesk.storage.tables.every import METADATA

        connection = self._session.connection
        return {
            name: int(
                connection.execute(
                    select(func.count()).select_from(METADATA.tables[name])
                ).scalar_one()
            )
            for name in _COUNTED
        }
