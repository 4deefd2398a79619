"""Boxes that a visit which is kept already can take along, so that nobody drives there twice.

A box joins the kept visit of its machine that lies in its window, nearest to its due day; where
none does, one that lies a few days before the window opens (common practice, no source). What
joins needs no visit of its own, so no plan that keeps the kept visits makes fewer new ones.
"""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.visits import PULL_IN_DAYS, IntArray

NO_KEPT_VISIT: Final = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinColumns:
    """Which kept visit each box joins.

    Attributes:
        kept: shape (n,), place of the kept visit as given; -1 where none can take the box.
        is_pulled_in: shape (n,), boxes taken along before their window opens.
    """

    kept: IntArray
    is_pulled_in: NDArray[np.bool_]


def join_kept_visits(
    *,
    machine: IntArray,
    opens: IntArray,
    due: IntArray,
    closes: IntArray,
    kept_machine: IntArray,
    kept_day: IntArray,
    today: int,
    pull_in_days: int = PULL_IN_DAYS,
) -> JoinColumns:
    """Give boxes to the kept visits of their machines.

    Args:
        machine: shape (n,), the machine of each box, any whole numbers.
        opens: shape (n,), first day of the box's window.
        due: shape (n,), its due day, inside its window.
        closes: shape (n,), last day of its window; a window that has closed is met today.
        kept_machine: shape (k,), the machine of each kept visit.
        kept_day: shape (k,), the day it is planned on; a visit before today takes nothing along.
        today: day ordinal.
        pull_in_days: how soon after a visit a window may open to be taken along.

    >>> found = join_kept_visits(machine=np.array([7, 7, 7]), opens=np.array([10, 18, 30]),
    ...     due=np.array([15, 20, 35]), closes=np.array([20, 22, 40]),
    ...     kept_machine=np.array([7, 8]), kept_day=np.array([16, 15]), today=9)
    >>> found.kept.tolist(), found.is_pulled_in.tolist()
    ([0, 0, -1], [False, True, False])
    """
    kept = np.full(len(machine), NO_KEPT_VISIT, dtype=np.int64)
    pulled = np.zeros(len(machine), dtype=np.bool_)
    to_come = np.flatnonzero(kept_day >= today)
    if not len(to_come) or not len(machine):
        return JoinColumns(kept=kept, is_pulled_in=pulled)
    # A window that has closed is met today, and today alone.
    last = np.maximum(closes, today)
    first = np.where(closes < today, today, opens)
    wanted = np.clip(due, first, last)
    line = _DayLine(machine, kept_machine[to_come], kept_day[to_come])
    before, after = line.on_or_before(wanted), line.on_or_after(wanted)
    early, is_early = line.day(before), line.is_ours(before)
    late, is_late = line.day(after), line.is_ours(after)
    is_early_good = is_early & (early >= first)
    is_late_good = is_late & (late <= last)
    takes_late = is_late_good & (~is_early_good | (late - wanted < wanted - early))
    ahead = line.on_or_before(first)
    soon = line.is_ours(ahead) & (first - line.day(ahead) <= pull_in_days)
    pulled = soon & ~is_early_good & ~is_late_good
    chosen = np.where(takes_late, after, np.where(is_early_good, before, ahead))
    joins = is_early_good | is_late_good | pulled
    kept[joins] = to_come[line.given(chosen[joins])]
    return JoinColumns(kept=kept, is_pulled_in=pulled)


class _DayLine:
    """The kept visits of all machines in one order, searched for each box's own machine."""

    def __init__(self, machine: IntArray, kept_machine: IntArray, kept_day: IntArray) -> None:
        self._order = np.lexsort((kept_day, kept_machine))
        self._machine, self._day = kept_machine[self._order], kept_day[self._order]
        numbers = np.unique(np.concatenate([machine, kept_machine]))
        self._boxes = np.searchsorted(numbers, machine)
        self._visits = np.searchsorted(numbers, self._machine)
        self._own = machine

    def on_or_before(self, day: IntArray) -> IntArray:
        """The last visit of each box's machine up to a day."""
        return self._places(day, side="right") - 1

    def on_or_after(self, day: IntArray) -> IntArray:
        """The first visit of each box's machine from a day on."""
        return self._places(day, side="left")

    def _places(self, day: IntArray, *, side: Literal["left", "right"]) -> IntArray:
        low = int(min(day.min(), self._day.min()))
        span = int(max(day.max(), self._day.max())) - low + 1
        keys = self._visits * span + (self._day - low)
        wanted = self._boxes * span + (day - low)
        return np.searchsorted(keys, wanted, side=side).astype(np.int64)

    def day(self, place: IntArray) -> IntArray:
        """The day of a visit."""
        return self._day[np.clip(place, 0, len(self._day) - 1)]

    def is_ours(self, place: IntArray) -> NDArray[np.bool_]:
        """Whether there is such a visit, and to the box's own machine."""
        there = (place >= 0) & (place < len(self._day))
        ours: NDArray[np.bool_] = self._machine[np.clip(place, 0, len(self._day) - 1)] == self._own
        return there & ours

    def given(self, place: IntArray) -> IntArray:
        """The place of a visit as it was given."""
        return self._order[place]
