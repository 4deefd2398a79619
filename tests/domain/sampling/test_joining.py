"""Kept visits take along what is due: held against trying every visit for every box."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.joining import join_kept_visits
from fluiddesk.domain.sampling.visits import PULL_IN_DAYS, plan_visits

TODAY, UNTIL = 100, 130

Windows = list[tuple[int, int, int]]
Kept = list[tuple[int, int]]

windows = st.lists(
    st.tuples(st.integers(0, 3), st.integers(70, 140), st.integers(0, 25)), min_size=1, max_size=12
)
kept_visits = st.lists(st.tuples(st.integers(0, 4), st.integers(92, 140)), max_size=8)


def best(box: tuple[int, int, int], kept: Kept) -> tuple[int | None, bool]:
    """The distance of the best visit from the due day (or the window), and whether it is early."""
    machine, opens, wide = box
    closes = opens + wide
    first, last = (TODAY, TODAY) if closes < TODAY else (opens, closes)
    due = min(max(opens + wide // 2, first), last)
    days = [day for own, day in kept if own == machine and day >= TODAY]
    inside = [abs(day - due) for day in days if first <= day <= last]
    if inside:
        return min(inside), False
    early = [first - day for day in days if 0 < first - day <= PULL_IN_DAYS]
    return (min(early), True) if early else (None, False)


@given(windows, kept_visits)
def test_that_a_box_joins_the_best_visit_of_its_machine_and_no_other(
    boxes: Windows, kept: Kept
) -> None:
    machine, opens, wide = (np.array(some, dtype=np.int64) for some in zip(*boxes, strict=True))
    found = join_kept_visits(
        machine=machine,
        opens=opens,
        due=opens + wide // 2,
        closes=opens + wide,
        kept_machine=np.array([one[0] for one in kept], dtype=np.int64),
        kept_day=np.array([one[1] for one in kept], dtype=np.int64),
        today=TODAY,
    )
    for row, box in enumerate(boxes):
        distance, is_early = best(box, kept)
        at = int(found.kept[row])
        assert (at >= 0) == (distance is not None)
        assert bool(found.is_pulled_in[row]) == is_early
        if at < 0 or distance is None:
            continue
        own, day = kept[at]
        closes = box[1] + box[2]
        first, last = (TODAY, TODAY) if closes < TODAY else (box[1], closes)
        assert own == box[0]
        assert day >= TODAY
        due = min(max(box[1] + box[2] // 2, first), last)
        assert (first - day if is_early else abs(day - due)) == distance


@given(windows, kept_visits)
def test_that_joining_meets_every_window_and_never_makes_more_new_visits(
    boxes: Windows, kept: Kept
) -> None:
    machine, opens, wide = (np.array(some, dtype=np.int64) for some in zip(*boxes, strict=True))
    due, closes = opens + wide // 2, opens + wide
    joined = join_kept_visits(
        machine=machine,
        opens=opens,
        due=due,
        closes=closes,
        kept_machine=np.array([one[0] for one in kept], dtype=np.int64),
        kept_day=np.array([one[1] for one in kept], dtype=np.int64),
        today=TODAY,
    )
    left = joined.kept < 0
    plan = plan_visits(
        machine=machine[left],
        opens=opens[left],
        due=due[left],
        closes=closes[left],
        today=TODAY,
        until=UNTIL,
    )
    alone = plan_visits(
        machine=machine, opens=opens, due=due, closes=closes, today=TODAY, until=UNTIL
    )
    must = np.maximum(closes[left], TODAY) <= UNTIL
    assert (plan.visit[must] >= 0).all()
    assert len(plan.day) <= len(alone.day)


def test_that_nothing_joins_where_nothing_is_kept_or_due() -> None:
    none, one = np.empty(0, dtype=np.int64), np.array([5], dtype=np.int64)
    for box, kept in ((none, one), (one, none)):
        found = join_kept_visits(
            machine=box, opens=box, due=box, closes=box, kept_machine=kept, kept_day=kept, today=1
        )
        assert found.kept.tolist() == [-1] * len(box)
