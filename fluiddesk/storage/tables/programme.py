"""The sampling programme: visits, special intervals, how samples were taken, who had the bottle."""

from datetime import date, datetime
from typing import Annotated

from sqlalchemy import CheckConstraint, Index, UniqueConstraint

from fluiddesk.domain.samples import DrawMethod, SampleReason
from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Json,
    Kept,
    Made,
    No,
    Note,
    RowKey,
    SiteKey,
    Stored,
    between,
    catalogue,
    one_of,
    parent,
)

_REASONS = [reason.value for reason in SampleReason]


class CrewRow(Editable, Base):
    """People who go out to sample together, and how many hours a day they have for it."""

    __tablename__ = "crew"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        UniqueConstraint("site_id", "name"),
        between("hours_per_day", 0, 24),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    name: Stored[str]
    hours_per_day: Stored[float]
    retired: Stored[No]


class ServiceDateRow(Editable, Base):
    """A day on which a machine stands for service anyway."""

    __tablename__ = "service_date"
    __table_args__ = (
        parent("machine_id", "machine"),
        Index(None, "site_id", "machine_id", "planned_on"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    planned_on: Stored[date]
    note: Stored[Note]
    dropped: Stored[No]


class VisitRow(Editable, Base):
    """One visit to a machine."""

    __tablename__ = "visit"
    __table_args__ = (
        parent("machine_id", "machine"),
        parent("crew_id", "crew"),
        Index(None, "site_id", "machine_id"),
        Index(None, "site_id", "planned_on"),
        one_of("state", ["planned", "issued", "done", "dropped"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    planned_on: Stored[date]
    state: Stored[str]
    crew_id: Stored[bytes | None]
    minutes: Stored[float | None]
    done_on: Stored[date | None]
    note: Stored[Note]


class VisitBoxRow(Editable, Base):
    """One bottle to be filled on a visit, in its place in the working order."""

    __tablename__ = "visit_box"
    __table_args__ = (
        parent("visit_id", "visit"),
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        UniqueConstraint("site_id", "visit_id", "compartment_id", "reason"),
        Index(None, "site_id", "compartment_id"),
        Index(None, "site_id", "sample_id"),
        one_of("reason", _REASONS),
        one_of("outcome", ["open", "taken", "not_taken", "moved"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    visit_id: Stored[bytes]
    compartment_id: Stored[bytes]
    sample_id: Stored[bytes | None]
    place: Stored[int]
    reason: Stored[str]
    due_on: Stored[date | None]
    due_hours: Stored[float | None]
    outcome: Stored[Annotated[str, Kept(default="'open'")]]
    why_not: Stored[Note]


class SpecialIntervalRow(Editable, Base):
    """A shorter interval of one box for a while, and why."""

    __tablename__ = "special_interval"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        parent("sample_id", "sample"),
        Index(None, "site_id", "compartment_id"),
        CheckConstraint("interval_hours > 0", name="interval_hours_positive"),
        CheckConstraint("interval_days > 0", name="interval_days_positive"),
        one_of(
            "reason",
            [
                "after_act",
                "after_urgent",
                "component_fit",
                "before_change",
                "return_from_storage",
                "laboratory_asks",
                "resample",
                "other",
            ],
        ),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    sample_id: Stored[bytes | None]
    reason: Stored[str]
    interval_hours: Stored[float | None]
    interval_days: Stored[int | None]
    valid_from: Stored[date]
    ended_on: Stored[date | None]
    note: Stored[Note]


class DueNoteRow(Made, Base):
    """Why a due sample was missed, or excused, and who says so."""

    __tablename__ = "due_note"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id", "due_on"),
        one_of("kind", ["missed", "excused"]),
        one_of(
            "reason",
            [
                "machine_down",
                "no_access",
                "no_bottle",
                "forgotten",
                "weather",
                "sold",
                "standby",
                "other",
            ],
        ),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    due_on: Stored[date]
    due_hours: Stored[float | None]
    kind: Stored[str]
    reason: Stored[str]
    note: Stored[Note]
    voided_reason: Stored[str | None]


class SampleTakingRow(Editable, Base):
    """How a sample was really drawn, as written on the sheet at the machine."""

    __tablename__ = "sample_taking"
    __table_args__ = (
        parent("sample_id", "sample"),
        parent("visit_id", "visit"),
        parent("sampling_point_id", "sampling_point"),
        CheckConstraint("litres_added >= 0", name="litres_added_not_negative"),
        one_of("method", [method.value for method in DrawMethod]),
        one_of("fill_level", ["below_line", "above_line", "above_neck", "unknown"]),
    )

    site_id: Stored[SiteKey]
    sample_id: Stored[RowKey]
    visit_id: Stored[bytes | None]
    sampling_point_id: Stored[bytes | None]
    taken_at: Stored[Note]
    method: Stored[str]
    run_state: Stored[Note]
    flushed: Stored[bool | None]
    warm: Stored[bool | None]
    mixed: Stored[bool | None]
    fill_level: Stored[Annotated[str, Kept(default="'unknown'")]]
    cap_marked: Stored[bool | None]
    litres_added: Stored[float | None]
    fluid_changed: Stored[bool | None]
    filter_changed: Stored[bool | None]
    meter_unreadable: Stored[No]
    taken_by: Stored[str]
    note: Stored[Note]


class TakingDraftRow(Editable, Base):
    """A visit sheet that is being keyed; ``cells`` holds the texts as typed."""

    __tablename__ = "taking_draft"
    __table_args__ = (parent("visit_id", "visit"),)

    site_id: Stored[SiteKey]
    visit_id: Stored[RowKey]
    cells: Stored[Json]
    dropped: Stored[No]


class CustodyStepRow(Made, Base):
    """One hand-over of a bottle, when it was and how it is known."""

    __tablename__ = "custody_step"
    __table_args__ = (
        parent("bottle_code", "bottle", "code"),
        parent("shipment_id", "shipment"),
        Index(None, "site_id", "bottle_code"),
        Index(None, "site_id", "step", "at"),
        one_of(
            "step",
            [
                "issued",
                "taken",
                "handed_in",
                "shipped",
                "received",
                "reported",
                "keyed",
                "lost",
                "found",
                "void",
            ],
        ),
        one_of("known_by", ["scanned", "typed", "assumed"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    bottle_code: Stored[str]
    step: Stored[str]
    at: Stored[datetime]
    known_by: Stored[str]
    shipment_id: Stored[bytes | None]
    note: Stored[Note]
    voided_reason: Stored[str | None]
