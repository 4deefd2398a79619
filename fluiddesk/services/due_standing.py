"""Where each box stands, as a planner says it: early, due, late, missed, unusable, excused.

Late and missed follow the outcomes of due events: late up to half an interval past the due point,
missed after that (common practice, no source). A special interval is measured by its own length.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.sampling.window import GROUND_RULE
from fluiddesk.domain.severity import Trust
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.due_notes import DueNote
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition
from fluiddesk.services.special_by_hand import Special

MISSED_SHARE: Final = 0.5
"""Share of the interval past the due point after which a sample is missed (common practice)."""

TAKE_AGAIN: Final = "not usable: take again"


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
_OWED: Final = (Standing.EARLY, Standing.DUE)
_EXCUSABLE: Final = (Standing.DUE, Standing.LATE, Standing.MISSED)


@dataclass(frozen=True, slots=True)
class Standings:
    """Where n boxes stand. ``standing``: values of ``Standing``; ``why``: "" where nothing is."""

    standing: NDArray[np.int8]
    why: tuple[str, ...]


def due_standings(
    fleet: FleetCondition, *, notes: Sequence[DueNote] = (), specials: Sequence[Special] = ()
) -> Standings:
    """Where each box of a fleet stands, and why.

    Args:
        fleet: the boxes and when they are due.
        notes: reasons that stand beside due events; those of an event that a sample was drawn
            after, or that lies more than an interval back, tell nothing of today.
        specials: special intervals in force; one for a lost bottle makes its box unusable.
    """
    standing = _by_interval(fleet)
    why = [""] * len(fleet)
    rejected = (fleet.trust == Trust.REJECTED) & ~fleet.is_awaited
    owes = np.isin(standing, [int(one) for one in _OWED])
    standing[owes & rejected] = Standing.UNUSABLE
    for at in np.flatnonzero(rejected & (standing != Standing.EXCUSED)).tolist():
        why[at] = f"last sample rejected, {TAKE_AGAIN}"
    for at in np.flatnonzero(standing == Standing.EXCUSED).tolist():
        why[at] = f"machine on {fleet.rows[at].machine_state.replace('_', ' ')}"
    asked = [one for one in specials if one.is_in_force]
    if asked or notes:
        places = {row.compartment_id: at for at, row in enumerate(fleet.rows)}
        for special in asked:
            if special.is_lost_bottle:
                _lose(special, places, standing, why)
            else:
                _ask_anew(special, places, fleet, standing, why)
        for note in sorted(notes, key=lambda one: one.due_on):
            _note(note, places, fleet, standing, why)
    return Standings(standing, tuple(why))


def _lose(
    special: Special, places: dict[bytes, int], standing: NDArray[np.int8], why: list[str]
) -> None:
    at = places.get(special.compartment_id, -1)
    if at >= 0 and standing[at] != Standing.EXCUSED:
        why[at] = f"{special.note or 'last bottle lost'}, {TAKE_AGAIN}"
        if standing[at] in _OWED:
            standing[at] = Standing.UNUSABLE


def _ask_anew(
    special: Special,
    places: dict[bytes, int],
    fleet: FleetCondition,
    standing: NDArray[np.int8],
    why: list[str],
) -> None:
    """What was asked for lately is late by the days since then, not since the last sample."""
    at = places.get(special.compartment_id, -1)
    if at < 0 or standing[at] not in (Standing.LATE, Standing.MISSED):
        return
    if not fleet.special[at] or fleet.usual.state[at] == DueState.OVERDUE:
        return
    begun = fleet.today.toordinal() - special.valid_from.toordinal()
    own = special.days or max(int(fleet.due.due_on[at]) - _drawn_on(fleet.rows[at]), 1)
    if begun <= max(own * GROUND_RULE.share, 1.0):
        standing[at] = Standing.DUE
    elif begun <= own * MISSED_SHARE:
        standing[at] = Standing.LATE
    why[at] = why[at] or f"asked for on {special.valid_from.isoformat()}"


def _note(
    note: DueNote,
    places: dict[bytes, int],
    fleet: FleetCondition,
    standing: NDArray[np.int8],
    why: list[str],
) -> None:
    at = places.get(note.compartment_id, -1)
    if at < 0 or note.voided_reason or int(fleet.due.due_on[at]) == NEVER:
        return
    drawn = _drawn_on(fleet.rows[at])
    interval = max(int(fleet.due.due_on[at]) - drawn, 1)
    day, today = note.due_on.toordinal(), fleet.today.toordinal()
    if day <= drawn or today - day > interval or standing[at] not in _EXCUSABLE:
        return
    why[at] = note.words
    if note.is_excused:
        standing[at] = Standing.EXCUSED


def _drawn_on(row: BoxRow) -> int:
    """The day of the last sample that was drawn, 0 where there is none."""
    days = (row.taken_on, row.awaited_on)
    return max((day_ordinal(day) for day in days if day is not None), default=0)


def _by_interval(fleet: FleetCondition) -> NDArray[np.int8]:
    """What is long past its due point is missed, not merely late."""
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
    return standing
