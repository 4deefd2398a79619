"""The sampling programme: visits, special intervals, how samples were taken, who had the bottle."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.domain.samples import DrawMethod, SampleReason
from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Made,
    No,
    Note,
    RowKey,
    SiteKey,
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

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    name: Mapped[str]
    hours_per_day: Mapped[float]
    retired: Mapped[No]


class ServiceDateRow(Editable, Base):
    """A day on which a machine stands for service anyway."""

    __tablename__ = "service_date"
    __table_args__ = (
        parent("machine_id", "machine"),
        Index(None, "site_id", "machine_id", "planned_on"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    planned_on: Mapped[date]
    note: Mapped[Note]
    dropped: Mapped[No]


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

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    planned_on: Mapped[date]
    state: Mapped[str]
    crew_id: Mapped[bytes | None]
    minutes: Mapped[float | None]
    done_on: Mapped[date | None]
    note: Mapped[Note]


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

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    visit_id: Mapped[bytes]
    compartment_id: Mapped[bytes]
    sample_id: Mapped[bytes | None]
    place: Mapped[int]
    reason: Mapped[str]
    due_on: Mapped[date | None]
    due_hours: Mapped[float | None]
    outcome: Mapped[str] = mapped_column(server_default=text("'open'"))
    why_not: Mapped[Note]


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

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    sample_id: Mapped[bytes | None]
    reason: Mapped[str]
    interval_hours: Mapped[float | None]
    interval_days: Mapped[int | None]
    valid_from: Mapped[date]
    ended_on: Mapped[date | None]
    note: Mapped[Note]


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

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    due_on: Mapped[date]
    due_hours: Mapped[float | None]
    kind: Mapped[str]
    reason: Mapped[str]
    note: Mapped[Note]
    voided_reason: Mapped[str | None]


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

    site_id: Mapped[SiteKey]
    sample_id: Mapped[RowKey]
    visit_id: Mapped[bytes | None]
    sampling_point_id: Mapped[bytes | None]
    taken_at: Mapped[Note]
    method: Mapped[str]
    run_state: Mapped[Note]
    flushed: Mapped[bool | None]
    warm: Mapped[bool | None]
    mixed: Mapped[bool | None]
    fill_level: Mapped[str] = mapped_column(server_default=text("'unknown'"))
    cap_marked: Mapped[bool | None]
    litres_added: Mapped[float | None]
    fluid_changed: Mapped[bool | None]
    filter_changed: Mapped[bool | None]
    meter_unreadable: Mapped[No]
    taken_by: Mapped[str]
    note: Mapped[Note]


class TakingDraftRow(Editable, Base):
    """A visit sheet that is being keyed; ``cells`` holds the texts as typed."""

    __tablename__ = "taking_draft"
    __table_args__ = (parent("visit_id", "visit"),)

    site_id: Mapped[SiteKey]
    visit_id: Mapped[RowKey]
    cells: Mapped[str] = mapped_column(server_default=text("'{}'"))
    dropped: Mapped[No]


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

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    bottle_code: Mapped[str]
    step: Mapped[str]
    at: Mapped[datetime]
    known_by: Mapped[str]
    shipment_id: Mapped[bytes | None]
    note: Mapped[Note]
    voided_reason: Mapped[str | None]
