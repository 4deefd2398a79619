"""The small chart of alarms a month before and after a draft."""

from PySide6.QtCore import QPoint
from PySide6.QtGui import QColor
from pytestqt.qtbot import QtBot

from fluiddesk.charts.alarm_months import AlarmMonths
from fluiddesk.charts.palette import DARK, LIGHT
from fluiddesk.desktop.theme import make_theme
from tests.desktop.makers_limits import make_year


def shown(qtbot: QtBot, width: int = 240) -> AlarmMonths:
    chart = AlarmMonths(LIGHT, font=make_theme("light").small)
    qtbot.addWidget(chart)
    chart.resize(width, chart.height())
    chart.show_months(make_year().months)
    return chart


def ink_height(chart: AlarmMonths, x: int, color: str) -> int:
    image = chart.grab().toImage()
    wanted = QColor(color)
    return sum(image.pixelColor(QPoint(x, y)) == wanted for y in range(image.height()))


def test_that_the_drafts_bars_stand_in_full_ink_in_proportion(qtbot: QtBot) -> None:
    chart = shown(qtbot)
    step = 240 / 12
    # Two bars a month with a pixel between: the draft's is the second one.
    heights = [ink_height(chart, int(place * step + 13), LIGHT.data) for place in range(12)]
    after = [one.after for one in make_year().months]
    tallest = max(heights)
    assert all(
        abs(height - tallest * count / max(after)) <= 1
        for height, count in zip(heights, after, strict=True)
    )


def test_that_every_month_can_be_read_in_words(qtbot: QtBot) -> None:
    chart = shown(qtbot)
    assert "2025-12: 6 in force, 8 by the draft, of 110 samples" in chart.toolTip()
    assert chart.accessibleDescription().startswith("2025-12: 6, 8; 2026-01: 5, 7")


def test_that_no_months_and_another_theme_can_be_drawn(qtbot: QtBot) -> None:
    chart = shown(qtbot)
    chart.show_months(())
    chart.apply_colors(DARK)
    assert not chart.grab().isNull()
