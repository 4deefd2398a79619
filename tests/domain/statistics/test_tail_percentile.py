"""Percentiles with "less than" results, the numbers they need, and their bootstrap intervals."""

import numpy as np
import pytest

from fluiddesk.domain.statistics.entry import NotEnough, OutOfRangeError
from fluiddesk.domain.statistics.kaplan_meier import kaplan_meier
from fluiddesk.domain.statistics.tail_percentile import (
    bootstrap_intervals,
    fewest_results,
    tail_percentiles,
)

# Own data of thirty results, percentiles by Hazen's definition computed with scipy 1.17.1.
THIRTY = np.array(
    [12, 15, 14, 18, 22, 17, 13, 16, 19, 21, 14, 15, 17, 25, 20, 18, 16, 13, 15, 24, 19, 17, 14,
     16, 18, 20, 22, 15, 17, 41], dtype=float,
)  # fmt: skip
PLAIN = np.zeros(30, dtype=bool)


def test_that_percentiles_follow_hazens_definition():
    found = tail_percentiles(THIRTY, below=PLAIN, percents=np.array([80.0, 90, 95, 98]))
    assert found == pytest.approx([20.5, 23.0, 25.0, 39.4])


def test_that_less_than_results_below_the_percentile_only_count():
    below = THIRTY <= 15
    low = np.where(below, 15.0, THIRTY)
    found = tail_percentiles(low, below=below, percents=np.array([90.0, 98.0]))
    assert found == pytest.approx([23.0, 39.4])


def test_that_a_percentile_among_less_than_results_is_kaplan_meiers():
    values = np.array([1, 2, 3, 10, 10, 10, 10, 4.0, 5.0, 12.0])
    below = np.array([0, 0, 0, 1, 1, 1, 1, 0, 0, 0], dtype=bool)
    found = tail_percentiles(values, below=below, percents=np.array([50.0, 80.0]))
    steps = kaplan_meier(values, below=below)
    assert found == pytest.approx([steps.quantile(0.5), steps.quantile(0.8)])


def test_that_nothing_is_known_where_all_lies_below():
    found = tail_percentiles(
        np.full(40, 5.0), below=np.ones(40, dtype=bool), percents=np.array([98.0])
    )
    assert np.isnan(found).all()
    empty = tail_percentiles(np.empty(0), below=np.empty(0, bool), percents=np.array([98.0]))
    assert isinstance(empty, NotEnough)


def test_that_results_of_zero_are_results():
    values = np.array([0.0] * 50 + [1.0] * 30 + [2.0] * 20)
    below = values == 1.0
    found = tail_percentiles(values, below=below, percents=np.array([60.0, 95.0]))
    assert found[1] == 2.0
    assert found[0] in (0.0, 2.0) or found[0] == pytest.approx(0.0, abs=1e-300)


@pytest.mark.parametrize(
    ("percent", "need"), [(90, 30), (97.5, 100), (99, 200), (99.5, 400), (99.9, 2000)]
)
def test_that_a_percentile_needs_so_many_results(percent, need):
    # 30, 100 and 200: common practice, no source; beyond, as many are expected past it.
    assert fewest_results(percent) == need


def test_that_an_impossible_percentage_is_refused():
    with pytest.raises(OutOfRangeError):
        fewest_results(100)


def interval(values, machine, *, seed=1, rounds=400):
    return bootstrap_intervals(
        values, machine=machine, percents=np.array([98.0, 99.5]), rounds=rounds,
        generator=np.random.default_rng(seed),
    )  # fmt: skip


def test_that_the_interval_is_that_of_drawing_whole_results_again():
    values = np.random.default_rng(5).lognormal(3, 0.5, 4000)
    alone = np.arange(4000)
    found = interval(values, alone)
    draws = np.random.default_rng(9).choice(values, size=(2000, 4000))
    plain = np.percentile(np.percentile(draws, [98, 99.5], axis=1), [5, 95], axis=1).T
    assert found == pytest.approx(plain, rel=0.03)


def test_that_results_of_one_machine_widen_the_interval():
    noise = np.random.default_rng(3)
    machine = np.repeat(np.arange(40), 50)
    values = noise.lognormal(3, 0.1, 2000) * np.exp(noise.normal(0, 0.6, 40))[machine]
    together, alone = interval(values, machine), interval(values, np.arange(2000))
    width = [float(np.diff(one[0])[0]) for one in (together, alone)]
    assert width[0] > 2 * width[1]


def test_that_the_same_seed_gives_the_same_interval():
    values = np.random.default_rng(5).lognormal(3, 0.5, 4000)
    machine = np.arange(4000) % 400
    assert (interval(values, machine) == interval(values, machine)).all()
    assert (interval(values, machine) != interval(values, machine, seed=2)).any()


def test_that_the_interval_covers_the_true_percentile_as_often_as_it_says():
    truth = float(np.exp(3 + 0.5 * 2.0537489))
    covered = 0
    for seed in range(60):
        values = np.random.default_rng(1000 + seed).lognormal(3, 0.5, 1500)
        low, high = interval(values, np.arange(1500), seed=seed, rounds=200)[0]
        covered += low <= truth <= high
    assert 46 <= covered <= 60
