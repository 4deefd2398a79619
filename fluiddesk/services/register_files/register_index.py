"""The register by the names that people write in files: sites, machines, boxes and fluids."""

from typing import Any, Final

from fluiddesk.intake.values import Fault
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register_files.cells import code_or_name, unknown_word
from fluiddesk.storage import Desk, RecordKind

Record = dict[str, Any]
"""A row of the register by the names of its columns."""

MACHINE_COLUMNS: Final = (
    "site_id", "id", "code", "kind", "model", "serial", "in_service_on", "state", "criticality",
    "cost_per_down_hour", "machine_uuid",
)  # fmt: skip
BOX_COLUMNS: Final = (
    "site_id", "id", "machine_id", "kind", "position", "fluid_code", "capacity_l",
    "residue_share", "filter_micron", "interval_hours", "interval_days",
    "change_interval_hours", "change_interval_days", "criticality", "test_list_code", "retired",
)  # fmt: skip
FLUID_COLUMNS: Final = (
    "code", "name", "fluid_class", "viscosity_grade", "density_kg_per_l", "retired",
)  # fmt: skip
SITE_COLUMNS: Final = ("site_id", "name", "time_zone", "dust_shares")


def records(desk: Desk, table: str, columns: tuple[str, ...]) -> list[Record]:
    """Every row of a table of the register by the names of its columns."""
    return [dict(zip(columns, row, strict=True)) for row in desk.register_rows.read(table, columns)]


class RegisterIndex:
    """Finds records by name; new ones are added as files are read."""

    def __init__(self, desk: Desk, catalogue: Catalogue) -> None:
        self._catalogue = catalogue
        self._machine_kinds = {code: one.name for code, one in catalogue.machine_kinds.items()}
        self._box_kinds = {code: one.name for code, one in catalogue.compartment_kinds.items()}
        self.sites: dict[str, Record] = {
            one["name"]: one for one in records(desk, "site", SITE_COLUMNS)
        }
        self.fluids: dict[str, Record] = {
            one["code"]: one for one in records(desk, "fluid", FLUID_COLUMNS)
        }
        self.laboratories: dict[str, Record] = {
            one["code"]: dict(one) for one in desk.register.all(RecordKind.LABORATORY)
        }
        self.test_lists: dict[str, Record] = {
            one["code"]: dict(one) for one in desk.register.all(RecordKind.TEST_LIST)
        }
        self.machines: dict[tuple[int, str], Record] = {}
        self.machine_by_id: dict[bytes, Record] = {}
        self._folded: dict[tuple[int, str], list[Record]] = {}
        for machine in records(desk, "machine", MACHINE_COLUMNS):
            self.add_machine(machine)
        self.boxes: dict[tuple[bytes, str, str], Record] = {}
        self.boxes_of: dict[bytes, list[Record]] = {}
        for box in records(desk, "compartment", BOX_COLUMNS):
            self.add_box(box)

    def add_machine(self, machine: Record) -> None:
        """Make a machine known by its number."""
        self.machines[machine["site_id"], machine["code"]] = machine
        self.machine_by_id[machine["id"]] = machine
        folded = machine["site_id"], machine["code"].casefold()
        self._folded.setdefault(folded, []).append(machine)
        self._machine_kinds.setdefault(machine["kind"], machine["kind"])

    def add_box(self, box: Record) -> None:
        """Make a compartment known by its machine, kind and position."""
        self.boxes[box["machine_id"], box["kind"], box["position"]] = box
        self.boxes_of.setdefault(box["machine_id"], []).append(box)
        self._box_kinds.setdefault(box["kind"], box["kind"])

    def site(self, name: str) -> Record | Fault:
        """The site of that name; an empty name means the only site there is."""
        if name in self.sites:
            return self.sites[name]
        same = [one for known, one in self.sites.items() if known.casefold() == name.casefold()]
        if len(same) == 1:
            return same[0]
        if not name and len(self.sites) == 1:
            return next(iter(self.sites.values()))
        if not self.sites:
            return Fault(
                "is not on the register, which has no site yet",
                "Add the site first, or import sites.csv too.",
            )
        if not name:
            return Fault(
                f"the register has {len(self.sites)} sites and the row names none",
                "Name the site in the column site.",
            )
        return unknown_word(name, sorted(self.sites))

    def machine(self, site: int, code: str) -> Record | Fault | None:
        """The machine of that number, ``None`` where there is none.

        Letter case matters only where two machines differ by nothing else.
        """
        exact = self.machines.get((site, code))
        if exact is not None:
            return exact
        same = self._folded.get((site, code.casefold()), [])
        if len(same) > 1:
            return Fault("is more than one machine", "Write it in the letters of the register.")
        return same[0] if same else None

    def box(self, machine: Record, kind: str, position: str) -> Record | None:
        """A machine's compartment."""
        return self.boxes.get((machine["id"], kind, position))

    def box_names(self, machine: Record) -> str:
        """A machine's compartments in the words of a file."""
        names = [
            f"{box['kind']} {box['position']}".strip()
            for box in self.boxes_of.get(machine["id"], [])
        ]
        return ", ".join(sorted(names)) or "none"

    def compartment_kind(self, text: str) -> str | Fault:
        """The code of a kind of compartment written as code or name."""
        return code_or_name(text, self._box_kinds)

    def machine_kind(self, text: str) -> str | Fault:
        """The code of a kind of machine written as code or name."""
        return code_or_name(text, self._machine_kinds)

    def fluid(self, text: str) -> str | Fault:
        """The code of a fluid written as code or name."""
        return code_or_name(text, {code: one["name"] for code, one in self.fluids.items()})

    def fluid_class(self, text: str) -> str | Fault:
        """A class of fluids that limits are made for."""
        classes = {one.fluid_class for one in self._catalogue.fluids.values()}
        classes |= {one["fluid_class"] for one in self.fluids.values()}
        return code_or_name(text, {one: one.replace("_", " ") for one in sorted(classes)})
