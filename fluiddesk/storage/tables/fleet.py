"""Sites, machines, meters, compartments and what happened to them."""

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint

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
    Stored,
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

    site_id: Stored[SiteKey]
    name: Stored[str]
    time_zone: Stored[str]
    dust_shares: Stored[Json]


class MachineRow(Editable, Base):
    """A machine. ``machine_uuid`` stays the same when another site takes the machine over."""

    __tablename__ = "machine"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        UniqueConstraint("site_id", "code"),
        one_of("state", _STATES),
        between("criticality", 1, 5),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    code: Stored[str]
    kind: Stored[str]
    model: Stored[str]
    serial: Stored[Note]
    in_service_on: Stored[date | None]
    state: Stored[str]
    criticality: Stored[Three]
    cost_per_down_hour: Stored[float | None]
    machine_uuid: Stored[bytes]
    area: Stored[Note]


class MachineStateRow(Made, Base):
    """From which day a machine was in which state; decides who owed samples."""

    __tablename__ = "machine_state_history"
    __table_args__ = (
        parent("machine_id", "machine"),
        Index(None, "site_id", "machine_id", "since"),
        one_of("state", _STATES),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    state: Stored[str]
    since: Stored[date]
    note: Stored[Note]


class MachineTransferRow(Made, Base):
    """That another site took a machine over: its own record there goes on from this one."""

    __tablename__ = "machine_transfer"
    __table_args__ = (
        parent("machine_id", "machine"),
        catalogue("to_site_id", "site.site_id"),
        Index(None, "site_id", "machine_id"),
        CheckConstraint("to_site_id <> site_id", name="to_another_site"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    to_site_id: Stored[int]
    to_machine_id: Stored[bytes]
    moved_on: Stored[date]
    note: Stored[Note]


class MeterRow(Editable, Base):
    """One meter and the span in which it counted."""

    __tablename__ = "meter"
    __table_args__ = (
        parent("machine_id", "machine"),
        Index(None, "site_id", "machine_id", "fitted_on"),
        one_of("kind", ["h", "km"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    kind: Stored[str]
    fitted_on: Stored[date]
    removed_on: Stored[date | None]
    start_value: Stored[float]
    end_value: Stored[float | None]
    hours_before: Stored[float]
    rolls_over_at: Stored[float | None]


class MeterReadingRow(Made, Base):
    """What a meter showed on a day, and the machine's true hours that follow from it."""

    __tablename__ = "meter_reading"
    __table_args__ = (
        parent("machine_id", "machine"),
        parent("meter_id", "meter"),
        Index(None, "site_id", "machine_id", "read_on"),
        one_of("source", ["sampler", "telemetry", "fuel_slip", "estimate", "desk"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    meter_id: Stored[bytes | None]
    read_on: Stored[date]
    value: Stored[float]
    true_hours: Stored[float]
    source: Stored[str]
    voided_reason: Stored[str | None]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    machine_id: Stored[bytes]
    kind: Stored[str]
    position: Stored[Note]
    fluid_code: Stored[str]
    capacity_l: Stored[float]
    residue_share: Stored[float]
    filter_micron: Stored[float | None]
    interval_hours: Stored[float | None]
    interval_days: Stored[int | None]
    criticality: Stored[Three]
    retired: Stored[No]
    test_list_code: Stored[str | None]
    change_interval_hours: Stored[float | None]
    change_interval_days: Stored[int | None]


class IntervalChangeRow(Made, Base):
    """From which day a box's own sampling interval held, and what it was before."""

    __tablename__ = "interval_change"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id", "valid_from"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    valid_from: Stored[date]
    old_hours: Stored[float | None]
    old_days: Stored[int | None]
    new_hours: Stored[float | None]
    new_days: Stored[int | None]
    why: Stored[Note]
    approved_by: Stored[Note]


class ComponentFitRow(Made, Base):
    """Which serial sat in a compartment, and over which of the machine's hours."""

    __tablename__ = "component_fit"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id", "fitted_on"),
        Index(None, "site_id", "serial"),
        one_of("condition", ["new", "overhauled", "used"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    serial: Stored[str]
    fitted_on: Stored[date]
    fitted_at_hours: Stored[float | None]
    hours_before: Stored[float]
    condition: Stored[str]
    removed_on: Stored[date | None]
    removed_at_hours: Stored[float | None]
    reason: Stored[Note]


class SamplingPointRow(Editable, Base):
    """Where and how a sample is drawn."""

    __tablename__ = "sampling_point"
    __table_args__ = (
        parent("compartment_id", "compartment"),
        Index(None, "site_id", "compartment_id"),
        one_of("run_state", ["running_idle", "shut_down"]),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    kind: Stored[str]
    location: Stored[str]
    marking: Stored[Note]
    run_state: Stored[str]
    flush_ml: Stored[float]
    tube_mm: Stored[float | None]
    hazards: Stored[Note]
    retired: Stored[No]


class FluidBatchRow(Editable, Base):
    """A delivery of a fluid to a site."""

    __tablename__ = "fluid_batch"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        catalogue("reference_number", "fluid_reference.number"),
        UniqueConstraint("site_id", "fluid_code", "batch"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    fluid_code: Stored[str]
    batch: Stored[str]
    delivered_on: Stored[date]
    reference_number: Stored[int | None]


class FluidTankRow(Editable, Base):
    """A bulk tank or a drum store of a site."""

    __tablename__ = "fluid_tank"
    __table_args__ = (
        catalogue("site_id", "site.site_id"),
        catalogue("fluid_code", "fluid.code"),
        UniqueConstraint("site_id", "code"),
        CheckConstraint("capacity_l > 0", name="capacity_positive"),
    )

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    code: Stored[str]
    fluid_code: Stored[str]
    capacity_l: Stored[float | None]
    location: Stored[Note]
    retired: Stored[No]


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

    site_id: Stored[SiteKey]
    id: Stored[RowKey]
    compartment_id: Stored[bytes]
    kind: Stored[str]
    happened_on: Stored[date]
    true_hours: Stored[float | None]
    litres: Stored[float | None]
    fluid_code: Stored[str | None]
    certainty: Stored[str]
    source: Stored[str]
    superseded_by: Stored[bytes | None]
    note: Stored[Note]
