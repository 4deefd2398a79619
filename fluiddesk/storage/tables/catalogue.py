"""Catalogues that all sites share: analytes, fluids, laboratories, limits, people at the desk."""

from datetime import date
from typing import Annotated

from sqlalchemy import CheckConstraint, Index, UniqueConstraint

from fluiddesk.domain.limits.limit_set import LimitKind, LimitSetState
from fluiddesk.storage.tables.base import (
    Base,
    Code,
    Editable,
    Json,
    Kept,
    Made,
    No,
    Note,
    Number,
    One,
    Stored,
    Yes,
    between,
    catalogue,
    one_of,
)


class AnalyteRow(Base):
    """The number an analyte has in readings and blocks; never given to another one."""

    __tablename__ = "analyte"
    __table_args__ = (UniqueConstraint("code"),)

    number: Stored[Number]
    code: Stored[str]
    unit: Stored[str]


class FluidRow(Editable, Base):
    """A fluid by its grade."""

    __tablename__ = "fluid"
    __table_args__ = (CheckConstraint("density_kg_per_l > 0", name="density_positive"),)

    code: Stored[Code]
    name: Stored[str]
    fluid_class: Stored[str]
    viscosity_grade: Stored[str]
    density_kg_per_l: Stored[float]
    retired: Stored[No]


class FluidReferenceRow(Made, Base):
    """What an unused fluid reads from a day on; ``reference_values`` maps analyte to value."""

    __tablename__ = "fluid_reference"
    __table_args__ = (
        catalogue("fluid_code", "fluid.code"),
        Index(None, "fluid_code", "valid_from"),
    )

    number: Stored[Number]
    fluid_code: Stored[str]
    valid_from: Stored[date]
    source: Stored[str]
    reference_values: Stored[Json]


class LaboratoryRow(Editable, Base):
    """A laboratory that reports to us. ``methods`` maps an analyte's code to its method there."""

    __tablename__ = "laboratory"
    __table_args__ = (between("lane_days", 0, 365), between("turnaround_days", 0, 365))

    code: Stored[Code]
    name: Stored[str]
    site_name: Stored[Note]
    layout: Stored[Note]
    methods: Stored[Json]
    lane_days: Stored[int | None]
    turnaround_days: Stored[int | None]
    retired: Stored[No]


class TestListRow(Editable, Base):
    """A list of tests that is ordered as a whole."""

    __test__ = False  # no test for the test runner
    __tablename__ = "test_list"

    code: Stored[Code]
    name: Stored[str]
    note: Stored[Note]
    retired: Stored[No]


class TestListAnalyteRow(Base):
    """One analyte of a list of tests, in its place."""

    __test__ = False
    __tablename__ = "test_list_row"
    __table_args__ = (
        catalogue("test_list_code", "test_list.code"),
        UniqueConstraint("test_list_code", "analyte"),
    )

    test_list_code: Stored[Code]
    place: Stored[Number]
    analyte: Stored[str]


class TestListKindRow(Base):
    """The list of tests that is usual for a kind of compartment."""

    __test__ = False
    __tablename__ = "test_list_kind"
    __table_args__ = (catalogue("test_list_code", "test_list.code"),)

    compartment_kind: Stored[Code]
    test_list_code: Stored[str]


class LimitSetRow(Editable, Base):
    """A dated collection of limits."""

    __tablename__ = "limit_set"
    __table_args__ = (one_of("state", [state.value for state in LimitSetState]),)

    number: Stored[Number]
    name: Stored[str]
    state: Stored[str]
    valid_from: Stored[date]
    valid_until: Stored[date | None]
    author: Stored[str]
    note: Stored[Note]
    program: Stored[Note]
    settings: Stored[Json]
    based_on: Stored[int | None]


class LimitRow(Base):
    """One limit, in its place in the collection: of equal rivals the later one holds."""

    __tablename__ = "limit_row"
    __table_args__ = (
        catalogue("limit_set_number", "limit_set.number"),
        one_of("kind", [kind.value for kind in LimitKind]),
        one_of("direction", ["up", "down"]),
        one_of("boundary", ["at", "beyond"]),
    )

    limit_set_number: Stored[Number]
    place: Stored[Number]
    machine_kind: Stored[Note]
    model: Stored[Note]
    compartment_kind: Stored[Note]
    compartment: Stored[Note]
    fluid_class: Stored[Note]
    analyte: Stored[str]
    kind: Stored[str]
    direction: Stored[str]
    watch: Stored[float | None]
    act: Stored[float | None]
    urgent: Stored[float | None]
    source: Stored[str]
    set_by: Stored[str]
    boundary: Stored[str]
    group_name: Stored[Note]
    act_needs: Stored[One]
    urgent_needs: Stored[One]
    note: Stored[Note]
    is_off: Stored[No]
    companion: Stored[Note]
    least_change: Stored[float | None]
    off_until: Stored[date | None]
    derivation: Stored[Note]


class IntervalRuleRow(Base):
    """How often the boxes of a scope are sampled, and how wide the window is."""

    __tablename__ = "interval_rule"
    __table_args__ = (
        catalogue("limit_set_number", "limit_set.number"),
        one_of("convention", ["rolling", "grid"]),
        CheckConstraint("interval_hours > 0", name="interval_hours_positive"),
        CheckConstraint("interval_days > 0", name="interval_days_positive"),
        between("window_share", 0, 0.5),
    )

    limit_set_number: Stored[Number]
    place: Stored[Number]
    machine_kind: Stored[Note]
    model: Stored[Note]
    compartment_kind: Stored[Note]
    compartment: Stored[Note]
    interval_hours: Stored[float | None]
    interval_days: Stored[int | None]
    window_share: Stored[Annotated[float, Kept(default="0.1")]]
    convention: Stored[Annotated[str, Kept(default="'rolling'")]]
    source: Stored[str]
    set_by: Stored[str]
    note: Stored[Note]


class SavedLayoutRow(Editable, Base):
    """A laboratory's file layout that was made at this desk, as our own TOML."""

    __tablename__ = "saved_layout"
    __table_args__ = (catalogue("laboratory_code", "laboratory.code"),)

    code: Stored[Code]
    name: Stored[str]
    laboratory_code: Stored[str | None]
    document: Stored[str]
    retired: Stored[No]


class DeskUserRow(Editable, Base):
    """A person at the desk; nothing but the name and what they may do."""

    __tablename__ = "desk_user"
    __table_args__ = (one_of("role", ["clerk", "planner", "manager", "reader"]),)

    name: Stored[Code]
    role: Stored[str]
    is_active: Stored[Yes]


class StoreFactRow(Base):
    """What the store says about itself."""

    __tablename__ = "store_fact"

    key: Stored[Code]
    value: Stored[str]
