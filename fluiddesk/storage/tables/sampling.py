"""Bottles, samples, shipments, result sheets and their readings."""

from datetime import date, datetime
from typing import Annotated

from sqlalchemy import CheckConstraint, Index, text

from fluiddesk.domain.samples import DrawMethod, SampleReason, SampleState
from fluiddesk.storage.tables.base import (
    Base,
    Code,
    Editable,
    Json,
    Kept,
    Made,
    Note,
    Number,
    RowKey,
    SiteKey,
    Stored,
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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    bottle_code: Stored[Note]
    reason: Stored[str]
    state: Stored[str]
    taken_on: Stored[date | None]
    meter_value: Stored[float | None]
    true_hours: Stored[float | None]
    fluid_hours: Stored[float | None]
    fill_number: Stored[Zero]
    draw_method: Stored[Annotated[str, Kept(default="'unknown'")]]
    trust: Stored[Zero]
    trust_reason: Stored[Note]
    taken_by: Stored[Note]
    note: Stored[Note]
    duplicate_of: Stored[bytes | None]
    origin: Stored[Annotated[str, Kept(default="'plan'")]]
    test_list_code: Stored[str | None]


class BottleRow(Made, Base):
    """A bottle with its label."""

    __tablename__ = "bottle"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        parent("sample_id", "sample"),
        Index(None, "site_id", "sample_id"),
    )

    site_id: Stored[SiteKey]
    code: Stored[Code]
    lot: Stored[Note]
    sample_id: Stored[bytes | None]
    issued_on: Stored[date | None]


class ShipmentRow(Editable, Base):
    """Bottles that travelled together."""

    __tablename__ = "shipment"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("laboratory_code", "laboratory.code"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    laboratory_code: Stored[str]
    carrier: Stored[Note]
    sent_on: Stored[date]
    received_on: Stored[date | None]
    tracking: Stored[Note]
    manifest_count: Stored[int | None]
    received_count: Stored[int | None]
    note: Stored[Note]


class ShipmentBottleRow(Base):
    """One bottle of a shipment."""

    __tablename__ = "shipment_bottle"
    __table_args__ = (parent("shipment_id", "shipment"), parent("bottle_code", "bottle", "code"))

    site_id: Stored[SiteKey]
    shipment_id: Stored[RowKey]
    bottle_code: Stored[Code]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    file_name: Stored[str]
    sha256: Stored[str]
    layout: Stored[str]
    taken_in_at: Stored[datetime]
    taken_in_by: Stored[str]
    counts: Stored[Json]
    undone_at: Stored[datetime | None]
    undone_by: Stored[str | None]
    undone_reason: Stored[str | None]


class HeldRow(Base):
    """A row of a laboratory's file that was put aside, and why."""

    __tablename__ = "held_row"
    __table_args__ = (parent("intake_id", "intake"),)

    site_id: Stored[SiteKey]
    intake_id: Stored[RowKey]
    row_number: Stored[Number]
    cells: Stored[str]
    reason: Stored[str]
    settled_at: Stored[datetime | None]
    settled_by: Stored[str | None]
    outcome: Stored[Note]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    sample_id: Stored[bytes]
    laboratory_code: Stored[str]
    report_number: Stored[str]
    issue: Stored[int]
    received_on: Stored[date | None]
    tested_on: Stored[date | None]
    issued_on: Stored[date | None]
    remark: Stored[Note]
    sampled_on_printed: Stored[date | None]
    meter_printed: Stored[float | None]
    intake_id: Stored[bytes | None]
    is_current: Stored[Yes]
    superseded_by: Stored[bytes | None]
    voided_reason: Stored[str | None]
    rejected_reason: Stored[Note]


class ReadingRow(Base):
    """One analyte's value on one sheet, canonical beside what was printed."""

    __tablename__ = "reading"
    __table_args__ = (
        parent("sheet_id", "result_sheet"),
        catalogue("analyte_number", "analyte.number"),
        between("sign", 0, 6),
        CheckConstraint("(value IS NULL) = (sign >= 5)", name="value_fits_sign"),
    )
    has_rowid = False

    site_id: Stored[SiteKey]
    sheet_id: Stored[RowKey]
    analyte_number: Stored[Number]
    sign: Stored[int]
    value: Stored[float | None]
    printed: Stored[str]
    printed_unit: Stored[str]
    decimals: Stored[int | None]
    detection_limit: Stored[float | None]
