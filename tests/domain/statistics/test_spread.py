"""Percentiles, duplicates, nested levels and like machines."""

import csv
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fluiddesk.domain.statistics.entry import LengthsDifferError, NotEnough, OutOfRangeError
from fluiddesk.domain.statistics.nested_variance import nested_variance
from fluiddesk.domain.statistics.percentile import PercentileDefinition, percentile
from fluiddesk.domain.statistics.repeatability import repeatability
from fluiddesk.domain.statistics.robust_spread import robust_spread
from fluiddesk.domain.statistics.shapiro_wilk import shapiro_wilk
from fluiddesk.domain.statistics.shrinkage import shrink

results = st.lists(st.integers(0, 100).map(float), min_size=3, max_size=30)


@given(values=results, a=st.floats(0, 100), b=st.floats(0, 100))
@pytest.mark.parametrize("definition", PercentileDefinition)
def test_that_a_higher_percentile_is_never_a_lower_value(definition, values, a, b):
    low, high = percentile(values, np.sort([a, b]), definition=definition)
    assert min(values) <= low <= high + 1e-9 <= max(values) + 2e-9
    assert percentile(values, float(min(a, b)), definition=definition) == pytest.approx(low)


@pytest.mark.parametrize(
    ("definition", "share"),
    [
        (PercentileDefinition.LINEAR, lambda i, n: (i - 1) / (n - 1)),
        (PercentileDefinition.HAZEN, lambda i, n: (i - 0.5) / n),
        (PercentileDefinition.WEIBULL, lambda i, n: i / (n + 1)),
    ],
)
def test_that_each_definition_gives_the_results_their_stated_places(definition, share):
    values = [3.0, 8, 9, 15, 40]
    for i, value in enumerate(values, start=1):
        found = percentile(values, 100 * share(i, 5), definition=definition)
        assert found == pytest.approx(value)


def test_that_duplicates_give_the_limit_and_an_interval_by_chi_square():
    found = repeatability([12, 15, 11, 14, 13], [10] * 5)
    squares = (4 + 25 + 1 + 16 + 9) / 2
    assert found.limit == 2.77 * found.deviation
    for bound, tail in ((found.deviation_low, 0.975), (found.deviation_high, 0.025)):
        assert bound == pytest.approx(np.sqrt(squares / stats.chi2.ppf(tail, 5)))


def test_that_the_limit_is_exceeded_one_time_in_twenty():
    rng = np.random.default_rng(7)
    one, other = rng.normal(20, 3, (2, 20_000))
    found = repeatability(one, other)
    assert found.deviation_low < 3 < found.deviation_high
    assert np.mean(np.abs(one - other) > found.limit) == pytest.approx(0.05, abs=0.005)


def test_that_open_duplicates_of_waters_agree_within_their_own_limit():
    home = os.environ.get("FLUIDDESK_OPEN_DATA")
    if not home:
        pytest.skip("FLUIDDESK_OPEN_DATA is not set")
    path = Path(home) / "usgs-inl-water-lab" / "replicate_pairs.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        rows = [
            row
            for row in csv.DictReader(stream)
            if row["parm_short_nm"] == "Chloride, wf"
            and not row["regular_remark"]
            and not row["replicate_remark"]
        ]
    # Differences grow with the level: judged as logarithms.
    pair = np.log([[float(row["regular_va"]), float(row["replicate_va"])] for row in rows])
    found = repeatability(pair[:, 0], pair[:, 1])
    assert found.pairs > 100
    assert np.mean(np.abs(pair[:, 0] - pair[:, 1]) <= found.limit) > 0.95


def balanced(machines, fills, bottles, *, seed=5):
    rng = np.random.default_rng(seed)
    machine = np.repeat(np.arange(machines), fills * bottles)
    fill = np.tile(np.repeat(np.arange(fills), bottles), machines)
    values = (
        np.repeat(rng.normal(0, 3, machines), fills * bottles)
        + np.repeat(rng.normal(0, 2, machines * fills), bottles)
        + rng.normal(0, 1, machines * fills * bottles)
    )
    return values, machine, fill


def test_that_equal_groups_give_the_mean_squares_of_the_textbook():
    values, machine, fill = balanced(6, 4, 3)
    cube = values.reshape(6, 4, 3)
    by_fill, by_machine = cube.mean(axis=2), cube.mean(axis=(1, 2))
    inside = ((cube - by_fill[:, :, None]) ** 2).sum() / (6 * 4 * 2)
    fills = 3 * ((by_fill - by_machine[:, None]) ** 2).sum() / (6 * 3)
    machines = 12 * ((by_machine - values.mean()) ** 2).sum() / 5
    expected = [(machines - fills) / 12, (fills - inside) / 3, inside]
    found = nested_variance(values, levels=[machine, fill])
    assert found.parts == pytest.approx(expected)
    assert found.degrees.tolist() == [5, 18, 48]
    assert found.shares.sum() == pytest.approx(1)


def test_that_unequal_groups_still_find_the_truth_on_average():
    kept = np.random.default_rng(11).random(8 * 4 * 3) < 0.7
    found = []
    for seed in range(400):
        values, machine, fill = balanced(8, 4, 3, seed=seed)
        found.append(nested_variance(values[kept], levels=[machine[kept], fill[kept]]).parts)
    # Machines 9, fills 4, bottles 1; four standard errors of the mean of 400.
    error = np.std(found, axis=0) / 20
    assert (np.abs(np.mean(found, axis=0) - [9, 4, 1]) < 4 * error).all()


def test_that_one_level_is_the_one_way_analysis_of_variance():
    groups = [[3.0, 4, 5, 9], [8, 9], [1, 2, 4]]
    values, level = np.concatenate(groups), np.repeat([0, 1, 2], [4, 2, 3])
    found = nested_variance(values, levels=[level])
    # For groups of unequal size n0 = (N - sum n^2 / N) / (groups - 1).
    inside = found.parts[1]
    between = stats.f_oneway(*groups).statistic * inside
    assert found.parts[0] == pytest.approx((between - inside) / ((9 - 29 / 9) / 2))


def test_that_group_numbers_count_only_within_their_outer_group():
    values, machine, fill = balanced(4, 3, 2)
    renamed = nested_variance(values, levels=[machine * 7 - 3, fill + 10 * machine])
    assert renamed.parts == pytest.approx(nested_variance(values, levels=[machine, fill]).parts)


def test_that_a_part_that_cannot_be_told_from_none_is_shown_as_it_is():
    found = nested_variance([1.0, 5, 1, 5], levels=[np.array([0, 0, 1, 1])])
    assert found.parts[0] == -4
    assert found.shares.tolist() == [0, 1]


def test_that_nothing_varies_where_all_are_equal():
    found = nested_variance([2.0] * 4, levels=[np.array([0, 0, 1, 1])])
    assert found.parts.tolist() == [0, 0]
    assert np.isnan(found.shares).all()


@pytest.mark.parametrize(
    ("level", "short"), [([0, 1, 2, 3], 1), ([0, 0, 0, 0], 0)], ids=["singles", "one group"]
)
def test_that_a_level_without_two_to_compare_is_not_enough(level, short):
    found = nested_variance([1.0, 2, 3, 4], levels=[np.array(level)])
    assert isinstance(found, NotEnough)
    assert f"level {short + 1}" in found.of


@pytest.mark.parametrize("levels", [[], [np.array([0, 1])]])
def test_that_every_value_has_a_group_at_every_level(levels):
    with pytest.raises(LengthsDifferError, match="at least one level"):
        nested_variance([1.0, 2, 3], levels=levels)


@given(values=results)
def test_that_one_wild_result_hardly_moves_the_robust_spread(values):
    calm = robust_spread(values)
    wild = robust_spread([*values, 1e6, -1e6])
    assert wild.median == calm.median
    assert wild.deviation <= 1.4826 * np.ptp(values) + 1e-9


def test_that_equal_or_too_many_results_have_no_test_of_shape():
    assert shapiro_wilk([5.0] * 9) == NotEnough(have=1, need=2, of="different results")
    with pytest.raises(OutOfRangeError, match="5001 results"):
        shapiro_wilk(np.arange(5001.0))


@given(n=st.integers(0, 50), own=st.floats(-50, 50), group=st.floats(-50, 50))
def test_that_a_shrunk_mean_lies_between_its_own_and_the_groups(n, own, group):
    found = shrink(np.array([own]), n=np.array([n]), group_mean=group, between_sd=3, within_sd=4)
    low, high = sorted([own, group])
    assert low - 1e-9 <= found.mean[0] <= high + 1e-9
    assert bool(found.may_rank[0]) == (n >= 3)
    # What is left is the posterior deviation of two normal distributions.
    assert found.deviation[0] == pytest.approx((1 / 9 + n / 16) ** -0.5)
