"""Catalogues that all sites share: analytes, fluids, laboratories, limits, people at the desk."""

from datetime import date

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from fluiddesk.domain.limits.limit_set import LimitKind, LimitSetState
from fluiddesk.storage.tables.base import (
    Base,
    Code,
    Editable,
    Json,
    Made,
    No,
    Note,
    Number,
    Yes,
    between,
    catalogue,
    one_of,
)


class AnalyteRow(Base):
    """The number an analyte has in readings and blocks; never given to another one."""

    __tablename__ = "analyte"
    __table_args__ = (UniqueConstraint("code"),)

    number: Mapped[Number]
    code: Mapped[str]
    unit: Mapped[str]


class FluidRow(Editable, Base):
    """A fluid by its grade."""

    __tablename__ = "fluid"
    __table_args__ = (CheckConstraint("density_kg_per_l > 0", name="density_positive"),)

    code: Mapped[Code]
    name: Mapped[str]
    fluid_class: Mapped[str]
    viscosity_grade: Mapped[str]
    density_kg_per_l: Mapped[float]
    retired: Mapped[No]


class FluidReferenceRow(Made, Base):
    """What an unused fluid reads from a day on; ``reference_values`` maps analyte to value."""

    __tablename__ = "fluid_reference"
    __table_args__ = (
        catalogue("fluid_code", "fluid.code"),
        Index(None, "fluid_code", "valid_from"),
    )

    number: Mapped[Number]
    fluid_code: Mapped[str]
    valid_from: Mapped[date]
    source: Mapped[str]
    reference_values: Mapped[Json]


class LaboratoryRow(Editable, Base):
    """A laboratory that reports to us. ``methods`` maps an analyte's code to its method there."""

    __tablename__ = "laboratory"
    __table_args__ = (between("lane_days", 0, 365), between("turnaround_days", 0, 365))

    code: Mapped[Code]
    name: Mapped[str]
    site_name: Mapped[Note]
    layout: Mapped[Note]
    methods: Mapped[Json]
    lane_days: Mapped[int | None]
    turnaround_days: Mapped[int | None]
    retired: Mapped[No]


class TestListRow(Editable, Base):
    """A list of tests that is ordered as a whole."""

    __test__ = False  # no test for the test runner
    __tablename__ = "test_list"

    code: Mapped[Code]
    name: Mapped[str]
    note: Mapped[Note]
    retired: Mapped[No]


class TestListAnalyteRow(Base):
    """One analyte of a list of tests, in its place."""

    __test__ = False
    __tablename__ = "test_list_row"
    __table_args__ = (
        catalogue("test_list_code", "test_list.code"),
        UniqueConstraint("test_list_code", "analyte"),
    )

    test_list_code: Mapped[Code]
    place: Mapped[Number]
    analyte: Mapped[str]


class TestListKindRow(Base):
    """The list of tests that is usual for a kind of compartment."""

    __test__ = False
    __tablename__ = "test_list_kind"
    __table_args__ = (catalogue("test_list_code", "test_list.code"),)

    compartment_kind: Mapped[Code]
    test_list_code: Mapped[str]


class LimitSetRow(Editable, Base):
    """A dated collection of limits."""

    __tablename__ = "limit_set"
    __table_args__ = (one_of("state", [state.value for state in LimitSetState]),)

    number: Mapped[Number]
    name: Mapped[str]
    state: Mapped[str]
    valid_from: Mapped[date]
    valid_until: Mapped[date | None]
    author: Mapped[str]
    note: Mapped[Note]
    program: Mapped[Note]
    settings: Mapped[Json]
    based_on: Mapped[int | None]


class LimitRow(Base):
    """One limit, in its place in the collection: of equal rivals the later one holds."""

    __tablename__ = "limit_row"
    __table_args__ = (
        catalogue("limit_set_number", "limit_set.number"),
        one_of("kind", [kind.value for kind in LimitKind]),
        one_of("direction", ["up", "down"]),
        one_of("boundary", ["at", "beyond"]),
    )

    limit_set_number: Mapped[Number]
    place: Mapped[Number]
    machine_kind: Mapped[Note]
    model: Mapped[Note]
    compartment_kind: Mapped[Note]
    compartment: Mapped[Note]
    fluid_class: Mapped[Note]
    analyte: Mapped[str]
    kind: Mapped[str]
    direction: Mapped[str]
    watch: Mapped[float | None]
    act: Mapped[float | None]
    urgent: Mapped[float | None]
    source: Mapped[str]
    set_by: Mapped[str]
    boundary: Mapped[str]
    group_name: Mapped[Note]
    act_needs: Mapped[int] = mapped_column(server_default=text("1"))
    urgent_needs: Mapped[int] = mapped_column(server_default=text("1"))
    note: Mapped[Note]
    is_off: Mapped[No]
    companion: Mapped[Note]
    least_change: Mapped[float | None]
    off_until: Mapped[date | None]
    derivation: Mapped[Note]


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

    limit_set_number: Mapped[Number]
    place: Mapped[Number]
    machine_kind: Mapped[Note]
    model: Mapped[Note]
    compartment_kind: Mapped[Note]
    compartment: Mapped[Note]
    interval_hours: Mapped[float | None]
    interval_days: Mapped[int | None]
    window_share: Mapped[float] = mapped_column(server_default=text("0.1"))
    convention: Mapped[str] = mapped_column(server_default=text("'rolling'"))
    source: Mapped[str]
    set_by: Mapped[str]
    note: Mapped[Note]


class SavedLayoutRow(Editable, Base):
    """A laboratory's file layout that was made at this desk, as our own TOML."""

    __tablename__ = "saved_layout"
    __table_args__ = (catalogue("laboratory_code", "laboratory.code"),)

    code: Mapped[Code]
    name: Mapped[str]
    laboratory_code: Mapped[str | None]
    document: Mapped[str]
    retired: Mapped[No]


class DeskUserRow(Editable, Base):
    """A person at the desk; nothing but the name and what they may do."""

    __tablename__ = "desk_user"
    __table_args__ = (one_of("role", ["clerk", "planner", "manager", "reader"]),)

    name: Mapped[Code]
    role: Mapped[str]
    is_active: Mapped[Yes]


class StoreFactRow(Base):
    """What the store says about itself."""

    __tablename__ = "store_fact"

    key: Mapped[Code]
    value: Mapped[str]
