"""What a panel shows, looked up in its pixels."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter
from pytestqt.qtbot import QtBot

from fluiddesk.charts.axes import Axis, axis_ticks
from fluiddesk.charts.look import ChartView, Look
from fluiddesk.charts.palette import LIGHT
from fluiddesk.charts.scales import Scale
from fluiddesk.charts.trend_axes import plot_area
from fluiddesk.charts.trend_plot import heights, paint_trend
from fluiddesk.charts.trend_titles import paint_value, shown_unit
from fluiddesk.charts.trends import Trend
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from tests.desktop.makers_history import make_trend

FRAME = QRectF(0, 0, 230, 132)
VIEW = ChartView(span=Scale(low=0, high=1000))


def look() -> Look:
    return Look(colors=LIGHT, body=QFont(), small=QFont(), strong=QFont())


def painted(trend: Trend, view: ChartView = VIEW) -> QImage:
    image = QImage(230, 132, QImage.Format.Format_RGB32)
    image.fill(QColor(LIGHT.ground))
    painter = QPainter(image)
    paint_trend(painter, FRAME, trend=trend, look=look(), view=view)
    painter.end()
    return image


def column(image: QImage, hours: float) -> list[int]:
    """Lightness down the panel at one point of the axis."""
    plot = plot_area(FRAME)
    x = round(plot.left() + VIEW.span.share(hours) * plot.width())
    return [image.pixelColor(x, y).lightness() for y in range(30, round(plot.bottom()) - 1)]


@pytest.fixture(autouse=True)
def application(qtbot: QtBot) -> QtBot:
    """Text is drawn, for which an application is needed."""
    return qtbot


def test_that_the_question_mark_of_a_doubtful_sample_stands_clear_of_the_value() -> None:
    good, doubtful = (
        make_trend([2, 900], up=(10.0, 20.0, 30.0), trust=[Trust.GOOD, trust])
        for trust in (Trust.GOOD, Trust.SUSPECT)
    )
    image = QImage(230, 132, QImage.Format.Format_RGB32)
    painter = QPainter(image)
    taken = [
        paint_value(painter, FRAME, trend=trend, sample=1, look=look(), is_looked_at=False)
        for trend in (good, doubtful)
    ]
    painter.end()
    mark = QFont()
    mark.setPixelSize(9)
    mark.setBold(True)
    assert taken[1] - taken[0] >= QFontMetricsF(mark).horizontalAdvance("?")


def test_that_a_value_below_detection_is_a_bar_down_to_the_axis() -> None:
    below = column(painted(make_trend([2, 8], signs=[Sign.BELOW, 0])), 0)
    plain = column(painted(make_trend([2, 8])), 0)
    assert below[-2] < 255
    assert plain[-2] == 255


def test_that_a_value_above_range_is_a_bar_up_to_the_top() -> None:
    trend = make_trend([4, 8], signs=[Sign.ABOVE, 0])
    assert column(painted(trend), 0)[0] < 255
    assert column(painted(make_trend([4, 8])), 0)[0] == 255


def test_that_a_suspect_sample_is_hollow_and_a_good_one_filled() -> None:
    def center(trust: Trust) -> int:
        trend = make_trend([5, 10], hours=[200, 900], trust=[trust, Trust.GOOD], fills=[0, 1])
        image = painted(trend)
        plot = plot_area(FRAME)
        x = plot.left() + 0.2 * plot.width()
        y = plot.bottom() - float(heights(trend, Scale(low=0, high=11.2))[0]) * plot.height()
        return image.pixelColor(round(x), round(y)).lightness()

    assert center(Trust.GOOD) < 120
    assert center(Trust.SUSPECT) > 200


def test_that_a_rejected_sample_is_shown_only_on_demand() -> None:
    trend = make_trend([5, 6, 5.5], trust=[Trust.GOOD, Trust.REJECTED, Trust.GOOD], fills=[0, 1, 2])
    assert min(column(painted(trend), 250)) < 255
    hidden = painted(trend, replace(VIEW, shows_rejected=False))
    assert min(column(hidden, 250)) == 255


def test_that_the_crosshair_stands_on_the_sample_looked_at() -> None:
    trend = make_trend([5, 6, 7])
    accent = QColor(LIGHT.accent)
    image = painted(trend, replace(VIEW, sample=1))
    plot = plot_area(FRAME)
    x = int(plot.left() + 0.25 * plot.width())
    colors = {
        image.pixelColor(x + dx, 40).blue() - image.pixelColor(x + dx, 40).red()
        for dx in (-1, 0, 1)
    }
    assert max(colors) > (accent.blue() - accent.red()) / 3


def test_that_a_plain_zero_stands_at_the_foot_of_a_logarithmic_axis() -> None:
    trend = make_trend([0, 10])
    assert heights(trend, Scale(low=1, high=100, is_log=True)).tolist() == [0, 0.5]


def test_that_units_are_written_as_on_paper() -> None:
    assert shown_unit("mm2/s") == "mm\u00b2/s"
    assert shown_unit("mg/kg") == "mg/kg"


@pytest.mark.parametrize("code", ["iron", "freeze_point", "water_crackle", "calcium"])
def test_that_a_box_with_one_sample_is_drawn(code: str) -> None:
    sign = Sign.ABSENT if code == "water_crackle" else Sign.PLAIN
    image = painted(make_trend([0 if sign else 30], code=code, signs=[sign], hours=[500]))
    middle = range(round(plot_area(FRAME).left()), round(plot_area(FRAME).right()))
    shades = {image.pixelColor(x, y).lightness() for x in middle for y in range(28, 110)}
    assert min(shades) < 120


@pytest.mark.parametrize(("low", "high"), [(5300, 14300), (4160, 4200), (0, 900), (9990, 10010)])
def test_that_the_hours_axis_has_two_ticks_at_least_and_room_for_their_labels(
    low: float, high: float
) -> None:
    plot = plot_area(FRAME)
    about = max(2, int(plot.width() / 55))
    told = axis_ticks(Axis.HOURS, Scale(low=low, high=high), about=about)
    ticks = [place for place, _ in told]
    assert len(ticks) >= 2
    apart = (ticks[1] - ticks[0]) / (high - low) * plot.width()
    assert apart > 40
