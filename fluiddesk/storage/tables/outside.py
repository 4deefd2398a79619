"""Samples of drums, tanks and new fluid, and past results that wait to be matched."""

from datetime import date, datetime
from typing import Annotated

from sqlalchemy import CheckConstraint, Index, text

from fluiddesk.domain.samples import SampleReason, SampleState
from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Kept,
    Made,
    Note,
    Number,
    RowKey,
    SiteKey,
    Stored,
    Yes,
    between,
    catalogue,
    one_of,
    parent,
    successor,
)

_HAS_CODE = text("bottle_code <> ''")
_CURRENT = text("is_current")


class PastRow(Base):
    """A row of a past file: what it printed, the boxes it may be of, and how it was settled."""

    __tablename__ = "past_row"
    __table_args__ = (
        parent("intake_id", "intake"),
        parent("sample_id", "sample"),
        Index(None, "site_id", "sample_id"),
    )

    site_id: Stored[SiteKey]
    intake_id: Stored[RowKey]
    row_number: Stored[Number]
    machine_printed: Stored[Note]
    box_printed: Stored[Note]
    sampled_on: Stored[date | None]
    meter_printed: Stored[float | None]
    sheet: Stored[str]
    candidates: Stored[Annotated[str, Kept(default="'[]'")]]
    settled_at: Stored[datetime | None]
    settled_by: Stored[str | None]
    outcome: Stored[Note]
    sample_id: Stored[bytes | None]


class FluidSampleRow(Editable, Base):
    """A sample of a drum, a tank or new fluid: it belongs to no compartment."""

    __tablename__ = "fluid_sample"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        catalogue("test_list_code", "test_list.code"),
        parent("batch_id", "fluid_batch"),
        parent("tank_id", "fluid_tank"),
        successor("duplicate_of", "fluid_sample"),
        Index(
            None,
            "site_id",
            "bottle_code",
            unique=True,
            sqlite_where=_HAS_CODE,
        ),
        Index(None, "site_id", "batch_id"),
        Index(None, "site_id", "tank_id"),
        one_of("kind", ["drum", "tank", "new_fluid", "check"]),
        one_of("reason", [reason.value for reason in SampleReason]),
        one_of("state", [state.value for state in SampleState]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    bottle_code: Stored[Note]
    kind: Stored[str]
    fluid_code: Stored[str]
    batch_id: Stored[bytes | None]
    tank_id: Stored[bytes | None]
    container: Stored[Note]
    reason: Stored[str]
    state: Stored[str]
    taken_on: Stored[date | None]
    taken_by: Stored[Note]
    note: Stored[Note]
    duplicate_of: Stored[bytes | None]
    test_list_code: Stored[str | None]


class FluidSheetRow(Made, Base):
    """One issue of a laboratory's report of such a sample; every issue is kept."""

    __tablename__ = "fluid_sheet"
    __table_args__ = (
        parent("fluid_sample_id", "fluid_sample"),
        parent("intake_id", "intake"),
        successor("superseded_by", "fluid_sheet"),
        catalogue("laboratory_code", "laboratory.code"),
        Index(
            None,
            "site_id",
            "fluid_sample_id",
            unique=True,
            sqlite_where=_CURRENT,
        ),
        Index(None, "site_id", "intake_id"),
        Index(None, "site_id", "superseded_by"),
        CheckConstraint("NOT is_current OR voided_reason IS NULL", name="current_not_voided"),
        CheckConstraint("NOT is_current OR superseded_by IS NULL", name="current_not_superseded"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    fluid_sample_id: Stored[bytes]
    laboratory_code: Stored[str]
    report_number: Stored[str]
    issue: Stored[int]
    received_on: Stored[date | None]
    tested_on: Stored[date | None]
    issued_on: Stored[date | None]
    remark: Stored[Note]
    rejected_reason: Stored[Note]
    intake_id: Stored[bytes | None]
    is_current: Stored[Yes]
    superseded_by: Stored[bytes | None]
    voided_reason: Stored[str | None]


class FluidReadingRow(Base):
    """One analyte's value on one such sheet, canonical beside what was printed."""

    __tablename__ = "fluid_reading"
    __table_args__ = (
        parent("sheet_id", "fluid_sheet"),
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
