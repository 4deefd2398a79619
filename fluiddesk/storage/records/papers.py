"""Papers and remarks of a record: added and withdrawn, never changed."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from sqlalchemy import Row, Table, select, update

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import SiteId
from fluiddesk.storage.records.audit import AuditRecords
from fluiddesk.storage.session import Session
from fluiddesk.storage.tables.every import METADATA
from fluiddesk.storage.tables.papers import AttachmentRow, RemarkRow

_OWNER_TABLES: Final = {
    "machine": "machine",
    "compartment": "compartment",
    "sampling_point": "sampling_point",
    "sample": "sample",
    "sheet": "result_sheet",
    "fluid_batch": "fluid_batch",
    "fluid_tank": "fluid_tank",
    "fluid_sample": "fluid_sample",
}
_ATTACHMENT: Final = (
    "site_id", "id", "owner_kind", "owner_id", "file_name", "sha256", "bytes", "media_type",
    "note",
)  # fmt: skip
_REMARK: Final = ("site_id", "id", "owner_kind", "owner_id", "words")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperRecord:
    """A file kept beside the database, and the record it belongs to."""

    site: SiteId
    id: bytes
    owner_kind: str
    owner: bytes
    file_name: str
    sha256: str
    size_bytes: int
    media_type: str
    note: str
    created_at: datetime
    created_by: str
    voided_reason: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RemarkRecord:
    """What a person wrote about a record."""

    site: SiteId
    id: bytes
    owner_kind: str
    owner: bytes
    words: str
    created_at: datetime
    created_by: str
    voided_reason: str | None


class PaperRecords:
    """Reads, adds and withdraws papers and remarks."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._audit = AuditRecords(session)

    def site_of(self, kind: str, owner: bytes) -> SiteId:
        """The site that owns a record.

        Raises:
            NotFoundError: when there is no such record.
        """
        table = METADATA.tables[_OWNER_TABLES[kind]]
        wanted = select(table.c.site_id).where(
            self._session.any_site(table.c.site_id), table.c.id == owner
        )
        found = self._session.connection.execute(wanted).scalar()
        if found is None:
            raise NotFoundError(
                f"There is no {kind.replace('_', ' ')} {owner.hex()} in this store. "
                "Look at the register again."
            )
        return SiteId(found)

    def add_paper(
        self,
        *,
        kind: str,
        owner: bytes,
        file_name: str,
        sha256: str,
        size_bytes: int,
        media_type: str,
        note: str,
    ) -> bytes:
        """Record a file of a record. Returns its identifier.

        Raises:
            NotFoundError: when there is no such record.
        """
        site, made = self.site_of(kind, owner), self._session.new_id()
        row = (site, made, kind, owner, file_name, sha256, size_bytes, media_type, note)
        self._session.load("attachment", _ATTACHMENT, [row])
        told = {"file": file_name, "sha256": sha256, "of": owner.hex()}
        self._audit.append(site, f"paper of {kind.replace('_', ' ')}", None, told)
        return made

    def add_remark(self, *, kind: str, owner: bytes, words: str) -> bytes:
        """Record what a person says of a record. Returns its identifier.

        Raises:
            NotFoundError: when there is no such record.
        """
        site, made = self.site_of(kind, owner), self._session.new_id()
        self._session.load("remark", _REMARK, [(site, made, kind, owner, words)])
        told = {"words": words, "of": owner.hex()}
        self._audit.append(site, f"remark on {kind.replace('_', ' ')}", None, told)
        return made

    def papers(self, owners: Iterable[bytes] | None = None) -> list[PaperRecord]:
        """The papers that stand, of some records or of all, oldest first."""
        return [_paper(one) for one in self._standing(_table(AttachmentRow), owners)]

    def remarks(self, owners: Iterable[bytes] | None = None) -> list[RemarkRecord]:
        """The remarks that stand, of some records or of all, oldest first."""
        return [_remark(one) for one in self._standing(_table(RemarkRow), owners)]

    def withdraw(self, what: str, key: bytes, *, reason: str) -> None:
        """Take a "paper" or "remark" back; the row stays, with the reason.

        Raises:
            NotFoundError: when it does not stand any more.
        """
        table = _table(AttachmentRow if what == "paper" else RemarkRow)
        here = (
            self._session.any_site(table.c.site_id),
            table.c.id == key,
            table.c.voided_reason.is_(None),
        )
        found = self._session.connection.execute(select(table).where(*here)).first()
        if found is None:
            raise NotFoundError(f"This {what} was withdrawn already. Look at the record again.")
        self._session.connection.execute(update(table).where(*here).values(voided_reason=reason))
        old = found.file_name if what == "paper" else found.words
        name = f"{what} of {found.owner_kind.replace('_', ' ')}"
        self._audit.append(SiteId(found.site_id), name, {what: old}, {"withdrawn": reason})

    def _standing(
        self, table: Table, owners: Iterable[bytes] | None
    ) -> Iterable[Row[*tuple[Any, ...]]]:
        wanted = select(table).where(
            self._session.any_site(table.c.site_id), table.c.voided_reason.is_(None)
        )
        if owners is not None:
            wanted = wanted.where(table.c.owner_id.in_(list(owners)))
        return self._session.connection.execute(wanted.order_by(table.c.created_at, table.c.id))


def _table(row: type[AttachmentRow] | type[RemarkRow]) -> Table:
    return METADATA.tables[row.__tablename__]


def _paper(found: Row[*tuple[Any, ...]]) -> PaperRecord:
    return PaperRecord(
        site=SiteId(found.site_id),
        id=found.id,
        owner_kind=found.owner_kind,
        owner=found.owner_id,
        file_name=found.file_name,
        sha256=found.sha256,
        size_bytes=found.bytes,
        media_type=found.media_type,
        note=found.note,
        created_at=found.created_at,
        created_by=found.created_by,
        voided_reason=found.voided_reason,
    )


def _remark(found: Row[*tuple[Any, ...]]) -> RemarkRecord:
    return RemarkRecord(
        site=SiteId(found.site_id),
        id=found.id,
        owner_kind=found.owner_kind,
        owner=found.owner_id,
        words=found.words,
        created_at=found.created_at,
        created_by=found.created_by,
        voided_reason=found.voided_reason,
    )
