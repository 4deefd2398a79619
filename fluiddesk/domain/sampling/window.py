"""The window of a due event, and where the next one stands.

Windows: 10 % of the interval before and after, in days, hours or miles (US Army TB 43-0211,
question 12-6 and the table of para 6-4, which rounds days inwards: 365 d give 329 to 401 d). In
aviation the same tenth, but never above 5 flight hours or 30 calendar days, and calendar items over
300 days have 30 days (US Army TM 1-1500-328-23).

Conventions: counted from the last sample (TB 43-0211, para 6-1); a fixed grid that a sample inside
the window does not move (TB 43-0211, question 12-7); and the grid of TM 1-1500-328-23, which starts
anew from a sample outside the window. For a 25 h item TB 43-0211 rounds hours outwards (22 to 28),
TM 1-1500-328-23 not at all (22.5 to 27.5): we round no hours.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.inputs import FloatArray, Numbers, as_given, checked, same_length

WINDOW_SHARE: Final = 0.10
"""Half width of the window as a share of the interval (US Army TB 43-0211, question 12-6)."""

LATE_SHARE: Final = 0.50
"""Share of the interval past the due point after which a sample is missed (common practice)."""

_PLACES: Final = 6
"""Decimals that count: what binary arithmetic adds in the last places moves no window."""


class Convention(StrEnum):
    """What the next due point is counted from."""

    ROLLING = "rolling"
    """From the last sample, whenever it was taken."""
    GRID = "grid"
    """From the last due point, whenever the sample was taken."""
    RESTARTED_GRID = "restarted_grid"
    """From the due point after a sample inside the window, else from the sample."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowRule:
    """How far from its due point a sample counts as on time.

    Attributes:
        share: half width as a share of the interval; a column where intervals differ in it.
        most_hours: never more than so many hours, on the meter.
        most_days: never more than so many days, on the calendar.
        long_days: calendar intervals longer than so many days have ``most_days``.
    """

    share: Numbers = WINDOW_SHARE
    most_hours: float = np.inf
    most_days: float = np.inf
    long_days: float = np.inf


GROUND_RULE: Final = WindowRule()
"""US Army TB 43-0211: a tenth of the interval, without a cap."""

AVIATION_RULE: Final = WindowRule(most_hours=5.0, most_days=30.0, long_days=300.0)
"""US Army TM 1-1500-328-23: a tenth, at most 5 flight hours or 30 days; 30 days over 300 days."""


@overload
def half_width_hours(interval: float, *, rule: WindowRule = GROUND_RULE) -> float: ...
@overload
def half_width_hours(interval: FloatArray, *, rule: WindowRule = GROUND_RULE) -> FloatArray: ...
def half_width_hours(interval: Numbers, *, rule: WindowRule = GROUND_RULE) -> Numbers:
    """Half of the window of an interval in hours (or miles, or kilometres); NaN stays NaN.

    >>> half_width_hours(75.0), half_width_hours(75.0, rule=AVIATION_RULE)
    (7.5, 5.0)
    """
    return as_given(np.minimum(rule.share * np.asarray(interval), rule.most_hours))


@overload
def half_width_days(interval: float, *, rule: WindowRule = GROUND_RULE) -> float: ...
@overload
def half_width_days(interval: FloatArray, *, rule: WindowRule = GROUND_RULE) -> FloatArray: ...
def half_width_days(interval: Numbers, *, rule: WindowRule = GROUND_RULE) -> Numbers:
    """Half of the window of an interval in days, not yet rounded; NaN stays NaN.

    >>> half_width_days(365.0), half_width_days(365.0, rule=AVIATION_RULE)
    (36.5, 30.0)
    """
    days = np.asarray(interval, dtype=np.float64)
    half = np.minimum(rule.share * days, rule.most_days)
    return as_given(np.where(days > rule.long_days, rule.most_days, half))


def window_hours(
    *, due_at: Numbers, interval: Numbers, rule: WindowRule = GROUND_RULE
) -> tuple[Numbers, Numbers]:
    """First and last hour of the window of a due point on the meter.

    Raises:
        WearInputError: a figure is not finite, or an interval not above 0.

    >>> window_hours(due_at=1609.4, interval=75.0, rule=AVIATION_RULE)
    (1604.4, 1614.4)
    """
    due = checked("the due point (h)", due_at, at_least=0)
    length = checked("the interval (h)", interval, above=0)
    same_length(due=due, interval=length)
    half = half_width_hours(length, rule=rule)
    return as_given(np.round(due - half, _PLACES)), as_given(np.round(due + half, _PLACES))


@overload
def window_days(
    *, due_on: int, interval: float, rule: WindowRule = GROUND_RULE
) -> tuple[int, int]: ...
@overload
def window_days(
    *, due_on: NDArray[np.int64], interval: Numbers, rule: WindowRule = GROUND_RULE
) -> tuple[NDArray[np.int64], NDArray[np.int64]]: ...
def window_days(
    *, due_on: int | NDArray[np.int64], interval: Numbers, rule: WindowRule = GROUND_RULE
) -> tuple[int, int] | tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last day of the window of a due day, both inside the rule (rounded inwards).

    Args:
        due_on: day ordinals.
        interval: days.
        rule: how wide the window is.

    Raises:
        WearInputError: an interval is not above 0 or not finite.

    >>> from datetime import date
    >>> first, last = window_days(due_on=date(1999, 2, 6).toordinal(), interval=365.0,
    ...                           rule=AVIATION_RULE)
    >>> date.fromordinal(first).isoformat(), date.fromordinal(last).isoformat()
    ('1999-01-07', '1999-03-08')
    """
    length = checked("the interval (days)", interval, above=0)
    due = np.asarray(due_on, dtype=np.int64)
    same_length(due=due, interval=length)
    reach = whole_days_in(half_width_days(length, rule=rule))
    first, last = np.asarray(due - reach), np.asarray(due + reach)
    return (first, last) if first.ndim else (int(first), int(last))


def whole_days_in(days: FloatArray) -> NDArray[np.int64]:
    """Whole days in a span of days, the hair that binary arithmetic takes away given back.

    >>> whole_days_in(np.array([36.5, 2.9999999999999996])).tolist()
    [36, 3]
    """
    return np.floor(np.round(days, _PLACES)).astype(np.int64)


def is_inside(at: FloatArray, *, low: FloatArray, high: FloatArray) -> NDArray[np.bool_]:
    """Whether a point lies in a window, its ends included; never for NaN.

    >>> is_inside(np.array([1475.2, 1475.3]), low=np.array(1470.2), high=np.array(1475.2)).tolist()
    [True, False]
    """
    point = np.round(at, _PLACES)
    inside: NDArray[np.bool_] = (point >= np.round(low, _PLACES)) & (
        point <= np.round(high, _PLACES)
    )
    return inside


@overload
def next_due(
    *,
    due: float,
    done: float,
    interval: float,
    convention: Convention,
    half: float,
) -> float: ...
@overload
def next_due(
    *,
    due: FloatArray,
    done: Numbers,
    interval: Numbers,
    convention: Convention,
    half: Numbers,
) -> FloatArray: ...
def next_due(
    *,
    due: Numbers,
    done: Numbers,
    interval: Numbers,
    convention: Convention,
    half: Numbers,
) -> Numbers:
    """Where the due point stands after a sample, in hours or in days.

    On a fixed grid a sample before the window is extra: the due point stays.

    Args:
        due: the due point the sample was taken for.
        done: where it was taken.
        interval: to the next.
        convention: what the next due point is counted from.
        half: half of the window (``half_width_hours`` or ``half_width_days``).

    Raises:
        WearInputError: a figure is not finite, or an interval not above 0.

    >>> next_due(due=1609.4, done=1613.0, interval=75.0, half=5.0,
    ...          convention=Convention.RESTARTED_GRID)
    1684.4
    >>> next_due(due=1609.4, done=1615.0, interval=75.0, half=5.0,
    ...          convention=Convention.RESTARTED_GRID)
    1690.0
    """
    point = checked("the due point", due)
    taken = checked("the point of the sample", done)
    length = checked("the interval", interval, above=0)
    reach = checked("half of the window", half, at_least=0)
    same_length(due=point, done=taken, interval=length, half=reach)
    inside = is_inside(taken, low=point - reach, high=point + reach)
    early = ~inside & (taken < point)
    moved = {
        Convention.ROLLING: taken + length,
        Convention.GRID: np.where(early, point, point + length),
        Convention.RESTARTED_GRID: np.where(inside, point, taken) + length,
    }
    return as_given(np.round(moved[convention], _PLACES))
