"""Sites, machines and compartments as index arrays: nothing is built per node."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import FleetCondition

if TYPE_CHECKING:
    from numpy.typing import NDArray

SITE: Final = 0
MACHINE: Final = 1
BOX: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class TreeNode:
    """What one line of the tree shows."""

    level: int
    text: str
    note: str
    severity: Severity
    trust: Trust


class MachineTreeState:
    """The tree of one fleet, narrowed by the words of the filter.

    A node is (level, number): number of the site, of the machine or of the box. Machines follow
    ``FleetCondition``, whose boxes stand together by machine.
    """

    def __init__(self, condition: FleetCondition, catalogue: Catalogue) -> None:
        self.condition = condition
        self._catalogue = catalogue
        rows = condition.rows
        self._first_box = np.flatnonzero(np.diff(condition.machine, prepend=-1))
        self._box_count = np.diff(np.append(self._first_box, len(rows)))
        heads = [rows[box] for box in self._first_box.tolist()]
        self._heads = heads
        self._machine_numbers = {row.machine_id: number for number, row in enumerate(heads)}
        self._box_numbers = {row.compartment_id: number for number, row in enumerate(rows)}
        site_names, self._site_of = (
            np.unique(np.array([row.site for row in heads], dtype=np.str_), return_inverse=True)
            if heads
            else (np.zeros(0, dtype=np.str_), np.zeros(0, dtype=np.intp))
        )
        self._sites: list[str] = [str(name) for name in site_names]
        self._severity = condition.machine_severity()
        self._site_severity = np.full(len(self._sites), Severity.NO_VERDICT, dtype=np.int8)
        np.maximum.at(self._site_severity, self._site_of, self._severity)
        name = catalogue.machine_kind_name
        self._haystack = np.array(
            [f"{row.machine} {name(row.machine_kind)} {row.site}".casefold() for row in heads],
            dtype=np.str_,
        )
        self.narrow("")

    def narrow(self, text: str) -> None:
        """Keep the machines whose code, kind or site holds every word."""
        kept = np.ones(len(self._heads), dtype=np.bool_)
        for word in text.casefold().split():
            kept &= np.strings.find(self._haystack, word) >= 0
        machines = np.flatnonzero(kept)
        order = np.argsort(self._site_of[machines], kind="stable")
        self._machines: NDArray[np.intp] = machines[order]
        self._shown_sites, starts, counts = np.unique(
            self._site_of[self._machines], return_index=True, return_counts=True
        )
        self._start, self._count = starts, counts
        self._site_row = np.full(len(self._sites), -1, dtype=np.intp)
        self._site_row[self._shown_sites] = np.arange(len(self._shown_sites))
        self._machine_row = np.full(len(self._heads), -1, dtype=np.intp)
        self._machine_row[self._machines] = np.arange(len(self._machines)) - np.repeat(
            starts, counts
        )

    @property
    def machines_shown(self) -> int:
        """How many machines meet the filter."""
        return len(self._machines)

    def child_count(self, node: tuple[int, int] | None) -> int:
        """How many lines lie below a node; ``None`` stands for the whole tree."""
        match node:
            case None:
                return len(self._shown_sites)
            case (0, number):
                return int(self._count[self._site_row[number]])
            case (1, number):
                return int(self._box_count[number])
            case _:
                return 0

    def child(self, node: tuple[int, int] | None, row: int) -> tuple[int, int]:
        """The node at a row below another."""
        match node:
            case None:
                return SITE, int(self._shown_sites[row])
            case (0, number):
                return MACHINE, int(self._machines[self._start[self._site_row[number]] + row])
            case (_, number):
                return BOX, int(self._first_box[number]) + row

    def parent(self, node: tuple[int, int]) -> tuple[int, int] | None:
        """The node above; ``None`` above a site."""
        level, number = node
        if level == BOX:
            return MACHINE, int(self.condition.machine[number])
        return (SITE, int(self._site_of[number])) if level == MACHINE else None

    def row(self, node: tuple[int, int]) -> int:
        """Where a node stands below its parent."""
        level, number = node
        if level == BOX:
            return number - int(self._first_box[self.condition.machine[number]])
        return int(self._machine_row[number] if level == MACHINE else self._site_row[number])

    def shows(self, node: tuple[int, int]) -> bool:
        """Whether the filter lets a node through."""
        level, number = node
        machine = int(self.condition.machine[number]) if level == BOX else number
        shown = self._site_row[number] if level == SITE else self._machine_row[machine]
        return bool(shown >= 0)

    def node(self, node: tuple[int, int]) -> TreeNode:
        """What a node shows."""
        level, number = node
        if level == SITE:
            return TreeNode(
                level=level,
                text=self._sites[number],
                note=str(int((self._site_of == number).sum())),
                severity=Severity(int(self._site_severity[number])),
                trust=Trust.GOOD,
            )
        if level == MACHINE:
            row = self._heads[number]
            return TreeNode(
                level=level,
                text=row.machine,
                note=self._catalogue.machine_kind_name(row.machine_kind),
                severity=Severity(int(self._severity[number])),
                trust=Trust.GOOD,
            )
        row = self.condition.rows[number]
        return TreeNode(
            level=level,
            text=self._catalogue.box_name(row.kind, row.position),
            note="",
            severity=Severity(int(self.condition.severity[number])),
            trust=Trust(int(self.condition.trust[number])),
        )

    def compartment(self, node: tuple[int, int]) -> CompartmentId | None:
        """The identifier of a box; ``None`` for a site or a machine."""
        level, number = node
        if level != BOX:
            return None
        return CompartmentId(self.condition.rows[number].compartment_id)

    def worst_box_node(self, machine: tuple[int, int]) -> tuple[int, int]:
        """The worst box of a machine, the first along the power path."""
        first, count = int(self._first_box[machine[1]]), int(self._box_count[machine[1]])
        return BOX, first + int(self.condition.severity[first : first + count].argmax())

    def machine_id(self, node: tuple[int, int]) -> bytes:
        """The identifier of a machine's node."""
        return self._heads[node[1]].machine_id

    def machine_node(self, machine: bytes) -> tuple[int, int] | None:
        """The node of a machine; ``None`` where the fleet has none such."""
        number = self._machine_numbers.get(machine)
        return None if number is None else (MACHINE, number)

    def box_node(self, compartment: bytes) -> tuple[int, int] | None:
        """The node of a compartment; ``None`` where the fleet has none such."""
        number = self._box_numbers.get(compartment)
        return None if number is None else (BOX, number)
