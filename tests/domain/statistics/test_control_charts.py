"""Charts that watch one compartment: what they see, how soon, and what they keep quiet about."""

import csv
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.statistics.cusum import cusum
from fluiddesk.domain.statistics.entry import NotEnough
from fluiddesk.domain.statistics.ewma import ewma, ewma_chart
from fluiddesk.domain.statistics.individuals_chart import individuals_chart
from tests.domain.reference.measured import SERIES

FOLDER = "nist-spc"
tables = st.lists(
    st.lists(st.integers(-50, 50), min_size=4, max_size=4), min_size=1, max_size=5
).map(np.array)


def open_chart(name):
    home = os.environ.get("FLUIDDESK_OPEN_DATA")
    if not home:
        pytest.skip("FLUIDDESK_OPEN_DATA is not set")
    with (Path(home) / FOLDER / name).open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    return {key: np.array([float(row[key]) for row in rows]) for key in rows[0]}


@given(table=tables, weight=st.floats(0.05, 1))
def test_that_many_averages_at_once_are_each_alone(table, weight):
    together = ewma(table, start=2.0, weight=weight)
    for row, values in enumerate(table):
        assert together[row].tolist() == ewma(values, start=2.0, weight=weight).tolist()


@given(table=tables)
def test_that_many_sums_at_once_are_each_alone(table):
    together = cusum(table, target=1, k=0.5, h=4)
    for row, values in enumerate(table):
        alone = cusum(values, target=1, k=0.5, h=4)
        assert together.upper[row].tolist() == alone.upper.tolist()
        assert together.lower[row].tolist() == alone.lower.tolist()
        assert together.is_signal[row].tolist() == alone.is_signal.tolist()


@given(values=st.lists(st.integers(-50, 50), min_size=1, max_size=20))
def test_that_an_average_never_leaves_what_it_averages(values):
    average = ewma(values, start=0.0)
    assert average.min() >= min([0, *values]) - 1e-9
    assert average.max() <= max([0, *values]) + 1e-9


def test_that_a_weight_of_one_is_the_result_itself():
    assert ewma([3, 1, 2], start=9, weight=1).tolist() == [3, 1, 2]


def test_that_each_series_may_start_at_its_own_level():
    average = ewma([[1.0, 1], [5, 5]], start=np.array([1.0, 5]))
    assert average.tolist() == [[1, 1], [5, 5]]


def test_that_limits_narrow_at_the_start_widen_to_the_usual_ones():
    usual = ewma_chart([0.0] * 40, centre=0, sigma=1)
    narrow = ewma_chart([0.0] * 40, centre=0, sigma=1, narrow_start=True)
    # The first average is 0.3 of one result, so that its deviation is 0.3 sigma.
    assert narrow.upper[0] == pytest.approx(3 * 0.3)
    assert (np.diff(narrow.upper) >= 0).all()
    assert narrow.upper[-1] == pytest.approx(usual.upper[-1], rel=1e-6)
    assert narrow.lower.tolist() == (-narrow.upper).tolist()


def test_that_falls_are_seen_as_rises_are():
    up, down = ([0.0, 3, 3, 3], [0.0, -3, -3, -3])
    assert (
        ewma_chart(up, centre=0, sigma=1).is_signal.tolist()
        == ewma_chart(down, centre=0, sigma=1).is_signal.tolist()
        == [False, False, True, True]
    )
    high, low = (cusum(one, target=0, k=0.5, h=4) for one in (up, down))
    assert high.upper.tolist() == low.lower.tolist() == [0, 2.5, 5, 7.5]
    assert high.is_signal.tolist() == low.is_signal.tolist() == [False, False, True, True]


def test_that_a_fast_start_finds_sooner_what_is_off_from_the_first():
    off = [1.5] * 6
    slow, fast = (cusum(off, target=0, k=0.5, h=4, fast_start=way) for way in (False, True))
    assert (np.argmax(slow.is_signal), np.argmax(fast.is_signal)) == (4, 2)
    assert fast.upper[0] == 4 / 2 + 1.5 - 0.5


def test_that_a_fast_start_dies_away_where_nothing_is_off():
    quiet = cusum([0.0] * 6, target=0, k=0.5, h=4, fast_start=True)
    assert quiet.upper.tolist() == quiet.lower.tolist() == [1.5, 1, 0.5, 0, 0, 0]


def test_that_an_allowance_of_nothing_is_allowed():
    assert cusum([1.0, 1], target=0, k=0, h=4).upper.tolist() == [1, 2]


def test_that_the_slow_rise_stays_inside_the_chart_of_single_results():
    chart = individuals_chart(SERIES["rates"].values)
    assert not chart.is_signal.any()
    assert SERIES["slow_rise"].values.max() < chart.upper


def test_that_a_step_leaves_the_chart():
    chart = individuals_chart([10.0, 11, 10, 11, 10, 11, 10, 11, 10, 11, 10, 11, 30])
    assert np.flatnonzero(chart.is_signal).tolist() == [12]


def test_that_the_robust_chart_is_of_medians():
    chart = individuals_chart([10, 12, 11, 14, 10, 11, 13, 90], robust=True)
    # Steps 2 1 3 4 1 2 77, median 2; results' median 11.5.
    assert (chart.centre, chart.moving_range) == (11.5, 2)
    assert chart.upper - chart.centre == pytest.approx(3 * 2 / 0.954)
    assert chart.is_signal.tolist() == [False] * 7 + [True]


@pytest.mark.parametrize("n", [2, 7])
def test_that_fewer_than_eight_results_have_no_chart(n):
    found = individuals_chart(np.arange(n))
    assert found == NotEnough(have=n, need=8, of="results")


def test_that_results_that_do_not_vary_have_no_chart():
    assert isinstance(individuals_chart([5] * 8), NotEnough)
    assert isinstance(individuals_chart([5] * 7 + [6], robust=True), NotEnough)


def test_that_open_charts_agree_with_their_published_columns():
    drift = open_chart("ewma_6_3_2_4.csv")
    average = ewma(drift["x"], start=50, weight=0.3)
    assert average == pytest.approx(drift["ewma_published"], abs=0.0051)
    shift = open_chart("cusum_6_3_2_3.csv")
    chart = cusum(shift["x"], target=325, k=0.3175, h=4.1959)
    assert chart.upper == pytest.approx(shift["s_hi_published"], abs=0.01)
    assert chart.lower == pytest.approx(shift["s_lo_published"], abs=0.01)
    assert chart.is_signal.tolist() == shift["signal_published"].astype(bool).tolist()
