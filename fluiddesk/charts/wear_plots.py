"""True wear of one metal: rate of each fill with its band, grams made, and the control chart."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.limit_bands import LineLabel, with_alpha
from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import Scale, tick_text
from fluiddesk.charts.trend_axes import paint_across_axis, paint_labels
from fluiddesk.services.compartment_history.wear_facts import (
    AnalyteWear,
    ControlChartFacts,
    CumulativeFacts,
    FillWear,
)

_BAND_ALPHA: Final = 0.16
_LINE: Final = 1.6
_DOT: Final = 4.0
_SIGNAL: Final = 4.5
_RING: Final = 6.0
_VALUE_TICK_PX: Final = 30.0
_TOP_ROOM: Final = 1.12
_FEWEST_X: Final = 2


class RateUnit(StrEnum):
    """How a rate is told: to compare with limits, or boxes of different size."""

    PPM_PER_100_H = "ppm per 100 h"
    MG_PER_HOUR = "mg/h"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A rate with its 80 % band in one unit."""

    middle: float
    low: float
    high: float


def rate_of(fill: FillWear, unit: RateUnit) -> Rate:
    """The rate of one fill; NaN where nothing can be said of it."""
    if unit is RateUnit.MG_PER_HOUR:
        return Rate(middle=fill.mg_per_hour, low=fill.mg_low, high=fill.mg_high)
    return Rate(middle=fill.ppm_per_100_h, low=fill.ppm_low, high=fill.ppm_high)


def rate_now(wear: AnalyteWear, unit: RateUnit) -> Rate:
    """The rate of the box now; NaN where nothing is known."""
    if unit is RateUnit.MG_PER_HOUR:
        return Rate(middle=wear.now_mg_per_hour, low=wear.now_mg_low, high=wear.now_mg_high)
    return Rate(middle=wear.now_ppm_per_100_h, low=wear.now_ppm_low, high=wear.now_ppm_high)


def hours_scale(wear: AnalyteWear) -> Scale:
    """The machine hours that a metal's fills reach over."""
    ends = np.array([(one.from_hours, one.to_hours) for one in wear.fills]).reshape(-1, 2)
    ends = ends[~np.isnan(ends).any(axis=1)]
    if not len(ends):
        return Scale(low=0.0, high=1000.0)
    low, high = float(ends.min()), float(ends.max())
    room = max((high - low) * 0.03, 25.0)
    return Scale(low=low - room, high=high + room)


def paint_rates(
    painter: QPainter,
    plot: QRectF,
    *,
    wear: AnalyteWear,
    unit: RateUnit,
    chosen: int | None,
    look: Look,
) -> None:
    """Draw the rate of each fill from its change to its last sample, over its 80 % band."""
    rates = [rate_of(fill, unit) for fill in wear.fills]
    sisters = wear.sisters_ppm_per_100_h if unit is RateUnit.PPM_PER_100_H else None
    tops = [rate.high for rate in rates] + ([sisters] if sisters is not None else [])
    scale, across = _from_zero(tops, floor=[rate.low for rate in rates]), hours_scale(wear)
    labels = _sisters(painter, plot, sisters, scale=scale, look=look)
    ink = QColor(look.colors.data)
    for index, (fill, rate) in enumerate(zip(wear.fills, rates, strict=True)):
        if np.isnan(rate.middle):
            continue
        left, right = (_x(plot, across, one) for one in (fill.from_hours, fill.to_hours))
        right = max(right, left + 3.0)
        low = plot.bottom() if fill.is_bound else _y(plot, scale, rate.low)
        high = _y(plot, scale, rate.middle if fill.is_bound else rate.high)
        color = QColor(look.colors.accent) if index == chosen else ink
        painter.fillRect(
            QRectF(left, high, right - left, low - high), with_alpha(color, _BAND_ALPHA)
        )
        pen = QPen(color, _LINE)
        if fill.is_bound:
            pen.setDashPattern([2.0, 2.0])
        painter.setPen(pen)
        middle = _y(plot, scale, rate.middle)
        painter.drawLine(QLineF(left, middle, right, middle))
    _axes(painter, plot, scale=scale, look=look)
    paint_across_axis(painter, plot, axis=Axis.HOURS, span=across, look=look)
    paint_labels(painter, plot, labels, look)


def _sisters(
    painter: QPainter, plot: QRectF, rate: float | None, *, scale: Scale, look: Look
) -> list[LineLabel]:
    if rate is None or not scale.holds(rate):
        return []
    pen = QPen(QColor(look.colors.faint_ink), 1.0)
    pen.setDashPattern([4.0, 3.0])
    painter.setPen(pen)
    y = _y(plot, scale, rate)
    painter.drawLine(QLineF(plot.left(), y, plot.right(), y))
    return [LineLabel(y=y, text="like", value=rate)]


def paint_grams(
    painter: QPainter, plot: QRectF, *, grams: CumulativeFacts, across: Scale, look: Look
) -> None:
    """Draw the metal made since the component was fitted, with its 80 % band."""
    scale = _from_zero(grams.high.tolist(), floor=[])
    ink = QColor(look.colors.data)
    x = plot.left() + across.shares(grams.hours) * plot.width()
    low, middle, high = (
        plot.bottom() - np.clip(scale.shares(one), 0.0, 1.0) * plot.height()
        for one in (grams.low, grams.grams, grams.high)
    )
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(with_alpha(ink, _BAND_ALPHA))
    painter.drawPolygon(_polygon(np.concatenate([x, x[::-1]]), np.concatenate([high, low[::-1]])))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ink, 1.2))
    painter.drawPolyline(_polygon(x, middle))
    _dots(painter, x, middle, ink)
    _axes(painter, plot, scale=scale, look=look)
    paint_across_axis(painter, plot, axis=Axis.HOURS, span=across, look=look)


def paint_control_chart(
    painter: QPainter, plot: QRectF, *, chart: ControlChartFacts, chosen: int | None, look: Look
) -> None:
    """Draw single rates with their limits, and the moving average with its own.

    A square marks a fill outside the limits of single values, a ring one whose average drifted.
    """
    n = len(chart.rates)
    figures = np.concatenate([chart.rates, chart.average, [chart.lower, chart.upper]])
    figures = figures[np.isfinite(figures)]
    low, high = float(figures.min()), float(figures.max())
    room = max((high - low) * 0.1, 1e-6)
    scale = Scale(low=max(low - room, 0.0) if low >= 0 else low - room, high=high + room)
    across = Scale(low=-0.5, high=max(n, _FEWEST_X) - 0.5)
    ink = QColor(look.colors.data)
    labels = _levels(painter, plot, chart=chart, scale=scale, look=look)
    x = plot.left() + across.shares(np.arange(n, dtype=np.float64)) * plot.width()
    lower, upper, average, rates = (
        plot.bottom() - np.clip(scale.shares(one), 0.0, 1.0) * plot.height()
        for one in (chart.average_lower, chart.average_upper, chart.average, chart.rates)
    )
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(with_alpha(ink, 0.1))
    painter.drawPolygon(
        _polygon(np.concatenate([x, x[::-1]]), np.concatenate([upper, lower[::-1]]))
    )
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ink, 1.6))
    painter.drawPolyline(_polygon(x, average))
    _dots(painter, x, rates, ink)
    _signals(painter, x, rates, average, chart=chart, look=look)
    if chosen is not None and chosen < n:
        painter.setPen(QPen(QColor(look.colors.accent), 1.0))
        painter.drawLine(QLineF(x[chosen], plot.top(), x[chosen], plot.bottom()))
    _axes(painter, plot, scale=scale, look=look)
    _fill_numbers(painter, plot, x, chart=chart, look=look)
    paint_labels(painter, plot, labels, look)


def _levels(
    painter: QPainter, plot: QRectF, *, chart: ControlChartFacts, scale: Scale, look: Look
) -> list[LineLabel]:
    """The mean as a line, the limits of single values dashed."""
    labels = []
    for level, text in ((chart.centre, "mean"), (chart.lower, "low"), (chart.upper, "high")):
        if not scale.holds(level):
            continue
        pen = QPen(QColor(look.colors.faint_ink), 1.0)
        if text != "mean":
            pen.setDashPattern([4.0, 3.0])
        painter.setPen(pen)
        y = _y(plot, scale, level)
        painter.drawLine(QLineF(plot.left(), y, plot.right(), y))
        labels.append(LineLabel(y=y, text=text))
    return labels


def _signals(
    painter: QPainter,
    x: NDArray[np.float64],
    rates: NDArray[np.float64],
    average: NDArray[np.float64],
    *,
    chart: ControlChartFacts,
    look: Look,
) -> None:
    ink = QColor(look.colors.ink)
    for index in np.flatnonzero(chart.is_step).tolist():
        place = QPointF(x[index], rates[index])
        half = _SIGNAL / 2 + 1.0
        painter.fillRect(QRectF(place.x() - half, place.y() - half, 2 * half, 2 * half), ink)
    painter.setPen(QPen(ink, 1.2))
    for index in np.flatnonzero(chart.is_drift).tolist():
        painter.drawEllipse(QPointF(x[index], average[index]), _RING / 2 + 0.5, _RING / 2 + 0.5)


def _fill_numbers(
    painter: QPainter, plot: QRectF, x: NDArray[np.float64], *, chart: ControlChartFacts, look: Look
) -> None:
    foot = round(plot.bottom()) + 0.5
    painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
    painter.drawLine(QLineF(plot.left(), foot, plot.right(), foot))
    painter.setFont(look.small)
    painter.setPen(QColor(look.colors.faint_ink))
    stride = max(1, -(-len(x) * 24 // max(int(plot.width()), 1)))
    for index in range(0, len(x), stride):
        box = QRectF(x[index] - 20.0, foot + 2.0, 40.0, 14.0)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, str(chart.fills[index]))


def _from_zero(tops: list[float], *, floor: list[float]) -> Scale:
    known = [one for one in tops if np.isfinite(one)]
    low = min([one for one in floor if np.isfinite(one)], default=0.0)
    high = max(known, default=1.0)
    return Scale(low=min(low, 0.0), high=high * _TOP_ROOM if high > 0 else 1.0)


def _axes(painter: QPainter, plot: QRectF, *, scale: Scale, look: Look) -> None:
    ticks = scale.ticks(about=max(3, int(plot.height() / _VALUE_TICK_PX)))
    painter.setFont(look.small)
    for tick in ticks:
        y = _y(plot, scale, tick)
        painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
        painter.drawLine(QLineF(plot.left() - 3.0, y, plot.left(), y))
        painter.setPen(QColor(look.colors.faint_ink))
        box = QRectF(plot.left() - 44.0, y - 8.0, 38.0, 16.0)
        painter.drawText(
            box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, tick_text(tick, ticks)
        )


def _dots(painter: QPainter, x: NDArray[np.float64], y: NDArray[np.float64], ink: QColor) -> None:
    pen = QPen(ink, _DOT)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)
    painter.drawPoints(_polygon(x, y))


def _polygon(x: NDArray[np.float64], y: NDArray[np.float64]) -> QPolygonF:
    return QPolygonF([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)])


def _x(plot: QRectF, scale: Scale, value: float) -> float:
    return plot.left() + scale.share(value) * plot.width()


def _y(plot: QRectF, scale: Scale, value: float) -> float:
    return plot.bottom() - min(max(scale.share(value), 0.0), 1.0) * plot.height()
