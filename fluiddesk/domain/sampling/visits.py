"""The fewest visits that meet every window, and the day of each.

Each box has a window of days. Fewest visits of one machine is interval stabbing: go to the window
that closes first, visit on its last day, take along every box whose window is open then, and
repeat with the rest. No plan with fewer visits meets all windows (a standard result on intervals).
Then each visit slides to the best day on which all its windows are open. Which days are better is
common practice, no source.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.inputs import WearInputError

IntArray = NDArray[np.int64]

LIVE_POINT_MINUTES: Final = 6.0
TUBE_POINT_MINUTES: Final = 8.0
ARRIVAL_MINUTES: Final = 15.0
WARM_UP_MINUTES: Final = 20.0
"""Crew time at one machine (common practice, no source)."""

PULL_IN_DAYS: Final = 2
"""A window that opens this soon after the visit is taken along (common practice, no source)."""

_NO_VISIT: Final = -1
_LONGEST_SLIDE: Final = 400
_OFF: Final = 1e6
_SERVICE: Final = 1e9
"""A service day counts for more than any distance, a day off against it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayWishes:
    """Which days are better for a visit.

    Attributes:
        service_machine: machines that stand for service anyway, shape (s,).
        service_day: the day on which each does, shape (s,).
        days_off: days on which nobody samples; kept free where the windows allow it.
        pull_in_days: how soon after a visit a window may open to be taken along.
    """

    service_machine: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    service_day: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    days_off: IntArray = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    pull_in_days: int = PULL_IN_DAYS


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitColumns:
    """Visits of all machines, in the order of machine, then day.

    Attributes:
        machine: shape (v,), the machine's number as given.
        day: shape (v,), day ordinal of the visit.
        first_day: shape (v,), first day on which every window of the visit is open; later than
            ``day`` by the days of pulling in at most.
        last_day: shape (v,), last day on which every window is open.
        at_service: shape (v,), whether the machine stands for service on that day anyway.
        visit: shape (n,), the visit each box belongs to; -1 where it needs none by ``until``.
        is_pulled_in: shape (n,), boxes taken along before their window opens.
    """

    machine: IntArray
    day: IntArray
    first_day: IntArray
    last_day: IntArray
    at_service: NDArray[np.bool_]
    visit: IntArray
    is_pulled_in: NDArray[np.bool_]


def plan_visits(
    *,
    machine: IntArray,
    opens: IntArray,
    due: IntArray,
    closes: IntArray,
    today: int,
    until: int,
    wishes: DayWishes | None = None,
) -> VisitColumns:
    """Plan the visits of every machine up to a day.

    Args:
        machine: shape (n,), the machine of each box, any whole numbers.
        opens: shape (n,), first day of the box's window.
        due: shape (n,), its due day.
        closes: shape (n,), last day of its window; a window that has closed is met today.
        today: day ordinal; no visit is planned before it.
        until: the last day of the plan: windows that close later wait, unless they are open when
            a visit is made anyway.
        wishes: which days are better.

    Raises:
        WearInputError: a window closes before it opens.

    >>> plan = plan_visits(machine=np.array([7, 7, 7]), opens=np.array([10, 12, 30]),
    ...     due=np.array([15, 16, 35]), closes=np.array([20, 22, 40]), today=9, until=23)
    >>> plan.day.tolist(), plan.visit.tolist()
    ([15], [0, 0, -1])
    """
    _refuse_crooked(opens, closes)
    # What is overdue is met at once: its window is today.
    last = np.maximum(closes, today)
    first = np.where(closes < today, today, opens)
    order = np.lexsort((last, machine))
    visit = np.full(len(machine), _NO_VISIT, dtype=np.int64)
    _, group = np.unique(machine, return_inverse=True)
    machines, days = list[IntArray](), list[IntArray]()
    made = 0
    while True:
        open_boxes = order[(visit[order] == _NO_VISIT) & (last[order] <= until)]
        if not len(open_boxes):
            break
        # Sorted by machine, then by closing day: the first of each machine closes first.
        heads = open_boxes[np.diff(group[open_boxes], prepend=-1) != 0]
        number = np.full(int(group.max()) + 1, _NO_VISIT, dtype=np.int64)
        number[group[heads]] = made + np.arange(len(heads))
        stab = np.zeros(len(number), dtype=np.int64)
        stab[group[heads]] = last[heads]
        joins = (visit == _NO_VISIT) & (number[group] >= 0) & (first <= stab[group])
        visit[joins] = number[group[joins]]
        machines.append(machine[heads])
        days.append(last[heads])
        made += len(heads)
    return _settled(
        visit=visit,
        machine=np.concatenate([*machines, np.empty(0, dtype=np.int64)]),
        stab=np.concatenate([*days, np.empty(0, dtype=np.int64)]),
        box=_Boxes(machine=machine, first=first, due=due, last=last),
        today=today,
        wishes=wishes or DayWishes(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Boxes:
    """The windows to be met; shape (n,) each."""

    machine: IntArray
    first: IntArray
    due: IntArray
    last: IntArray


def _refuse_crooked(opens: IntArray, closes: IntArray) -> None:
    crooked = np.flatnonzero(closes < opens)
    if len(crooked):
        row = int(crooked[0])
        raise WearInputError(
            f"Row {row + 1}: the window closes on day {closes[row]} before it opens on day "
            f"{opens[row]}. Correct the interval of the box."
        )


def _settled(
    *,
    visit: IntArray,
    machine: IntArray,
    stab: IntArray,
    box: _Boxes,
    today: int,
    wishes: DayWishes,
) -> VisitColumns:
    """Slide the visits to their best days, pull in what opens soon, put them in order."""
    count = len(machine)
    first = np.full(count, today, dtype=np.int64)
    last, want = stab.copy(), stab.copy()
    member = np.flatnonzero(visit >= 0)
    np.maximum.at(first, visit[member], box.first[member])
    np.minimum.at(last, visit[member], box.last[member])
    np.minimum.at(want, visit[member], box.due[member])
    day, at_service = _best_days(machine, first=first, last=last, want=want, wishes=wishes)
    visit, pulled = _pull_in(visit, machine, day, box=box, days=wishes.pull_in_days)
    order = np.lexsort((day, machine))
    place = np.empty(count, dtype=np.int64)
    place[order] = np.arange(count)
    taken = visit >= 0
    visit[taken] = place[visit[taken]]
    return VisitColumns(
        machine=machine[order],
        day=day[order],
        first_day=first[order],
        last_day=last[order],
        at_service=at_service[order],
        visit=visit,
        is_pulled_in=pulled,
    )


def _best_days(
    machine: IntArray, *, first: IntArray, last: IntArray, want: IntArray, wishes: DayWishes
) -> tuple[IntArray, NDArray[np.bool_]]:
    """The day of each visit: on a service day, else on a working day, nearest to what is due."""
    count = len(machine)
    if not count:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.bool_)
    wide = int(min((last - first).max() + 1, _LONGEST_SLIDE))
    # A window longer than that is looked at around the wanted day.
    middle = np.clip(want - wide // 2, first, np.maximum(last - wide + 1, first))
    start = np.where(last - first >= wide, middle, first)
    days = start[:, None] + np.arange(wide)
    cost = np.abs(days - want[:, None]).astype(np.float64)
    cost += np.where(np.isin(days, wishes.days_off), _OFF, 0.0)
    stands = _stands(machine, days, wishes)
    cost -= np.where(stands, _SERVICE, 0.0)
    cost[days > last[:, None]] = np.inf
    at = np.argmin(cost, axis=1)
    rows = np.arange(count)
    return days[rows, at], stands[rows, at]


def _stands(machine: IntArray, days: IntArray, wishes: DayWishes) -> NDArray[np.bool_]:
    """Whether each machine stands for service on each of its days."""
    known = np.isin(wishes.service_machine, machine)
    if not known.any():
        return np.zeros(days.shape, dtype=bool)
    service_day = wishes.service_day[known]
    numbers, row = np.unique(machine, return_inverse=True)
    base = int(min(days.min(), service_day.min()))
    span = int(max(days.max(), service_day.max())) - base + 1
    place = np.searchsorted(numbers, wishes.service_machine[known])
    marked = place * span + (service_day - base)
    return np.isin(row[:, None] * span + (days - base), marked)


def _pull_in(
    visit: IntArray, machine: IntArray, day: IntArray, *, box: _Boxes, days: int
) -> tuple[IntArray, NDArray[np.bool_]]:
    """Boxes without a visit whose window opens within some days after one of their machine's."""
    visit = visit.copy()
    pulled = np.zeros(len(visit), dtype=bool)
    left = np.flatnonzero(visit == _NO_VISIT)
    if not len(left) or not len(machine):
        return visit, pulled
    order = np.lexsort((day, machine))
    base = int(min(day.min(), box.first[left].min()))
    span = int(max(day.max(), box.first[left].max())) - base + 1
    numbers = np.unique(np.concatenate([machine, box.machine[left]]))
    keys = np.searchsorted(numbers, machine[order]) * span + (day[order] - base)
    wanted = np.searchsorted(numbers, box.machine[left]) * span + (box.first[left] - base)
    # The last visit of the machine on or before the day on which the window opens.
    at = np.searchsorted(keys, wanted, side="right") - 1
    found = at >= 0
    one = order[np.maximum(at, 0)]
    near = found & (machine[one] == box.machine[left])
    near &= box.first[left] - day[one] <= days
    visit[left[near]] = one[near]
    pulled[left[near]] = True
    return visit, pulled


def visit_minutes(
    *, live_points: IntArray, tube_points: IntArray, needs_warm_up: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Crew minutes of visits: arrival, each point by its kind, warm-up where it is needed.

    Common practice, no source. Shape (v,) in and out.

    >>> visit_minutes(live_points=np.array([3]), tube_points=np.array([4]),
    ...     needs_warm_up=np.array([True])).tolist()
    [85.0]
    """
    minutes: NDArray[np.float64] = (
        ARRIVAL_MINUTES
        + LIVE_POINT_MINUTES * live_points
        + TUBE_POINT_MINUTES * tube_points
        + np.where(needs_warm_up, WARM_UP_MINUTES, 0.0)
    )
    return minutes


def share_out(
    *,
    crew: IntArray,
    day: IntArray,
    first_day: IntArray,
    last_day: IntArray,
    minutes: NDArray[np.float64],
    fixed: NDArray[np.bool_],
    crew_minutes: NDArray[np.float64],
    days_off: IntArray | None = None,
) -> IntArray:
    """Move visits inside their windows so that no crew has more than a day's work in a day.

    The visits that can wait least choose first; each takes the free day nearest to its own. Where
    no day of its window is free it stays on its day, and that day is overfull: nothing is lost.

    Args:
        crew: shape (v,), the crew of each visit, numbers into ``crew_minutes``.
        day: shape (v,), the day each was given.
        first_day: shape (v,), first day it may move to.
        last_day: shape (v,), last day it may move to.
        minutes: shape (v,), crew minutes.
        fixed: shape (v,), visits that stay where they are (service days, moved by hand).
        crew_minutes: shape (c,), minutes a day.
        days_off: days on which nobody samples.

    Returns:
        The day of each visit, shape (v,).

    >>> share_out(crew=np.array([0, 0]), day=np.array([5, 5]), first_day=np.array([4, 4]),
    ...     last_day=np.array([9, 6]), minutes=np.array([300.0, 300.0]),
    ...     fixed=np.array([False, False]), crew_minutes=np.array([480.0])).tolist()
    [4, 5]
    """
    off = frozenset(() if days_off is None else days_off.tolist())
    used: dict[tuple[int, int], float] = {}
    result = day.copy()
    for row in np.flatnonzero(fixed).tolist():
        key = (int(crew[row]), int(day[row]))
        used[key] = used.get(key, 0.0) + float(minutes[row])
    free = np.flatnonzero(~fixed)
    for row in free[np.lexsort((day[free], last_day[free]))].tolist():
        who, work, wanted = int(crew[row]), float(minutes[row]), int(day[row])
        room = float(crew_minutes[who])
        # Nearest first, the earlier of two: early leaves room for what goes wrong.
        low, high = int(min(first_day[row], wanted)), int(max(last_day[row], wanted))
        choices = sorted(range(low, high + 1), key=lambda one: (abs(one - wanted), one))
        fits = (
            one for one in choices if one not in off and used.get((who, one), 0.0) + work <= room
        )
        chosen = next(fits, wanted)
        used[(who, chosen)] = used.get((who, chosen), 0.0) + work
        result[row] = chosen
    return result
