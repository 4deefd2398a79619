"""Compliance by month as thin lines."""

from pytestqt.qtbot import QtBot

from fluiddesk.charts.compliance_months import ComplianceMonths, MonthShares
from fluiddesk.charts.fonts import make_font
from fluiddesk.charts.palette import DARK, LIGHT


def month(number: int, on_time: float | None) -> MonthShares:
    return MonthShares(
        month=f"2026-{number:02}", on_time=on_time, taken=on_time, early=0.0, due=number
    )


def test_that_each_month_is_told_and_drawn(qtbot: QtBot) -> None:
    chart = ComplianceMonths(LIGHT, font=make_font(11))
    qtbot.addWidget(chart)
    chart.resize(400, 200)
    blank = chart.grab().toImage()
    chart.show_months([month(1, 90.0), month(2, None), month(3, 40.0)])
    assert chart.grab().toImage() != blank
    told = chart.accessibleDescription()
    assert "2026-01: 90 % on time" in told
    assert "2026-02: none owed on time" in told
    light = chart.grab().toImage()
    chart.apply_colors(DARK)
    assert chart.grab().toImage() != light


def test_that_a_single_month_and_none_are_drawn(qtbot: QtBot) -> None:
    chart = ComplianceMonths(LIGHT, font=make_font(11))
    qtbot.addWidget(chart)
    chart.resize(400, 200)
    for months in ([month(5, 100.0)], [month(5, None)], []):
        chart.show_months(months)
        assert not chart.grab().isNull()
