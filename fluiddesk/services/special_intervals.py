"""Shorter intervals for a while: after Act or Urgent, a fitted component, a long rest, on request.

They make a box due sooner; what compliance owes stays the usual interval. The sample before a
planned fluid change has a window of its own: ``planned_changes``.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.assets import resource
from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.services.planned_changes import is_before_change
from fluiddesk.services.presumed_lost import PresumedLost, presumed_lost
from fluiddesk.storage import ChangePlanRow, Desk

FloatArray = NDArray[np.float64]

FROM_SAMPLE: Final = frozenset({"after_act", "after_urgent", "laboratory_asks", "other"})
"""Stored reasons whose interval counts from the last sample; the others from the day they began."""


@dataclass(frozen=True, slots=True)
class SpecialRows:
    """What the store says of special intervals, fits and rests; empty where there is nothing.

    ``fits``: by compartment, the machine's hours at the newest fit; ``rests``: by machine, the day
    on which it came back from its last long rest; ``asked``: stored special intervals;
    ``changes``: by compartment, how often its fluid is changed and when it last was; ``today``: day
    ordinal, 0 where samples that were rejected ask for nothing.
    """

    fits: Mapping[bytes, float]
    rests: Mapping[bytes, int]
    asked: Mapping[bytes, Sequence[Mapping[str, Any]]]
    changes: Mapping[bytes, ChangePlanRow] = field(default_factory=dict)
    today: int = 0


@dataclass(frozen=True, slots=True)
class SpecialColumns:
    """Intervals of n boxes that are shorter than usual; NaN and "" where there is none."""

    hours: FloatArray
    days: FloatArray
    why: tuple[str, ...]


@cache
def figures() -> Mapping[str, Any]:
    """The intervals by reason, with their words."""
    path = resource("programme", "special_intervals.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def special_rows(
    desk: Desk, *, today: date, compartment: bytes | None = None, machine: bytes | None = None
) -> SpecialRows:
    """Read what may shorten the interval of every box, or of one box of one machine."""
    asked: dict[bytes, list[Mapping[str, Any]]] = {}
    for row in desk.programme.special_intervals(today):
        asked.setdefault(row["compartment_id"], []).append(row)
    ask = desk.programme
    for key, lost in presumed_lost(desk, today=today, compartment=compartment).items():
        asked.setdefault(key, []).append(_again(lost))
    by_hand = [key for key, some in asked.items() if any(map(is_before_change, some))]
    return SpecialRows(
        ask.newest_fits(compartment),
        _rests(ask.machine_states(machine), today),
        asked,
        desk.changes.planned(until=today, compartment=compartment, also=by_hand),
        today.toordinal(),
    )


def _again(lost: PresumedLost) -> Mapping[str, Any]:
    """What a presumed loss asks for, as a stored request of a resample would."""
    return {
        "reason": "resample",
        "interval_hours": None,
        "interval_days": int(figures()["take_again"]["within_days"]),
        "valid_from": lost.since,
        "note": lost.words,
        "drawn_on": lost.drawn_on,
    }


def _rests(states: Sequence[tuple[Any, ...]], today: date) -> dict[bytes, int]:
    """By machine, the day it last came back to work after a long rest."""
    least = int(figures()["return_from_storage"]["stood_days"])
    rests: dict[bytes, int] = {}
    known = {since: day_ordinal(since) for since in {row[2] for row in states}}
    began: tuple[bytes, int] | None = None
    for machine, state, since in states:
        day = known[since]
        if began is not None and began[0] != machine:
            began = None
        if state != MachineState.WORKING.value:
            began = began or (machine, day)
            continue
        if began is not None and day - began[1] > least and day <= today.toordinal():
            rests[machine] = day
        began = None
    return rests


def special_columns(
    rows: Sequence[Any],
    told: SpecialRows,
    *,
    drawn_on: NDArray[np.int32],
    drawn_at_hours: FloatArray,
) -> SpecialColumns:
    """The special interval of each box, counted from its last sample.

    Args:
        rows: named tuples with ``compartment_id``, ``machine_id``, ``severity``, ``trust`` and
            ``taken_on``.
        told: what the store says.
        drawn_on: day ordinal of the last sample, 0 where there is none.
        drawn_at_hours: true hours at it, NaN where unknown.
    """
    hours, days = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    why = [""] * len(rows)
    known = figures()
    severity = np.array(
        [-1 if row.severity is None else row.severity for row in rows], dtype=np.int8
    )
    for level, name in ((Severity.ACT, "after_act"), (Severity.URGENT, "after_urgent")):
        for at in np.flatnonzero(severity == level).tolist():
            hours[at], days[at] = known[name]["hours"], known[name]["days"]
            why[at] = known[name]["words"]
    for at, row in enumerate(rows):
        if not drawn_on[at]:
            continue
        fit = told.fits.get(row.compartment_id)
        if fit is not None and (left := _after_fit(fit, float(drawn_at_hours[at]))):
            _shorten(hours, at, left, why, known["component_fit"]["words"])
        back = told.rests.get(row.machine_id)
        if back is not None and int(drawn_on[at]) < back:
            within = back + int(known["return_from_storage"]["within_days"])
            words = known["return_from_storage"]["words"]
            _shorten(days, at, max(within - int(drawn_on[at]), 1), why, words)
        for asked in told.asked.get(row.compartment_id, ()):
            if not is_before_change(asked):
                _ask(asked, at, int(drawn_on[at]), hours, days, why)
    _take_again(rows, told.today, drawn_on, days, why)
    return SpecialColumns(hours, days, tuple(why))


def _take_again(
    rows: Sequence[Any],
    today: int,
    drawn_on: NDArray[np.int32],
    days: FloatArray,
    why: list[str],
) -> None:
    """A box whose newest sample was rejected is due until it was sampled anew."""
    words = figures()["take_again"]["words"]
    for at, row in enumerate(rows):
        if today and row.trust == Trust.REJECTED and day_ordinal(row.taken_on) == drawn_on[at]:
            _shorten(days, at, max(today - int(drawn_on[at]), 1), why, words)


def _after_fit(fit: float, drawn: float) -> float:
    """Hours from the last sample to the next one a new component asks for; 0 for none."""
    if np.isnan(drawn):
        return 0.0
    for point in figures()["component_fit"]["hours"]:
        if drawn < fit + float(point) * 0.9:
            return max(fit + float(point) - drawn, 1.0)
    return 0.0


def _ask(
    asked: Mapping[str, Any],
    at: int,
    drawn_on: int,
    hours: FloatArray,
    days: FloatArray,
    why: list[str],
) -> None:
    words = asked["note"] or asked["reason"].replace("_", " ")
    begins = asked["valid_from"].toordinal()
    if asked["reason"] in FROM_SAMPLE:
        if asked["interval_hours"] is not None:
            _shorten(hours, at, float(asked["interval_hours"]), why, words)
        if asked["interval_days"] is not None:
            # Nothing was owed by it before it began.
            _shorten(days, at, max(float(asked["interval_days"]), begins - drawn_on), why, words)
        return
    # A sample drawn since then has answered it, as has one drawn after the bottle in question.
    if drawn_on < begins and drawn_on <= asked.get("drawn_on", date.max).toordinal():
        within = begins + int(asked["interval_days"] or 0)
        _shorten(days, at, max(within - drawn_on, 1), why, words)


def _shorten(column: FloatArray, at: int, interval: float, why: list[str], words: str) -> None:
    if np.isnan(column[at]) or interval < column[at]:
        column[at], why[at] = interval, words
