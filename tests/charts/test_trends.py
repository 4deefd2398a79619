"""Where lines break, and what the axes of a panel reach over."""

from dataclasses import replace

import numpy as np

from fluiddesk.charts.scales import Scale
from fluiddesk.charts.trends import Trend, trends_of, value_scale
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from tests.desktop.makers_history import make_band, make_history, make_trend


def test_that_a_line_breaks_where_the_fluid_was_changed() -> None:
    trend = make_trend([10, 12, 14, 5, 7], fills=[0, 0, 0, 1, 1])
    assert [run.tolist() for run in trend.runs()] == [[0, 1, 2], [3, 4]]


def test_that_a_censored_value_is_joined_to_nothing() -> None:
    trend = make_trend([5, 6, 1, 7, 8], signs=[0, 0, Sign.BELOW, 0, 0])
    assert [run.tolist() for run in trend.runs()] == [[0, 1], [3, 4]]


def test_that_a_line_passes_over_a_value_that_was_not_tested() -> None:
    trend = make_trend([5, np.nan, 7], signs=[0, Sign.NOT_TESTED, 0])
    assert [run.tolist() for run in trend.runs()] == [[0, 2]]


def test_that_a_rejected_sample_is_not_joined() -> None:
    trend = make_trend([5, 90, 7], trust=[Trust.GOOD, Trust.REJECTED, Trust.GOOD])
    assert [run.tolist() for run in trend.runs()] == [[0, 2]]


def test_that_a_single_sample_has_no_line() -> None:
    assert make_trend([5]).runs() == []


def test_that_a_sample_without_hours_has_no_place() -> None:
    trend = make_trend([5, 6, 7], hours=[100, np.nan, 300])
    assert trend.drawn(with_rejected=True).tolist() == [True, False, True]
    assert [run.tolist() for run in trend.runs()] == [[0, 2]]


def test_that_rejected_samples_can_be_left_out() -> None:
    trend = make_trend([5, 90], trust=[Trust.GOOD, Trust.REJECTED])
    assert trend.drawn(with_rejected=True).tolist() == [True, True]
    assert trend.drawn(with_rejected=False).tolist() == [True, False]


def scale_of(trend: Trend, *, is_log: bool = False, with_rejected: bool = True) -> Scale:
    return value_scale(trend, is_log=is_log, with_rejected=with_rejected)


def test_that_wear_is_drawn_from_zero() -> None:
    assert scale_of(make_trend([45, 50])).low == 0


def test_that_an_additive_far_from_zero_is_drawn_around_its_values() -> None:
    scale = scale_of(make_trend([2900, 2850], code="calcium"))
    assert 2000 < scale.low < 2850
    assert 2900 < scale.high < 4000


def test_that_a_limit_within_reach_is_on_the_panel() -> None:
    scale = scale_of(make_trend([20, 30], up=(60, 90, 150)))
    assert scale.holds(60)


def test_that_a_limit_far_beyond_the_data_does_not_press_it_flat() -> None:
    scale = scale_of(make_trend([1, 2], up=(60, 90, 150)))
    assert scale.high < 10


def test_that_the_next_limit_shows_once_the_first_is_passed() -> None:
    scale = scale_of(make_trend([20, 70], up=(60, 90, 150)))
    assert scale.holds(90)


def test_that_a_low_limit_near_the_data_is_on_the_panel() -> None:
    scale = scale_of(make_trend([14.5, 14.4], code="viscosity_100c", down=(13.3, 12.6, None)))
    assert scale.holds(13.3)


def test_that_values_all_zero_still_have_an_axis() -> None:
    scale = scale_of(make_trend([0, 0]))
    assert scale.low == 0
    assert scale.high > 0


def test_that_negative_values_are_never_drawn_on_a_logarithmic_axis() -> None:
    scale = scale_of(make_trend([-35, -30], code="freeze_point"), is_log=True)
    assert not scale.is_log
    assert scale.holds(-35)


def test_that_a_logarithmic_axis_reaches_over_all_positive_values() -> None:
    scale = scale_of(make_trend([0, 3, 400]), is_log=True)
    assert scale.is_log
    assert scale.holds(3)
    assert scale.holds(400)


def test_that_a_rejected_outlier_stretches_the_axis_only_while_it_shows() -> None:
    trend = make_trend([5, 900], trust=[Trust.GOOD, Trust.REJECTED])
    assert scale_of(trend).high > 900
    assert scale_of(trend, with_rejected=False).high < 20


def test_that_analytes_never_tested_get_no_panel() -> None:
    history = make_history(samples=3)
    none = make_trend([np.nan] * 3, signs=[Sign.NOT_TESTED] * 3)
    assert not none.has_anything
    assert len(trends_of(history)) == len(history.series)
    assert trends_of(make_history(samples=0)) == ()


def test_that_the_last_value_is_the_last_one_tested() -> None:
    trend = make_trend([5, 6, np.nan], signs=[0, 0, Sign.NOT_TESTED])
    assert trend.last == 1


def test_that_present_is_drawn_without_a_band_to_start_at() -> None:
    history = make_history(samples=3, analytes=("iron",))
    (iron, crackle) = trends_of(
        replace(
            history,
            series=tuple(
                replace(one, bands=(make_band("up", 1, 1, None),)) for one in history.series
            ),
        )
    )
    assert iron.bounds.up == (1, 1, None)
    assert crackle.bounds.up == (None, None, None)
