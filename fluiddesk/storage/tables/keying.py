"""Reports being keyed, the warnings answered, and the questions asked of a clerk."""

from datetime import datetime

from sqlalchemy import Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Json,
    Made,
    Note,
    RowKey,
    SiteKey,
    catalogue,
    one_of,
    parent,
)

_LIVE = text("state IN ('open', 'parked')")


class KeyDraftRow(Editable, Base):
    """A report that is being keyed; ``cells`` and ``second`` hold the texts as typed."""

    __tablename__ = "key_draft"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        parent("sample_id", "sample"),
        catalogue("laboratory_code", "laboratory.code"),
        one_of("state", ["open", "parked", "saved", "dropped"]),
        Index(
            None,
            "site_id",
            "bottle_code",
            "laboratory_code",
            unique=True,
            sqlite_where=_LIVE,
        ),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    bottle_code: Mapped[str]
    sample_id: Mapped[bytes | None]
    laboratory_code: Mapped[str]
    report_number: Mapped[Note]
    issue: Mapped[int] = mapped_column(server_default=text("1"))
    state: Mapped[str]
    cells: Mapped[Json]
    second: Mapped[Json]
    second_by: Mapped[Note]
    note: Mapped[Note]


class AnsweredWarningRow(Made, Base):
    """What was said of a keyed value, and how the clerk answered."""

    __tablename__ = "answered_warning"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        parent("sheet_id", "result_sheet"),
        parent("draft_id", "key_draft"),
        Index(None, "site_id", "sheet_id"),
        Index(None, "site_id", "draft_id"),
        one_of("answer", ["corrected", "confirmed", "parked"]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    sheet_id: Mapped[bytes | None]
    draft_id: Mapped[bytes | None]
    analyte: Mapped[Note]
    kind: Mapped[str]
    told: Mapped[str]
    answer: Mapped[str]
    old_text: Mapped[Note]
    new_text: Mapped[Note]


class EventQuestionRow(Made, Base):
    """Values fell as after a fluid change nobody recorded: was there one?"""

    __tablename__ = "event_question"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        parent("event_id", "compartment_event"),
        UniqueConstraint("site_id", "sample_id"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    sample_id: Mapped[bytes]
    told: Mapped[str]
    answer: Mapped[Note]
    event_id: Mapped[bytes | None]
    answered_at: Mapped[datetime | None]
    answered_by: Mapped[str | None]
