"""Assessments, actions, findings, and the trail of who changed what."""

from datetime import date, datetime

from sqlalchemy import Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Json,
    Made,
    Note,
    Number,
    RowKey,
    SiteKey,
    between,
    catalogue,
    one_of,
    parent,
    successor,
)

_IN_FORCE = text("superseded_by IS NULL")


class AssessmentRow(Base):
    """What the limits of one day said about a sample; a new one supersedes it."""

    __tablename__ = "assessment"
    __table_args__ = (
        parent("sample_id", "sample"),
        successor("superseded_by", "assessment"),
        Index(None, "site_id", "superseded_by"),
        catalogue("limit_set_number", "limit_set.number"),
        Index(
            None,
            "site_id",
            "sample_id",
            unique=True,
            sqlite_where=_IN_FORCE,
        ),
        between("severity", -1, 3),
        between("trust", 0, 2),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    sample_id: Mapped[bytes]
    made_at: Mapped[datetime]
    limit_set_number: Mapped[int | None]
    program_version: Mapped[str]
    severity: Mapped[int]
    trust: Mapped[int]
    reasons: Mapped[Json]
    inputs_digest: Mapped[str]
    superseded_by: Mapped[bytes | None]


class ActionRow(Editable, Base):
    """What somebody is to do, and by when."""

    __tablename__ = "action"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        parent("assessment_id", "assessment"),
        Index(None, "site_id", "compartment_id"),
        one_of("status", ["proposed", "open", "done", "dropped"]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    sample_id: Mapped[bytes | None]
    assessment_id: Mapped[bytes | None]
    kind: Mapped[str]
    owner: Mapped[Note]
    due_on: Mapped[date | None]
    due_hours: Mapped[float | None]
    status: Mapped[str]
    done_at: Mapped[datetime | None]
    note: Mapped[Note]


class FindingRow(Made, Base):
    """What a person saw when they looked."""

    __tablename__ = "finding"
    __table_args__ = (
        parent("action_id", "action"),
        Index(None, "site_id", "action_id"),
        one_of(
            "result",
            [
                "fault_confirmed",
                "wear_but_serviceable",
                "nothing_found",
                "sampling_error",
                "laboratory_error",
                "keying_error",
                "wrong_fluid",
                "could_not_look",
            ],
        ),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    action_id: Mapped[bytes]
    result: Mapped[str]
    part: Mapped[Note]
    note: Mapped[Note]
    cost: Mapped[float | None]
    found_on: Mapped[date]


class ForecastRow(Base):
    """Hours left as said of one sample, kept to be marked against what came."""

    __tablename__ = "forecast"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        UniqueConstraint("site_id", "sample_id", "inputs_digest"),
        Index(None, "site_id", "compartment_id"),
        one_of("kind", ["hours_left"]),
        one_of("outcome", ["open", "crossed", "not_crossed", "cut_off"]),
        between("severity", -1, 3),
        between("chance_before_due", 0, 1),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    sample_id: Mapped[bytes]
    made_at: Mapped[datetime]
    kind: Mapped[str]
    analyte: Mapped[Note]
    severity: Mapped[int]
    bound: Mapped[float | None]
    at_hours: Mapped[float]
    p10: Mapped[float | None]
    p50: Mapped[float | None]
    p90: Mapped[float | None]
    chance_before_due: Mapped[float | None]
    why: Mapped[Note]
    outcome: Mapped[str] = mapped_column(server_default=text("'open'"))
    crossed_at_hours: Mapped[float | None]
    marked_at: Mapped[datetime | None]
    program_version: Mapped[str]
    inputs_digest: Mapped[str]


class AuditTrailRow(Base):
    """One change by a person. Site 0 stands for the catalogues that all sites share."""

    __tablename__ = "audit_trail"

    site_id: Mapped[SiteKey]
    place: Mapped[Number]
    at: Mapped[datetime]
    who: Mapped[str]
    what: Mapped[str]
    old: Mapped[str | None]
    new: Mapped[str | None]
    previous_hash: Mapped[str]
    hash: Mapped[str]


class RecordChangeRow(Base):
    """Which record a link of the trail is about; ``undoes`` names the link it takes back."""

    __tablename__ = "record_change"
    __table_args__ = (Index(None, "site_id", "record_kind", "record_key"),)

    site_id: Mapped[SiteKey]
    place: Mapped[Number]
    record_kind: Mapped[str]
    record_key: Mapped[str]
    undoes: Mapped[int | None]
