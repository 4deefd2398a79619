"""Reports being keyed, the warnings answered, and the questions asked of a clerk."""

from datetime import datetime

from sqlalchemy import Index, UniqueConstraint, text

from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Json,
    Made,
    Note,
    One,
    RowKey,
    SiteKey,
    Stored,
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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    bottle_code: Stored[str]
    sample_id: Stored[bytes | None]
    laboratory_code: Stored[str]
    report_number: Stored[Note]
    issue: Stored[One]
    state: Stored[str]
    cells: Stored[Json]
    second: Stored[Json]
    second_by: Stored[Note]
    note: Stored[Note]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    sheet_id: Stored[bytes | None]
    draft_id: Stored[bytes | None]
    analyte: Stored[Note]
    kind: Stored[str]
    told: Stored[str]
    answer: Stored[str]
    old_text: Stored[Note]
    new_text: Stored[Note]


class EventQuestionRow(Made, Base):
    """Values fell as after a fluid change nobody recorded: was there one?"""

    __tablename__ = "event_question"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        parent("event_id", "compartment_event"),
        UniqueConstraint("site_id", "sample_id"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    sample_id: Stored[bytes]
    told: Stored[str]
    answer: Stored[Note]
    event_id: Stored[bytes | None]
    answered_at: Stored[datetime | None]
    answered_by: Stored[str | None]
