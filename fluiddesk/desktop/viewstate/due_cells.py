"""What each box of the due list says, cell by cell, and the bar of its window and band."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from enum import IntEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.round_plan import Planned
from fluiddesk.desktop.viewstate.sampling_calls import SamplingFacts
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.sampling.due import NEVER
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.due_bands import DueBands, early_edge
from fluiddesk.services.due_notes import DueNote
from fluiddesk.services.due_standing import Standing, due_standings
from fluiddesk.services.fleet_condition import FleetCondition
from fluiddesk.services.special_by_hand import Special
from fluiddesk.services.visits.worthwhile import WorthLine

TOO_FEW: Final = "too few readings"
"""Why a box has no band, in its column."""

_PAST_DAYS: Final = 14
_LEAST_AHEAD_DAYS: Final = 28
_BEYOND_DAYS: Final = 14


class DueColumn(IntEnum):
    """The columns, in display order."""

    STATE = 0
    SITE = 1
    MACHINE = 2
    BOX = 3
    BASIS = 4
    DUE_ON = 5
    BAR = 6
    BAND = 7
    WINDOW = 8
    HOURS = 9
    VISIT = 10
    WORTH = 11
    WHY = 12


_TIPS: Final = {
    Standing.EARLY: "Its window has not opened: a sample taken now counts as early.",
    Standing.MISSED: "More than half an interval past its due point.",
    Standing.LATE: "Past its window, up to half an interval past its due point.",
    Standing.NEVER: "It owes its first sample now.",
    Standing.NO_INTERVAL: "The register gives it no interval, so nothing is due.",
}


@dataclass(frozen=True, slots=True)
class DueBar:
    """A box on the list's one time scale; places from 0 to 1, beyond them where it lies outside.

    ``band`` is ``None`` where there is none.
    """

    today: float
    due: float
    window: tuple[float, float]
    band: tuple[float, float] | None
    is_pressing: bool


@dataclass(frozen=True, kw_only=True)
class DueFacts:
    """What the due list is made of. ``until``: the last day of the plan."""

    fleet: FleetCondition
    catalogue: Catalogue
    until: date
    worth: Sequence[WorthLine] = ()
    bands: DueBands | None = None
    notes: Sequence[DueNote] = ()
    specials: Sequence[Special] = field(default_factory=tuple)


def due_facts(facts: SamplingFacts, catalogue: Catalogue) -> DueFacts:
    """What of the page's facts the due list is made of."""
    return DueFacts(
        fleet=facts.fleet,
        catalogue=catalogue,
        until=facts.plan.until,
        worth=facts.worth,
        bands=facts.bands,
        notes=facts.notes,
        specials=facts.specials,
    )


class DueCells:
    """The texts of every box of a fleet, by its index there."""

    def __init__(self, facts: DueFacts) -> None:
        self._facts, self._fleet = facts, facts.fleet
        self._bands = facts.bands
        told = due_standings(facts.fleet, notes=facts.notes, specials=facts.specials)
        self.standing, self._why = told.standing, told.why
        early = np.zeros(len(facts.fleet), dtype=np.int32)
        self.early = early_edge(facts.fleet, facts.bands) if facts.bands else early
        self.worth = {line.compartment_id: (at, line) for at, line in enumerate(facts.worth)}
        self.visits: Mapping[bytes, Planned] = {}
        self._tellers = self._tellers_by_column()
        ahead = max((facts.until - facts.fleet.today).days + _BEYOND_DAYS, _LEAST_AHEAD_DAYS)
        self.scale = (
            facts.fleet.today - timedelta(days=_PAST_DAYS),
            facts.fleet.today + timedelta(days=ahead),
        )

    def _tellers_by_column(self) -> dict[int, Callable[[int], str]]:
        rows = self._fleet.rows
        return {
            DueColumn.STATE: lambda at: self.state(at).word,
            DueColumn.SITE: lambda at: rows[at].site,
            DueColumn.MACHINE: lambda at: rows[at].machine,
            DueColumn.BOX: self.name,
            DueColumn.BASIS: self._basis,
            DueColumn.DUE_ON: lambda at: self._day(at, is_window=False),
            DueColumn.WINDOW: lambda at: self._day(at, is_window=True),
            DueColumn.BAND: self._band_cell,
            DueColumn.HOURS: self._hours,
            DueColumn.VISIT: self._visit_day,
            DueColumn.WORTH: self._worth_words,
            DueColumn.WHY: self.why,
        }

    def _band_cell(self, index: int) -> str:
        if self._bands is None:
            return ""
        if self._bands.too_few[index]:
            return TOO_FEW
        band = self._bands.days(index)
        return "" if band is None else f"{band[0]:%m-%d} to {band[1]:%m-%d}"

    def _hours(self, index: int) -> str:
        left = float(self._fleet.due.hours_left[index])
        return "" if math.isnan(left) else f"{left:.0f}"

    def _visit_day(self, index: int) -> str:
        visit = self.visits.get(self._fleet.rows[index].compartment_id)
        return "" if visit is None else visit.visit.planned_on.isoformat()

    def _worth_words(self, index: int) -> str:
        worth = self.worth.get(CompartmentId(self._fleet.rows[index].compartment_id))
        return "" if worth is None else f"{worth[1].worth_per_minute:.0f}"

    def text(self, index: int, column: int) -> str:
        """What one cell says."""
        told = self._tellers.get(column)
        return "" if told is None else told(index)

    def tip(self, index: int, column: int) -> str:
        """More about one cell."""
        match column:
            case DueColumn.WORTH:
                found = self.worth.get(CompartmentId(self._fleet.rows[index].compartment_id))
                return "" if found is None else found[1].why
            case DueColumn.STATE:
                return self._state_tip(index)
            case DueColumn.DUE_ON | DueColumn.HOURS | DueColumn.BAND:
                told = self.text(index, DueColumn.DUE_ON), self._band_words(index)
                return "; ".join(part for part in told if part)
            case DueColumn.BAR:
                return self.bar_words(index)
            case DueColumn.BASIS:
                return "; ".join(part for part in (self._basis(index), self._grid(index)) if part)
            case _:
                return self.text(index, column)

    def state(self, index: int) -> Standing:
        """Where a box stands."""
        return Standing(int(self.standing[index]))

    def name(self, index: int) -> str:
        """The words for a box."""
        row = self._fleet.rows[index]
        return self._facts.catalogue.box_name(row.kind, row.position)

    def why(self, index: int) -> str:
        """Why it stands so, and whether it is planned early; "" where there is nothing to say."""
        early = int(self.early[index])
        told = f"critical: planned on the early edge, {_iso(early)}" if early else ""
        return "; ".join(part for part in (self._why[index], told) if part)

    def bar(self, index: int) -> DueBar | None:
        """The window, band and due day of a box on the time scale; ``None`` without a due day."""
        due = self._fleet.due
        if int(due.due_on[index]) == NEVER or self.state(index) is Standing.NEVER:
            return None
        band = self._bands.days(index) if self._bands else None
        pair = None
        if band is not None:
            # The last day of a band is in it.
            pair = (self._place(band[0].toordinal()), self._place(band[1].toordinal() + 1))
        return DueBar(
            today=self._place(self._fleet.today.toordinal() + 0.5),
            due=self._place(int(due.due_on[index]) + 0.5),
            window=(
                self._place(int(due.window_from[index])),
                self._place(int(due.window_to[index]) + 1),
            ),
            band=pair,
            is_pressing=self.state(index) in (Standing.LATE, Standing.MISSED),
        )

    def bar_words(self, index: int) -> str:
        """The bar in words."""
        window = self._day(index, is_window=True)
        told = (f"window {window}" if window else "", self._band_words(index))
        return "; ".join(part for part in told if part)

    def line(self, index: int) -> str:
        """A box in one line: where it stands, its window, its band, and why."""
        parts = (
            f"{self._fleet.rows[index].machine}, {self.name(index)}: {self.state(index).word}",
            self.bar_words(index),
            self._grid(index),
            self.why(index) or _begun_small(self._state_tip(index)),
        )
        return "; ".join(part.rstrip(".") for part in parts if part) + "."

    def _place(self, day: float) -> float:
        first, last = self.scale[0].toordinal(), self.scale[1].toordinal()
        return (day - first) / (last - first)

    def _band_words(self, index: int) -> str:
        words = self._bands.words(index) if self._bands else ""
        told = words.removesuffix(" (80 %)")
        return words if told == words else f"80 % band {told}"

    def _state_tip(self, index: int) -> str:
        if self._why[index]:
            return f"{self._why[index][:1].upper()}{self._why[index][1:]}."
        return _TIPS.get(self.state(index), "")

    def _day(self, index: int, *, is_window: bool) -> str:
        due = self._fleet.due
        if int(due.due_on[index]) == NEVER:
            return ""
        if is_window:
            return f"{_iso(due.window_from[index])} to {_iso(due.window_to[index])}"
        return _iso(due.due_on[index])

    def _grid(self, index: int) -> str:
        special = self._fleet.special
        is_told = bool(self._fleet.is_grid[index]) and not (special and special[index])
        return "due points on a fixed grid" if is_told else ""

    def _basis(self, index: int) -> str:
        row, special = self._fleet.rows[index], self._fleet.special
        if special and special[index]:
            return special[index]
        if bool(self._fleet.due.by_hours[index]) and row.interval_hours is not None:
            return f"every {row.interval_hours:g} h"
        if row.interval_days is not None:
            return f"every {row.interval_days} days"
        return f"every {row.interval_hours:g} h" if row.interval_hours is not None else ""


def by_box(visits: Sequence[Planned]) -> dict[bytes, Planned]:
    """The visit of each box that stands on one."""
    return {box.compartment_id: one for one in visits for box in one.boxes}


def in_part(
    part: Any, standing: NDArray[np.int8], due_on: NDArray[np.int32], *, until: date
) -> NDArray[np.bool_]:
    """Which boxes belong to a part of the list, one of the values of ``DuePart``."""
    soon: NDArray[np.bool_] = (standing == Standing.EARLY) & (due_on <= until.toordinal())
    same = {
        "late": Standing.LATE,
        "missed": Standing.MISSED,
        "due": Standing.DUE,
        "never": Standing.NEVER,
        "unusable": Standing.UNUSABLE,
        "excused": Standing.EXCUSED,
    }
    if part in same:
        found: NDArray[np.bool_] = standing == same[part]
        return found
    if part == "soon":
        return soon
    if part == "open":
        owed = [int(one) for key, one in same.items() if key != "excused"]
        wanted: NDArray[np.bool_] = np.isin(standing, owed) | soon
        return wanted
    return np.ones(len(standing), dtype=bool)


def _begun_small(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


def _iso(day: Any) -> str:
    return date.fromordinal(int(day)).isoformat()
