"""The traffic view without a screen: which machines and columns are in view, and what a cell tells.

Sorting and filtering give a permutation of machine numbers; nothing is moved and no cell is built
until it is drawn.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.box_words import (
    BoxCell,
    box_sentence,
    plain_words,
    position_letters,
)
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition

_UNSEEN: Final = -9
"""Stands for the severity of a box that was not there before."""


class RowOrder(StrEnum):
    """How the machines are ordered."""

    WORST = "worst"
    MACHINE = "machine"
    SITE = "site"
    COLUMN = "column"


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetFilter:
    """Which machines to show. A machine stays when one of its boxes meets every box condition.

    ``severities`` empty means any; ``text`` may hold several words, all of which must be found in
    the machine's code, its kind, its model or its site.
    """

    text: str = ""
    site: str = ""
    machine_kind: str = ""
    severities: frozenset[Severity] = frozenset()
    only_overdue: bool = False
    only_moved: bool = False

    @property
    def is_open(self) -> bool:
        """Whether everything is let through."""
        return self == FleetFilter()


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineHead:
    """What stands at the left of a row.

    ``worst`` names the worst box of a machine that needs a decision, and ``others`` counts its
    further boxes that need one; both are empty for any other machine.
    """

    code: str
    kind: str
    site: str
    model: str
    severity: Severity
    state: str
    worst: str
    others: int


class Spot(NamedTuple):
    """A place in the matrix that outlives another order and a fresh reading."""

    machine: bytes
    kind: str
    number: int


class FleetMatrix:
    """Machines by compartment kinds, in the order and the choice last asked for."""

    def __init__(
        self,
        condition: FleetCondition,
        catalogue: Catalogue,
        *,
        last_look: Mapping[bytes, int] | None = None,
    ) -> None:
        """Lay out the columns.

        Args:
            condition: every box of the fleet.
            catalogue: gives names and the order of the power path.
            last_look: severity of each box when this desk last looked; without it, a box has
                moved when its last sample moved it.
        """
        self.condition = condition
        self._catalogue = catalogue
        self._rows = condition.rows
        starts = np.flatnonzero(np.diff(condition.machine, prepend=-1))
        self._starts = [*starts.tolist(), len(self._rows)]
        self._heads: list[BoxRow] = [self._rows[start] for start in starts.tolist()]
        self.kinds = _kinds_by_power_path(self._rows, catalogue)
        self._lay_out_cells()
        self._machine_columns()
        self.is_moved = _moved(condition, last_look)
        self.is_overdue = condition.due.state == DueState.OVERDUE
        self.sites = tuple(sorted({row.site for row in self._heads}))
        self.machine_kinds = tuple(
            sorted(
                (
                    (row.machine_kind, catalogue.machine_kind_name(row.machine_kind))
                    for row in {row.machine_kind: row for row in self._heads}.values()
                ),
                key=lambda pair: pair[1],
            )
        )
        self.filter = FleetFilter()
        self.order = RowOrder.WORST
        self.order_kind = ""
        self.machines: NDArray[np.intp] = np.arange(len(self._heads))
        self.columns: NDArray[np.intp] = np.arange(len(self.kinds))
        self.arrange()

    @cached_property
    def _machine_numbers(self) -> dict[bytes, int]:
        return {row.machine_id: number for number, row in enumerate(self._heads)}

    def _lay_out_cells(self) -> None:
        number = {kind: index for index, kind in enumerate(self.kinds)}
        column = np.array([number[row.kind] for row in self._rows], dtype=np.int64)
        cell = self.condition.machine.astype(np.int64) * len(self.kinds) + column
        self._box_order = np.argsort(cell, kind="stable")
        count = np.bincount(cell, minlength=len(self._heads) * len(self.kinds))
        self._cell_start = np.concatenate([[0], np.cumsum(count)[:-1]]) if len(count) else count
        shape = (len(self._heads), len(self.kinds))
        self._cell_count = count.reshape(shape)
        worst = np.full(count.shape, -2, dtype=np.int8)
        np.maximum.at(worst, cell, self.condition.severity)
        self._cell_worst = worst.reshape(shape)

    def _machine_columns(self) -> None:
        condition, heads = self.condition, self._heads
        name = self._catalogue.machine_kind_name
        self._severity = condition.machine_severity()
        machine = condition.machine
        self._acting = self._count(condition.severity >= Severity.ACT)
        self._watching = self._count(condition.severity >= Severity.WATCH)
        is_worst = condition.severity == self._severity[machine] if len(machine) else machine
        self._age = np.full(len(heads), -1, dtype=np.int64)
        np.maximum.at(self._age, machine, np.where(is_worst, condition.age_days, -1))
        self._haystack = np.array(
            [
                f"{row.machine} {name(row.machine_kind)} {row.model} {row.site}".casefold()
                for row in heads
            ],
            dtype=np.str_,
        )
        self._by_code = _rank([_natural(row.machine) for row in heads])
        self._site = np.array([row.site for row in heads], dtype=np.str_)
        self._by_site = np.unique(self._site, return_inverse=True)[1]
        self._kind = np.array([row.machine_kind for row in heads], dtype=np.str_)

    def _count(self, is_meant: NDArray[np.bool_]) -> NDArray[np.int64]:
        return np.bincount(self.condition.machine[is_meant], minlength=len(self._heads)).astype(
            np.int64
        )

    def arrange(
        self,
        chosen: FleetFilter | None = None,
        *,
        order: RowOrder | None = None,
        kind: str | None = None,
    ) -> None:
        """Filter and order anew; what is not given stays as it is."""
        self.filter = self.filter if chosen is None else chosen
        self.order = self.order if order is None else order
        self.order_kind = self.order_kind if kind is None else kind
        machines = self._permutation()
        self.machines = machines[self._is_in_view()[machines]]
        has_boxes = (
            self._cell_count[self.machines] > 0
            if len(self.machines)
            else np.zeros((0, len(self.kinds)), dtype=np.bool_)
        )
        self.columns = np.flatnonzero(has_boxes.any(axis=0))

    def _permutation(self) -> NDArray[np.intp]:
        worst_first = (self._by_code, -self._age, -self._watching, -self._acting, -self._severity)
        match self.order:
            case RowOrder.MACHINE:
                return np.argsort(self._by_code, kind="stable")
            case RowOrder.SITE:
                return np.lexsort((self._by_code, self._by_site))
            case RowOrder.COLUMN if self.order_kind in self.kinds:
                column = self._cell_worst[:, self.kinds.index(self.order_kind)]
                return np.lexsort((*worst_first, -column))
            case _:
                return np.lexsort(worst_first)

    def _is_in_view(self) -> NDArray[np.bool_]:
        chosen = self.filter
        kept = np.ones(len(self._heads), dtype=np.bool_)
        for word in chosen.text.casefold().split():
            kept &= np.strings.find(self._haystack, word) >= 0
        if chosen.site:
            kept &= self._site == chosen.site
        if chosen.machine_kind:
            kept &= self._kind == chosen.machine_kind
        boxes = np.ones(len(self._rows), dtype=np.bool_)
        if chosen.severities:
            boxes &= np.isin(self.condition.severity, [int(one) for one in chosen.severities])
        if chosen.only_overdue:
            boxes &= self.is_overdue
        if chosen.only_moved:
            boxes &= self.is_moved
        if not boxes.all():
            kept &= self._count(boxes) > 0
        return kept

    @property
    def shape(self) -> tuple[int, int]:
        """Machines and compartment kinds in view."""
        return len(self.machines), len(self.columns)

    def counts(self) -> dict[Severity, int]:
        """How many boxes of the whole fleet have each severity."""
        return {one: int((self.condition.severity == one).sum()) for one in Severity}

    def kind_at(self, column: int) -> str:
        """The code of the compartment kind of a column in view."""
        return self.kinds[int(self.columns[column])]

    def most_boxes(self, column: int) -> int:
        """How many boxes the fullest cell of a column in view holds."""
        return int(self._cell_count[self.machines, self.columns[column]].max(initial=0))

    def head(self, row: int) -> MachineHead:
        """What stands at the left of a row in view."""
        machine = int(self.machines[row])
        first = self._heads[machine]
        severity = Severity(int(self._severity[machine]))
        is_waiting = severity >= Severity.ACT
        return MachineHead(
            code=first.machine,
            kind=self._catalogue.machine_kind_name(first.machine_kind),
            site=first.site,
            model=first.model,
            severity=severity,
            state=first.machine_state,
            worst=self.box_name(self.worst_box(row)) if is_waiting else "",
            others=int(self._acting[machine]) - 1 if is_waiting else 0,
        )

    def worst_box(self, row: int) -> int:
        """Number of the worst box of a machine in view, the first along the power path."""
        machine = int(self.machines[row])
        start, end = self._starts[machine], self._starts[machine + 1]
        return start + int(self.condition.severity[start:end].argmax())

    def spot(self, row: int, column: int, number: int) -> Spot:
        """What to remember of a place in view, whether or not a box stands there."""
        machine = self._heads[int(self.machines[row])].machine_id
        return Spot(machine, self.kind_at(column), number)

    def place_of_spot(self, spot: Spot) -> tuple[int, int, int] | None:
        """Row, column and number within the cell of a remembered place, when it is in view."""
        machine = self._machine_numbers.get(spot.machine)
        if machine is None or spot.kind not in self.kinds:
            return None
        rows = np.flatnonzero(self.machines == machine)
        columns = np.flatnonzero(self.columns == self.kinds.index(spot.kind))
        return (int(rows[0]), int(columns[0]), spot.number) if len(rows) and len(columns) else None

    def boxes(self, row: int, column: int) -> NDArray[np.intp]:
        """Numbers of the boxes in a cell in view."""
        machine, kind = int(self.machines[row]), int(self.columns[column])
        start = int(self._cell_start[machine * len(self.kinds) + kind])
        return self._box_order[start : start + int(self._cell_count[machine, kind])]

    def cell(self, row: int, column: int) -> tuple[BoxCell, ...]:
        """What a cell in view shows; empty where the machine has no such box."""
        return tuple(self._box_cell(int(box)) for box in self.boxes(row, column))

    def _box_cell(self, box: int) -> BoxCell:
        held = self.condition
        return BoxCell(
            box=box,
            letter=position_letters(self._rows[box].position),
            severity=Severity(int(held.severity[box])),
            trust=Trust(int(held.trust[box])),
            is_stale=bool(held.is_stale[box]),
            age_days=int(held.age_days[box]),
            direction=int(held.direction[box]),
            is_overdue=bool(self.is_overdue[box]),
        )

    def compartment(self, box: int) -> CompartmentId:
        """The identifier of a box."""
        return CompartmentId(self._rows[box].compartment_id)

    def box_name(self, box: int) -> str:
        """The words for a box: "Final drive, left"."""
        row = self._rows[box]
        return self._catalogue.box_name(row.kind, row.position)

    def sentence(self, box: int) -> str:
        """Verdict, reason, last sample and what is due, for one box."""
        return box_sentence(self.condition, self._catalogue, box)

    def plain_cell(self, row: int, column: int) -> str:
        """A cell as plain text, for copying and for screen readers: "L Act 34 d; R Normal 34 d"."""
        return "; ".join(plain_words(one) for one in self.cell(row, column))

    def tsv(self, rows: Sequence[int], columns: Sequence[int], *, with_header: bool) -> str:
        """The cells as tab-separated lines, each led by site, machine and kind."""
        lines = []
        if with_header:
            names = [self._catalogue.kind_name(self.kind_at(column)) for column in columns]
            lines.append("\t".join(["Site", "Machine", "Kind", *names]))
        for row in rows:
            head = self.head(row)
            cells = [self.plain_cell(row, column) for column in columns]
            lines.append("\t".join([head.site, head.code, head.kind, *cells]))
        return "\n".join(lines)


def _kinds_by_power_path(rows: Sequence[BoxRow], catalogue: Catalogue) -> tuple[str, ...]:
    found = {row.kind for row in rows}
    known = [code for code in catalogue.compartment_kinds if code in found]
    return (*known, *sorted(found - set(known)))


def _moved(condition: FleetCondition, last_look: Mapping[bytes, int] | None) -> NDArray[np.bool_]:
    if last_look is None:
        before = [
            _UNSEEN if row.previous_severity is None else row.previous_severity
            for row in condition.rows
        ]
    else:
        before = [last_look.get(row.compartment_id, _UNSEEN) for row in condition.rows]
    seen = np.array(before, dtype=np.int8)
    moved: NDArray[np.bool_] = (seen != condition.severity) & (seen != _UNSEEN)
    return moved


def _natural(code: str) -> tuple[tuple[int, int | str], ...]:
    """So that HT-2 comes before HT-10."""
    parts = re.split(r"(\d+)", code.casefold())
    return tuple((0, int(part)) if part.isdigit() else (1, part) for part in parts if part)


def _rank(keys: Sequence[tuple[tuple[int, int | str], ...]]) -> NDArray[np.int64]:
    order = sorted(range(len(keys)), key=lambda index: keys[index])
    rank = np.empty(len(keys), dtype=np.int64)
    rank[np.array(order, dtype=np.intp)] = np.arange(len(keys))
    return rank
