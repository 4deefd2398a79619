"""Visit sheets being keyed: kept as typed, one a visit, taken up again by whoever opens it."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Row, insert, select

from fluiddesk.domain.identity import SiteId
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.every import METADATA

_TABLE: Final = METADATA.tables["taking_draft"]
NEW_DRAFT: Final = 0
"""The version of a draft that is not in the database."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TakingDraftRecord:
    """A sheet that is being keyed; ``cells`` is what the caller put in."""

    site: SiteId
    visit: bytes
    cells: Mapping[str, Any] = field(default_factory=dict)
    dropped: bool = False
    version: int = NEW_DRAFT
    changed_at: datetime | None = None
    changed_by: str = ""


class TakingDraftRecords:
    """Reads and changes drafts.

    What is typed stands in no audit trail, what became of a draft does.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def live(self) -> list[TakingDraftRecord]:
        """Every draft that was neither recorded nor dropped."""
        table = _TABLE
        wanted = select(table).where(table.c.dropped.is_(False)).order_by(table.c.visit_id)
        return [_draft(found) for found in self._session.connection.execute(wanted)]

    def of_visit(self, visit: bytes) -> TakingDraftRecord | None:
        """The draft of a visit, dropped or not; ``None`` where nobody began one."""
        table = _TABLE
        wanted = select(table).where(
            self._session.any_site(table.c.site_id), table.c.visit_id == visit
        )
        found = self._session.connection.execute(wanted).first()
        return None if found is None else _draft(found)

    def keep(self, draft: TakingDraftRecord, *, name: str) -> None:
        """Save a draft as it stands now.

        Args:
            draft: ``version`` as it was read; ``NEW_DRAFT`` for one that is begun.
            name: what a message calls it.

        Raises:
            StaleEditError: when somebody else has saved it since.
        """
        known = self.of_visit(draft.visit)
        values = {"cells": canonical_json(dict(draft.cells)), "dropped": draft.dropped}
        if known is None:
            row = {"site_id": draft.site, "visit_id": draft.visit, **values}
            statement = insert(_TABLE).values(**row, **self._session.stamps())
            self._session.connection.execute(statement)
            return
        # One that was dropped before is begun anew, whatever was read of it.
        version = known.version if known.dropped else draft.version
        self._session.edit(
            _TABLE,
            {"site_id": draft.site, "visit_id": draft.visit},
            values,
            version=version,
            name=name,
        )

    def close(self, visit: bytes, *, name: str, why: str, version: int | None = None) -> None:
        """Take a draft out of use: its visit was recorded or given up, or it was dropped.

        Args:
            visit: whose draft; nothing happens where none is in use.
            name: what a message and the trail call it.
            why: what became of it.
            version: the version that was read; ``None`` closes it whoever saved it last.

        Raises:
            StaleEditError: when somebody else has saved it since.
        """
        known = self.of_visit(visit)
        if known is None or known.dropped:
            return
        self._session.edit(
            _TABLE,
            {"site_id": known.site, "visit_id": visit},
            {"dropped": True},
            version=version,
            name=name,
        )
        self._audit.append(known.site, name, {"cells": dict(known.cells)}, {"dropped": why})


def _draft(found: Row[*tuple[Any, ...]]) -> TakingDraftRecord:
    return TakingDraftRecord(
        site=SiteId(found.site_id),
        visit=found.visit_id,
        cells=json.loads(found.cells),
        dropped=found.dropped,
        version=found.version,
        changed_at=found.changed_at or found.created_at,
        changed_by=found.changed_by or found.created_by,
    )
