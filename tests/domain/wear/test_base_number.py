import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fluiddesk.domain.wear.base_number import base_number_clock
from fluiddesk.domain.wear.inputs import WearInputError


def clock(**changes):
    given = {"start": 9.4, "now": 7.4, "hours": 250.0, "limit": 4.0, "fresh": 10.0}
    return base_number_clock(**given | changes)


@given(
    now=st.floats(4.5, 9.0), exchange=st.just(0.0) | st.floats(1e-6, 0.001), limit=st.floats(1, 9)
)
def test_that_the_reserve_is_at_the_limit_when_the_clock_says_so(now, exchange, limit):
    found = clock(now=now, exchange=exchange, limit=limit)
    if math.isinf(found.hours_total):
        # Fresh oil carries it: the pace at the limit is upward or nil.
        assert exchange * (10.0 - limit) >= found.used_per_hour - 1e-12
        return
    if found.hours_total > 1e5:
        return
    path = solve_ivp(
        lambda _, level: [-found.used_per_hour + exchange * (10.0 - level[0])],
        (0.0, found.hours_total),
        [9.4],
        rtol=1e-10,
        atol=1e-10,
    )
    assert path.y[0, -1] == pytest.approx(limit, abs=1e-4)


def test_that_an_oil_without_make_up_runs_down_in_a_straight_line():
    found = clock()
    assert found.hours_left == pytest.approx(425.0)
    assert found.hours_left == pytest.approx(found.straight_line_hours_left)


def test_that_a_reserve_that_does_not_fall_never_reaches_its_limit():
    found = clock(now=np.array([9.4, 9.6, 7.4]))
    assert found.hours_left.tolist() == [math.inf, math.inf, pytest.approx(425.0)]
    assert found.straight_line_hours_left.tolist()[:2] == [math.inf, math.inf]
    assert found.used_per_hour[1] < 0


def test_that_fresh_oil_can_carry_a_reserve_for_ever():
    # Own calculation: at 0.008 per hour used and 0.2 % made up, it rests at 10 - 0.008 / 0.002 = 6.
    found = clock(now=7.0, limit=4.0, exchange=0.002, hours=400.0)
    assert found.hours_left == math.inf


def test_that_hours_are_negative_once_the_limit_is_passed():
    assert clock(now=3.0).hours_left < 0


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"limit": 9.4}, "not below the start"),
        ({"now": float("nan")}, "base number at the sample is nan"),
        ({"hours": -5.0}, "hours between the two is -5"),
    ],
)
def test_that_figures_that_cannot_be_true_are_refused(changes, told):
    with pytest.raises(WearInputError, match=told):
        clock(**changes)


@given(exchange=st.floats(1e-6, 0.001), more=st.floats(1e-6, 0.001))
def test_that_topping_up_more_stretches_the_life(exchange, more):
    # The same consumption, told by the level that each make-up would show after 250 h.
    def left(share):
        level = 9.4 + (-0.0085 / share + 10.0 - 9.4) * -np.expm1(-share * 250.0)
        return clock(now=float(level), exchange=share).hours_total

    assert left(exchange + more) >= left(exchange) * (1 - 1e-9)
