"""What the register shows and edits: one frozen value for each kind of record.

A form changes a copy (``dataclasses.replace``) and gives it back to the use case that saves it. An
empty ``id`` or a ``version`` of 0 means "not in the database yet"; every other ``version`` is the
one that was read, so that a save over somebody else's newer change is refused. Fields named in a
docstring as *shown* are filled in for reading and ignored when saving.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId

NEW: Final = 0
"""The version of a record that is not in the database yet."""

NO_SITE: Final = SiteId(0)
NO_MACHINE: Final = MachineId(b"")
NO_COMPARTMENT: Final = CompartmentId(b"")


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFacts:
    """A site. ``dust_shares``: an element's code to its share of the local dust, 0 to 1.

    ``site`` 0 asks for the next free number when saving.
    """

    site: SiteId = NO_SITE
    name: str = ""
    time_zone: str = "UTC"
    dust_shares: Mapping[str, float] = field(default_factory=dict)
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class StateFacts:
    """From which day a machine was working, on standby, down or sold."""

    state: MachineState
    since: date
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineFacts:
    """A machine of the site that owns its records.

    ``criticality`` is 1 (least) to 5 (most). ``state`` holds from ``state_since``; a change of it
    adds to the history. ``machine_uuid`` stays
    the same when another site takes the machine over. Shown: ``kind_name``, ``site_name``,
    ``hours_now`` (true hours), ``hours_as_of``, ``came_from`` and ``went_to`` (names of sites).
    """

    site: SiteId
    id: MachineId = NO_MACHINE
    code: str = ""
    kind: str = ""
    model: str = ""
    serial: str = ""
    in_service_on: date | None = None
    state: MachineState = MachineState.WORKING
    state_since: date | None = None
    criticality: int = 3
    cost_per_down_hour: float | None = None
    machine_uuid: bytes = b""
    kind_name: str = ""
    site_name: str = ""
    hours_now: float | None = None
    hours_as_of: date | None = None
    came_from: str = ""
    went_to: str = ""
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterFacts:
    """A meter and the span in which it counts. ``unit``: "h" or "km".

    ``start_value`` is what it showed on ``fitted_on`` and ``hours_before`` the machine's true hours
    then. ``rolls_over_at``: the value at which it starts again at 0. Shown: ``last_value``,
    ``last_read_on``.
    """

    site: SiteId
    machine: MachineId
    id: bytes = b""
    unit: str = "h"
    fitted_on: date | None = None
    removed_on: date | None = None
    start_value: float = 0.0
    end_value: float | None = None
    hours_before: float = 0.0
    rolls_over_at: float | None = None
    last_value: float | None = None
    last_read_on: date | None = None
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFacts:
    """What a meter showed on a day.

    ``source``: "sampler", "telemetry", "fuel_slip", "estimate" or "desk". Shown: ``true_hours``,
    ``meter``.
    """

    site: SiteId
    machine: MachineId
    id: bytes = b""
    read_on: date | None = None
    value: float | None = None
    source: str = "desk"
    true_hours: float | None = None
    meter: bytes | None = None
    voided_reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentFacts:
    """One fluid-wetted box with its interval, whichever of hours and days comes first.

    ``change_interval_hours`` and ``change_interval_days``: from one planned fluid change to the
    next, ``None`` where none is known. ``residue_share`` is the share of old fluid left in the box
    by a change (0 to 1). ``test_list``: the code of its own test list, empty for the usual one of
    its kind. Shown: ``name``, ``machine_code``, ``component_serial`` (fitted now).
    """

    site: SiteId
    machine: MachineId
    id: CompartmentId = NO_COMPARTMENT
    kind: str = ""
    position: str = ""
    fluid: str = ""
    capacity_l: float | None = None
    residue_share: float | None = None
    filter_micron: float | None = None
    interval_hours: float | None = None
    interval_days: int | None = None
    change_interval_hours: float | None = None
    change_interval_days: int | None = None
    criticality: int = 3
    test_list: str = ""
    retired: bool = False
    name: str = ""
    machine_code: str = ""
    component_serial: str = ""
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class FitFacts:
    """Which serial sat in a box over which of the machine's hours.

    ``hours_before``: hours already on the component when fitted. ``condition``: "new",
    "overhauled" or "used". Shown: ``machine_code``, ``compartment_name``.
    """

    site: SiteId
    compartment: CompartmentId
    id: bytes = b""
    serial: str = ""
    fitted_on: date | None = None
    fitted_at_hours: float | None = None
    hours_before: float = 0.0
    condition: str = "new"
    removed_on: date | None = None
    removed_at_hours: float | None = None
    reason: str = ""
    machine_code: str = ""
    compartment_name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PointFacts:
    """Where and how a sample is drawn. ``run_state``: "running_idle" or "shut_down"."""

    site: SiteId
    compartment: CompartmentId
    id: bytes = b""
    kind: str = ""
    location: str = ""
    marking: str = ""
    run_state: str = "running_idle"
    flush_ml: float | None = None
    tube_mm: float | None = None
    hazards: str = ""
    retired: bool = False
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class EventFacts:
    """What happened to a box; superseded, never overwritten."""

    site: SiteId
    compartment: CompartmentId
    id: bytes = b""
    kind: EventKind = EventKind.TOP_UP
    happened_on: date | None = None
    true_hours: float | None = None
    litres: float | None = None
    fluid: str = ""
    certainty: Certainty = Certainty.RECORDED
    source: str = "desk"
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferenceFacts:
    """What a fluid reads unused, from a day on; ``values`` maps analyte to canonical units."""

    number: int
    valid_from: date
    source: str
    values: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class FluidFacts:
    """A fluid by its grade, with its new-fluid references, oldest first (shown)."""

    code: str = ""
    name: str = ""
    fluid_class: str = ""
    viscosity_grade: str = ""
    density_kg_per_l: float | None = None
    retired: bool = False
    references: tuple[ReferenceFacts, ...] = ()
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchFacts:
    """A delivery of a fluid to a site. ``reference_number``: the reference that holds for it."""

    site: SiteId
    id: bytes = b""
    fluid: str = ""
    batch: str = ""
    delivered_on: date | None = None
    reference_number: int | None = None
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class TankFacts:
    """A bulk tank or drum store of a site; samples of it belong to no machine."""

    site: SiteId
    id: bytes = b""
    code: str = ""
    fluid: str = ""
    capacity_l: float | None = None
    location: str = ""
    retired: bool = False
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class LaboratoryFacts:
    """A laboratory. ``layout``: the file layout it reports in; ``lane_days``: days on the way.

    ``methods`` maps an analyte's code to the method it is tested by there. ``turnaround_days``:
    promised days from receipt to report.
    """

    code: str = ""
    name: str = ""
    site_name: str = ""
    layout: str = ""
    methods: Mapping[str, str] = field(default_factory=dict)
    lane_days: int | None = None
    turnaround_days: int | None = None
    retired: bool = False
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class TestListFacts:
    """Which tests are ordered. ``compartment_kinds``: those it is usual for; may be none."""

    __test__ = False  # no test for the test runner

    code: str = ""
    name: str = ""
    compartment_kinds: tuple[str, ...] = ()
    analytes: tuple[str, ...] = ()
    note: str = ""
    retired: bool = False
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class UserFacts:
    """A person at the desk. ``role``: "clerk", "planner", "manager" or "reader"."""

    name: str = ""
    role: str = "clerk"
    is_active: bool = True
    version: int = NEW


@dataclass(frozen=True, slots=True, kw_only=True)
class MissingFact:
    """Something a record still lacks, and what to do, in words.

    ``record``: "site", "machine", "meter", "compartment", "point", "fluid", "laboratory",
    "test_list", or "register" for what the whole register lacks. ``key``: the record's ``id`` or
    code. ``blocks``: whether the programme cannot plan or judge without it.
    """

    record: str
    key: bytes | str
    name: str
    field: str
    text: str
    blocks: bool
    site: SiteId = NO_SITE
    machine: MachineId = NO_MACHINE


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterFacts:
    """The register as it stands, retired and sold records included.

    ``missing`` lists what is incomplete, most pressing first.
    """

    sites: tuple[SiteFacts, ...]
    machines: tuple[MachineFacts, ...]
    meters: tuple[MeterFacts, ...]
    compartments: tuple[CompartmentFacts, ...]
    points: tuple[PointFacts, ...]
    fluids: tuple[FluidFacts, ...]
    batches: tuple[BatchFacts, ...]
    tanks: tuple[TankFacts, ...]
    laboratories: tuple[LaboratoryFacts, ...]
    test_lists: tuple[TestListFacts, ...]
    users: tuple[UserFacts, ...]
    missing: tuple[MissingFact, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineRecord:
    """Everything about one machine, for its form.

    ``earlier`` are the records of the same machine at sites that owned it before, oldest first;
    ``fits`` those of every box, by day.
    """

    machine: MachineFacts
    states: tuple[StateFacts, ...]
    meters: tuple[MeterFacts, ...]
    readings: tuple[ReadingFacts, ...]
    compartments: tuple[CompartmentFacts, ...]
    points: tuple[PointFacts, ...]
    fits: tuple[FitFacts, ...]
    earlier: tuple[MachineFacts, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldFault:
    """One thing wrong with one field: the value, why, and the remedy, in words."""

    field: str
    value: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeFacts:
    """One change of a record: who, when, from what to what (field to value; ``None``: new)."""

    site: SiteId
    place: int
    at: str
    who: str
    what: str
    old: Mapping[str, object] | None
    new: Mapping[str, object] | None
