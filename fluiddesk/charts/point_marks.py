"""Points of a trend: plain, censored, suspect, rejected, and those past a limit."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.limit_bands import with_alpha
from fluiddesk.charts.look import Look
from fluiddesk.charts.trends import Trend
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust

_DOT: Final = 2.1
_HOLLOW: Final = 2.8
_CROSS: Final = 2.6
_MARK_PX: Final = 9.0
_BAR_PX: Final = 2.6
_BAR_ALPHA: Final = 0.24
_BAR_SHARE: Final = 0.45
"""Share of the distance between points that a bar may fill, so that bars stay apart."""
_FADED: Final = 0.26
_CROWDED_PX: Final = 5.0
"""Closer than this, points are drawn smaller."""


def paint_points(
    painter: QPainter,
    plot: QRectF,
    *,
    trend: Trend,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    shown: NDArray[np.bool_],
    look: Look,
) -> None:
    """Draw the line and the points of one panel.

    Args:
        painter: in device pixels of the panel.
        plot: the area between the axes.
        trend: what is drawn.
        x: shape (n,), pixels; NaN where unknown.
        y: shape (n,), pixels, kept inside the plot; NaN where there is no value.
        shown: shape (n,), which samples are drawn as points.
        look: colours and fonts.
    """
    ink = QColor(look.colors.data)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    faded = _faded(trend)
    for run in trend.runs():
        if shown[run].any():
            painter.setPen(QPen(with_alpha(ink, _FADED if faded[run[0]] else 0.75), 1.0))
            points = zip(x[run].tolist(), y[run].tolist(), strict=True)
            painter.drawPolyline(QPolygonF([QPointF(a, b) for a, b in points]))
    inside = shown & (x >= plot.left() - 1) & (x <= plot.right() + 1)
    apart = plot.width() / max(int(inside.sum()), 1)
    size = 1.0 if apart > _CROWDED_PX else 0.7
    is_plain = (
        inside
        & np.isin(trend.series.signs, (Sign.PLAIN, Sign.PRESENT))
        & (trend.trust == Trust.GOOD)
        & (trend.series.severity < Severity.WATCH)
    )
    if faded.any():
        past = inside & faded & (trend.trust != Trust.REJECTED)
        _paint_dots(painter, x[past], y[past], ink=with_alpha(ink, _FADED), size=0.8)
        is_plain, inside = is_plain & ~faded, inside & ~faded
    _paint_dots(painter, x[is_plain], y[is_plain], ink=ink, size=size)
    for sample in np.flatnonzero(inside & ~is_plain).tolist():
        place = QPointF(x[sample], y[sample])
        if trend.series.signs[sample] in (Sign.BELOW, Sign.ABOVE):
            is_below = trend.series.signs[sample] == Sign.BELOW
            width = min(_BAR_PX, max(0.6, apart * _BAR_SHARE))
            _paint_bar(painter, plot, place, is_below=is_below, ink=ink, width=width)
        _paint_point(painter, place, trend=trend, sample=sample, look=look, size=size)


def _faded(trend: Trend) -> NDArray[np.bool_]:
    """Samples of past fills, where all fills lie over each other."""
    if trend.frame.axis is not Axis.FLUID_HOURS:
        return np.zeros(len(trend.x), dtype=bool)
    past: NDArray[np.bool_] = trend.fills != trend.frame.last_fill
    return past


def _paint_dots(
    painter: QPainter,
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    *,
    ink: QColor,
    size: float,
) -> None:
    """All plain points in one stroke of a round pen."""
    pen = QPen(ink, 2 * _DOT * size)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(pen)
    painter.drawPoints([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)])


def _paint_point(
    painter: QPainter,
    place: QPointF,
    *,
    trend: Trend,
    sample: int,
    look: Look,
    size: float,
) -> None:
    sign = Sign(int(trend.series.signs[sample]))
    trust = Trust(int(trend.trust[sample]))
    severity = Severity(int(trend.series.severity[sample]))
    colors = look.colors
    ink = QColor(colors.data)
    if trust is Trust.REJECTED:
        _paint_cross(painter, place, QColor(colors.faint_ink))
    elif trust is Trust.SUSPECT:
        is_bad = severity >= Severity.WATCH
        painter.setPen(QPen(colors.color(severity) if is_bad else ink, 1.6 if is_bad else 1.2))
        painter.setBrush(QColor(colors.ground))
        radius = _HOLLOW + (1.0 if is_bad else 0.0)
        painter.drawEllipse(place, radius, radius)
    elif severity >= Severity.WATCH:
        side = _MARK_PX * max(size, 0.8)
        box = QRectF(place.x() - side / 2, place.y() - side / 2, side, side)
        if severity is Severity.WATCH:
            # The open half of the mark would show the line and the band through it.
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colors.ground))
            painter.drawEllipse(box)
        look.stamps.paint(painter, box, severity=severity, colors=colors)
    elif sign is Sign.ABSENT:
        # A short stroke: nothing was found. Hollow is kept for samples that are in doubt.
        painter.setPen(QPen(ink, 1.3))
        painter.drawLine(QLineF(place.x() - 1.8, place.y(), place.x() + 1.8, place.y()))


def _paint_bar(
    painter: QPainter,
    plot: QRectF,
    place: QPointF,
    *,
    is_below: bool,
    ink: QColor,
    width: float,
) -> None:
    """A bar over everything the value may be, with a cap at its bound."""
    end = plot.bottom() if is_below else plot.top()
    left = place.x() - width / 2
    bar = QRectF(left, min(place.y(), end), width, abs(end - place.y()))
    painter.fillRect(bar, with_alpha(ink, _BAR_ALPHA))
    cap = QPen(ink, 1.2)
    # Neighbouring caps must not run together into a line.
    cap.setCapStyle(Qt.PenCapStyle.FlatCap)
    painter.setPen(cap)
    beyond = 0.5 if width >= _BAR_PX else 0.2
    painter.drawLine(QLineF(left - beyond, place.y(), left + width + beyond, place.y()))


def _paint_cross(painter: QPainter, place: QPointF, ink: QColor) -> None:
    painter.setPen(QPen(ink, 1.2))
    x, y = place.x(), place.y()
    painter.drawLine(QLineF(x - _CROSS, y - _CROSS, x + _CROSS, y + _CROSS))
    painter.drawLine(QLineF(x - _CROSS, y + _CROSS, x + _CROSS, y - _CROSS))
