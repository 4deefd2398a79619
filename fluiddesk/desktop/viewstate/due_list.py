"""What is due, box by box: filtered and put in order by a numpy permutation."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.due_cells import (
    DueBar,
    DueCells,
    DueColumn,
    DueFacts,
    by_box,
    in_part,
)
from fluiddesk.desktop.viewstate.round_plan import Planned
from fluiddesk.desktop.viewstate.row_order import ordered, ranks_of_numbers, ranks_of_texts
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.severity import Severity
from fluiddesk.services.due_notes import DueNote
from fluiddesk.services.due_standing import Standing


class DuePart(StrEnum):
    """The parts of the list."""

    OPEN = "open"
    MISSED = "missed"
    LATE = "late"
    DUE = "due"
    SOON = "soon"
    NEVER = "never"
    UNUSABLE = "unusable"
    EXCUSED = "excused"
    ALL = "all"


class DueOrder(StrEnum):
    """The list's own orders."""

    DAY = "due"
    MACHINE = "machine"
    WORTH = "worth"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueShown:
    """What of the list is shown: a part, one site, the rows with some words, and in what order.

    ``sort``: column and whether descending; ``None`` for the list's own order: the due day, the
    boxes of each machine together, or what a bottle is worth.
    """

    part: DuePart = DuePart.OPEN
    site: str = ""
    words: str = ""
    sort: tuple[int, bool] | None = None
    order: DueOrder = DueOrder.DAY


class DueList:
    """The boxes of a fleet with their due points, a part of them shown in some order."""

    def __init__(self, facts: DueFacts, *, visits: Sequence[Planned] = ()) -> None:
        self._facts, self._fleet = facts, facts.fleet
        self.cells = DueCells(facts)
        self.cells.visits = by_box(visits)
        self._ranks: dict[int, NDArray[np.int64]] = {}
        self._notes: dict[bytes, list[DueNote]] = {}
        for note in facts.notes:
            self._notes.setdefault(note.compartment_id, []).append(note)
        self.shown = DueShown()
        self.rows: NDArray[np.intp] = np.zeros(0, dtype=np.intp)
        self.show(self.shown)

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def standing(self) -> NDArray[np.int8]:
        """Where every box of the fleet stands, values of ``Standing``."""
        return self.cells.standing

    @property
    def scale_words(self) -> str:
        """The first and the last day of the bars."""
        first, last = self.cells.scale
        return f"{first:%m-%d} to {last:%m-%d}"

    def take_visits(self, visits: Sequence[Planned]) -> None:
        """Tell other days of visits."""
        self.cells.visits = by_box(visits)
        self._ranks.pop(DueColumn.VISIT, None)

    # --- which and in what order ------------------------------------------------------------

    def show(self, shown: DueShown) -> None:
        """Show another part, or in another order."""
        self.shown = shown
        kept = self._in_part(shown.part) & self._at_site()
        wanted = shown.words.casefold().split()
        if wanted:
            for index in np.flatnonzero(kept).tolist():
                row = self._fleet.rows[index]
                text = f"{row.site} {row.machine} {self.cells.name(index)}".casefold()
                kept[index] = all(word in text for word in wanted)
        column, descending = shown.sort or (-1, False)
        if column < 0 and shown.order is DueOrder.WORTH:
            kept &= self._rank(DueColumn.WORTH) < len(self.cells.worth)
        self.rows = ordered(kept, self._rank(column), descending=descending)

    def count(self, part: DuePart) -> int:
        """How many boxes of the site shown a part holds."""
        return int((self._in_part(part) & self._at_site()).sum())

    def _in_part(self, part: DuePart) -> NDArray[np.bool_]:
        due_on = self._fleet.due.due_on
        return in_part(part.value, self.standing, due_on, until=self._facts.until)

    def _at_site(self) -> NDArray[np.bool_]:
        rows, site = self._fleet.rows, self.shown.site
        if not site:
            return np.ones(len(rows), dtype=bool)
        return np.fromiter((row.site == site for row in rows), bool, count=len(rows))

    def _rank(self, column: int) -> NDArray[np.int64]:
        if column < 0:
            if self.shown.order is DueOrder.MACHINE:
                # The fleet comes by site, machine and power path.
                return np.arange(len(self._fleet), dtype=np.int64)
            is_worth = self.shown.order is DueOrder.WORTH
            column = int(DueColumn.WORTH if is_worth else DueColumn.DUE_ON)
        if column not in self._ranks:
            self._ranks[column] = self._ranked(column)
        return self._ranks[column]

    def _ranked(self, column: int) -> NDArray[np.int64]:
        due, rows = self._fleet.due, self._fleet.rows
        match column:
            case DueColumn.STATE:
                return self.standing.astype(np.int64)
            case DueColumn.DUE_ON | DueColumn.WINDOW | DueColumn.BAR:
                return due.due_on.astype(np.int64)
            case DueColumn.HOURS:
                return ranks_of_numbers(due.hours_left.tolist())
            case DueColumn.WORTH:
                places = {key: place for key, (place, _line) in self.cells.worth.items()}
                got = [places.get(CompartmentId(row.compartment_id), len(rows)) for row in rows]
                return np.array(got, dtype=np.int64)
            case _:
                texts = [self.cells.text(index, column) for index in range(len(rows))]
                return ranks_of_texts(texts)

    # --- what is told -----------------------------------------------------------------------

    def compartment(self, place: int) -> CompartmentId | None:
        """The box in a row."""
        if not 0 <= place < len(self.rows):
            return None
        return CompartmentId(self._fleet.rows[int(self.rows[place])].compartment_id)

    def place_of(self, compartment: CompartmentId) -> int:
        """The row of a box; -1 where it is not shown."""
        found = (place for place in range(len(self.rows)) if self.compartment(place) == compartment)
        return next(found, -1)

    def visit(self, place: int) -> Planned | None:
        """The visit a row's box stands on."""
        found = self.compartment(place)
        return None if found is None else self.cells.visits.get(found)

    def notes(self, place: int) -> tuple[DueNote, ...]:
        """The notes that stand beside due samples of a row's box."""
        found = self.compartment(place)
        return () if found is None else tuple(self._notes.get(found, ()))

    def box_name(self, place: int) -> str:
        """Machine and box of a row."""
        index = int(self.rows[place])
        return f"{self._fleet.rows[index].machine}, {self.cells.name(index)}"

    def severity(self, place: int) -> Severity:
        """The verdict of a row's box."""
        return Severity(int(self._fleet.severity[int(self.rows[place])]))

    def cell(self, place: int, column: int) -> str:
        """What one cell says."""
        return self.cells.text(int(self.rows[place]), column)

    def tip(self, place: int, column: int) -> str:
        """More about one cell."""
        return self.cells.tip(int(self.rows[place]), column)

    def bar(self, place: int) -> DueBar | None:
        """The bar of a row."""
        return self.cells.bar(int(self.rows[place]))

    def line(self, place: int) -> str:
        """A row in one line of words; "" where there is none."""
        return self.cells.line(int(self.rows[place])) if 0 <= place < len(self.rows) else ""

    def is_pressing(self, place: int) -> bool:
        """Whether a row is late or missed."""
        return int(self.standing[int(self.rows[place])]) in (Standing.LATE, Standing.MISSED)

    def repeats_machine(self, place: int) -> bool:
        """Whether a row is of the same machine as the one above it, in the order by machine."""
        if self.shown.sort or self.shown.order is not DueOrder.MACHINE or place == 0:
            return False
        rows, machine = self.rows, self._fleet.machine
        return int(machine[rows[place]]) == int(machine[rows[place - 1]])
