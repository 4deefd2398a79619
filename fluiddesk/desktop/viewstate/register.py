"""The Register page's list: records by site or alone, with what each still lacks."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

from fluiddesk.desktop.viewstate.first_hour import steps
from fluiddesk.desktop.viewstate.register_words import (
    Key,
    Record,
    counted,
    interval_text,
    key_of,
    lacks_line,
    part_name,
)
from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import MachineId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.facts import (
    BatchFacts,
    CompartmentFacts,
    FluidFacts,
    LaboratoryFacts,
    MachineFacts,
    MeterFacts,
    MissingFact,
    PointFacts,
    RegisterFacts,
    SiteFacts,
    TankFacts,
    TestListFacts,
    UserFacts,
)


class Section(StrEnum):
    """The lists of the page."""

    MACHINES = "machines"
    SITES = "sites"
    FLUIDS = "fluids"
    STORES = "stores"
    LABORATORIES = "laboratories"
    TEST_LISTS = "test_lists"
    USERS = "users"


class RecordColumn(IntEnum):
    """The columns of the list."""

    NAME = 0
    ABOUT = 1
    STATE = 2
    LACKS = 3


class PartColumn(IntEnum):
    """The columns of a machine's parts."""

    NAME = 0
    FLUID = 1
    LITRES = 2
    INTERVAL = 3
    LACKS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterRow:
    """One line of a list; a heading has no record. ``searched``: what the filter looks at."""

    name: str
    about: str = ""
    state: str = ""
    lacks: str = ""
    searched: str = ""
    blocks: bool = False
    record: Record | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PartRow:
    """One box, meter or sampling point of a machine, as the texts of its columns."""

    cells: tuple[str, str, str, str, str]
    record: Record


STATES: Mapping[MachineState, str] = {
    MachineState.WORKING: "Working",
    MachineState.STANDBY: "Standby",
    MachineState.DOWN: "Down",
    MachineState.SOLD: "Sold",
}
_RUN_STATES = {"running_idle": "running at idle", "shut_down": "shut down"}


class RegisterState:
    """The register with a section, a filter and what is chosen in it."""

    def __init__(self, facts: RegisterFacts, catalogue: Catalogue) -> None:
        """Look at a register.

        Args:
            facts: the register as it stands.
            catalogue: words for kinds.
        """
        self.facts = facts
        self.catalogue = catalogue
        self._by_key: dict[Key, Record] = {key_of(one): one for one in self._every_record()}
        self._fluid_names = {one.code: one.name for one in facts.fluids}
        self.section = Section.MACHINES
        self.wanted = ""
        self.only_incomplete = False
        self._missing = _by_record(facts.missing)
        self._by_machine: dict[bytes, list[MissingFact]] = defaultdict(list)
        for one in facts.missing:
            if one.machine:
                self._by_machine[bytes(one.machine)].append(one)
        self._parts = _parts_by_machine(facts)
        self._written: dict[Section, tuple[RegisterRow, ...]] = {}
        self.rows: tuple[RegisterRow, ...] = ()
        self.sentence = self._sentence()
        self.steps = steps(facts)
        self.arrange()

    def arrange(self) -> None:
        """Work out the lines of the list anew."""
        self.rows = tuple(self._lines())

    def count(self, section: Section) -> int:
        """How many records a section holds."""
        return len(self._records(section))

    def lacks(self, record: Record) -> tuple[MissingFact, ...]:
        """What a record lacks itself; for a box its sampling point too."""
        found = self._missing.get(key_of(record), ())
        if isinstance(record, CompartmentFacts):
            found = (*found, *self._missing.get(("point", bytes(record.id)), ()))
        if isinstance(record, MeterFacts):
            found = (*found, *self._missing.get(("meter", bytes(record.machine)), ()))
        return tuple(found)

    def lacks_with_parts(self, record: Record) -> tuple[MissingFact, ...]:
        """What a record lacks, for a machine with its boxes, meters and points."""
        if isinstance(record, MachineFacts):
            return tuple(self._by_machine.get(bytes(record.id), ()))
        return self.lacks(record)

    def parts(self, machine: MachineId) -> tuple[CompartmentFacts | MeterFacts | PointFacts, ...]:
        """A machine's boxes in the order of the power path, each with its points; then meters."""
        return self._parts.get(bytes(machine), ())

    def part_rows(self, machine: MachineId) -> tuple[PartRow, ...]:
        """A machine's parts as texts."""
        return tuple(
            PartRow(cells=self._part_cells(part), record=part) for part in self.parts(machine)
        )

    def find(self, key: Key) -> Record | None:
        """The record with this key as it stands now."""
        return self._by_key.get(key)

    def _every_record(self) -> Iterator[Record]:
        facts = self.facts
        for records in (
            facts.sites, facts.machines, facts.compartments, facts.meters, facts.points,
            facts.fluids, facts.tanks, facts.batches, facts.laboratories, facts.test_lists,
            facts.users,
        ):  # fmt: skip
            yield from records

    def machine_of(self, record: Record) -> MachineFacts | None:
        """The machine a part belongs to; a machine is its own."""
        if isinstance(record, PointFacts):
            box = self._by_key.get(("compartment", bytes(record.compartment)))
            return None if box is None else self.machine_of(box)
        if isinstance(record, CompartmentFacts | MeterFacts):
            found = self._by_key.get(("machine", bytes(record.machine)))
            return found if isinstance(found, MachineFacts) else None
        return record if isinstance(record, MachineFacts) else None

    def first_lacking(self, key: str) -> Record | None:
        """The first record that a step of the first hour asks for."""
        if key == "lacking_meter":
            read = {bytes(one.machine) for one in self.facts.meters if one.last_value is not None}
            return next((one for one in self.facts.machines if bytes(one.id) not in read), None)
        for box in self.facts.compartments:
            if not box.retired and lacks_for_step(box, key):
                return box
        return None

    def row_of(self, key: Key) -> int:
        """The line of a record; -1 when it is not shown."""
        for place, row in enumerate(self.rows):
            if row.record is not None and key_of(row.record) == key:
                return place
        return -1

    def _sentence(self) -> str:
        """How complete the register is, in one sentence."""
        machines = len(self.facts.machines)
        if not self.facts.sites:
            return "The register is empty. Begin with your site."
        if not machines:
            return "No machine yet. Add the first, or read your list from a file."
        blocking = {bytes(one.machine) for one in self.facts.missing if one.blocks and one.machine}
        told = f"{counted(machines, 'machine')} at {counted(len(self.facts.sites), 'site')}"
        boxes = counted(sum(1 for one in self.facts.compartments if not one.retired), "compartment")
        if not self._by_machine:
            return f"{told}, {boxes}; nothing is missing."
        open_ones = f"{len(self._by_machine)} incomplete"
        if not blocking:
            return f"{told}, {boxes}; {open_ones}, none held up by it."
        verb = "cannot" if len(blocking) > 1 else "of them cannot"
        return f"{told}, {boxes}; {open_ones}, {len(blocking)} {verb} be planned or judged yet."

    def _lines(self) -> Iterator[RegisterRow]:
        if self.section is not Section.MACHINES:
            yield from filter(self._is_wanted, self._rows_of(self.section))
            return
        by_site: dict[int, list[RegisterRow]] = defaultdict(list)
        for row in filter(self._is_wanted, self._rows_of(Section.MACHINES)):
            if isinstance(row.record, MachineFacts):
                by_site[int(row.record.site)].append(row)
        for site in self.facts.sites:
            rows = by_site[int(site.site)]
            if rows:
                yield RegisterRow(name=f"{site.name}, {counted(len(rows), 'machine')}")
            yield from rows

    def _rows_of(self, section: Section) -> tuple[RegisterRow, ...]:
        """Every line of a section; written once, as the filter only chooses among them."""
        if section not in self._written:
            self._written[section] = tuple(map(self._row, self._records(section)))
        return self._written[section]

    def _records(self, section: Section) -> Sequence[Record]:
        facts = self.facts
        held: Mapping[Section, Sequence[Record]] = {
            Section.MACHINES: facts.machines,
            Section.SITES: facts.sites,
            Section.FLUIDS: facts.fluids,
            Section.STORES: (*facts.tanks, *facts.batches),
            Section.LABORATORIES: facts.laboratories,
            Section.TEST_LISTS: facts.test_lists,
            Section.USERS: facts.users,
        }
        return held[section]

    def _is_wanted(self, row: RegisterRow) -> bool:
        if self.only_incomplete and not row.lacks:
            return False
        return all(word in row.searched for word in self.wanted.casefold().split())

    def _row(self, record: Record) -> RegisterRow:
        missing = self.lacks_with_parts(record)
        name, about, state = self._texts(record)
        lacks = lacks_line(missing)
        serial = f" {record.serial} {record.model}" if isinstance(record, MachineFacts) else ""
        return RegisterRow(
            name=name,
            about=about,
            state=state,
            lacks=lacks,
            searched=f"{name} {about} {state} {lacks}{serial}".casefold(),
            blocks=any(one.blocks for one in missing),
            record=record,
        )

    def _texts(self, record: Record) -> tuple[str, str, str]:
        """Name, what it is, and its state."""
        match record:
            case MachineFacts():
                kind = self.catalogue.machine_kind_name(record.kind)
                # A model that names its kind says it all.
                is_told = kind.casefold() in record.model.casefold()
                about = record.model if is_told else f"{kind}, {record.model}".rstrip(", ")
                texts = record.code, about, STATES[record.state]
            case SiteFacts():
                here = sum(1 for one in self.facts.machines if one.site == record.site)
                texts = record.name, record.time_zone, counted(here, "machine")
            case FluidFacts():
                about = " ".join(filter(None, (record.fluid_class, record.viscosity_grade)))
                texts = record.name, about.replace("_", " "), _retired(is_so=record.retired)
            case TankFacts():
                fluid = self._fluid_names.get(record.fluid, record.fluid)
                litres = "" if record.capacity_l is None else f", {record.capacity_l:,.0f} L"
                texts = f"Tank {record.code}", f"{fluid}{litres}", _retired(is_so=record.retired)
            case BatchFacts():
                fluid = self._fluid_names.get(record.fluid, record.fluid)
                texts = f"Delivery {record.batch}", fluid, str(record.delivered_on or "")
            case LaboratoryFacts():
                texts = record.name, record.layout or "no layout", _retired(is_so=record.retired)
            case TestListFacts():
                tests = counted(len(record.analytes), "test")
                texts = record.name, tests, _retired(is_so=record.retired)
            case UserFacts():
                texts = record.name, record.role, "" if record.is_active else "Left"
            case _:
                texts = part_name(record, self.facts), "", ""
        return texts

    def _part_cells(
        self, part: CompartmentFacts | MeterFacts | PointFacts
    ) -> tuple[str, str, str, str, str]:
        lacks = lacks_line(self.lacks(part))
        name = part_name(part, self.facts)
        match part:
            case CompartmentFacts():
                litres = "" if part.capacity_l is None else f"{part.capacity_l:g}"
                fluid = "Retired" if part.retired else self._fluid_names.get(part.fluid, part.fluid)
                return name, fluid, litres, interval_text(part), lacks
            case MeterFacts():
                last = "" if part.last_value is None else f"{part.last_value:,.0f} {part.unit}"
                return name, last, "", str(part.last_read_on or ""), lacks
            case PointFacts():
                how = _RUN_STATES.get(part.run_state, part.run_state)
                where = part.location or part.kind.replace("_", " ")
                return name, f"{where}, {how}", "", "", lacks


def lacks_for_step(box: CompartmentFacts, key: str) -> bool:
    """Whether a box lacks what a step of the first hour is about."""
    if key == "lacking_interval":
        return box.interval_hours is None and box.interval_days is None
    return not box.fluid or box.capacity_l is None


def _retired(*, is_so: bool) -> str:
    return "Retired" if is_so else ""


def _by_record(missing: Iterable[MissingFact]) -> dict[Key, list[MissingFact]]:
    found: dict[Key, list[MissingFact]] = defaultdict(list)
    for one in missing:
        found[(one.record, one.key)].append(one)
    return found


def _parts_by_machine(
    facts: RegisterFacts,
) -> dict[bytes, tuple[CompartmentFacts | MeterFacts | PointFacts, ...]]:
    points: dict[bytes, list[PointFacts]] = defaultdict(list)
    for point in facts.points:
        points[bytes(point.compartment)].append(point)
    found: dict[bytes, list[CompartmentFacts | MeterFacts | PointFacts]] = defaultdict(list)
    for box in facts.compartments:
        found[bytes(box.machine)] += [box, *points[bytes(box.id)]]
    for meter in facts.meters:
        found[bytes(meter.machine)].append(meter)
    return {machine: tuple(parts) for machine, parts in found.items()}
