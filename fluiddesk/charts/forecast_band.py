"""Draws hours left as a band on an axis that starts now."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from fluiddesk.charts.limit_bands import with_alpha
from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import Scale, grouped

_BAND_ALPHA: Final = 0.32
_WINDOW_ALPHA: Final = 0.16
_TICK_PX: Final = 80.0
_FLAG: Final = 4.0
_APART: Final = 8.0


def paint_band(
    painter: QPainter,
    plot: QRectF,
    *,
    points: tuple[float, float | None, float | None],
    span: Scale,
    ink: QColor,
) -> None:
    """Draw 10 to 90 % as a bar and 50 % as a stroke; what lies beyond the axis ends in an arrow."""
    low, middle, high = points
    left = _x(plot, span, low)
    is_open = high is None or high > span.high
    right = plot.right() if high is None else min(_x(plot, span, high), plot.right())
    left = min(left, plot.right() - 2.0)
    bar = QRectF(left, plot.top(), max(right - left, 2.0), plot.height())
    painter.fillRect(bar, with_alpha(ink, _BAND_ALPHA))
    painter.setPen(QPen(ink, 1.0))
    for x in (left, None if is_open else right):
        if x is not None:
            painter.drawLine(QLineF(x, plot.top(), x, plot.bottom()))
    if is_open:
        at = QPointF(plot.right(), plot.center().y())
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        painter.drawPolygon(
            QPolygonF([at + QPointF(6.0, 0.0), at + QPointF(0.0, -4.0), at + QPointF(0.0, 4.0)])
        )
        painter.setBrush(Qt.BrushStyle.NoBrush)
    if middle is not None and middle <= span.high:
        x = _x(plot, span, middle)
        painter.setPen(QPen(ink, 3.0))
        painter.drawLine(QLineF(x, plot.top() - 2.0, x, plot.bottom() + 2.0))


def paint_due(
    painter: QPainter,
    plot: QRectF,
    *,
    hours: float,
    window: tuple[float, float],
    span: Scale,
    look: Look,
) -> None:
    """Draw the next planned sample through the strip, and its window as a faint ground."""
    ink = QColor(look.colors.ink)
    left, right = (min(max(_x(plot, span, one), plot.left()), plot.right()) for one in window)
    if right > left:
        painter.fillRect(
            QRectF(left, plot.top(), right - left, plot.height()), with_alpha(ink, _WINDOW_ALPHA)
        )
    x = min(max(_x(plot, span, hours), plot.left()), plot.right())
    pen = QPen(ink, 1.2)
    pen.setDashPattern([3.0, 2.0])
    painter.setPen(pen)
    painter.drawLine(QLineF(x, plot.top(), x, plot.bottom()))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    foot = QPointF(x, plot.bottom())
    painter.drawPolygon(QPolygonF([foot, foot + QPointF(-_FLAG, 6.0), foot + QPointF(_FLAG, 6.0)]))
    painter.setBrush(Qt.BrushStyle.NoBrush)


def paint_hours_ahead(
    painter: QPainter, plot: QRectF, *, span: Scale, look: Look, taken: Sequence[QRectF] = ()
) -> None:
    """Draw the axis "from now on" under a strip; ticks give way to words already ``taken``."""
    painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
    foot = round(plot.bottom()) + 0.5
    painter.drawLine(QLineF(plot.left(), foot, plot.right(), foot))
    painter.setFont(look.small)
    metrics = QFontMetricsF(look.small)
    for tick in span.ticks(about=max(2, int(plot.width() / _TICK_PX))):
        x = _x(plot, span, tick)
        text = "now" if tick == 0 else f"{grouped(tick)} h"
        half = metrics.horizontalAdvance(text) / 2
        box = QRectF(x - half, foot + 4.0, 2 * half, 13.0)
        painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
        painter.drawLine(QLineF(x, foot, x, foot + 3.0))
        if not any(one.adjusted(-_APART, 0, _APART, 0).intersects(box) for one in taken):
            painter.setPen(QColor(look.colors.faint_ink))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)


def placed_words(
    words: Sequence[tuple[float, str]], *, look: Look, room: QRectF
) -> list[tuple[QRectF, str]]:
    """Words centred on places in one line; the first ones win where they would cover each other."""
    metrics = QFontMetricsF(look.small)
    kept: list[tuple[QRectF, str]] = []
    for x, text in words:
        width = metrics.horizontalAdvance(text)
        left = min(max(x - width / 2, room.left()), max(room.right() - width, room.left()))
        box = QRectF(left, room.top(), width, room.height())
        if not any(one.adjusted(-_APART, 0, _APART, 0).intersects(box) for one, _ in kept):
            kept.append((box, text))
    return kept


def _x(plot: QRectF, span: Scale, hours: float) -> float:
    return plot.left() + span.share(hours) * plot.width()
