"""Bottles, samples, shipments, result sheets and their readings."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.domain.samples import DrawMethod, SampleReason, SampleState
from fluiddesk.storage.tables.base import (
    Base,
    Code,
    Editable,
    Json,
    Made,
    Note,
    Number,
    RowKey,
    SiteKey,
    Yes,
    Zero,
    between,
    catalogue,
    one_of,
    parent,
    successor,
)


class SampleRow(Editable, Base):
    """What was drawn, when and how."""

    __tablename__ = "sample"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        catalogue("test_list_code", "test_list.code"),
        successor("duplicate_of", "sample"),
        Index(None, "site_id", "compartment_id", "taken_on"),
        Index(
            None,
            "site_id",
            "bottle_code",
            unique=True,
            sqlite_where=text("bottle_code <> ''"),
        ),
        Index(None, "site_id", "state"),
        Index(None, "site_id", "duplicate_of"),
        one_of("reason", [reason.value for reason in SampleReason]),
        one_of("state", [state.value for state in SampleState]),
        one_of("draw_method", [method.value for method in DrawMethod]),
        one_of("origin", ["plan", "walk_up", "spare_label", "past"]),
        between("trust", 0, 2),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    bottle_code: Mapped[Note]
    reason: Mapped[str]
    state: Mapped[str]
    taken_on: Mapped[date | None]
    meter_value: Mapped[float | None]
    true_hours: Mapped[float | None]
    fluid_hours: Mapped[float | None]
    fill_number: Mapped[Zero]
    draw_method: Mapped[str] = mapped_column(server_default=text("'unknown'"))
    trust: Mapped[Zero]
    trust_reason: Mapped[Note]
    taken_by: Mapped[Note]
    note: Mapped[Note]
    duplicate_of: Mapped[bytes | None]
    origin: Mapped[str] = mapped_column(server_default=text("'plan'"))
    test_list_code: Mapped[str | None]


class BottleRow(Made, Base):
    """A bottle with its label."""

    __tablename__ = "bottle"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        parent("sample_id", "sample"),
        Index(None, "site_id", "sample_id"),
    )

    site_id: Mapped[SiteKey]
    code: Mapped[Code]
    lot: Mapped[Note]
    sample_id: Mapped[bytes | None]
    issued_on: Mapped[date | None]


class ShipmentRow(Editable, Base):
    """Bottles that travelled together."""

    __tablename__ = "shipment"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("laboratory_code", "laboratory.code"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    laboratory_code: Mapped[str]
    carrier: Mapped[Note]
    sent_on: Mapped[date]
    received_on: Mapped[date | None]
    tracking: Mapped[Note]
    manifest_count: Mapped[int | None]
    received_count: Mapped[int | None]
    note: Mapped[Note]


class ShipmentBottleRow(Base):
    """One bottle of a shipment."""

    __tablename__ = "shipment_bottle"
    __table_args__ = (parent("shipment_id", "shipment"), parent("bottle_code", "bottle", "code"))

    site_id: Mapped[SiteKey]
    shipment_id: Mapped[RowKey]
    bottle_code: Mapped[Code]


_STANDS = text("undone_at IS NULL")
_CURRENT = text("is_current")


class IntakeRow(Base):
    """One taking-in of a laboratory's file. The same file is refused while this one stands."""

    __tablename__ = "intake"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        Index(None, "site_id", "sha256", unique=True, sqlite_where=_STANDS),
        CheckConstraint("length(sha256) = 64", name="sha256_length"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    file_name: Mapped[str]
    sha256: Mapped[str]
    layout: Mapped[str]
    taken_in_at: Mapped[datetime]
    taken_in_by: Mapped[str]
    counts: Mapped[Json]
    undone_at: Mapped[datetime | None]
    undone_by: Mapped[str | None]
    undone_reason: Mapped[str | None]


class HeldRow(Base):
    """A row of a laboratory's file that was put aside, and why."""

    __tablename__ = "held_row"
    __table_args__ = (parent("intake_id", "intake"),)

    site_id: Mapped[SiteKey]
    intake_id: Mapped[RowKey]
    row_number: Mapped[Number]
    cells: Mapped[str]
    reason: Mapped[str]
    settled_at: Mapped[datetime | None]
    settled_by: Mapped[str | None]
    outcome: Mapped[Note]


class ResultSheetRow(Made, Base):
    """One issue of a laboratory's report of one sample; every issue is kept."""

    __tablename__ = "result_sheet"
    __table_args__ = (
        parent("sample_id", "sample"),
        parent("intake_id", "intake"),
        successor("superseded_by", "result_sheet"),
        catalogue("laboratory_code", "laboratory.code"),
        Index(
            None,
            "site_id",
            "sample_id",
            unique=True,
            sqlite_where=_CURRENT,
        ),
        Index("ix_result_sheet_all_of_sample", "site_id", "sample_id", "issue"),
        Index(None, "site_id", "intake_id"),
        Index(None, "site_id", "superseded_by"),
        CheckConstraint("NOT is_current OR voided_reason IS NULL", name="current_not_voided"),
        CheckConstraint("NOT is_current OR superseded_by IS NULL", name="current_not_superseded"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    sample_id: Mapped[bytes]
    laboratory_code: Mapped[str]
    report_number: Mapped[str]
    issue: Mapped[int]
    received_on: Mapped[date | None]
    tested_on: Mapped[date | None]
    issued_on: Mapped[date | None]
    remark: Mapped[Note]
    sampled_on_printed: Mapped[date | None]
    meter_printed: Mapped[float | None]
    intake_id: Mapped[bytes | None]
    is_current: Mapped[Yes]
    superseded_by: Mapped[bytes | None]
    voided_reason: Mapped[str | None]
    rejected_reason: Mapped[Note]


class ReadingRow(Base):
    """One analyte's value on one sheet, canonical beside what was printed."""

    __tablename__ = "reading"
    __table_args__ = (
        parent("sheet_id", "result_sheet"),
        catalogue("analyte_number", "analyte.number"),
        between("sign", 0, 6),
        CheckConstraint("(value IS NULL) = (sign >= 5)", name="value_fits_sign"),
        {"sqlite_with_rowid": False},
    )

    site_id: Mapped[SiteKey]
    sheet_id: Mapped[RowKey]
    analyte_number: Mapped[Number]
    sign: Mapped[int]
    value: Mapped[float | None]
    printed: Mapped[str]
    printed_unit: Mapped[str]
    decimals: Mapped[int | None]
    detection_limit: Mapped[float | None]
