"""What is due, box by box: filtered and put in order by a numpy permutation, told cell by cell."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import IntEnum, StrEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.round_plan import Planned
from fluiddesk.desktop.viewstate.row_order import ordered, ranks_of_numbers, ranks_of_texts
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.due_bands import DueBands
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition
from fluiddesk.services.visits.worthwhile import WorthLine

MISSED_SHARE: Final = 0.5
"""Share of the interval past the due point after which a sample is missed (common practice)."""


class Standing(IntEnum):
    """Where a box stands, as the planner sees it."""

    EARLY = 0
    DUE = 1
    LATE = 2
    MISSED = 3
    NEVER = 4
    UNUSABLE = 5
    EXCUSED = 6
    NO_INTERVAL = 7

    @property
    def word(self) -> str:
        """The word shown to people."""
        return _WORDS[self]


_WORDS: Final = {
    Standing.EARLY: "Early",
    Standing.DUE: "Due",
    Standing.LATE: "Late",
    Standing.MISSED: "Missed",
    Standing.NEVER: "Never sampled",
    Standing.UNUSABLE: "Unusable",
    Standing.EXCUSED: "Excused",
    Standing.NO_INTERVAL: "No interval",
}
_OF_DUE: Final = {
    DueState.EXCUSED: Standing.EXCUSED,
    DueState.NOT_YET: Standing.EARLY,
    DueState.DUE: Standing.DUE,
    DueState.OVERDUE: Standing.LATE,
    DueState.NEVER_SAMPLED: Standing.NEVER,
    DueState.NO_INTERVAL: Standing.NO_INTERVAL,
}


class DuePart(StrEnum):
    """The parts of the list."""

    OPEN = "open"
    LATE = "late"
    DUE = "due"
    SOON = "soon"
    NEVER = "never"
    UNUSABLE = "unusable"
    EXCUSED = "excused"
    ALL = "all"


class DueColumn(IntEnum):
    """The columns, in display order."""

    STATE = 0
    SITE = 1
    MACHINE = 2
    BOX = 3
    BASIS = 4
    DUE_ON = 5
    WINDOW = 6
    HOURS = 7
    VISIT = 8
    WORTH = 9


@dataclass(frozen=True, slots=True, kw_only=True)
class DueShown:
    """What of the list is shown: a part, one site, the rows with some words, and in what order.

    ``sort``: column and whether descending; ``None`` for the list's own order, which is the due
    day or what a bottle is worth.
    """

    part: DuePart = DuePart.OPEN
    site: str = ""
    words: str = ""
    sort: tuple[int, bool] | None = None
    by_worth: bool = False


class DueList:
    """The boxes of a fleet with their due points, a part of them shown in some order."""

    def __init__(
        self,
        fleet: FleetCondition,
        catalogue: Catalogue,
        *,
        until: date,
        worth: Sequence[WorthLine] = (),
        visits: Sequence[Planned] = (),
        bands: DueBands | None = None,
    ) -> None:
        self._fleet, self._catalogue, self._until = fleet, catalogue, until
        self._bands = bands
        self.standing = _standings(fleet)
        self._worth = {line.compartment_id: (place, line) for place, line in enumerate(worth)}
        self._visits: Mapping[bytes, Planned] = _by_box(visits)
        self._ranks: dict[int, NDArray[np.int64]] = {}
        self.shown = DueShown()
        self.rows: NDArray[np.intp] = np.zeros(0, dtype=np.intp)
        self.show(self.shown)

    def __len__(self) -> int:
        return len(self.rows)

    def take_visits(self, visits: Sequence[Planned]) -> None:
        """Tell other days of visits."""
        self._visits = _by_box(visits)
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
                text = f"{row.site} {row.machine} {self._name(row)}".casefold()
                kept[index] = all(word in text for word in wanted)
        column, descending = shown.sort or (-1, False)
        if column < 0 and shown.by_worth:
            kept &= self._rank(DueColumn.WORTH) < len(self._worth)
        self.rows = ordered(kept, self._rank(column), descending=descending)

    def count(self, part: DuePart) -> int:
        """How many boxes of the site shown a part holds."""
        return int((self._in_part(part) & self._at_site()).sum())

    def _in_part(self, part: DuePart) -> NDArray[np.bool_]:
        standing, due_on = self.standing, self._fleet.due.due_on
        late = np.isin(standing, [int(Standing.LATE), int(Standing.MISSED)])
        soon = (standing == Standing.EARLY) & (due_on <= self._until.toordinal())
        due = standing == Standing.DUE
        unusable, never = standing == Standing.UNUSABLE, standing == Standing.NEVER
        parts: dict[DuePart, NDArray[np.bool_]] = {
            DuePart.OPEN: late | soon | due | unusable | never,
            DuePart.LATE: late,
            DuePart.DUE: due,
            DuePart.SOON: soon,
            DuePart.NEVER: never,
            DuePart.UNUSABLE: unusable,
            DuePart.EXCUSED: standing == Standing.EXCUSED,
            DuePart.ALL: np.ones(len(standing), dtype=bool),
        }
        return parts[part]

    def _at_site(self) -> NDArray[np.bool_]:
        rows, site = self._fleet.rows, self.shown.site
        if not site:
            return np.ones(len(rows), dtype=bool)
        return np.fromiter((row.site == site for row in rows), bool, count=len(rows))

    def _rank(self, column: int) -> NDArray[np.int64]:
        if column < 0:
            column = int(DueColumn.WORTH if self.shown.by_worth else DueColumn.DUE_ON)
        if column not in self._ranks:
            self._ranks[column] = self._ranked(column)
        return self._ranks[column]

    def _ranked(self, column: int) -> NDArray[np.int64]:
        due, rows = self._fleet.due, self._fleet.rows
        match column:
            case DueColumn.STATE:
                return self.standing.astype(np.int64)
            case DueColumn.DUE_ON | DueColumn.WINDOW:
                return due.due_on.astype(np.int64)
            case DueColumn.HOURS:
                return ranks_of_numbers(due.hours_left.tolist())
            case DueColumn.WORTH:
                places = {key: place for key, (place, _line) in self._worth.items()}
                got = [places.get(CompartmentId(row.compartment_id), len(rows)) for row in rows]
                return np.array(got, dtype=np.int64)
            case _:
                return ranks_of_texts([self._text(index, column) for index in range(len(rows))])

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
        return None if found is None else self._visits.get(found)

    def severity(self, place: int) -> Severity:
        """The verdict of a row's box."""
        return Severity(int(self._fleet.severity[int(self.rows[place])]))

    def cell(self, place: int, column: int) -> str:
        """What one cell says."""
        return self._text(int(self.rows[place]), column)

    def tip(self, place: int, column: int) -> str:
        """More about one cell."""
        index = int(self.rows[place])
        if column == DueColumn.WORTH:
            found = self._worth.get(CompartmentId(self._fleet.rows[index].compartment_id))
            return "" if found is None else found[1].why
        if column == DueColumn.STATE:
            return self._state_tip(index)
        if column in (DueColumn.DUE_ON, DueColumn.HOURS):
            band = self._bands.words(index) if self._bands else ""
            return "; ".join(part for part in (self._text(index, column), band) if part)
        return self._text(index, column)

    def is_pressing(self, place: int) -> bool:
        """Whether a row is late or missed."""
        return int(self.standing[int(self.rows[place])]) in (Standing.LATE, Standing.MISSED)

    def _state_tip(self, index: int) -> str:
        match Standing(int(self.standing[index])):
            case Standing.UNUSABLE:
                return "The last sample was rejected, so the box is still to be sampled."
            case Standing.EXCUSED:
                state = self._fleet.rows[index].machine_state
                return f"The machine is on {state.replace('_', ' ')} and owes no sample."
            case Standing.MISSED:
                return "More than half an interval past its due point."
            case Standing.LATE:
                return "Past its window, up to half an interval past its due point."
            case _:
                return ""

    def _text(self, index: int, column: int) -> str:
        row, due = self._fleet.rows[index], self._fleet.due
        if column in (DueColumn.DUE_ON, DueColumn.WINDOW):
            return self._day(index, is_window=column == DueColumn.WINDOW)
        left = float(due.hours_left[index])
        visit = self._visits.get(row.compartment_id)
        worth = self._worth.get(CompartmentId(row.compartment_id))
        cells = {
            DueColumn.STATE: Standing(int(self.standing[index])).word,
            DueColumn.SITE: row.site,
            DueColumn.MACHINE: row.machine,
            DueColumn.BOX: self._name(row),
            DueColumn.BASIS: self._basis(index),
            DueColumn.HOURS: "" if math.isnan(left) else f"{left:.0f}",
            DueColumn.VISIT: "" if visit is None else visit.visit.planned_on.isoformat(),
            DueColumn.WORTH: "" if worth is None else f"{worth[1].worth_per_minute:.0f}",
        }
        return cells[DueColumn(column)]

    def _day(self, index: int, *, is_window: bool) -> str:
        due = self._fleet.due
        if int(due.due_on[index]) == NEVER:
            return ""
        if is_window:
            return f"{_iso(due.window_from[index])} to {_iso(due.window_to[index])}"
        return _iso(due.due_on[index])

    def _name(self, row: BoxRow) -> str:
        return self._catalogue.box_name(row.kind, row.position)

    def _basis(self, index: int) -> str:
        row, special = self._fleet.rows[index], self._fleet.special
        if special and special[index]:
            return special[index]
        if bool(self._fleet.due.by_hours[index]) and row.interval_hours is not None:
            return f"every {row.interval_hours:g} h"
        if row.interval_days is not None:
            return f"every {row.interval_days} days"
        return f"every {row.interval_hours:g} h" if row.interval_hours is not None else ""


def _standings(fleet: FleetCondition) -> NDArray[np.int8]:
    """Where each box stands: what is long past its due point is missed, not merely late."""
    due, rows = fleet.due, fleet.rows
    table = np.array([int(_OF_DUE[state]) for state in DueState], dtype=np.int8)
    standing: NDArray[np.int8] = table[due.state.astype(np.intp)]
    told: Any = [(row.interval_hours, row.interval_days) for row in rows]
    interval = np.array(told, dtype=np.float64).reshape(len(rows), 2)
    by_hours = -due.hours_left > MISSED_SHARE * interval[:, 0]
    past = fleet.today.toordinal() - due.due_on.astype(np.float64)
    by_days = past > MISSED_SHARE * interval[:, 1]
    missed = np.where(due.by_hours, by_hours, by_days)
    if fleet.special:
        # A special interval is as long as the days from the last sample to the due point.
        drawn_on = fleet.today.toordinal() - fleet.age_days.astype(np.float64)
        sooner = past > MISSED_SHARE * np.maximum(due.due_on - drawn_on, 1.0)
        missed = np.where([bool(why) for why in fleet.special], sooner, missed)
    standing[(standing == Standing.LATE) & missed] = Standing.MISSED
    owes = np.isin(standing, [int(Standing.EARLY), int(Standing.DUE)])
    standing[owes & (fleet.trust == Trust.REJECTED) & ~fleet.is_awaited] = Standing.UNUSABLE
    return standing


def _by_box(visits: Sequence[Planned]) -> dict[bytes, Planned]:
    return {box.compartment_id: one for one in visits for box in one.boxes}


def _iso(day: Any) -> str:
    return date.fromordinal(int(day)).isoformat()
