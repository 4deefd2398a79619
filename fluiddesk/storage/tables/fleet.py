"""Sites, machines, meters, compartments and what happened to them."""

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped

from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.storage.tables.base import (
    Base,
    Editable,
    Json,
    Made,
    No,
    Note,
    RowKey,
    SiteKey,
    Three,
    between,
    catalogue,
    one_of,
    parent,
    successor,
)

_STATES = [state.value for state in MachineState]


class SiteRow(Editable, Base):
    """The place that owns records. ``dust_shares`` maps an element to its share of the dust."""

    __tablename__ = "site"
    __table_args__ = (UniqueConstraint("name"),)

    site_id: Mapped[SiteKey]
    name: Mapped[str]
    time_zone: Mapped[str]
    dust_shares: Mapped[Json]


class MachineRow(Editable, Base):
    """A machine. ``machine_uuid`` stays the same when another site takes the machine over."""

    __tablename__ = "machine"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        UniqueConstraint("site_id", "code"),
        one_of("state", _STATES),
        between("criticality", 1, 5),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    code: Mapped[str]
    kind: Mapped[str]
    model: Mapped[str]
    serial: Mapped[Note]
    in_service_on: Mapped[date | None]
    state: Mapped[str]
    criticality: Mapped[Three]
    cost_per_down_hour: Mapped[float | None]
    machine_uuid: Mapped[bytes]
    area: Mapped[Note]


class MachineStateRow(Made, Base):
    """From which day a machine was in which state; decides who owed samples."""

    __tablename__ = "machine_state_history"
    __table_args__ = (
        parent("machine_id", "machine"),
        Index(None, "site_id", "machine_id", "since"),
        one_of("state", _STATES),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    state: Mapped[str]
    since: Mapped[date]
    note: Mapped[Note]


class MachineTransferRow(Made, Base):
    """That another site took a machine over: its own record there goes on from this one."""

    __tablename__ = "machine_transfer"
    __table_args__ = (
        parent("machine_id", "machine"),
        catalogue("to_site_id", "site.site_id"),
        Index(None, "site_id", "machine_id"),
        CheckConstraint("to_site_id <> site_id", name="to_another_site"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    to_site_id: Mapped[int]
    to_machine_id: Mapped[bytes]
    moved_on: Mapped[date]
    note: Mapped[Note]


class MeterRow(Editable, Base):
    """One meter and the span in which it counted."""

    __tablename__ = "meter"
    __table_args__ = (
        parent("machine_id", "machine"),
        Index(None, "site_id", "machine_id", "fitted_on"),
        one_of("kind", ["h", "km"]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    kind: Mapped[str]
    fitted_on: Mapped[date]
    removed_on: Mapped[date | None]
    start_value: Mapped[float]
    end_value: Mapped[float | None]
    hours_before: Mapped[float]
    rolls_over_at: Mapped[float | None]


class MeterReadingRow(Made, Base):
    """What a meter showed on a day, and the machine's true hours that follow from it."""

    __tablename__ = "meter_reading"
    __table_args__ = (
        parent("machine_id", "machine"),
        parent("meter_id", "meter"),
        Index(None, "site_id", "machine_id", "read_on"),
        one_of("source", ["sampler", "telemetry", "fuel_slip", "estimate", "desk"]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    meter_id: Mapped[bytes | None]
    read_on: Mapped[date]
    value: Mapped[float]
    true_hours: Mapped[float]
    source: Mapped[str]
    voided_reason: Mapped[str | None]


class CompartmentRow(Editable, Base):
    """One fluid-wetted box."""

    __tablename__ = "compartment"
    __table_args__ = (
        parent("machine_id", "machine"),
        catalogue("fluid_code", "fluid.code"),
        catalogue("test_list_code", "test_list.code"),
        UniqueConstraint("site_id", "machine_id", "kind", "position"),
        CheckConstraint("capacity_l > 0", name="capacity_positive"),
        CheckConstraint("change_interval_hours > 0", name="change_interval_hours_positive"),
        CheckConstraint("change_interval_days > 0", name="change_interval_days_positive"),
        between("residue_share", 0, 1),
        between("criticality", 1, 5),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    machine_id: Mapped[bytes]
    kind: Mapped[str]
    position: Mapped[Note]
    fluid_code: Mapped[str]
    capacity_l: Mapped[float]
    residue_share: Mapped[float]
    filter_micron: Mapped[float | None]
    interval_hours: Mapped[float | None]
    interval_days: Mapped[int | None]
    criticality: Mapped[Three]
    retired: Mapped[No]
    test_list_code: Mapped[str | None]
    change_interval_hours: Mapped[float | None]
    change_interval_days: Mapped[int | None]


class IntervalChangeRow(Made, Base):
    """From which day a box's own sampling interval held, and what it was before."""

    __tablename__ = "interval_change"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id", "valid_from"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    valid_from: Mapped[date]
    old_hours: Mapped[float | None]
    old_days: Mapped[int | None]
    new_hours: Mapped[float | None]
    new_days: Mapped[int | None]
    why: Mapped[Note]
    approved_by: Mapped[Note]


class ComponentFitRow(Made, Base):
    """Which serial sat in a compartment, and over which of the machine's hours."""

    __tablename__ = "component_fit"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id", "fitted_on"),
        Index(None, "site_id", "serial"),
        one_of("condition", ["new", "overhauled", "used"]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    serial: Mapped[str]
    fitted_on: Mapped[date]
    fitted_at_hours: Mapped[float | None]
    hours_before: Mapped[float]
    condition: Mapped[str]
    removed_on: Mapped[date | None]
    removed_at_hours: Mapped[float | None]
    reason: Mapped[Note]


class SamplingPointRow(Editable, Base):
    """Where and how a sample is drawn."""

    __tablename__ = "sampling_point"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id"),
        one_of("run_state", ["running_idle", "shut_down"]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    kind: Mapped[str]
    location: Mapped[str]
    marking: Mapped[Note]
    run_state: Mapped[str]
    flush_ml: Mapped[float]
    tube_mm: Mapped[float | None]
    hazards: Mapped[Note]
    retired: Mapped[No]


class FluidBatchRow(Editable, Base):
    """A delivery of a fluid to a site."""

    __tablename__ = "fluid_batch"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        catalogue("reference_number", "fluid_reference.number"),
        UniqueConstraint("site_id", "fluid_code", "batch"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    fluid_code: Mapped[str]
    batch: Mapped[str]
    delivered_on: Mapped[date]
    reference_number: Mapped[int | None]


class FluidTankRow(Editable, Base):
    """A bulk tank or a drum store of a site."""

    __tablename__ = "fluid_tank"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        UniqueConstraint("site_id", "code"),
        CheckConstraint("capacity_l > 0", name="capacity_positive"),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    code: Mapped[str]
    fluid_code: Mapped[str]
    capacity_l: Mapped[float | None]
    location: Mapped[Note]
    retired: Mapped[No]


class CompartmentEventRow(Made, Base):
    """What happened to a compartment between samples; superseded, never overwritten."""

    __tablename__ = "compartment_event"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        successor("superseded_by", "compartment_event"),
        catalogue("fluid_code", "fluid.code"),
        Index(None, "site_id", "compartment_id", "happened_on"),
        Index(None, "site_id", "superseded_by"),
        one_of("kind", [kind.value for kind in EventKind]),
        one_of("certainty", [certainty.value for certainty in Certainty]),
    )

    site_id: Mapped[SiteKey]
    id: Mapped[RowKey]
    compartment_id: Mapped[bytes]
    kind: Mapped[str]
    happened_on: Mapped[date]
    true_hours: Mapped[float | None]
    litres: Mapped[float | None]
    fluid_code: Mapped[str | None]
    certainty: Mapped[str]
    source: Mapped[str]
    superseded_by: Mapped[bytes | None]
    note: Mapped[Note]
