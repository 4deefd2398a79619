import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.statistics.entry import (
    LengthsDifferError,
    NotANumberError,
    NotEnough,
    NotPositiveError,
    OutOfRangeError,
    WrongOrderError,
)
from fluiddesk.domain.trends.rates import (
    SOURCE,
    cumulative_rate,
    least_squares_rate,
    rise_over_run,
    rise_over_run_bounds,
)
from tests.domain.reference.measured import SERIES
from tests.domain.reference.reading import worked_examples

METHODS = {
    "rise over run": lambda one, place: rise_over_run(one.at, one.values)[int(place) - 1],
    "cumulative": lambda one, _: cumulative_rate(one.at, one.values),
    "least squares": lambda one, _: least_squares_rate(one.at, one.values).rate,
}

steps = st.lists(st.integers(1, 500), min_size=3, max_size=12)
amounts = st.integers(0, 400).map(float)


@pytest.mark.parametrize(
    "row", worked_examples("rates"), ids=lambda row: f"{row['id']} {row['method']}"
)
def test_that_a_worked_rate_is_found(row):
    found = METHODS[row["method"]](SERIES[row["series"]], row["argument"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]), rel=0)


def test_that_rates_from_memory_say_so_in_table_and_program():
    assert {row["status"] for row in worked_examples("rates")} == {"FROM MEMORY"}
    assert "unconfirmed" in SOURCE


@given(runs=steps, data=st.data())
def test_that_the_cumulative_rate_is_the_mean_of_the_steps_weighed_by_their_hours(runs, data):
    hours = np.cumsum(runs)
    values = data.draw(st.lists(amounts, min_size=len(runs), max_size=len(runs)))
    each = rise_over_run(hours, values)
    weighed = each @ np.diff(hours) / (hours[-1] - hours[0])
    assert cumulative_rate(hours, values) == pytest.approx(weighed, abs=1e-9)


@given(runs=steps, per=st.integers(1, 1000))
def test_that_a_steady_rise_has_one_rate_however_it_is_found(runs, per):
    hours = np.cumsum(runs).astype(float)
    values = 3 + hours / 20
    assert rise_over_run(hours, values, per_hours=per) == pytest.approx(per / 20)
    assert cumulative_rate(hours, values, per_hours=per) == pytest.approx(per / 20)
    assert least_squares_rate(hours, values, per_hours=per).rate == pytest.approx(per / 20)


def test_that_the_interval_of_the_least_squares_rate_is_by_student():
    # Slope 0.03409524, error 0.00154744, t for 4 degrees of freedom at 97.5 %: 2.776445.
    found = least_squares_rate(SERIES["iron"].at, SERIES["iron"].values)
    assert found.high - found.rate == pytest.approx(2.776445 * 0.154744, abs=1e-5)
    assert found.rate - found.low == pytest.approx(found.high - found.rate)


@given(runs=steps, data=st.data())
def test_that_a_less_than_result_leaves_the_rate_between_its_bounds(runs, data):
    hours, count = np.cumsum(runs), len(runs)
    limit = np.array(data.draw(st.lists(st.integers(1, 99), min_size=count, max_size=count)))
    below = np.array(data.draw(st.lists(st.booleans(), min_size=count, max_size=count)))
    share = np.array(data.draw(st.lists(st.floats(0, 1), min_size=count, max_size=count)))
    true = np.where(below, share * limit, limit)
    low, high = rise_over_run_bounds(hours, limit, below=below)
    rate = rise_over_run(hours, true)
    assert (low <= rate + 1e-9).all()
    assert (rate <= high + 1e-9).all()
    known = ~below[1:] & ~below[:-1]
    assert low[known] == pytest.approx(high[known])


@pytest.mark.parametrize("values", [[], [12]])
def test_that_one_result_has_no_rate(values):
    few = NotEnough(have=len(values), need=2, of="results")
    assert rise_over_run(values, values) == few
    assert cumulative_rate(values, values) == few
    assert rise_over_run_bounds(values, values, below=[False] * len(values)) == few


def test_that_two_results_have_no_rate_with_an_interval():
    few = NotEnough(have=2, need=3, of="results")
    assert least_squares_rate([0, 10], [1, 2]) == few


@pytest.mark.parametrize("rate", [rise_over_run, cumulative_rate, least_squares_rate])
@pytest.mark.parametrize(
    ("hours", "values", "fault"),
    [
        ([0, 100, 50], [1, 2, 3], WrongOrderError),
        ([0, 100], [1, 2, 3], LengthsDifferError),
        ([0, 100, 200], [1, float("nan"), 3], NotANumberError),
        ([0, 100, float("inf")], [1, 2, 3], NotANumberError),
        ([[0, 100, 200]], [[1, 2, 3]], LengthsDifferError),
    ],
)
def test_that_hours_and_values_that_make_no_series_are_refused(rate, hours, values, fault):
    with pytest.raises(fault):
        rate(hours, values)


@pytest.mark.parametrize("rate", [rise_over_run, cumulative_rate])
def test_that_two_samples_at_the_same_hours_are_refused_by_name(rate):
    with pytest.raises(WrongOrderError, match="two samples at 100"):
        rate([0, 100, 100], [1, 2, 3])


@pytest.mark.parametrize("per_hours", [0, -100, float("nan"), float("inf")])
@pytest.mark.parametrize("rate", [rise_over_run, cumulative_rate, least_squares_rate])
def test_that_a_standard_interval_is_above_zero(rate, per_hours):
    with pytest.raises(OutOfRangeError, match="standard interval"):
        rate([0, 100, 200], [1, 2, 3], per_hours=per_hours)


def test_that_a_limit_of_zero_is_refused():
    with pytest.raises(NotPositiveError):
        rise_over_run_bounds([0, 100], [0, 3], below=[True, False])
