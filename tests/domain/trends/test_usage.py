import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.trends.usage import day_to_day_spread, day_to_day_spreads, usage


def read(days, hours, fallback=5.0):
    return usage(
        days=np.array(days, dtype=np.int64),
        hours=np.array(hours, dtype=np.float64),
        fallback_hours_per_day=fallback,
    )


def test_that_without_a_reading_nothing_is_known():
    assert read([], []) is None


@pytest.mark.parametrize(
    ("days", "hours"), [([10], [80]), ([10, 20], [80, 170]), ([5] * 4, [8] * 4)]
)
def test_that_too_few_readings_fall_back_on_what_is_usual(days, hours):
    found = read(days, hours)
    assert (found.hours_per_day, found.hours_now, found.as_of) == (5.0, hours[-1], days[-1])
    assert np.isnan(found.spread)


def test_that_the_rate_is_the_median_of_all_pairwise_slopes():
    # Readings 0, 10, 20, 30 days: slopes 8, 7, 6, 6, 5, 4, median 6.
    found = read([0, 10, 20, 30], [0, 80, 140, 180])
    assert found.hours_per_day == pytest.approx(6.0)
    # Their distances from 6: 2, 1, 0, 0, 1, 2, median 1.
    assert found.spread == pytest.approx(1.4826)
    assert found.readings == 4


def test_that_only_the_last_twelve_weeks_count():
    found = read([0, 100, 116, 142, 184], [0, 2_000, 2_064, 2_168, 2_336])
    assert (found.hours_per_day, found.readings) == (4.0, 4)


def test_that_two_readings_of_one_day_do_not_break_the_rate():
    assert read([0, 10, 10, 20], [0, 80, 80, 160]).hours_per_day == 8.0


def test_that_a_meter_running_backwards_counts_as_standing():
    assert read([0, 10, 20], [300, 200, 100]).hours_per_day == 0.0


@given(
    rate=st.integers(0, 24),
    wrong=st.integers(0, 7),
    by=st.integers(-5_000, 5_000),
    gaps=st.lists(st.integers(1, 10), min_size=8, max_size=8),
)
def test_that_one_mistyped_reading_moves_the_rate_of_eight_not_at_all(rate, wrong, by, gaps):
    days = np.cumsum(gaps)
    hours = days * float(rate)
    hours[wrong] += by
    assert read(days, hours).hours_per_day == pytest.approx(rate)


def spread(days, hours, rate):
    return day_to_day_spread(
        days=np.array(days, dtype=np.int64),
        hours=np.array(hours, dtype=np.float64),
        hours_per_day=rate,
    )


def test_that_a_machine_that_always_runs_the_same_has_no_spread():
    assert spread([0, 3, 10], [0, 24, 80], 8.0) == 0.0


def test_that_the_spread_of_days_is_found_from_readings_far_apart():
    rng = np.random.default_rng(7)
    daily = np.cumsum(rng.normal(16.0, 5.0, 60_000))
    days = np.arange(0, 60_000, 14)
    assert spread(days, daily[days], 16.0) == pytest.approx(5.0, rel=0.03)


@pytest.mark.parametrize("days", [[0], [0, 9], [0, 9, 9]])
def test_that_fewer_than_three_days_tell_no_spread(days):
    assert np.isnan(spread(days, [8.0 * day for day in days], 8.0))


def test_that_two_readings_of_one_day_count_once():
    assert spread([0, 1, 1, 2], [0, 6, 6, 16], 8.0) == 2.0


def one_by_one(days, hours, rate):
    """The spread as its definition says it, reading by reading."""
    beside = [
        (later - hour - rate * (after - day)) ** 2 / (after - day)
        for day, after, hour, later in zip(days, days[1:], hours, hours[1:], strict=False)
        if after > day
    ]
    return (sum(beside) / len(beside)) ** 0.5 if len(beside) >= 2 else float("nan")


@given(
    machines=st.lists(
        st.tuples(
            st.lists(st.tuples(st.integers(0, 9), st.integers(0, 200)), max_size=6),
            st.integers(0, 24),
        ),
        min_size=1,
        max_size=6,
    )
)
def test_that_the_spreads_of_many_machines_are_those_of_each_alone(machines):
    owner, days, hours, expected = [], [], [], []
    for number, (steps, rate) in enumerate(machines):
        mine = np.cumsum([gap for gap, _ in steps], dtype=np.int64).tolist()
        run = np.cumsum([float(more) for _, more in steps]).tolist()
        owner += [number] * len(steps)
        days += mine
        hours += run
        expected.append(one_by_one(mine, run, rate))
        alone = spread(mine, run, float(rate))
        assert alone == pytest.approx(expected[-1], nan_ok=True)
    found = day_to_day_spreads(
        machine=np.array(owner, dtype=np.int64),
        days=np.array(days, dtype=np.int64),
        hours=np.array(hours, dtype=np.float64),
        hours_per_day=np.array([float(rate) for _, rate in machines]),
    )
    assert found == pytest.approx(expected, nan_ok=True)
