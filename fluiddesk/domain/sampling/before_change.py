"""The sample before a planned fluid change, and its joining with a routine one; columns in and out.

"Before every fluid change take a sample, note hours" (US Army TB 43-0211, para 6-3c). Its window
closes at the change, never after: then the old fluid is gone. Where the routine window overlaps it,
one bottle answers both, drawn at the change if that still lies in the routine window.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.due import NEVER, DueColumns, DueState

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
DayArray = NDArray[np.int32]


@dataclass(frozen=True, slots=True, kw_only=True)
class BeforeChange:
    """What n boxes owe once their planned fluid changes count.

    ``is_before``: the next sample is the one before the change. ``is_set``: the change also sets
    when it is due; not so where a sample is late anyway.
    """

    due: DueColumns
    is_before: BoolArray
    is_set: BoolArray


def is_drawn(
    change: DueColumns,
    *,
    change_at_hours: FloatArray,
    opens_hours: FloatArray,
    opens_days: DayArray,
    drawn_on: DayArray,
    drawn_at_hours: FloatArray,
) -> BoolArray:
    """Whether the last sample of each box lies in the window before its planned change.

    Args:
        change: when each change comes; the meter decides where it sets the change and knows the
            sample's hours, else the calendar does.
        change_at_hours: true hours of the change, NaN where unknown.
        opens_hours: how many hours before the change the window opens, NaN where unknown.
        opens_days: how many days before it.
        drawn_on: day ordinal of the last sample, 0 where there is none.
        drawn_at_hours: true hours at it, NaN where unknown.
    """
    opens_at = np.round(change_at_hours - opens_hours, 6)
    by_meter = change.by_hours & ~np.isnan(drawn_at_hours) & ~np.isnan(opens_at)
    on_meter: BoolArray = np.round(drawn_at_hours, 6) >= opens_at
    by_day = drawn_on >= change.due_on - opens_days
    return np.where(by_meter, on_meter, by_day) & (drawn_on > 0)


def with_changes(
    usual: DueColumns,
    change: DueColumns,
    *,
    today: int,
    opens_days: DayArray,
    is_answered: BoolArray,
    hours_per_day: FloatArray,
) -> BeforeChange:
    """The due points of n boxes, the sample before the next planned change among them.

    Args:
        usual: what is due without the changes.
        change: when the next change of each box comes, with windows of no width; ``NEVER`` where
            none is planned.
        today: day ordinal.
        opens_days: how many days before the change the window opens.
        is_answered: boxes whose last sample is the one before the change.
        hours_per_day: expected running hours a day; NaN for a machine that stands.

    >>> def due(day, first, last):
    ...     as_days = lambda one: np.array([one], dtype=np.int32)
    ...     return DueColumns(state=np.array([1], dtype=np.int8), due_on=as_days(day),
    ...         window_from=as_days(first), window_to=as_days(last),
    ...         hours_left=np.array([100.0]), by_hours=np.array([True]))
    >>> made = with_changes(due(110, 106, 114), due(112, 112, 112), today=100,
    ...     opens_days=np.array([5], dtype=np.int32), is_answered=np.array([False]),
    ...     hours_per_day=np.array([10.0]))
    >>> made.due.due_on.tolist(), made.due.window_from.tolist(), made.due.window_to.tolist()
    ([112], [107], [112])
    """
    never_owes = (DueState.EXCUSED, DueState.NEVER_SAMPLED)
    owed = (change.due_on != NEVER) & ~is_answered & ~np.isin(usual.state, never_owes)
    closes, opens = change.due_on, change.due_on - opens_days
    overlaps = owed & (usual.window_from <= closes) & (usual.window_to >= opens)
    alone = owed & (closes < usual.window_from)
    # A late sample is drawn at once: where the window before the change is open, it is that one.
    late = owed & ~overlaps & ~alone & (opens <= today) & (usual.state == DueState.OVERDUE)
    first = np.where(overlaps, np.maximum(usual.window_from, opens), opens)
    last = np.where(overlaps, np.minimum(usual.window_to, closes), closes)
    at_change = alone | (overlaps & (closes <= usual.window_to))
    due_on = np.where(at_change, closes, np.clip(usual.due_on, first, last))
    moved = np.nan_to_num(hours_per_day) * (due_on - usual.due_on).astype(np.float64)
    hours_left = np.where(at_change, change.hours_left, usual.hours_left + moved)

    state = np.full(len(due_on), DueState.NOT_YET, dtype=np.int8)
    state[first <= today] = DueState.DUE
    is_past = at_change & (change.state == DueState.OVERDUE)
    state[(last < today) | is_past] = DueState.OVERDUE
    set_anew = overlaps | alone
    due = replace(
        usual,
        state=np.where(set_anew, state, usual.state),
        due_on=np.where(set_anew, due_on, usual.due_on),
        window_from=np.where(set_anew, first, usual.window_from),
        window_to=np.where(set_anew, last, usual.window_to),
        hours_left=np.where(set_anew, hours_left, usual.hours_left),
        by_hours=np.where(at_change, change.by_hours, usual.by_hours),
    )
    return BeforeChange(due=due, is_before=set_anew | late, is_set=set_anew)
