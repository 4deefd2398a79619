"""What is due for sampling and by when, worst first."""

import math
from dataclasses import dataclass
from datetime import date

import numpy as np

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.due_bands import DueBands, early_edge
from fluiddesk.services.due_standing import Standing, Standings
from fluiddesk.services.fleet_condition import FleetCondition


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """One box that needs a sample. Days are ``None`` where none can be given.

    ``basis`` says what sets the due point: "500 h on the meter", "180 days, fixed grid" or "never
    sampled". ``band`` holds the due day with a chance of 80 %, where the meter sets it;
    ``band_words`` tell it, or why there is none; ``band_short`` for a column. ``early_on``: the
    day a critical box is planned on, where that is the early edge of its band. ``standing`` and
    ``why``: as a planner says it.
    """

    compartment_id: bytes
    site: str
    machine: str
    compartment: str
    state: DueState
    due_on: date | None
    window: tuple[date, date] | None
    hours_left: float | None
    basis: str
    band: tuple[date, date] | None = None
    band_words: str = ""
    band_short: str = ""
    early_on: date | None = None
    standing: Standing | None = None
    why: str = ""


def due_lines(
    fleet: FleetCondition,
    catalogue: Catalogue,
    *,
    until: date,
    bands: DueBands | None = None,
    standings: Standings | None = None,
    everything: bool = False,
) -> tuple[DueLine, ...]:
    """The boxes that are overdue, due, never sampled, or fall due by a day; most pressing first.

    Args:
        fleet: the boxes.
        catalogue: for their names.
        until: the last day that is looked ahead to.
        bands: the bands of the due days.
        standings: with them, boxes whose last sample cannot be used are told too.
        everything: every other box as well, such as those of machines that stand.
    """
    due = fleet.due
    pressing = (DueState.OVERDUE, DueState.DUE, DueState.NEVER_SAMPLED)
    wanted = np.isin(due.state, [int(one) for one in pressing])
    wanted |= (due.state == DueState.NOT_YET) & (due.due_on <= until.toordinal())
    if standings is not None:
        wanted |= standings.standing == Standing.UNUSABLE
    rows = range(len(fleet)) if everything else np.flatnonzero(wanted).tolist()
    early = early_edge(fleet, bands) if bands else np.zeros(len(fleet), dtype=np.int32)
    lines = [
        _line(fleet, catalogue, index, bands=bands, standings=standings, early=int(early[index]))
        for index in rows
    ]
    return tuple(sorted(lines, key=_pressing))


def _line(
    fleet: FleetCondition,
    catalogue: Catalogue,
    index: int,
    *,
    bands: DueBands | None,
    standings: Standings | None,
    early: int,
) -> DueLine:
    due, row = fleet.due, fleet.rows[index]
    state = DueState(int(due.state[index]))
    has_day = int(due.due_on[index]) != NEVER
    left = float(due.hours_left[index])
    edges = (int(due.window_from[index]), int(due.window_to[index]))
    return DueLine(
        compartment_id=row.compartment_id,
        site=row.site,
        machine=row.machine,
        compartment=catalogue.box_name(row.kind, row.position),
        state=state,
        due_on=date.fromordinal(int(due.due_on[index])) if has_day else None,
        window=(date.fromordinal(edges[0]), date.fromordinal(edges[1])) if has_day else None,
        hours_left=None if math.isnan(left) else round(left),
        basis=_basis(row.interval_hours, row.interval_days, state, fleet, index),
        band=bands.days(index) if bands else None,
        band_words=bands.words(index) if bands else "",
        band_short=bands.short(index) if bands else "",
        early_on=date.fromordinal(early) if early else None,
        standing=Standing(int(standings.standing[index])) if standings else None,
        why=standings.why[index] if standings else "",
    )


def _basis(
    hours: float | None, days: int | None, state: DueState, fleet: FleetCondition, index: int
) -> str:
    if state is DueState.NEVER_SAMPLED:
        return "never sampled"
    if fleet.special and fleet.special[index]:
        return fleet.special[index]
    grid = ", fixed grid" if fleet.is_grid[index] else ""
    if bool(fleet.due.by_hours[index]):
        return f"{hours:g} h on the meter{grid}"
    if days is None:
        return "no interval" if hours is None else f"{hours:g} h on the meter{grid}"
    return f"{days} days{grid}"


def _pressing(line: DueLine) -> tuple[int, date, str, str, str]:
    rank = {DueState.OVERDUE: 0, DueState.DUE: 1, DueState.NEVER_SAMPLED: 2}.get(line.state, 3)
    return (rank, line.due_on or date.max, line.site, line.machine, line.compartment)
