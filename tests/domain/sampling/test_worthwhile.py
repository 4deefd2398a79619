import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.catch import catch_chance
from fluiddesk.domain.sampling.worthwhile import catch_now, worthwhile_order
from fluiddesk.domain.wear.inputs import WearInputError


@given(st.floats(50, 900), st.floats(50, 900), st.floats(0, 300))
def test_that_regular_samples_catch_what_the_chance_to_catch_says(
    shows: float, every: float, answer: float
) -> None:
    """Faults caught a sample over faults started an interval: the chance of ``catch.py``."""
    caught = catch_now(
        faults_per_hour=0.001, hours_since_sample=every, shows_hours=shows, answer_hours=answer
    )
    started = 0.001 * every
    chance = catch_chance(shows_hours=shows, interval_hours=every, answer_hours=answer)
    assert caught[0] / started == pytest.approx(chance)


def test_that_a_box_past_twice_its_interval_comes_first_whatever_it_is_worth() -> None:
    order = worthwhile_order(
        caught=np.array([0.9, 0.001, 0.001]),
        failure_cost=np.full(3, 1000.0),
        minutes=np.full(3, 8.0),
        hours_since_sample=np.array([499.0, 1000.0, 1200.0]),
        interval_hours=np.full(3, 500.0),
    )
    assert order.tolist() == [2, 1, 0]


def test_that_boxes_of_one_visit_share_what_it_is_worth_a_minute() -> None:
    order = worthwhile_order(
        caught=np.array([0.04, 0.02, 0.03]),
        failure_cost=np.full(3, 1000.0),
        minutes=np.full(3, 10.0),
        hours_since_sample=np.full(3, 100.0),
        interval_hours=np.array([500.0, np.nan, 500.0]),
        visit=np.array([4, 8, 8]),
    )
    assert order.tolist() == [0, 2, 1]


def test_that_a_bottle_without_crew_time_is_refused() -> None:
    with pytest.raises(WearInputError, match="Row 1: the crew minutes is 0"):
        worthwhile_order(
            caught=np.array([0.1]),
            failure_cost=np.array([1.0]),
            minutes=np.array([0.0]),
            hours_since_sample=np.array([1.0]),
            interval_hours=np.array([1.0]),
        )
