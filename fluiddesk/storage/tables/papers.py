"""Papers, pictures and remarks that belong to a record; nothing is overwritten."""

from typing import Final

from sqlalchemy import CheckConstraint, Index

from fluiddesk.storage.tables.base import (
    Base,
    Made,
    Note,
    RowKey,
    SiteKey,
    Stored,
    catalogue,
    one_of,
)

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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    owner_kind: Stored[str]
    owner_id: Stored[bytes]
    file_name: Stored[str]
    sha256: Stored[str]
    bytes: Stored[int]
    media_type: Stored[str]
    note: Stored[Note]
    voided_reason: Stored[str | None]


class RemarkRow(Made, Base):
    """What a person wrote about a record."""

    __tablename__ = "remark"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        Index(None, "site_id", "owner_id"),
        one_of("owner_kind", _OWNERS),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    owner_kind: Stored[str]
    owner_id: Stored[bytes]
    words: Stored[str]
    voided_reason: Stored[str | None]
