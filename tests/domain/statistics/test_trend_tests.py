"""Rise and fall, against independent libraries and by counting every order."""

import itertools

import numpy as np
import pymannkendall
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

import fluiddesk.domain.statistics.theil_sen as theil_sen_module
from fluiddesk.domain.statistics.entry import (
    LengthsDifferError,
    NotANumberError,
    NotEnough,
    WrongOrderError,
)
from fluiddesk.domain.statistics.least_squares import least_squares
from fluiddesk.domain.statistics.mann_kendall import mann_kendall, tie_correction
from fluiddesk.domain.statistics.theil_sen import SERIES_AT_ONCE, theil_sen, theil_sen_columns
from tests.domain.reference.measured import SERIES

NAN, INF = float("nan"), float("inf")
few_levels = st.integers(0, 6).map(float)


@st.composite
def series(draw, *, fewest=3, most=40):
    """Hours that rise, now and then stand still, and values with ties."""
    steps = draw(st.lists(st.integers(0, 3), min_size=fewest, max_size=most).filter(any))
    hours = np.cumsum(steps) * 10.0
    values = draw(st.lists(few_levels, min_size=len(steps), max_size=len(steps)))
    if hours[0] == hours[-1]:
        hours[-1] += 10
    return hours, np.array(values)


@given(values=st.lists(few_levels, min_size=3, max_size=40))
def test_that_s_and_its_variance_are_those_of_an_independent_library(values):
    found = mann_kendall(values)
    witness = pymannkendall.original_test(values)
    assert (found.s, found.z) == (witness.s, pytest.approx(witness.z))
    assert found.variance == pytest.approx(witness.var_s)
    assert found.tau == pytest.approx(witness.Tau)
    if not found.is_exact:
        assert found.probability == pytest.approx(witness.p)


@given(values=st.lists(st.integers(0, 99), min_size=3, max_size=10, unique=True))
def test_that_without_ties_the_exact_probability_is_kendalls(values):
    witness = stats.kendalltau(range(len(values)), values, method="exact")
    assert mann_kendall(values).probability == pytest.approx(witness.pvalue)


@pytest.mark.parametrize(
    "values", [[1, 1, 2, 3, 3, 3], [5, 5, 5, 1, 2], [2, 1, 2, 1, 2, 1, 3], [4, 4, 4, 4]]
)
def test_that_with_ties_the_exact_probability_counts_every_order(values):
    def s_of(order):
        return sum(np.sign(b - a) for a, b in itertools.combinations(order, 2))

    orders = [s_of(order) for order in itertools.permutations(values)]
    extreme = np.mean([abs(s) >= abs(s_of(values)) for s in orders])
    assert mann_kendall(values).probability == pytest.approx(extreme)


def test_that_ten_results_are_counted_and_eleven_are_not():
    assert mann_kendall(list(range(10))).is_exact
    assert not mann_kendall(list(range(11))).is_exact


def test_that_nothing_but_equal_results_shows_no_trend():
    for n in (5, 20):
        found = mann_kendall([7] * n)
        assert (found.s, found.z, found.variance, found.probability) == (0, 0, 0, 1)


@given(values=st.lists(few_levels, min_size=3, max_size=12))
def test_that_a_series_read_backwards_has_the_opposite_trend(values):
    forth, back = mann_kendall(values), mann_kendall(values[::-1])
    assert (forth.s, forth.z, forth.probability) == (-back.s, -back.z, back.probability)


def test_that_a_sinking_limit_of_detection_makes_no_trend():
    values, below = [5, 5, 5, 2, 2, 2, 1, 1], [True] * 6 + [False] * 2
    with_one_seen = mann_kendall([*values, 6], below=[*below, False])
    # All but the last count as equal: one riser against eight.
    assert with_one_seen.s == 8
    none_seen = mann_kendall(values, below=below)
    assert none_seen == NotEnough(have=0, need=1, of="results above the highest limit")


def test_that_a_result_at_the_limit_lies_above_what_is_below_it():
    assert mann_kendall([5, 5, 5], below=[True, True, False]).s == 2
    assert mann_kendall([3, 4, 5], below=[False] * 3).s == 3


def test_that_the_tie_correction_is_that_of_the_formula():
    assert tie_correction(np.array([4, 2, 1, 1])) == 4 * 3 * 13 + 2 * 1 * 9


@given(one=series(), confidence=st.sampled_from([0.8, 0.9, 0.95, 0.99]))
def test_that_the_robust_line_is_scipys(one, confidence):
    _, values = one
    hours = np.arange(len(values)) * 10.0
    found = theil_sen(hours, values, confidence=confidence)
    witness = stats.theilslopes(values, hours, alpha=confidence, method="separate")
    assert found.slope == pytest.approx(witness.slope, abs=1e-12)
    assert found.intercept == pytest.approx(witness.intercept, abs=1e-9)
    assert (found.low, found.high) == pytest.approx(
        (witness.low_slope, witness.high_slope), abs=1e-12
    )


@given(one=series())
def test_that_the_robust_slope_is_the_median_slope_and_lies_in_its_interval(one):
    hours, values = one
    pairs = itertools.combinations(zip(hours, values, strict=True), 2)
    slopes = [(y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in pairs if x1 != x2]
    found = theil_sen(hours, values)
    assert found.slope == pytest.approx(np.median(slopes), abs=1e-12)
    assert found.low <= found.slope <= found.high


@pytest.mark.parametrize(
    ("hours", "values"),
    [
        ([0, 0, 1], [0, 0, 0]),
        ([0, 0, 1, 1, 1, 2], [3, 1, 1, 1, 2, 2]),
        ([0, 1, 2, 3], [1, 2, 2, 5]),
    ],
)
def test_that_ties_in_hours_and_results_count_in_the_variance(hours, values):
    pairs = list(itertools.combinations(range(len(hours)), 2))
    every = [
        sum(np.sign(hours[j] - hours[i]) * np.sign(order[j] - order[i]) for i, j in pairs)
        for order in itertools.permutations(values)
    ]
    table = [np.sort(np.array([one], dtype=float)) for one in (hours, values)]
    found = theil_sen_module._variance(np.array([len(hours)]), *table)
    assert found[0] == pytest.approx(np.var(every))


@given(every=st.lists(series(fewest=1, most=9), min_size=1, max_size=5), data=st.data())
def test_that_many_series_at_once_give_what_each_gives_alone(every, data):
    width = max(len(hours) for hours, _ in every)
    at, values = np.full((2, len(every), width), NAN)
    for row, (hours, numbers) in enumerate(every):
        # Gaps anywhere, not only at the end.
        spots = sorted(data.draw(st.permutations(range(width)))[: len(hours)])
        at[row, spots], values[row, spots] = hours, numbers
    found = theil_sen_columns(at, values)
    for row, (hours, numbers) in enumerate(every):
        alone = theil_sen(hours, numbers)
        together = [found.slope[row], found.low[row], found.high[row]]
        if isinstance(alone, NotEnough):
            assert np.isnan(together).all()
        else:
            assert together == [alone.slope, alone.low, alone.high]
        assert found.n[row] == len(hours)


def test_that_threads_change_nothing():
    rng = np.random.default_rng(3)
    at = np.cumsum(rng.uniform(1, 9, (2 * SERIES_AT_ONCE + 7, 6)), axis=1)
    values = rng.normal(size=at.shape)
    one, two = theil_sen_columns(at, values), theil_sen_columns(at, values, threads=2)
    assert (one.slope == two.slope).all()
    assert (one.low == two.low).all()
    assert (one.high == two.high).all()
    assert one.slope[-1] == stats.theilslopes(values[-1], at[-1]).slope


@pytest.mark.parametrize("shape", [(0, 5), (3, 0), (3, 1), (3, 2)])
def test_that_columns_of_next_to_nothing_give_columns_of_not_enough(shape):
    found = theil_sen_columns(np.ones(shape).cumsum(axis=1), np.ones(shape))
    assert found.slope.shape == (shape[0],)
    assert np.isnan(found.slope).all()


@pytest.mark.parametrize(
    ("at", "values", "fault", "words"),
    [
        ([0.0, 1], [0.0, 1], LengthsDifferError, "one row a series"),
        ([[0.0, 1]], [[0.0, 1, 2]], LengthsDifferError, "one row a series"),
        ([[0, 1], [0, INF]], [[0.0, 1], [0, 1]], NotANumberError, "series 2, result 2"),
        ([[0.0, 1]], [[NAN, 1]], NotANumberError, "series 1, result 1"),
        ([[5.0, NAN, 4]], [[1.0, NAN, 1]], WrongOrderError, "fall to 4 at result 3"),
    ],
)
def test_that_columns_that_make_no_series_are_refused(at, values, fault, words):
    with pytest.raises(fault, match=words):
        theil_sen_columns(np.array(at, dtype=float), np.array(values, dtype=float))


@pytest.mark.parametrize("method", [theil_sen, least_squares])
def test_that_samples_at_one_and_the_same_hours_have_no_slope(method):
    assert method([5, 5, 5], [1, 2, 3]) == NotEnough(have=1, need=2, of="different hours")


@given(one=series())
def test_that_the_line_is_scipys(one):
    hours, values = one
    found, witness = least_squares(hours, values), stats.linregress(hours, values)
    assert found.slope == pytest.approx(witness.slope, abs=1e-12)
    assert found.intercept == pytest.approx(witness.intercept, abs=1e-9)
    if np.ptp(values):
        # The witness takes the rest from 1 - r^2, which rounds to some 1e-16 on a perfect line.
        rounding = 1e-14 * np.var(values) / np.var(hours)
        assert found.slope_error**2 == pytest.approx(witness.stderr**2, rel=1e-9, abs=rounding)
        assert found.r_squared == pytest.approx(witness.rvalue**2, abs=1e-9)


@given(one=series(), at=st.integers(-100, 2000))
def test_that_a_single_result_is_less_sure_than_the_mean(one, at):
    found = least_squares(*one).predict(at)
    inside = (found.low, found.mean_low, found.value, found.mean_high, found.high)
    assert all(a <= b + 1e-9 for a, b in itertools.pairwise(inside))


def test_that_a_level_line_meets_no_other_level():
    line = least_squares([0, 1, 2], [4, 4, 4])
    assert (line.slope, line.r_squared, line.reaches(9)) == (0, 1, None)


def test_that_many_digits_before_the_point_cost_none_behind_it():
    iron = SERIES["iron"]
    near, far = (least_squares(iron.at, iron.values + lift) for lift in (0, 2**30))
    assert far.slope == pytest.approx(near.slope, rel=1e-9)
    assert far.residual_deviation == pytest.approx(near.residual_deviation, rel=1e-6)
