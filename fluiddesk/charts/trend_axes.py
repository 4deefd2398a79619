"""The axes of a panel, the words at the ends of its lines, and the limit that lies beyond it."""

from typing import Final

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from fluiddesk.charts.axes import Axis, axis_ticks
from fluiddesk.charts.limit_bands import LineLabel, limit_beyond, spread
from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import Scale, tick_text
from fluiddesk.charts.trend_titles import TITLE
from fluiddesk.charts.trends import Trend

LEFT: Final = 46.0
RIGHT: Final = 32.0
BOTTOM: Final = 16.0
_TICK: Final = 3.0
_ACROSS_TICK_PX: Final = {Axis.HOURS: 55.0, Axis.FLUID_HOURS: 55.0, Axis.DATE: 62.0}
_VALUE_TICK_PX: Final = 30.0
_TALL_PX: Final = 180.0
"""Panels taller than this have room for wider steps between ticks."""
_TICK_WIDTH: Final = 80.0
_RIGHT_ALIGNED: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


def plot_area(frame: QRectF) -> QRectF:
    """Where the points of a panel lie inside its frame."""
    return frame.adjusted(LEFT, TITLE + 4.0, -RIGHT, -BOTTOM)


def paint_labels(painter: QPainter, plot: QRectF, labels: list[LineLabel], look: Look) -> None:
    """Write what each line stands for at its right end, so that no word covers another."""
    painter.setFont(look.small)
    painter.setPen(QColor(look.colors.faint_ink))
    apart = QFontMetricsF(look.small).capHeight() + 3.0
    places = spread(labels, apart=apart, low=plot.top(), high=plot.bottom())
    for label, y in zip(labels, places, strict=True):
        box = QRectF(plot.right() + 4.0, y - 8.0, RIGHT - 4.0, 16.0)
        painter.drawText(box, _LEFT_ALIGNED, label.text)


def paint_value_axis(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look
) -> None:
    """Draw the ticks of the values, or the two answers of a presence test."""
    painter.setFont(look.small)
    if trend.series.analyte.is_presence_test:
        _paint_answers(painter, plot, scale=scale, look=look)
        return
    apart = _VALUE_TICK_PX if plot.height() < _TALL_PX else 2 * _VALUE_TICK_PX
    ticks = scale.ticks(about=max(3, int(plot.height() / apart)))
    if trend.series.analyte.decimals == 0:
        ticks = tuple(tick for tick in ticks if tick == round(tick)) or ticks
    marked = [(tick, tick_text(tick, ticks)) for tick in ticks]
    text_ink, line_ink = QColor(look.colors.faint_ink), QPen(QColor(look.colors.hairline), 1.0)
    for value, text in marked:
        y = plot.bottom() - scale.share(value) * plot.height()
        painter.setPen(line_ink)
        painter.drawLine(QLineF(plot.left() - _TICK, y, plot.left(), y))
        painter.setPen(text_ink)
        box = QRectF(plot.left() - LEFT, y - 8.0, LEFT - _TICK - 3.0, 16.0)
        painter.drawText(box, _RIGHT_ALIGNED, text)


def _paint_answers(painter: QPainter, plot: QRectF, *, scale: Scale, look: Look) -> None:
    """The two answers of a presence test, each above its row of marks."""
    painter.setPen(QColor(look.colors.faint_ink))
    for value, text in ((0.0, "absent"), (1.0, "present")):
        y = plot.bottom() - scale.share(value) * plot.height()
        box = QRectF(plot.left(), y - 22.0, plot.width(), 16.0)
        painter.drawText(box, _LEFT_ALIGNED, text)


def paint_across_axis(
    painter: QPainter, plot: QRectF, *, axis: Axis, span: Scale, look: Look
) -> None:
    """Draw the baseline with hours or dates under it."""
    painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
    foot = round(plot.bottom()) + 0.5
    painter.drawLine(QLineF(plot.left(), foot, plot.right(), foot))
    painter.setFont(look.small)
    about = max(2, int(plot.width() / _ACROSS_TICK_PX[axis]))
    for tick, text in axis_ticks(axis, span, about=about):
        x = plot.left() + span.share(tick) * plot.width()
        painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
        painter.drawLine(QLineF(x, foot, x, foot + _TICK))
        painter.setPen(QColor(look.colors.faint_ink))
        box = QRectF(x - _TICK_WIDTH / 2, foot + 2.0, _TICK_WIDTH, 14.0)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def paint_limit_beyond(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look
) -> None:
    """Name the first limit where it lies far above the panel."""
    beyond = limit_beyond(trend.bounds, scale)
    if beyond is None or trend.series.analyte.is_presence_test:
        return
    letter, bound = beyond
    painter.setFont(look.small)
    painter.setPen(QColor(look.colors.faint_ink))
    text = f"\u2191 {letter} {trend.series.analyte.text(bound)}"
    width = QFontMetricsF(look.small).horizontalAdvance(text) + 6.0
    box = QRectF(plot.right() - width, plot.top() - 2.0, width, 14.0)
    painter.fillRect(box, QColor(look.colors.ground))
    painter.drawText(box, _RIGHT_ALIGNED, text)
