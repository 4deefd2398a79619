"""Samples of drums, tanks and new fluid, and past results that wait to be matched."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.domain.samples import SampleReason, SampleState
from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Made,
    Note,
    Number,
    RowKey,
    SiteKey,
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

    site_id: Mapped[SiteKey]
    intake_id: Mapped[RowKey]
    row_number: Mapped[Number]
    machine_printed: Mapped[Note]
    box_printed: Mapped[Note]
    sampled_on: Mapped[date | None]
    meter_printed: Mapped[float | None]
    sheet: Mapped[str]
    candidates: Mapped[str] = mapped_column(server_default=text("'[]'"))
    settled_at: Mapped[datetime | None]
    settled_by: Mapped[str | None]
    outcome: Mapped[Note]
    sample_id: Mapped[bytes | None]


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
            postgresql_where=_HAS_CODE,
        ),
        Index(None, "site_id", "batch_id"),
        Index(None, "site_id", "tank_id"),
        one_of("kind", ["drum", "tank", "new_fluid", "check"]),
        one_of("reason", [reason.value for reason in SampleReason]),
        one_of("state", [state.value for state in SampleState]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    bottle_code: Mapped[Note]
    kind: Mapped[str]
    fluid_code: Mapped[str]
    batch_id: Mapped[bytes | None]
    tank_id: Mapped[bytes | None]
    container: Mapped[Note]
    reason: Mapped[str]
    state: Mapped[str]
    taken_on: Mapped[date | None]
    taken_by: Mapped[Note]
    note: Mapped[Note]
    duplicate_of: Mapped[bytes | None]
    test_list_code: Mapped[str | None]


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
            postgresql_where=_CURRENT,
        ),
        Index(None, "site_id", "intake_id"),
        Index(None, "site_id", "superseded_by"),
        CheckConstraint("NOT is_current OR voided_reason IS NULL", name="current_not_voided"),
        CheckConstraint("NOT is_current OR superseded_by IS NULL", name="current_not_superseded"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    fluid_sample_id: Mapped[bytes]
    laboratory_code: Mapped[str]
    report_number: Mapped[str]
    issue: Mapped[int]
    received_on: Mapped[date | None]
    tested_on: Mapped[date | None]
    issued_on: Mapped[date | None]
    remark: Mapped[Note]
    rejected_reason: Mapped[Note]
    intake_id: Mapped[bytes | None]
    is_current: Mapped[Yes]
    superseded_by: Mapped[bytes | None]
    voided_reason: Mapped[str | None]


class FluidReadingRow(Base):
    """One analyte's value on one such sheet, canonical beside what was printed."""

    __tablename__ = "fluid_reading"
    __table_args__ = (
        parent("sheet_id", "fluid_sheet"),
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
