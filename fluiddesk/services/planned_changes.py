"""When the next planned fluid change of every box comes, and the sample that is due before it.

"Before every fluid change take a sample, note hours" (US Army TB 43-0211, para 6-3c). A change is
counted from the last recorded one, else from the hours on the fluid of the last sample.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fluiddesk.assets import resource
from fluiddesk.domain.sampling.before_change import is_drawn, with_changes
from fluiddesk.domain.sampling.due import NEVER, DueColumns, due_columns
from fluiddesk.domain.sampling.window import WindowRule
from fluiddesk.services.day_ordinals import day_ordinal
from fluiddesk.storage import ChangePlanRow

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
DayArray = NDArray[np.int32]

_NO_WIDTH: Final = WindowRule(share=0.0)
_BY_HAND: Final = "before_change"


def is_before_change(asked: Mapping[str, Any]) -> bool:
    """Whether a special interval asks for the sample before a change that a person planned."""
    return bool(asked["reason"] == _BY_HAND)


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedChanges:
    """The next planned fluid change of n boxes; all columns shape (n,).

    Attributes:
        due: when it comes, by the pace of the machine; ``NEVER`` where none is planned.
        at_hours: true hours of the machine at it, NaN where the calendar alone sets it.
        opens_hours: hours before it at which the sample's window opens, NaN where unknown.
        opens_days: days before it.
        is_before: whether the next sample of the box is the one before it.
        is_sampled: whether that sample has been drawn.
    """

    due: DueColumns
    at_hours: FloatArray
    opens_hours: FloatArray
    opens_days: DayArray
    is_before: BoolArray
    is_sampled: BoolArray

    def words(self, at: int) -> str:
        """What is due before it: "before the fluid change at 12,500 h"."""
        return f"before the fluid change {self.when(at)}"

    def when(self, at: int) -> str:
        """The meter or the day that sets it: "at 12,500 h", "on 2026-03-01"; "" for none."""
        if int(self.due.due_on[at]) == NEVER:
            return ""
        if self.due.by_hours[at]:
            return f"at {self.at_hours[at]:,.0f} h"
        return f"on {date.fromordinal(int(self.due.due_on[at])).isoformat()}"


@cache
def figures() -> Mapping[str, Any]:
    """How long before a change the window opens."""
    path = resource("programme", "special_intervals.toml")
    told: Mapping[str, Any] = tomllib.loads(path.read_text(encoding="utf-8"))["before_change"]
    return told


def planned_changes(
    rows: Sequence[Any],
    plans: Mapping[bytes, ChangePlanRow],
    asked: Mapping[bytes, Sequence[Mapping[str, Any]]],
    known: Mapping[str, Any],
) -> PlannedChanges | None:
    """The next planned change of each box; ``None`` where no box has one.

    Args:
        rows: named tuples with ``compartment_id``, ``interval_hours``, ``interval_days``,
            ``true_hours``, ``fluid_hours`` and ``taken_on``.
        plans: change intervals and last changes by compartment.
        asked: special intervals that a person asked for; those before a change name its day.
        known: the machines' hours and what else ``due_columns`` asks for, by its names.
    """
    by_hand = _by_hand(rows, plans, asked, known["taken_on"])
    if not by_hand and not any(row.every_hours or row.every_days for row in plans.values()):
        return None
    count = len(rows)
    start_on, start_at = np.zeros(count, dtype=np.int32), np.full(count, np.nan)
    hours, days = np.full(count, np.nan), np.full(count, np.nan)
    for at, row in enumerate(rows):
        plan = plans.get(row.compartment_id)
        if plan is None:
            continue
        start_on[at], start_at[at] = _fill_start(row, plan)
        hours[at] = math.nan if plan.every_hours is None else plan.every_hours
        if plan.every_days is not None and plan.changed_on is not None:
            days[at] = plan.every_days
    due = due_columns(
        **{
            **known,
            "taken_on": start_on,
            "taken_at_hours": start_at,
            "interval_hours": hours,
            "interval_days": days,
            "rule": _NO_WIDTH,
        }
    )
    opens_hours, opens_days = _opens(rows, due, hours, days, known["hours_per_day"])
    made = PlannedChanges(
        due=due,
        at_hours=start_at + hours,
        opens_hours=opens_hours,
        opens_days=opens_days,
        is_before=np.zeros(count, dtype=np.bool_),
        is_sampled=np.zeros(count, dtype=np.bool_),
    )
    return _with_by_hand(made, by_hand, today=int(known["today"]))


def _fill_start(row: Any, plan: ChangePlanRow) -> tuple[int, float]:
    """Day and true hours at which the fill began; day 0 where it is not known."""
    if plan.changed_on is not None:
        hours = plan.changed_at_hours
        return day_ordinal(plan.changed_on), math.nan if hours is None else hours
    if row.taken_on is None or row.true_hours is None or row.fluid_hours is None:
        return 0, math.nan
    # Only the hours are known then: the day stands for "known" and sets no interval in days.
    return day_ordinal(row.taken_on), row.true_hours - row.fluid_hours


def _opens(
    rows: Sequence[Any],
    due: DueColumns,
    hours: FloatArray,
    days: FloatArray,
    hours_per_day: FloatArray,
) -> tuple[FloatArray, DayArray]:
    """How many hours and days before each change the window opens."""
    share, most = float(figures()["opens_share"]), float(figures()["most_of_sampling_interval"])
    usual_hours = np.array([row.interval_hours for row in rows], dtype=np.float64)
    usual_days = np.array([row.interval_days for row in rows], dtype=np.float64)
    opens_hours = np.fmin(share * hours, most * usual_hours)
    opens_hours[np.isnan(hours)] = np.nan
    by_days = np.fmin(share * days, most * usual_days)
    pace = np.where(hours_per_day > 0, hours_per_day, np.nan)
    width = np.where(due.by_hours, opens_hours / pace, by_days)
    whole = np.floor(np.round(np.nan_to_num(width, posinf=0.0), 6))
    return opens_hours, whole.astype(np.int32)


def _by_hand(
    rows: Sequence[Any],
    plans: Mapping[bytes, ChangePlanRow],
    asked: Mapping[bytes, Sequence[Mapping[str, Any]]],
    drawn_on: DayArray,
) -> dict[int, tuple[int, int]]:
    """By place among the rows, first day and day of the change that a person planned.

    A sample drawn or a fluid change recorded since has answered it.
    """
    found: dict[int, tuple[int, int]] = {}
    if not asked:
        return found
    for at, row in enumerate(rows):
        for one in asked.get(row.compartment_id, ()):
            if not is_before_change(one):
                continue
            plan = plans.get(row.compartment_id)
            if plan and plan.changed_on is not None and plan.changed_on >= one["valid_from"]:
                continue
            first = one["valid_from"].toordinal()
            if drawn_on[at] >= first:
                continue
            last = first + int(one["interval_days"] or 0)
            if at not in found or last < found[at][1]:
                found[at] = first, last
    return found


def _with_by_hand(
    made: PlannedChanges, by_hand: Mapping[int, tuple[int, int]], *, today: int
) -> PlannedChanges:
    """The changes that persons planned, where they come before those by interval."""
    due = made.due
    for at, (first, last) in by_hand.items():
        if due.due_on[at] <= last:
            continue
        due.due_on[at] = due.window_from[at] = due.window_to[at] = last
        due.by_hours[at], due.hours_left[at] = False, np.nan
        made.at_hours[at] = np.nan
        made.opens_days[at] = last - first
    return made


class OwedBeforeChange(NamedTuple):
    """What is due once planned changes count, why where it is special, and the changes if any."""

    due: DueColumns
    why: tuple[str, ...]
    changes: PlannedChanges | None


def owed_before(
    usual: DueColumns, changes: PlannedChanges | None, known: Mapping[str, Any], why: Sequence[str]
) -> OwedBeforeChange:
    """The due points of boxes with the samples before their changes among them.

    Args:
        usual: what is due without the changes.
        changes: the next change of each box, ``None`` where no box has one.
        known: the machines' hours and last samples, by the names of ``due_columns``.
        why: why a box is due sooner than usual, where something else makes it so.
    """
    if changes is None:
        return OwedBeforeChange(due=usual, why=tuple(why), changes=None)
    answered = is_drawn(
        changes.due,
        change_at_hours=changes.at_hours,
        opens_hours=changes.opens_hours,
        opens_days=changes.opens_days,
        drawn_on=known["taken_on"],
        drawn_at_hours=known["taken_at_hours"],
    )
    made = with_changes(
        usual,
        changes.due,
        today=int(known["today"]),
        opens_days=changes.opens_days,
        is_answered=answered,
        hours_per_day=known["hours_per_day"],
    )
    words = list(why)
    for at in np.flatnonzero(made.is_set).tolist():
        words[at] = changes.words(at)
    told = replace(changes, is_before=made.is_before, is_sampled=answered)
    return OwedBeforeChange(due=made.due, why=tuple(words), changes=told)
