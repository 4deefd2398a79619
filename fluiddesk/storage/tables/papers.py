"""Papers, pictures and remarks that belong to a record; nothing is overwritten."""

from typing import Final

from sqlalchemy import CheckConstraint, Index
from sqlalchemy.orm import Mapped

from fluiddesk.storage.tables.base import Base, Made, Note, RowKey, SiteKey, catalogue, one_of

_OWNERS: Final = (
    "machine", "compartment", "sampling_point", "sample", "sheet", "fluid_batch", "fluid_tank",
    "fluid_sample",
)  # fmt: skip


class AttachmentRow(Made, Base):
    """A file kept beside the database, with the hash of its content."""

    __tablename__ = "attachment"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        Index(None, "site_id", "owner_id"),
        CheckConstraint("length(sha256) = 64", name="sha256_length"),
        one_of("owner_kind", _OWNERS),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    owner_kind: Mapped[str]
    owner_id: Mapped[bytes]
    file_name: Mapped[str]
    sha256: Mapped[str]
    bytes: Mapped[int]
    media_type: Mapped[str]
    note: Mapped[Note]
    voided_reason: Mapped[str | None]


class RemarkRow(Made, Base):
    """What a person wrote about a record."""

    __tablename__ = "remark"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        Index(None, "site_id", "owner_id"),
        one_of("owner_kind", _OWNERS),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    owner_kind: Mapped[str]
    owner_id: Mapped[bytes]
    words: Mapped[str]
    voided_reason: Mapped[str | None]
