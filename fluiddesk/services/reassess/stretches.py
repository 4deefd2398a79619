"""The stretch of fluid use that each sample's wear is computed over, with its top-ups.

A stretch begins at the last trusted sample of the same fill, if that lies 50 h back or more, else
at the fluid change: with what the last trusted sample of the fill before left in the box.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.context import FloatColumn
from fluiddesk.domain.samples import SampleColumns
from fluiddesk.domain.wear.top_ups import TopUps, follow

SHORTEST_STRETCH: Final = 50.0
"""Hours between two samples below which the laboratory's spread hides the rate (common practice, no
source)."""

_SPAN: Final = 1e7
"""More hours, and more days, than any machine has."""
_LARGEST_SHARE: Final = 0.999
"""A top-up of the whole box or more is a change: what it leaves is never nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TopUpColumns:
    """Top-ups of many boxes, by box and day; ``hours`` is NaN where only the day is known."""

    box: NDArray[np.int64]
    day: NDArray[np.int64]
    hours: FloatColumn
    litres: FloatColumn


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretches:
    """The stretches of n samples; the words of ``JudgingContext``. NaN and -1 where none is."""

    start: NDArray[np.intp]
    start_share: FloatColumn
    hours: FloatColumn
    kept: FloatColumn
    brought: FloatColumn
    per_made: FloatColumn


def stretches(
    group: SampleColumns,
    top_ups: TopUpColumns,
    *,
    previous: NDArray[np.intp],
    history: NDArray[np.int32],
    is_fitted: NDArray[np.bool_],
    residue: FloatColumn,
    capacity: FloatColumn,
) -> Stretches:
    """The stretch before each sample.

    Args:
        group: the samples; those of one box together, by day.
        top_ups: of all boxes.
        previous: row of the trusted sample before, in the same life of the box.
        history: the life each sample belongs to.
        is_fitted: whether that life began with a component that was fitted.
        residue: share of old fluid that a change leaves in each sample's box.
        capacity: litres of each sample's box.
    """
    size = len(group)
    if not size:
        none = np.zeros(0)
        return Stretches(
            start=previous, start_share=none, hours=none, kept=none, brought=none, per_made=none
        )
    start = np.full(size, -1, dtype=np.intp)
    share, hours = np.full(size, np.nan), np.full(size, np.nan)
    before = np.maximum(previous, 0)
    between = group.hours - group.hours[before]
    with np.errstate(invalid="ignore"):
        inside = (previous >= 0) & (group.fill == group.fill[before])
        inside &= between >= SHORTEST_STRETCH
        from_change = ~inside & (group.fluid_hours > 0)
    old = _before_change(group, previous, history)
    clean = from_change & (old < 0) & is_fitted & _is_first_fill(group, history)
    from_change &= (old >= 0) | clean
    start[inside], share[inside], hours[inside] = previous[inside], 1.0, between[inside]
    changed = from_change & ~clean
    start[changed] = old[changed]
    gap = np.maximum(group.fill - group.fill[np.maximum(old, 0)], 1)
    share[changed] = (residue**gap)[changed]
    share[clean] = 0.0
    hours[from_change] = group.fluid_hours[from_change]
    kept, brought, per_made = _through_top_ups(group, top_ups, hours=hours, capacity=capacity)
    return Stretches(
        start=start,
        start_share=share,
        hours=hours,
        kept=kept,
        brought=brought,
        per_made=per_made,
    )


def _fill_starts(group: SampleColumns, history: NDArray[np.int32]) -> NDArray[np.intp]:
    """The first row of each sample's fill in its life."""
    begins = (np.diff(history, prepend=-1) != 0) | (np.diff(group.fill, prepend=-1) != 0)
    starts = np.flatnonzero(begins)
    return np.repeat(starts, np.diff(np.append(starts, len(history))))


def _before_change(
    group: SampleColumns, previous: NDArray[np.intp], history: NDArray[np.int32]
) -> NDArray[np.intp]:
    """The last trusted sample before each sample's fill; -1 for none."""
    return previous[_fill_starts(group, history)]


def _is_first_fill(group: SampleColumns, history: NDArray[np.int32]) -> NDArray[np.bool_]:
    starts = np.flatnonzero(np.diff(history, prepend=-1) != 0)
    first = np.repeat(starts, np.diff(np.append(starts, len(history))))
    same: NDArray[np.bool_] = group.fill == group.fill[first]
    return same


def _through_top_ups(
    group: SampleColumns, top_ups: TopUpColumns, *, hours: FloatColumn, capacity: FloatColumn
) -> tuple[FloatColumn, FloatColumn, FloatColumn]:
    """Shares of the start and of fresh fluid at each sample, and what a rate of 1 comes to."""
    nothing = np.full(len(group), np.nan)
    kept, brought, per_made = nothing.copy(), nothing.copy(), nothing.copy()
    known = np.isfinite(hours)
    # Without a top-up the level only rises: nothing lost, nothing brought.
    kept[known], brought[known], per_made[known] = 1.0, 0.0, hours[known]
    row, at, litres = _of_rows(group, top_ups, hours)
    if not len(row):
        return kept, brought, per_made
    some, stretch = np.unique(row, return_inverse=True)
    ran, volume = hours[some], capacity[some]
    size, one = len(some), np.ones(len(some))
    none = np.zeros(size)
    poured = TopUps(
        at_hours=np.clip(at, 0.0, ran[stretch]),
        litres=np.minimum(litres, _LARGEST_SHARE * volume[stretch]),
        stretch=stretch.astype(np.int64),
    )
    given = {"hours": ran, "volume_l": volume, "loss_share": one, "loss": none, "brought": none}
    path = follow(poured, start=one, **given)
    kept[some], per_made[some] = path.without, path.per_made
    # A litre of fresh fluid takes the place of a litre of old: what is not the start's is fresh.
    brought[some] = 1.0 - path.without
    return kept, brought, per_made


def _of_rows(
    group: SampleColumns, top_ups: TopUpColumns, hours: FloatColumn
) -> tuple[NDArray[np.intp], FloatColumn, FloatColumn]:
    """Row, hours from the start of its stretch, and litres of each top-up in a stretch."""
    nothing = np.zeros(0, dtype=np.intp), np.zeros(0), np.zeros(0)
    if not len(top_ups.box) or not len(group):
        return nothing
    moment = _hours_of(group, top_ups)
    usable = np.isfinite(moment)
    keys = top_ups.box[usable] * _SPAN + moment[usable]
    order = np.argsort(keys, kind="stable")
    keys, litres, moment = keys[order], top_ups.litres[usable][order], moment[usable][order]
    rows = np.flatnonzero(np.isfinite(hours) & np.isfinite(group.hours))
    end = group.hours[rows]
    begin = end - hours[rows]
    box = group.compartment[rows].astype(np.float64) * _SPAN
    low = np.searchsorted(keys, box + np.maximum(begin, 0.0), side="right")
    high = np.searchsorted(keys, box + end, side="right")
    count = np.maximum(high - low, 0)
    if not count.sum():
        return nothing
    which = np.repeat(np.arange(len(rows)), count)
    inside = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count)
    place = low[which] + inside
    return rows[which], moment[place] - begin[which], litres[place]


def _hours_of(group: SampleColumns, top_ups: TopUpColumns) -> FloatColumn:
    """The machine's hours at each top-up; from its day and the samples around it where not noted.

    NaN where the day lies outside the box's samples.
    """
    moment = top_ups.hours.copy()
    missing = np.flatnonzero(np.isnan(moment))
    known = np.flatnonzero(np.isfinite(group.hours) & (group.taken_on > 0))
    if not len(missing) or not len(known):
        return moment
    at = group.compartment[known] * _SPAN + group.taken_on[known]
    asked = top_ups.box[missing] * _SPAN + top_ups.day[missing]
    order = np.argsort(at, kind="stable")
    at, known = at[order], known[order]
    right = np.clip(np.searchsorted(at, asked), 1, len(at) - 1) if len(at) > 1 else None
    if right is None:
        return moment
    same = group.compartment[known[right]] == group.compartment[known[right - 1]]
    same &= group.compartment[known[right]] == top_ups.box[missing]
    same &= (asked >= at[right - 1]) & (asked <= at[right])
    moment[missing] = np.where(same, np.interp(asked, at, group.hours[known]), np.nan)
    return moment
