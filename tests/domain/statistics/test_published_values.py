"""Every published or worked example of the statistics, and our value beside it."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from fluiddesk.domain.statistics.censored_lognormal import censored_lognormal
from fluiddesk.domain.statistics.cusum import cusum
from fluiddesk.domain.statistics.ewma import ewma_chart
from fluiddesk.domain.statistics.individuals_chart import individuals_chart
from fluiddesk.domain.statistics.kaplan_meier import kaplan_meier
from fluiddesk.domain.statistics.least_squares import least_squares
from fluiddesk.domain.statistics.mann_kendall import mann_kendall
from fluiddesk.domain.statistics.percentile import PercentileDefinition, percentile
from fluiddesk.domain.statistics.repeatability import repeatability
from fluiddesk.domain.statistics.robust_spread import robust_spread
from fluiddesk.domain.statistics.shapiro_wilk import shapiro_wilk
from fluiddesk.domain.statistics.shrinkage import own_share
from fluiddesk.domain.statistics.theil_sen import theil_sen
from tests.domain.reference.measured import SERIES, Measured
from tests.domain.reference.reading import worked_examples

NOT_TOLD = 0.0


def line(one: Measured):
    # The certified example is not in the order of its places, which a line does not mind.
    order = np.argsort(one.at, kind="stable")
    return least_squares(one.at[order], one.values[order])


def nist_ewma(one: Measured):
    return ewma_chart(one.values, centre=50, sigma=2.0539)


def nist_cusum(one: Measured):
    return cusum(one.values, target=325, k=0.3175, h=4.1959)


def slow_rise_ewma(one: Measured):
    before = individuals_chart(SERIES["rates"].values)
    return ewma_chart(one.values, centre=before.centre, sigma=before.sigma, width=2.8)


def slow_rise_cusum(one: Measured):
    before = individuals_chart(SERIES["rates"].values)
    return cusum((one.values - before.centre) / before.sigma, target=0, k=0.5, h=4)


def percentile_by(definition: PercentileDefinition):
    return lambda one, percent: percentile(one.values, percent, definition=definition)


def km(one: Measured):
    return kaplan_meier(one.values, below=one.below)


def lognormal(one: Measured):
    return censored_lognormal(one.values, below=one.below)


def first(signals) -> int:
    return int(np.argmax(signals)) + 1


def at_place(values, place: float) -> float:
    return float(values[int(place) - 1])


# Each method with a published figure: the series and the argument in, our figure out.
METHODS: dict[str, Callable[[Measured, float], float]] = {
    "line slope": lambda one, _: line(one).slope,
    "line intercept": lambda one, _: line(one).intercept,
    "line slope error": lambda one, _: line(one).slope_error,
    "line intercept error": lambda one, _: line(one).intercept_error,
    "line residual": lambda one, _: line(one).residual_deviation,
    "line r squared": lambda one, _: line(one).r_squared,
    "line reaches": lambda one, level: line(one).reaches(level),
    "line hours left": lambda one, level: line(one).reaches(level) - one.at[-1],
    "predicted": lambda one, at: line(one).predict(at).value,
    "predicted low": lambda one, at: line(one).predict(at).low,
    "predicted high": lambda one, at: line(one).predict(at).high,
    "predicted mean low": lambda one, at: line(one).predict(at).mean_low,
    "predicted mean high": lambda one, at: line(one).predict(at).mean_high,
    "robust slope": lambda one, _: theil_sen(one.at, one.values).slope,
    "robust slope low": lambda one, _: theil_sen(one.at, one.values).low,
    "robust slope high": lambda one, _: theil_sen(one.at, one.values).high,
    "robust intercept": lambda one, _: theil_sen(one.at, one.values).intercept,
    "shapiro w": lambda one, _: shapiro_wilk(one.values).w,
    "shapiro probability": lambda one, _: shapiro_wilk(one.values).probability,
    "median": lambda one, _: robust_spread(one.values).median,
    "absolute deviation": lambda one, _: robust_spread(one.values).absolute_deviation,
    "scaled absolute deviation": lambda one, _: robust_spread(one.values).deviation,
    "percentile linear": percentile_by(PercentileDefinition.LINEAR),
    "percentile hazen": percentile_by(PercentileDefinition.HAZEN),
    "percentile weibull": percentile_by(PercentileDefinition.WEIBULL),
    "ewma": lambda one, place: at_place(nist_ewma(one).average, place),
    "ewma upper": lambda one, _: at_place(nist_ewma(one).upper, 20),
    "ewma lower": lambda one, _: at_place(nist_ewma(one).lower, 20),
    "ewma signals": lambda one, _: int(nist_ewma(one).is_signal.sum()),
    "cusum upper": lambda one, place: at_place(nist_cusum(one).upper, place),
    "cusum lower": lambda one, place: at_place(nist_cusum(one).lower, place),
    "cusum first signal": lambda one, _: first(nist_cusum(one).is_signal),
    "cusum signals": lambda one, _: int(nist_cusum(one).is_signal.sum()),
    "trend s": lambda one, _: mann_kendall(one.values).s,
    "trend variance": lambda one, _: mann_kendall(one.values).variance,
    "trend z": lambda one, _: mann_kendall(one.values).z,
    "trend tau": lambda one, _: mann_kendall(one.values).tau,
    "trend probability": lambda one, _: mann_kendall(one.values).probability,
    "chart centre": lambda one, _: individuals_chart(one.values).centre,
    "chart moving range": lambda one, _: individuals_chart(one.values).moving_range,
    "chart lower": lambda one, _: individuals_chart(one.values).lower,
    "chart upper": lambda one, _: individuals_chart(one.values).upper,
    "chart signals": lambda one, _: int(individuals_chart(one.values).is_signal.sum()),
    "kaplan-meier mean": lambda one, _: km(one).mean,
    "kaplan-meier deviation": lambda one, _: km(one).deviation,
    "mean at the limit": lambda one, _: float(one.values.mean()),
    "deviation at the limit": lambda one, _: float(one.values.std(ddof=1)),
    "mean at zero": lambda one, _: float(np.where(one.below, 0, one.values).mean()),
    "deviation at zero": lambda one, _: float(np.where(one.below, 0, one.values).std(ddof=1)),
    "lognormal mean": lambda one, _: lognormal(one).mean,
    "lognormal variation": lambda one, _: lognormal(one).variation,
    "slow rise ewma": lambda one, place: at_place(slow_rise_ewma(one).average, place),
    "slow rise ewma limit": lambda one, _: at_place(slow_rise_ewma(one).upper, 1),
    "slow rise ewma first signal": lambda one, _: first(slow_rise_ewma(one).is_signal),
    "slow rise cusum": lambda one, place: at_place(slow_rise_cusum(one).upper, place),
    "slow rise cusum first signal": lambda one, _: first(slow_rise_cusum(one).is_signal),
    "duplicate deviation": lambda one, _: repeatability(one.values, 0 * one.values).deviation,
    "duplicate limit": lambda one, _: repeatability(one.values, 0 * one.values).limit,
    "own share": lambda _, n: at_place(own_share(np.array([n]), between_sd=3, within_sd=4), 1),
}


def name_of(row: dict[str, str]) -> str:
    return f"{row['id']} {row['method']} {row['argument']}".strip()


def our_value(row: dict[str, str]) -> float:
    argument = float(row["argument"] or NOT_TOLD)
    return METHODS[row["method"]](SERIES[row["series"]], argument)


@pytest.mark.parametrize("row", worked_examples("statistics"), ids=name_of)
def test_that_a_published_figure_is_found(row):
    expected, tolerance = float(row["expected"]), row["tolerance"]
    if tolerance.startswith("rel "):
        allowed = {"rel_tol": float(tolerance.removeprefix("rel ")), "abs_tol": 0.0}
    else:
        allowed = {"rel_tol": 0.0, "abs_tol": float(tolerance)}
    assert math.isclose(our_value(row), expected, **allowed), our_value(row)


def test_that_every_example_says_how_sure_its_figure_is():
    marks = {row["status"] for row in worked_examples("statistics")}
    assert marks == {"CONFIRMED", "COMPUTED", "DERIVED"}
