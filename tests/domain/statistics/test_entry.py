import inspect

import numpy as np
import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.statistics import entry
from fluiddesk.domain.statistics.censored_lognormal import censored_lognormal
from fluiddesk.domain.statistics.cusum import cusum
from fluiddesk.domain.statistics.entry import (
    LengthsDifferError,
    NotANumberError,
    NotEnough,
    NotPositiveError,
    OutOfRangeError,
    WrongOrderError,
    series,
)
from fluiddesk.domain.statistics.ewma import ewma, ewma_chart
from fluiddesk.domain.statistics.individuals_chart import individuals_chart
from fluiddesk.domain.statistics.kaplan_meier import kaplan_meier
from fluiddesk.domain.statistics.least_squares import least_squares
from fluiddesk.domain.statistics.mann_kendall import mann_kendall
from fluiddesk.domain.statistics.nested_variance import nested_variance
from fluiddesk.domain.statistics.percentile import PercentileDefinition, percentile
from fluiddesk.domain.statistics.repeatability import repeatability
from fluiddesk.domain.statistics.robust_ros import robust_ros
from fluiddesk.domain.statistics.robust_spread import robust_spread
from fluiddesk.domain.statistics.shapiro_wilk import shapiro_wilk
from fluiddesk.domain.statistics.shrinkage import own_share, shrink
from fluiddesk.domain.statistics.theil_sen import theil_sen

NAN, INF = float("nan"), float("inf")


def places(values):
    return np.arange(len(values), dtype=np.float64)


METHODS = {
    "kaplan_meier": lambda values: kaplan_meier(values, below=[False] * len(values)),
    "robust_ros": lambda values: robust_ros(values, below=[False] * len(values)),
    "lognormal": lambda values: censored_lognormal(values, below=[False] * len(values)),
    "mann_kendall": mann_kendall,
    "theil_sen": lambda values: theil_sen(places(values), values),
    "least_squares": lambda values: least_squares(places(values), values),
    "ewma": lambda values: ewma_chart(values, centre=10, sigma=1),
    "cusum": lambda values: cusum(values, target=10, k=0.5, h=4),
    "individuals": individuals_chart,
    "percentile": lambda values: percentile(values, 95, definition=PercentileDefinition.HAZEN),
    "shapiro_wilk": shapiro_wilk,
    "robust_spread": robust_spread,
    "repeatability": lambda values: repeatability(values, values),
    "nested": lambda values: nested_variance(
        values, levels=[np.arange(len(values), dtype=np.int64) // 2]
    ),
}
ONE_IS_ENOUGH = {"ewma", "cusum", "percentile"}


@pytest.mark.parametrize("method", METHODS)
def test_that_no_method_makes_a_number_of_nothing(method):
    assert isinstance(METHODS[method]([]), NotEnough)


@pytest.mark.parametrize("method", sorted(METHODS.keys() - ONE_IS_ENOUGH))
def test_that_one_result_is_not_enough(method):
    found = METHODS[method]([12.0])
    assert isinstance(found, NotEnough)
    assert found.have < found.need
    assert str(found.need) in found.sentence


@pytest.mark.parametrize("odd", [NAN, INF, -INF])
@pytest.mark.parametrize("method", METHODS)
def test_that_a_value_that_is_no_number_is_named_with_its_place(method, odd):
    values = [10.0, 12, odd, 11, 13, 9, 10, 12, 14, 11]
    with pytest.raises(NotANumberError, match="value 3 is"):
        METHODS[method](values)


@pytest.mark.parametrize("method", [kaplan_meier, robust_ros, censored_lognormal])
@pytest.mark.parametrize("low", [0, -3])
def test_that_results_with_limits_are_above_zero(method, low):
    with pytest.raises(NotPositiveError, match=f"value 2 is {low}"):
        method([4, low, 6, 7], below=[False] * 4)


@pytest.mark.parametrize("method", [kaplan_meier, robust_ros, censored_lognormal, mann_kendall])
def test_that_marks_and_values_belong_together(method):
    with pytest.raises(LengthsDifferError, match="4 and 3 values"):
        method([4, 5, 6, 7], below=[False] * 3)


@pytest.mark.parametrize("method", [kaplan_meier, robust_ros, censored_lognormal, mann_kendall])
def test_that_nothing_but_less_than_results_is_not_enough(method):
    found = method([1, 2, 5, 5, 2], below=[True] * 5)
    assert isinstance(found, NotEnough)
    assert found.have == 0


def test_that_a_series_that_runs_backwards_is_refused_but_one_that_stands_still_is_not():
    with pytest.raises(WrongOrderError, match="50 follows 100"):
        series([0, 100, 50], [1, 2, 3])
    assert series([0, 100, 100], [1, 2, 3])[0].tolist() == [0, 100, 100]


def test_that_hours_and_values_are_equally_many():
    with pytest.raises(LengthsDifferError, match="2 and 3 values"):
        series([0, 100], [1, 2, 3])


def test_that_a_method_for_one_series_refuses_a_table():
    with pytest.raises(LengthsDifferError, match="one series at a time"):
        mann_kendall(np.ones((3, 4)))


RANGES = {
    "confidence of a mean": lambda v: METHODS["kaplan_meier"]([4, 5, 6]).mean_interval(
        confidence=v
    ),
    "share of a quantile": lambda v: METHODS["kaplan_meier"]([4, 5, 6]).quantile(v),
    "confidence of a fit": lambda v: METHODS["lognormal"]([4, 5, 6]).mean_interval(confidence=v),
    "share of a fit": lambda v: METHODS["lognormal"]([4, 5, 6]).quantile(v),
    "confidence of a slope": lambda v: theil_sen([0, 1, 2], [1, 2, 4], confidence=v),
    "confidence of a line": lambda v: least_squares([0, 1, 2], [1, 2, 4]).predict(3, confidence=v),
    "confidence of duplicates": lambda v: repeatability([1, 2], [1, 3], confidence=v),
    "weight": lambda v: ewma([1, 2], start=1, weight=v),
    "sigma": lambda v: ewma_chart([1, 2], centre=1, sigma=-abs(v)),
    "width": lambda v: ewma_chart([1, 2], centre=1, sigma=1, width=-abs(v)),
    "h": lambda v: cusum([1, 2], target=1, k=1, h=-abs(v)),
    "k": lambda v: cusum([1, 2], target=1, k=-abs(v) - 1, h=1),
    "between": lambda v: own_share(np.array([1]), between_sd=-abs(v), within_sd=1),
    "within": lambda v: own_share(np.array([1]), between_sd=1, within_sd=-abs(v)),
}


@pytest.mark.parametrize("value", [-0.1, 0.0, 1.5, NAN, INF])
@pytest.mark.parametrize("setting", RANGES)
def test_that_a_setting_outside_its_range_is_refused(setting, value):
    with pytest.raises(OutOfRangeError, match="Give a number"):
        RANGES[setting](value)


@pytest.mark.parametrize("percent", [-1.0, 100.5, NAN])
def test_that_a_percentage_lies_from_0_to_100(percent):
    for asked in (percent, np.array([50.0, percent])):
        with pytest.raises(OutOfRangeError, match="from 0 to 100"):
            percentile([1, 2], asked, definition=PercentileDefinition.LINEAR)


def test_that_a_target_or_start_that_is_no_number_is_refused():
    with pytest.raises(OutOfRangeError, match="target"):
        cusum([1, 2], target=NAN, k=1, h=4)
    with pytest.raises(NotANumberError, match="start"):
        ewma([1, 2], start=NAN)
    with pytest.raises(NotANumberError, match="group"):
        shrink(np.array([1.0]), n=np.array([1]), group_mean=NAN, between_sd=1, within_sd=1)
    with pytest.raises(OutOfRangeError, match="hours"):
        least_squares([0, 1, 2], [1, 2, 4]).predict(INF)


def test_that_a_negative_count_is_refused():
    with pytest.raises(OutOfRangeError, match="-2 results"):
        own_share(np.array([3, -2]), between_sd=1, within_sd=1)


def test_that_every_refusal_is_something_a_person_can_put_right():
    faults = [
        one
        for _, one in inspect.getmembers(entry, inspect.isclass)
        if issubclass(one, Exception) and one.__module__ == entry.__name__
    ]
    assert len(faults) == 5
    assert all(issubclass(fault, OperatorError) for fault in faults)
