"""What past fills and like boxes say of a rate."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.trends.prior import (
    FillRates,
    Group,
    RateGrid,
    box_rates,
    completed,
    fill_rates,
    group_of,
    stacked,
)


def seen(*rates, sd=0.01, bound=False):
    row = np.array([rates], dtype=np.float64)
    return FillRates(
        rate=row, sd=np.full(row.shape, sd), is_bound=np.full(row.shape, bound, dtype=bool)
    )


def group(middle=0.12, *, between=0.4, fill=0.15, boxes=30, signed=False):
    return Group(
        middle=np.array([middle]),
        between_sd=np.array([between]),
        fill_sd=np.array([fill]),
        boxes=np.array([boxes]),
        is_signed=np.array([signed]),
    )


def middle_of(grid: RateGrid) -> float:
    return float(grid.quantile(0.5)[0])


def played(rng, *, boxes=200, fills=6, middle=0.12, between=0.4, fill=0.15, error=0.01):
    own = middle * np.exp(rng.normal(0, between, (boxes, 1)))
    rate = own * np.exp(rng.normal(0, fill, (boxes, fills)))
    return FillRates(
        rate=rate + rng.normal(0, error, rate.shape),
        sd=np.full(rate.shape, error),
        is_bound=np.zeros(rate.shape, dtype=bool),
    )


# --- like boxes -----------------------------------------------------------------------------------


def test_that_like_boxes_give_back_the_spreads_they_were_played_with():
    found = group_of(played(np.random.default_rng(1)), is_signed=False)
    assert float(found.middle[0]) == pytest.approx(0.12, rel=0.10)
    assert float(found.between_sd[0]) == pytest.approx(0.4, abs=0.10)
    assert float(found.fill_sd[0]) == pytest.approx(0.15, abs=0.06)
    assert bool(found.is_known[0])


def test_that_fewer_than_five_boxes_give_no_prior():
    found = group_of(played(np.random.default_rng(1), boxes=4), is_signed=False)
    assert int(found.boxes[0]) == 4
    assert np.isnan(found.middle[0])
    assert not found.is_known[0]


def test_that_one_fill_of_each_box_leaves_the_usual_spread_from_fill_to_fill():
    found = group_of(played(np.random.default_rng(2), fills=1), is_signed=False)
    assert float(found.fill_sd[0]) == 0.15


def test_that_boxes_that_make_nothing_give_no_positive_rate():
    rates = FillRates(
        rate=np.full((6, 2), -0.001), sd=np.full((6, 2), 0.01), is_bound=np.zeros((6, 2), bool)
    )
    assert not group_of(rates, is_signed=False).is_known[0]


def test_that_a_rate_of_either_sign_has_spreads_in_its_own_unit():
    rng = np.random.default_rng(3)
    own = rng.normal(-0.002, 0.004, (300, 1))
    rate = own + rng.normal(0, 0.002, (300, 4))
    rates = FillRates(rate=rate, sd=np.full(rate.shape, 1e-6), is_bound=np.zeros(rate.shape, bool))
    found = group_of(rates, is_signed=True)
    assert float(found.middle[0]) == pytest.approx(-0.002, abs=0.0008)
    assert float(found.between_sd[0]) == pytest.approx(0.004, rel=0.2)
    assert float(found.fill_sd[0]) == pytest.approx(0.002, rel=0.2)


def test_that_signed_boxes_with_one_fill_each_take_the_error_as_spread():
    rates = FillRates(
        rate=np.linspace(-1, 1, 6)[:, None],
        sd=np.full((6, 1), 0.5),
        is_bound=np.zeros((6, 1), bool),
    )
    assert float(group_of(rates, is_signed=True).fill_sd[0]) == pytest.approx(0.5)


def test_that_values_below_detection_pull_like_boxes_down_by_half_their_bound():
    rate = np.full((6, 2), 0.10)
    bound = np.zeros((6, 2), dtype=bool)
    plain = group_of(FillRates(rate=rate, sd=rate * 0.1, is_bound=bound), is_signed=False)
    below = group_of(FillRates(rate=rate, sd=rate * 0.1, is_bound=~bound), is_signed=False)
    assert float(below.middle[0]) == pytest.approx(0.5 * float(plain.middle[0]), rel=0.02)


# --- the box --------------------------------------------------------------------------------------


def test_that_a_box_without_fills_is_taken_to_be_like_its_sisters():
    none = seen(np.nan)
    assert middle_of(box_rates(group(), none)) == pytest.approx(0.12, rel=0.02)


def test_that_many_fills_outweigh_the_sisters():
    few, many = box_rates(group(), seen(0.30)), box_rates(group(), seen(*[0.30] * 8))
    assert 0.12 < middle_of(few) < middle_of(many)
    assert middle_of(many) == pytest.approx(0.30, rel=0.07)


def test_that_newer_fills_count_more_than_older_ones():
    rising = box_rates(group(), seen(0.1, 0.1, 0.2, 0.2))
    falling = box_rates(group(), seen(0.2, 0.2, 0.1, 0.1))
    assert middle_of(rising) > middle_of(falling)


def test_that_one_wild_fill_does_not_drag_the_box_along():
    calm = middle_of(box_rates(group(), seen(0.12, 0.12, 0.12, 0.12)))
    wild = middle_of(box_rates(group(), seen(0.12, 0.12, 0.12, 2.0)))
    assert wild == pytest.approx(calm, rel=0.10)


def test_that_a_bound_only_says_how_much_at_most():
    below = box_rates(group(), seen(0.06, 0.06, bound=True))
    assert middle_of(below) < 0.09
    assert middle_of(box_rates(group(), seen(1.0, 1.0, bound=True))) == pytest.approx(0.12, rel=0.1)


def test_that_the_next_fill_is_spread_wider_than_the_box_and_about_the_same_middle():
    box = box_rates(group(), seen(*[0.2] * 6))
    fill = fill_rates(group(), box)
    reach = [float((one.quantile(0.9) - one.quantile(0.1))[0]) for one in (box, fill)]
    assert reach[1] > reach[0]
    assert middle_of(fill) == pytest.approx(middle_of(box), rel=0.03)


def test_that_a_rate_of_either_sign_may_be_negative():
    both = group(0.0, between=0.01, fill=0.01, signed=True)
    grid = fill_rates(both, box_rates(both, seen(-0.02, -0.02, sd=0.002)))
    assert middle_of(grid) < 0
    assert grid.mean()[0] == pytest.approx(middle_of(grid), abs=0.004)


@given(
    rates=st.lists(st.floats(0.001, 5.0), min_size=1, max_size=8),
    middle=st.floats(0.001, 5.0),
)
def test_that_chances_always_sum_to_one_and_rates_of_wear_stay_positive(rates, middle):
    prior = group(middle)
    grid = fill_rates(prior, box_rates(prior, seen(*rates, sd=0.1)))
    assert float(grid.weight.sum()) == pytest.approx(1.0)
    assert (grid.rate > 0).all()
    assert grid.quantile(0.1)[0] <= grid.quantile(0.9)[0]


# --- filling in what is vague ---------------------------------------------------------------------


def test_that_the_box_itself_stands_in_where_no_like_box_is_known():
    unknown = group(np.nan, between=np.nan, fill=np.nan, boxes=2)
    whole = completed(unknown, seen(0.2, 0.3), fallback=np.array([9.0]))
    assert float(whole.middle[0]) == pytest.approx(0.25)
    assert int(whole.boxes[0]) == 0


def test_that_the_present_fill_stands_in_where_there_is_nothing_else():
    unknown = group(np.nan, between=np.nan, fill=np.nan, boxes=0)
    whole = completed(unknown, seen(np.nan), fallback=np.array([0.4]))
    assert float(whole.middle[0]) == pytest.approx(0.4)


def test_that_a_known_group_is_left_as_it_is():
    whole = completed(group(), seen(0.9), fallback=np.array([0.4]))
    assert float(whole.middle[0]) == 0.12
    assert int(whole.boxes[0]) == 30


def test_that_a_group_of_either_sign_keeps_the_sign_of_the_box():
    unknown = group(np.nan, between=np.nan, fill=np.nan, boxes=0, signed=True)
    whole = completed(unknown, seen(-0.2, -0.4), fallback=np.array([0.0]))
    assert float(whole.middle[0]) == pytest.approx(-0.3)


def test_that_groups_are_put_under_each_other():
    both = stacked([group(0.1), group(0.2, signed=True)])
    assert both.middle.tolist() == [0.1, 0.2]
    assert both.is_signed.tolist() == [False, True]


def test_that_only_fills_with_a_number_are_counted():
    rates = FillRates(
        rate=np.array([[0.1, np.nan, 0.2]]),
        sd=np.ones((1, 3)),
        is_bound=np.array([[False, False, True]]),
    )
    assert rates.count().tolist() == [1]
