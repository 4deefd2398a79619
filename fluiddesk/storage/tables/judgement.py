"""Assessments, actions, findings, and the trail of who changed what."""

from datetime import date, datetime
from typing import Annotated

from sqlalchemy import Index, UniqueConstraint, text

from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Json,
    Kept,
    Made,
    Note,
    Number,
    RowKey,
    SiteKey,
    Stored,
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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    sample_id: Stored[bytes]
    made_at: Stored[datetime]
    limit_set_number: Stored[int | None]
    program_version: Stored[str]
    severity: Stored[int]
    trust: Stored[int]
    reasons: Stored[Json]
    inputs_digest: Stored[str]
    superseded_by: Stored[bytes | None]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    sample_id: Stored[bytes | None]
    assessment_id: Stored[bytes | None]
    kind: Stored[str]
    owner: Stored[Note]
    due_on: Stored[date | None]
    due_hours: Stored[float | None]
    status: Stored[str]
    done_at: Stored[datetime | None]
    note: Stored[Note]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    action_id: Stored[bytes]
    result: Stored[str]
    part: Stored[Note]
    note: Stored[Note]
    cost: Stored[float | None]
    found_on: Stored[date]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    sample_id: Stored[bytes]
    made_at: Stored[datetime]
    kind: Stored[str]
    analyte: Stored[Note]
    severity: Stored[int]
    bound: Stored[float | None]
    at_hours: Stored[float]
    p10: Stored[float | None]
    p50: Stored[float | None]
    p90: Stored[float | None]
    chance_before_due: Stored[float | None]
    why: Stored[Note]
    outcome: Stored[Annotated[str, Kept(default="'open'")]]
    crossed_at_hours: Stored[float | None]
    marked_at: Stored[datetime | None]
    program_version: Stored[str]
    inputs_digest: Stored[str]


class AuditTrailRow(Base):
    """One change by a person. Site 0 stands for the catalogues that all sites share."""

    __tablename__ = "audit_trail"

    site_id: Stored[SiteKey]
    place: Stored[Number]
    at: Stored[datetime]
    who: Stored[str]
    what: Stored[str]
    old: Stored[str | None]
    new: Stored[str | None]
    previous_hash: Stored[str]
    hash: Stored[str]


class RecordChangeRow(Base):
    """Which record a link of the trail is about; ``undoes`` names the link it takes back."""

    __tablename__ = "record_change"
    __table_args__ = (Index(None, "site_id", "record_kind", "record_key"),)

    site_id: Stored[SiteKey]
    place: Stored[Number]
    record_kind: Stored[str]
    record_key: Stored[str]
    undoes: Stored[int | None]
