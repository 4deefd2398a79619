"""Which meter values can be true together (common practice, no source)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.trust.meter_chain import believable


def believed(days: list[int], hours: list[float]) -> list[bool]:
    return believable(np.array(days, dtype=np.int64), np.array(hours)).tolist()


@pytest.mark.parametrize(
    ("hours", "kept"),
    [
        ([100.0, 150.0, 200.0, 250.0], [True, True, True, True]),
        ([1000.0, 150.0, 200.0, 250.0], [False, True, True, True]),
        ([100.0, 15.0, 200.0, 250.0], [True, False, True, True]),
        ([100.0, 150.0, 200.0, 2500.0], [True, True, True, False]),
        ([100.0, float("nan"), 200.0, -1.0], [True, False, True, False]),
    ],
)
def test_that_a_mistyped_value_is_left_out_wherever_it_stands(hours, kept):
    assert believed([0, 10, 20, 30], hours) == kept


def test_that_nothing_known_gives_nothing_believed():
    assert believed([], []) == []
    assert believed([3], [float("nan")]) == [False]


def test_that_two_readings_of_one_day_may_lie_a_day_apart_and_no_more():
    assert believed([5, 5], [100.0, 124.0]) == [True, True]
    assert believed([5, 5], [100.0, 124.1]) == [False, True]


@given(
    st.lists(st.tuples(st.integers(0, 400), st.floats(0, 24)), min_size=2, max_size=30),
    st.randoms(use_true_random=False),
)
def test_that_a_true_meter_is_believed_whole_in_any_order(steps, dice):
    days = np.cumsum([gap for gap, _ in steps])
    hours = np.cumsum([gap * rate for gap, rate in steps])
    order = list(range(len(days)))
    dice.shuffle(order)
    assert believable(days[order].astype(np.int64), hours[order].astype(np.float64)).all()


@given(st.lists(st.tuples(st.integers(0, 400), st.floats(0, 5000)), min_size=1, max_size=30))
def test_that_what_is_believed_never_falls_nor_outruns_the_clock(seen):
    days = np.array([day for day, _ in seen], dtype=np.int64)
    hours = np.array([hour for _, hour in seen])
    kept = believable(days, hours)
    order = np.lexsort((hours[kept], days[kept]))
    rise = np.diff(hours[kept][order])
    assert (rise >= 0).all()
    assert (rise <= 24 * np.diff(days[kept][order]) + 24).all()
    assert kept.any()
