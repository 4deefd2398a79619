"""Fewest visits: interval stabbing is optimal (Cormen et al., Introduction to Algorithms, greedy
activity selection, from memory); here it is held against trying every choice of days.
"""

from itertools import combinations
from typing import TypedDict

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.visits import (
    DayWishes,
    IntArray,
    plan_visits,
    share_out,
    visit_minutes,
)
from fluiddesk.domain.wear.inputs import WearInputError

TODAY = 100
UNTIL = 130

Windows = list[tuple[int, int, int]]

windows = st.lists(
    st.tuples(st.integers(0, 3), st.integers(70, 140), st.integers(0, 25)), min_size=1, max_size=9
)


class Columns(TypedDict):
    machine: IntArray
    opens: IntArray
    due: IntArray
    closes: IntArray


def columns(boxes: Windows) -> Columns:
    machine, opens, wide = (np.array(column, dtype=np.int64) for column in zip(*boxes, strict=True))
    return {"machine": machine, "opens": opens, "due": opens + wide // 2, "closes": opens + wide}


def fewest(spans: list[tuple[int, int]]) -> int:
    """The least number of days that meet every span, by trying all."""
    ends = sorted({last for _, last in spans})
    for size in range(len(ends) + 1):
        for days in combinations(ends, size):
            if all(any(first <= day <= last for day in days) for first, last in spans):
                return size
    raise AssertionError("the last days of all spans meet them")


@given(windows)
def test_that_every_window_that_closes_in_time_is_met_by_the_fewest_visits(boxes: Windows) -> None:
    given_columns = columns(boxes)
    plan = plan_visits(**given_columns, today=TODAY, until=UNTIL)
    for machine in set(given_columns["machine"].tolist()):
        own = given_columns["machine"] == machine
        last = np.maximum(given_columns["closes"], TODAY)
        first = np.where(given_columns["closes"] < TODAY, TODAY, given_columns["opens"])
        must = own & (last <= UNTIL)
        assert (plan.visit[must] >= 0).all()
        days = plan.day[plan.visit[must & ~plan.is_pulled_in]]
        assert (days >= np.maximum(first, TODAY)[must & ~plan.is_pulled_in]).all()
        assert (days <= last[must & ~plan.is_pulled_in]).all()
        spans = list(zip(first[must].tolist(), last[must].tolist(), strict=True))
        assert int((plan.machine == machine).sum()) == fewest(spans)


@given(windows)
def test_that_a_box_belongs_to_a_visit_of_its_own_machine_and_no_visit_is_empty(
    boxes: Windows,
) -> None:
    given_columns = columns(boxes)
    plan = plan_visits(**given_columns, today=TODAY, until=UNTIL)
    planned = plan.visit >= 0
    assert (plan.machine[plan.visit[planned]] == given_columns["machine"][planned]).all()
    assert set(plan.visit[planned].tolist()) == set(range(len(plan.day)))
    assert (plan.day >= TODAY).all()


def test_that_a_visit_slides_to_a_service_day_inside_its_window_and_not_outside() -> None:
    boxes = columns([(1, 110, 10), (2, 110, 10)])
    wishes = DayWishes(service_machine=np.array([1, 2, 9]), service_day=np.array([119, 121, 115]))
    plan = plan_visits(**boxes, today=TODAY, until=UNTIL, wishes=wishes)
    assert plan.day.tolist() == [119, 115]
    assert plan.at_service.tolist() == [True, False]


def test_that_a_day_off_is_kept_free_where_the_window_allows_it() -> None:
    boxes = columns([(1, 110, 10), (2, 115, 0)])
    plan = plan_visits(
        **boxes, today=TODAY, until=UNTIL, wishes=DayWishes(days_off=np.array([115]))
    )
    assert plan.day.tolist() == [114, 115]


def test_that_what_is_overdue_is_visited_today() -> None:
    plan = plan_visits(**columns([(1, 70, 10)]), today=TODAY, until=UNTIL)
    assert plan.day.tolist() == [TODAY]


def test_that_a_window_that_opens_within_two_days_of_a_visit_is_pulled_in() -> None:
    boxes = columns([(1, 112, 2), (1, 115, 30), (1, 116, 30)])
    plan = plan_visits(**boxes, today=TODAY, until=UNTIL)
    assert plan.day.tolist() == [113]
    assert plan.visit.tolist() == [0, 0, -1]
    assert plan.is_pulled_in.tolist() == [False, True, False]


def test_that_a_very_wide_window_is_planned_near_its_due_day() -> None:
    boxes = Columns(
        machine=np.array([1]),
        opens=np.array([-2000]),
        due=np.array([125]),
        closes=np.array([130]),
    )
    assert plan_visits(**boxes, today=TODAY, until=UNTIL).day.tolist() == [125]


def test_that_no_boxes_give_no_visits() -> None:
    none = np.empty(0, dtype=np.int64)
    plan = plan_visits(machine=none, opens=none, due=none, closes=none, today=1, until=9)
    assert len(plan.day) == 0


def test_that_a_window_that_closes_before_it_opens_is_refused() -> None:
    crooked = Columns(
        machine=np.array([1]), opens=np.array([9]), due=np.array([9]), closes=np.array([8])
    )
    with pytest.raises(WearInputError, match=r"Row 1.*day 8 before it opens on day 9"):
        plan_visits(**crooked, today=1, until=9)


def test_that_minutes_count_arrival_points_and_warm_up() -> None:
    """15 + 6 a live point + 8 a tube point + 20 to warm up (common practice, no source)."""
    minutes = visit_minutes(
        live_points=np.array([3, 0]),
        tube_points=np.array([4, 1]),
        needs_warm_up=np.array([True, False]),
    )
    assert minutes.tolist() == [15 + 18 + 32 + 20, 15 + 8]


@given(
    st.lists(
        st.tuples(st.integers(100, 110), st.integers(0, 6), st.integers(0, 6)),
        min_size=1,
        max_size=12,
    )
)
def test_that_sharing_out_keeps_every_visit_inside_its_window(
    visits: list[tuple[int, int, int]],
) -> None:
    day = np.array([one[0] for one in visits])
    first, last = day - [one[1] for one in visits], day + [one[2] for one in visits]
    moved = share_out(
        crew=np.zeros(len(day), dtype=np.int64),
        day=day,
        first_day=first,
        last_day=last,
        minutes=np.full(len(day), 200.0),
        fixed=np.zeros(len(day), dtype=bool),
        crew_minutes=np.array([400.0]),
    )
    assert ((moved >= first) & (moved <= last)).all()
    # A day is overfull only with visits for which no day of their window was free.
    for full in (one for one in set(moved.tolist()) if (moved == one).sum() > 2):
        kept = np.flatnonzero((moved == full) & (day == full))
        assert len(kept)


def test_that_fixed_visits_stay_and_days_off_are_left_out() -> None:
    moved = share_out(
        crew=np.array([0, 0, 0]),
        day=np.array([105, 105, 105]),
        first_day=np.array([101, 101, 101]),
        last_day=np.array([109, 109, 106]),
        minutes=np.array([400.0, 300.0, 300.0]),
        fixed=np.array([True, False, False]),
        crew_minutes=np.array([480.0]),
        days_off=np.array([104, 106]),
    )
    assert moved.tolist() == [105, 107, 103]
