"""What stands behind the points: new fluid, starts of fills, the other side, like machines."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.limit_bands import LineLabel, with_alpha
from fluiddesk.charts.look import ChartView, Look
from fluiddesk.charts.scales import Scale
from fluiddesk.charts.trends import Trend
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.compartment_history.facts import SisterBand

_SISTER_ALPHA: Final = 0.09
_START_ALPHA: Final = 0.4
_OTHER_ALPHA: Final = 0.6
_START_PX: Final = 3.0
_LEAST_FILL_PX: Final = 7.0
_OTHER_DOT: Final = 2.6


def paint_sisters(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> None:
    """Draw where the middle 80 % of like machines lie at the same hours on the fluid."""
    band = trend.series.sisters
    if band is None or not view.shows_others or not len(band.low):
        return
    x, low, high = _sister_edges(trend, band, view, plot)
    if not len(x):
        return
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(with_alpha(QColor(look.colors.data), _SISTER_ALPHA))
    across = plot.left() + view.span.shares(x) * plot.width()
    upper = plot.bottom() - _shares(scale, high) * plot.height()
    lower = plot.bottom() - _shares(scale, low) * plot.height()
    painter.drawPolygon(
        polygon(np.concatenate([across, across[::-1]]), np.concatenate([upper, lower[::-1]]))
    )
    painter.setBrush(Qt.BrushStyle.NoBrush)


_Edges = tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]


def _sister_edges(trend: Trend, band: SisterBand, view: ChartView, plot: QRectF) -> _Edges:
    """The band along the axis: level, along hours on the fluid, or along one fill after another."""
    span, courses = view.span, list(trend.frame.courses.values())
    if view.axis is Axis.FLUID_HOURS and len(band.low) > 1:
        return band.fluid_hours, band.low, band.high
    shown = [
        course
        for course in courses
        if len(course[0]) > 1 and course[1][-1] >= span.low and course[1][0] <= span.high
    ]
    if len(band.low) == 1 or len(shown) * _LEAST_FILL_PX > plot.width():
        # Many fills in little room would be drawn as a comb: their mean says as much.
        edges = np.array([span.low, span.high])
        return edges, np.full(2, band.low.mean()), np.full(2, band.high.mean())
    parts: list[_Edges] = []
    for run, places in shown:
        knots = band.fluid_hours[(band.fluid_hours > run[0]) & (band.fluid_hours < run[-1])]
        at = np.concatenate([run[:1], knots, run[-1:]])
        low = np.interp(at, band.fluid_hours, band.low)
        high = np.interp(at, band.fluid_hours, band.high)
        parts.append((np.interp(at, run, places), low, high))
    if not parts:
        none = np.empty(0)
        return none, none, none
    x, low, high = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    return x, low, high


def _shares(scale: Scale, values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights from 0 to 1; what a logarithm cannot show stands at the foot."""
    shares = scale.shares(values)
    shares[np.isnan(shares)] = 0.0
    clipped: NDArray[np.float64] = shares.clip(0.0, 1.0)
    return clipped


def polygon(x: NDArray[np.float64], y: NDArray[np.float64]) -> QPolygonF:
    """Points of two columns."""
    return QPolygonF([QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)])


def paint_reference(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> list[LineLabel]:
    """Draw the new fluid's value as it held along the axis."""
    if trend.series.analyte.is_presence_test:
        return []
    pen = QPen(QColor(look.colors.faint_ink), 1.0)
    pen.setDashPattern([4.0, 3.0])
    painter.setPen(pen)
    labels = []
    for begin, end, value in trend.references(low=view.span.low, high=view.span.high):
        if not scale.holds(value) or end <= view.span.low or begin >= view.span.high:
            continue
        y = plot.bottom() - scale.share(value) * plot.height()
        left = plot.left() + max(view.span.share(begin), 0.0) * plot.width()
        right = plot.left() + min(view.span.share(end), 1.0) * plot.width()
        painter.drawLine(QLineF(left, y, right, y))
        if right >= plot.right() - 1.0:
            labels = [LineLabel(y=y, text="new", value=value)]
    return labels


def paint_starts(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> None:
    """Draw where each fill started: what the old fluid left behind, thinned by the new one."""
    starts = [one for one in trend.series.starts if not np.isnan(one.value)]
    x = np.array([trend.frame.of_start(one) for one in starts])
    values = np.array([one.value for one in starts])
    fills = np.array([one.fill for one in starts], dtype=np.int64)
    known = ~np.isnan(x)
    if not known.any():
        return
    here = plot.left() + view.span.shares(x) * plot.width()
    heights = plot.bottom() - _shares(scale, values) * plot.height()
    # The first believed sample of each fill, where it has a plain value.
    own = np.flatnonzero(trend.drawn(with_rejected=False))
    order = np.searchsorted(trend.fills[own], fills)
    order[order == len(own)] = 0
    first = own[order] if len(own) else np.zeros(len(fills), dtype=np.intp)
    joined = known & (trend.fills[first] == fills) & (trend.series.signs[first] == Sign.PLAIN)
    past = np.zeros(len(fills), dtype=bool)
    if view.axis is Axis.FLUID_HOURS:
        past = fills != trend.frame.last_fill
    to_x = plot.left() + view.span.shares(trend.x[first]) * plot.width()
    to_y = plot.bottom() - _shares(scale, trend.series.values[first]) * plot.height()
    ink = QColor(look.colors.data)
    for kept, alpha in ((joined & ~past, _START_ALPHA), (joined & past, _START_ALPHA / 3.0)):
        painter.setPen(QPen(with_alpha(ink, alpha), 1.0))
        ends = (column[kept].tolist() for column in (here, heights, to_x, to_y))
        painter.drawLines([QLineF(*line) for line in zip(*ends, strict=True)])
    painter.setPen(QPen(with_alpha(ink, 0.8), 1.2))
    now = known & ~past
    painter.drawLines(
        [
            QLineF(a - _START_PX, b, a + _START_PX, b)
            for a, b in zip(here[now].tolist(), heights[now].tolist(), strict=True)
        ]
    )


def paint_other_side(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> list[LineLabel]:
    """Draw the same analyte of the box on the other side as a quiet line."""
    other = trend.series.other_side
    if other is None or not view.shows_others:
        return []
    places = trend.frame.of_other(other)
    kept = (other.signs <= Sign.ABOVE) & (other.trust != Trust.REJECTED) & ~np.isnan(places)
    if view.axis is Axis.FLUID_HOURS and len(other.fill):
        kept &= other.fill == other.fill[-1]
    index = np.flatnonzero(kept & ~np.isnan(other.values))
    if not len(index):
        return []
    x = plot.left() + view.span.shares(places[index]) * plot.width()
    y = plot.bottom() - _shares(scale, other.values[index]) * plot.height()
    points = [QPointF(a, b) for a, b in zip(x.tolist(), y.tolist(), strict=True)]
    ink = with_alpha(QColor(look.colors.faint_ink), _OTHER_ALPHA)
    cuts = np.flatnonzero(np.diff(other.fill[index]) != 0) + 1
    pen = QPen(ink, 1.0)
    pen.setDashPattern([2.0, 2.0])
    painter.setPen(pen)
    for run in np.split(np.arange(len(points)), cuts):
        if len(run) > 1:
            painter.drawPolyline(QPolygonF([points[i] for i in run]))
    dot = QPen(ink, _OTHER_DOT)
    dot.setCapStyle(Qt.PenCapStyle.RoundCap)
    painter.setPen(dot)
    painter.drawPoints(points)
    is_in_view = plot.left() <= points[-1].x() <= plot.right()
    return [LineLabel(y=points[-1].y(), text=_side(other.name))] if is_in_view else []


def _side(name: str) -> str:
    """The part of a box's name that tells it from its twin: "left" of "Final drive, left"."""
    return name.rpartition(",")[2].strip() or name
