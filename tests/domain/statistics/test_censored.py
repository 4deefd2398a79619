"""Summaries with "less than" results, against independent libraries and what must hold."""

import csv
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats
from statsmodels.imputation.ros import impute_ros

from fluiddesk.domain.statistics.censored_lognormal import censored_lognormal
from fluiddesk.domain.statistics.entry import NotEnough
from fluiddesk.domain.statistics.kaplan_meier import kaplan_meier
from fluiddesk.domain.statistics.robust_ros import plotting_positions, robust_ros
from tests.domain.reference.measured import SERIES

MANGANESE = SERIES["manganese"]


@st.composite
def samples(draw, *, fewest_known=3):
    """Results in steps of a tenth, some of them below limits of whole numbers."""
    known = draw(st.lists(st.integers(5, 400), min_size=fewest_known, max_size=20, unique=True))
    limits = draw(st.lists(st.integers(1, 9).map(lambda one: one * 10), max_size=12))
    values = np.array([*known, *limits]) / 10
    below = np.array([False] * len(known) + [True] * len(limits))
    order = np.array(draw(st.permutations(range(len(values)))))
    return values[order], below[order]


def open_data(folder: str, name: str, *, value: str, mark: str):
    home = os.environ.get("FLUIDDESK_OPEN_DATA")
    if not home:
        pytest.skip("FLUIDDESK_OPEN_DATA is not set")
    path = Path(home) / folder / name
    with path.open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row[value]]
    below = np.array([row[mark] in ("True", "TRUE", "1") for row in rows])
    return np.array([float(row[value]) for row in rows]), below


OPEN = [
    ("nada2-nondetects", "CuZn.csv", "Cu", "CuCen"),
    ("nada2-nondetects", "CuZn.csv", "Zn", "ZnCen"),
    ("nada2-nondetects", "ShePyrene.csv", "Pyrene", "PyreneCen"),
    ("nada2-nondetects", "Cadmium.csv", "Cd", "CdCen"),
    ("nada2-nondetects", "Brumbaugh.csv", "Hg", "HgCen"),
    ("lifelines-left-censored", "nh4.csv", "NH4.mg.per.L", "Censored"),
]


def best_likelihood(values, below):
    """The same likelihood written with scipy's distributions, and climbed without slopes."""
    logs = np.log(values)

    def cost(place):
        mu, sigma = place[0], np.exp(place[1])
        known = stats.norm.logpdf(logs[~below], mu, sigma).sum()
        return -known - stats.norm.logcdf(logs[below], mu, sigma).sum()

    start = [logs[~below].mean(), np.log(logs[~below].std())]
    found = optimize.minimize(
        cost, start, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 5000}
    )
    return found.x[0], np.exp(found.x[1])


def substitution_free_shares(values, below):
    """Turnbull's self-consistent shares: an independent road to the product limit."""
    places = np.unique(np.append(values[~below], values.min() / 2))
    could = np.array(
        [
            places < value if cut else places == value
            for value, cut in zip(values, below, strict=True)
        ]
    )
    shares = np.full(len(places), 1 / len(places))
    for _ in range(20_000):
        weighed = could * shares
        shares = (weighed / weighed.sum(axis=1, keepdims=True)).mean(axis=0)
    return places, shares


def test_that_the_product_limit_is_the_self_consistent_one():
    places, shares = substitution_free_shares(MANGANESE.values, MANGANESE.below)
    found = kaplan_meier(MANGANESE.values, below=MANGANESE.below)
    assert found.levels.tolist() == places[1:].tolist()
    assert found.share_at_most == pytest.approx(np.cumsum(shares)[1:], abs=1e-6)
    assert found.share_hidden == pytest.approx(shares[0], abs=1e-6)


@given(known=st.lists(st.integers(1, 400), min_size=3, max_size=20, unique=True))
def test_that_without_less_than_results_the_plain_summary_stands(known):
    values, none = np.array(known, dtype=np.float64), [False] * len(known)
    km, ros = kaplan_meier(values, below=none), robust_ros(values, below=none)
    assert km.mean == pytest.approx(values.mean())
    assert km.deviation == pytest.approx(values.std())
    assert km.standard_error == pytest.approx(values.std(ddof=1) / np.sqrt(len(values)))
    assert (ros.mean, ros.deviation) == pytest.approx((values.mean(), values.std(ddof=1)))
    fit = censored_lognormal(values, below=none)
    logs = np.log(values)
    assert fit.log_mean == pytest.approx(logs.mean(), abs=1e-6)
    assert fit.log_deviation == pytest.approx(logs.std(), rel=1e-6)
    # ln(mean) = mu + sigma^2/2; with all known var(mu) = s^2/n and var(s) = s^2/2n.
    spread = logs.std()
    error = np.sqrt((spread**2 + spread**4 / 2) / len(values))
    assert fit.mean_error == pytest.approx(error, rel=1e-5)


@given(sample=samples())
def test_that_the_mean_lies_between_what_zeros_and_limits_would_give(sample):
    values, below = sample
    found = kaplan_meier(values, below=below)
    assert np.where(below, 0, values).mean() <= found.mean + 1e-9
    assert found.mean <= values.mean() + 1e-9
    assert found.n_below == np.count_nonzero(below)
    low, high = found.mean_interval()
    assert low <= found.mean <= high


@given(sample=samples(), lower=st.floats(0.01, 0.99), more=st.floats(0, 0.99))
def test_that_a_larger_share_never_has_a_lower_quantile(sample, lower, more):
    values, below = sample
    upper = min(lower + more, 0.995)
    found = kaplan_meier(values, below=below)
    at_lower, at_upper = found.quantile(lower), found.quantile(upper)
    if at_lower is not None:
        assert at_upper is not None
        assert at_lower <= at_upper


def test_that_a_quantile_among_less_than_results_is_not_told():
    found = kaplan_meier([2, 2, 4, 6, 8], below=[True, True, False, False, False])
    assert (found.quantile(0.4), found.quantile(0.41), found.quantile(0.99)) == (None, 4.0, 8.0)


@given(sample=samples(fewest_known=4))
def test_that_the_filled_in_results_are_those_of_an_independent_library(sample):
    values, below = sample
    found = robust_ros(values, below=below)
    if isinstance(found, NotEnough):
        assert np.count_nonzero(~below) < max(3, 0.2 * len(values))
    else:
        witness = impute_ros(values, below, max_fraction_censored=0.8)
        assert np.sort(found.filled) == pytest.approx(np.sort(witness), rel=1e-9)
        assert found.filled[~below].tolist() == values[~below].tolist()


def test_that_positions_inside_one_range_are_weibull_positions():
    positions = plotting_positions(
        np.array([3.0, 5, 5, 8]), below=np.array([False, True, True, False])
    )
    # Above 5 lies 1 of 4; below it 3 of 4, where the only known one stands in the middle.
    assert positions == pytest.approx([0.375, 0.25, 0.5, 0.875])


def test_that_too_large_a_share_of_less_than_results_has_no_fill():
    few = robust_ros([1.0] * 17 + [2, 3, 4], below=[True] * 17 + [False] * 3)
    assert few == NotEnough(have=3, need=4, of="results above their limit")


@pytest.mark.parametrize("method", [robust_ros, censored_lognormal])
def test_that_equal_results_have_no_spread_to_fit(method):
    found = method([5, 5, 5, 6, 2], below=[False, False, False, False, True])
    assert found == NotEnough(have=2, need=3, of="different results above their limit")


@settings(max_examples=25)
@given(sample=samples())
def test_that_no_other_place_has_a_larger_likelihood(sample):
    values, below = sample
    found = censored_lognormal(values, below=below)
    mu, sigma = best_likelihood(values, below)
    assert found.log_mean == pytest.approx(mu, abs=1e-4 * (1 + abs(mu)) * (1 + sigma))
    assert found.log_deviation == pytest.approx(sigma, rel=1e-3)


@given(sample=samples(), factor=st.sampled_from([0.001, 10.0, 1000.0]))
def test_that_another_unit_changes_the_unit_alone(sample, factor):
    values, below = sample
    one = censored_lognormal(values, below=below)
    other = censored_lognormal(values * factor, below=below)
    assert other.mean == pytest.approx(one.mean * factor, rel=1e-5)
    assert other.variation == pytest.approx(one.variation, rel=1e-5)
    low, high = other.mean_interval()
    assert low <= other.mean <= high
    assert other.quantile(0.5) == pytest.approx(np.exp(other.log_mean))


def test_that_the_likelihood_is_nearer_the_truth_than_any_substitution():
    # Forty ideal results of a lognormal with median 2, half of them below a limit of 2.
    true = 2 * np.exp(stats.norm.ppf((np.arange(40) + 0.5) / 40))
    below = true < 2
    seen = np.where(below, 2.0, true)
    fit = censored_lognormal(seen, below=below)
    wrong = [np.where(below, 2 * share, true).mean() for share in (0.0, 0.5, 1.0)]
    expected = 2 * np.exp(0.5)
    assert abs(fit.mean / expected - 1) < 0.04
    assert all(abs(fit.mean - expected) < abs(one - expected) for one in (wrong[0], wrong[2]))


@pytest.mark.parametrize(("folder", "name", "value", "mark"), OPEN)
def test_that_open_results_of_waters_and_fish_are_summarised_as_by_others(
    folder, name, value, mark
):
    values, below = open_data(folder, name, value=value, mark=mark)
    assert below.any()
    filled, fit = robust_ros(values, below=below), censored_lognormal(values, below=below)
    assert np.sort(filled.filled) == pytest.approx(np.sort(impute_ros(values, below)), rel=1e-9)
    assert (fit.log_mean, fit.log_deviation) == pytest.approx(
        best_likelihood(values, below), abs=1e-4
    )
    km = kaplan_meier(values, below=below)
    assert np.where(below, 0, values).mean() <= km.mean <= values.mean()
    # Three roads to one mean: none of them far from the others.
    assert filled.mean == pytest.approx(km.mean, abs=2 * km.standard_error)


def test_that_the_top_is_found_where_a_full_step_would_overshoot():
    values = np.array([1.003, 0.995, 1.0, 1.004, 0.998, *[0.00051522] * 4])
    below = np.array([False] * 5 + [True] * 4)
    fit = censored_lognormal(values, below=below)
    assert (fit.log_mean, fit.log_deviation) == pytest.approx(
        best_likelihood(values, below), rel=1e-5
    )
    # Such data tell next to nothing of the mean, and the interval says so.
    low, high = fit.mean_interval()
    assert high / low > 1e9
