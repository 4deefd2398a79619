"""What is due for sampling and by when, worst first."""

import math
from dataclasses import dataclass
from datetime import date

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.due_bands import DueBands
from fluiddesk.services.fleet_condition import FleetCondition


@dataclass(frozen=True, slots=True, kw_only=True)
class DueLine:
    """One box that needs a sample. Days are ``None`` where none can be given.

    ``basis`` says what sets the due point: "500 h on the meter", "180 days" or "never sampled".
    ``band`` holds the due day with a chance of 80 %, where the meter sets it; ``band_words`` tell
    it, or why there is none.
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


def due_lines(
    fleet: FleetCondition, catalogue: Catalogue, *, until: date, bands: DueBands | None = None
) -> tuple[DueLine, ...]:
    """The boxes that are overdue, due, never sampled, or fall due by a day; most pressing first."""
    due = fleet.due
    last = until.toordinal()
    lines = []
    for index, row in enumerate(fleet.rows):
        state = DueState(int(due.state[index]))
        falls_due = state is DueState.NOT_YET and int(due.due_on[index]) <= last
        if state in (DueState.OVERDUE, DueState.DUE, DueState.NEVER_SAMPLED) or falls_due:
            has_day = int(due.due_on[index]) != NEVER
            left = float(due.hours_left[index])
            lines.append(
                DueLine(
                    compartment_id=row.compartment_id,
                    site=row.site,
                    machine=row.machine,
                    compartment=catalogue.box_name(row.kind, row.position),
                    state=state,
                    due_on=date.fromordinal(int(due.due_on[index])) if has_day else None,
                    window=(
                        date.fromordinal(int(due.window_from[index])),
                        date.fromordinal(int(due.window_to[index])),
                    )
                    if has_day
                    else None,
                    hours_left=None if math.isnan(left) else round(left),
                    basis=_basis(row.interval_hours, row.interval_days, state, fleet, index),
                    band=bands.days(index) if bands else None,
                    band_words=bands.words(index) if bands else "",
                )
            )
    return tuple(sorted(lines, key=_pressing))


def _basis(
    hours: float | None, days: int | None, state: DueState, fleet: FleetCondition, index: int
) -> str:
    if state is DueState.NEVER_SAMPLED:
        return "never sampled"
    if fleet.special and fleet.special[index]:
        return fleet.special[index]
    if bool(fleet.due.by_hours[index]):
        return f"{hours:g} h on the meter"
    return f"{days} days"


def _pressing(line: DueLine) -> tuple[int, date, str, str, str]:
    rank = {DueState.OVERDUE: 0, DueState.DUE: 1, DueState.NEVER_SAMPLED: 2}.get(line.state, 3)
    return (rank, line.due_on or date.max, line.site, line.machine, line.compartment)
