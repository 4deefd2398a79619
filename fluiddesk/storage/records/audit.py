"""The trail of who changed what: append only, each link holding the hash of the one before.

SHA-256 (FIPS 180-4) over the canonical JSON of the link and the hash of the link before it. A
changed or missing link in the middle is found; a cut-off end is not, so print the last hash.
"""

import hashlib
from typing import Any, Final

from sqlalchemy import func, insert, select, text

from fluiddesk.domain.identity import SiteId
from fluiddesk.storage.records.rows import AuditRecord
from fluiddesk.storage.session import Session, canonical_json
from fluiddesk.storage.tables.base import moment_text
from fluiddesk.storage.tables.judgement import AuditTrailRow

NO_SITE: Final = SiteId(0)
"""The owner of changes to the catalogues that all sites share."""

_LOCK_SPACE: Final = 0x464C4453


class AuditRecords:
    """Appends to the trail and checks it."""

    def __init__(self, session: Session) -> None:
        self._session = session

    def append(self, site: SiteId, what: str, old: Any, new: Any) -> int:
        """Add one change by the transaction's person; returns its place in the site's chain.

        Args:
            site: the site whose records changed; ``NO_SITE`` for a shared catalogue.
            what: the record and its field in words: "machine EX-01".
            old: what stood there, anything JSON can hold; ``None`` for a new record.
            new: what stands there now; ``None`` where it was voided.
        """
        session = self._session
        if not session.is_sqlite:
            # Two desks appending to one site's chain must come one after the other.
            lock = text("SELECT pg_advisory_xact_lock(:space, :site)")
            session.connection.execute(lock, {"space": _LOCK_SPACE, "site": site})
        place, previous = self._last(site)
        link = {
            "site_id": int(site),
            "place": place + 1,
            "at": moment_text(session.moment),
            "who": session.who,
            "what": what,
            "old": None if old is None else canonical_json(old),
            "new": None if new is None else canonical_json(new),
        }
        made = link_hash(link, previous)
        values = {**link, "at": session.moment, "previous_hash": previous, "hash": made}
        session.connection.execute(insert(AuditTrailRow).values(**values))
        return place + 1

    def last_hash(self, site: SiteId) -> str:
        """The hash of the newest link: print it, and a cut-off trail can be told."""
        return self._last(site)[1]

    def newest(self, site: SiteId, *, count: int = 100) -> list[AuditRecord]:
        """The newest links of a site, newest first."""
        row = AuditTrailRow
        statement = (
            select(row.site_id, row.place, row.at, row.who, row.what, row.old, row.new, row.hash)
            .where(row.site_id == site)
            .order_by(row.place.desc())
            .limit(count)
        )
        return [
            AuditRecord(
                site=SiteId(found.site_id),
                place=found.place,
                at=found.at,
                who=found.who,
                what=found.what,
                old=found.old,
                new=found.new,
                hash=found.hash,
            )
            for found in self._session.connection.execute(statement)
        ]

    def verify(self) -> list[str]:
        """Every broken link in words; empty where all chains hold."""
        table = AuditTrailRow.__table__
        statement = select(table).order_by(table.c.site_id, table.c.place)
        problems: list[str] = []
        before: tuple[int, int, str] = (-1, 0, "")
        for found in self._session.connection.execute(statement).mappings():
            site, place, previous = before
            expected = (place + 1, previous) if found["site_id"] == site else (1, "")
            link = {name: found[name] for name in ("site_id", "place", "who", "what", "old", "new")}
            link["at"] = moment_text(found["at"])
            is_whole = (found["place"], found["previous_hash"]) == expected
            if not is_whole or link_hash(link, found["previous_hash"]) != found["hash"]:
                problems.append(
                    f"audit trail of site {found['site_id']}: link {found['place']} "
                    f'("{found["what"]}" by {found["who"]}) is not what was written'
                )
            before = (found["site_id"], found["place"], found["hash"])
        return problems

    def _last(self, site: SiteId) -> tuple[int, str]:
        newest = select(func.max(AuditTrailRow.place)).where(AuditTrailRow.site_id == site)
        found = self._session.connection.execute(
            select(AuditTrailRow.place, AuditTrailRow.hash).where(
                AuditTrailRow.site_id == site, AuditTrailRow.place == newest.scalar_subquery()
            )
        ).first()
        return (0, "") if found is None else (found.place, found.hash)


def link_hash(link: dict[str, Any], previous: str) -> str:
    """The hash of one link, in hexadecimal."""
    return hashlib.sha256((canonical_json(link) + previous).encode()).hexdigest()
