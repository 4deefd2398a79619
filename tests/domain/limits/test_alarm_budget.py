"""The share of healthy samples that limits flag."""

import numpy as np
import pytest

from fluiddesk.domain.limits.alarm_budget import mean_share_flagged, measured_share, share_flagged
from fluiddesk.domain.statistics.entry import NotEnough, OutOfRangeError


@pytest.mark.parametrize(("quantile", "share"), [(0.975, 0.40), (0.995, 0.095), (0.999, 0.02)])
def test_that_twenty_analytes_flag_the_share_that_arithmetic_gives(quantile, share):
    assert share_flagged([1 - quantile] * 20) == pytest.approx(share, abs=0.005)


def test_that_no_limit_flags_nothing_and_a_certain_one_everything():
    assert share_flagged([]) == 0.0
    assert share_flagged([0.0, 0.0]) == 0.0
    assert mean_share_flagged([1.0, 0.2], judged=np.ones((3, 2), bool)) == pytest.approx(1.0)


def test_that_a_sample_counts_only_the_limits_that_judged_it():
    judged = np.array([[True, False], [False, True], [False, False]])
    assert mean_share_flagged([0.3, 0.6], judged=judged) == pytest.approx(0.3)
    nobody = mean_share_flagged([0.3], judged=np.empty((0, 1), bool))
    assert isinstance(nobody, NotEnough)


def test_that_a_measured_share_comes_with_wilsons_interval():
    # Newcombe, Statistics in Medicine 17 (1998), table I, method 3: 81 of 263, 95 % (from memory).
    found = measured_share(81, 263)
    assert (found.low, found.high) == (
        pytest.approx(0.2553, abs=5e-5),
        pytest.approx(0.3662, abs=5e-5),
    )
    none = measured_share(0, 20)
    assert none.low == 0.0
    assert none.high == pytest.approx(0.1611, abs=5e-5)
    assert isinstance(measured_share(0, 0), NotEnough)


@pytest.mark.parametrize(("flagged", "samples"), [(5, 4), (-1, 4)])
def test_that_an_impossible_count_is_refused(flagged, samples):
    with pytest.raises(OutOfRangeError, match="samples flagged"):
        measured_share(flagged, samples)


@pytest.mark.parametrize("rate", [-0.1, 1.1, float("nan")])
def test_that_an_impossible_rate_is_refused(rate):
    with pytest.raises(OutOfRangeError, match="Give shares from 0 to 1"):
        share_flagged([0.1, rate])
