"""Limits as they held at each date, the new fluid's value, and where fills start."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QFont, QImage, QPainter
from pytestqt.qtbot import QtBot

from fluiddesk.charts.axes import Axis, axis_frame, whole_scale
from fluiddesk.charts.look import ChartView, Look
from fluiddesk.charts.palette import LIGHT
from fluiddesk.charts.trend_plot import make_backdrop, paint_trend
from fluiddesk.charts.trends import Trend, trends_of
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from tests.desktop.makers_history import make_history
from tests.desktop.makers_wear import make_full_history, with_other_side

FRAME = QRectF(0, 0, 320, 160)


@pytest.fixture(autouse=True)
def application(qtbot: QtBot) -> QtBot:
    """Text is drawn, for which an application is needed."""
    return qtbot


def look() -> Look:
    return Look(colors=LIGHT, body=QFont(), small=QFont(), strong=QFont())


def iron(history: CompartmentHistory, axis: Axis = Axis.HOURS) -> Trend:
    return next(
        trend
        for trend in trends_of(history, axis_frame(history, axis))
        if trend.series.analyte.code == "iron"
    )


def painted(trend: Trend, **changed: object) -> QImage:
    image = QImage(320, 160, QImage.Format.Format_RGB32)
    image.fill(QColor(LIGHT.ground))
    view = ChartView(span=whole_scale(trend.frame), axis=trend.frame.axis)
    painter = QPainter(image)
    paint_trend(painter, FRAME, trend=trend, look=look(), view=replace(view, **changed))
    painter.end()
    return image


def test_that_limits_change_at_the_first_sample_judged_by_them() -> None:
    history = make_full_history()
    trend = iron(history)
    cut = trend.series.spans[1].first
    before, after = trend.steps(low=0.0, high=20_000.0)
    assert (before.low, before.high) == (0.0, history.hours[cut])
    assert (after.low, after.high) == (history.hours[cut], 20_000.0)
    assert (before.bounds.up[0], after.bounds.up[0]) == (84, 60)


def test_that_equal_limits_of_two_sets_are_one_stretch() -> None:
    history = make_full_history()
    trend = iron(history)
    first, second = trend.series.spans
    series = replace(trend.series, spans=(first, replace(second, bands=first.bands)))
    assert len(replace(trend, series=series).steps(low=0.0, high=20_000.0)) == 1


def test_that_over_hours_on_the_fluid_todays_limits_hold_throughout() -> None:
    trend = iron(make_full_history(), Axis.FLUID_HOURS)
    (only,) = trend.steps(low=0.0, high=500.0)
    assert only.bounds == trend.bounds


def test_that_a_change_without_a_place_makes_no_hole_in_the_limits() -> None:
    history = make_full_history()
    trend = iron(history)
    x = trend.x.copy()
    x[trend.series.spans[1].first :] = np.nan
    steps = replace(trend, frame=replace(trend.frame, x=x)).steps(low=0.0, high=20_000.0)
    assert (steps[0].low, steps[-1].high) == (0.0, 20_000.0)


def test_that_the_new_fluids_value_is_drawn_as_it_held() -> None:
    trend = iron(make_full_history())
    n = len(trend.x)
    told = np.where(np.arange(n) < 10, np.nan, np.where(np.arange(n) < 20, 1.0, 3.0))
    changed = replace(trend, series=replace(trend.series, references=told))
    found = list(changed.references(low=0.0, high=20_000.0))
    assert [value for *_, value in found] == [1.0, 3.0]
    assert found[0][:2] == (trend.x[10], trend.x[20])
    assert found[-1][1] == 20_000.0


def test_that_the_start_of_a_fill_is_drawn_below_its_first_sample() -> None:
    trend = iron(make_full_history())
    without = replace(trend, series=replace(trend.series, starts=()))
    assert painted(trend) != painted(without)


def test_that_like_machines_and_the_other_side_can_be_left_out() -> None:
    trend = iron(with_other_side(make_full_history()))
    assert painted(trend) != painted(trend, shows_others=False)
    alone = iron(make_history())
    assert painted(alone) == painted(alone, shows_others=False)


@pytest.mark.parametrize("axis", list(Axis))
@pytest.mark.parametrize("samples", [1, 2, 40, 200])
def test_that_every_axis_is_drawn_with_any_number_of_samples(axis: Axis, samples: int) -> None:
    trend = iron(with_other_side(make_full_history(samples=samples)), axis)
    image = painted(trend)
    shades = {image.pixelColor(x, y).lightness() for x in range(40, 280) for y in range(30, 140)}
    assert min(shades) < 150


def test_that_the_shared_backdrop_shows_what_each_panel_would_draw() -> None:
    trend = iron(make_full_history())
    view = ChartView(span=whole_scale(trend.frame))
    backdrop = make_backdrop(FRAME, look=look(), view=view, ratio=1.0)
    assert backdrop.size().width() == 320
    image = backdrop.toImage()
    assert any(image.pixelColor(x, 146).alpha() for x in range(40, 280))
