"""One analyte against the shared axis, by a plain painter: the same on screen and on paper."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPixmap

from fluiddesk.charts.event_marks import paint_events
from fluiddesk.charts.limit_bands import LineLabel, paint_bands
from fluiddesk.charts.look import ChartView, Look
from fluiddesk.charts.point_marks import paint_points
from fluiddesk.charts.scales import Scale
from fluiddesk.charts.trend_axes import (
    paint_across_axis,
    paint_labels,
    paint_limit_beyond,
    paint_value_axis,
    plot_area,
)
from fluiddesk.charts.trend_titles import paint_title
from fluiddesk.charts.trend_traces import (
    paint_other_side,
    paint_reference,
    paint_sisters,
    paint_starts,
)
from fluiddesk.charts.trends import Trend, value_scale

_CROSSHAIR_RING = 5.0


def paint_trend(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Draw one whole panel into a frame."""
    paint_still(painter, frame, trend=trend, look=look, view=view)
    paint_readout(painter, frame, trend=trend, look=look, view=view)


def paint_still(
    painter: QPainter,
    frame: QRectF,
    *,
    trend: Trend,
    look: Look,
    view: ChartView,
    backdrop: QPixmap | None = None,
) -> None:
    """Draw what doesn't change while samples are looked at: limits, events, points and axes.

    ``backdrop`` holds the events and the shared axis, where they are drawn once for all panels.
    """
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    plot = plot_area(frame)
    scale = _scale_of(trend, view)
    labels = paint_plot(
        painter, plot, trend=trend, scale=scale, look=look, view=view, backdrop=backdrop
    )
    paint_labels(painter, plot, labels, look)
    paint_value_axis(painter, plot, trend=trend, scale=scale, look=look)
    if backdrop is None:
        paint_across_axis(painter, plot, axis=view.axis, span=view.span, look=look)
    paint_limit_beyond(painter, plot, trend=trend, scale=scale, look=look)
    painter.restore()


def make_backdrop(frame: QRectF, *, look: Look, view: ChartView, ratio: float) -> QPixmap:
    """Events and the shared axis of a panel, drawn once for all panels of a size."""
    size = frame.size() * ratio
    made = QPixmap(round(size.width()), round(size.height()))
    made.setDevicePixelRatio(ratio)
    made.fill(Qt.GlobalColor.transparent)
    painter = QPainter(made)
    plot = plot_area(QRectF(QPointF(0.0, 0.0), frame.size()))
    paint_events(painter, plot, marks=view.marks, scale=view.span, colors=look.colors)
    paint_across_axis(painter, plot, axis=view.axis, span=view.span, look=look)
    painter.end()
    return made


def paint_readout(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Draw the title with its value, and the crosshair on the sample looked at."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    if view.sample is not None:
        scale = _scale_of(trend, view)
        paint_crosshair(painter, plot_area(frame), trend=trend, scale=scale, look=look, view=view)
    paint_title(painter, frame, trend=trend, look=look, view=view)
    painter.restore()


def _scale_of(trend: Trend, view: ChartView) -> Scale:
    return value_scale(trend, is_log=view.is_log, with_rejected=view.shows_rejected)


def paint_plot(
    painter: QPainter,
    plot: QRectF,
    *,
    trend: Trend,
    scale: Scale,
    look: Look,
    view: ChartView,
    backdrop: QPixmap | None = None,
) -> list[LineLabel]:
    """Draw what lies between the axes and give the labels for the ends of lines."""
    painter.save()
    painter.setClipRect(plot)
    paint_sisters(painter, plot, trend=trend, scale=scale, look=look, view=view)
    painter.restore()
    labels = _paint_limits(painter, plot, trend=trend, scale=scale, look=look, view=view)
    if backdrop is None:
        paint_events(painter, plot, marks=view.marks, scale=view.span, colors=look.colors)
    else:
        corner = QPointF(plot.topLeft() - plot_area(QRectF(0.0, 0.0, 0.0, 0.0)).topLeft())
        painter.drawPixmap(corner, backdrop)
    labels += paint_reference(painter, plot, trend=trend, scale=scale, look=look, view=view)
    painter.save()
    painter.setClipRect(plot.adjusted(-5.0, -6.0, 5.0, 6.0))
    labels += paint_other_side(painter, plot, trend=trend, scale=scale, look=look, view=view)
    x, y = _places(plot, trend=trend, scale=scale, view=view)
    shown = trend.drawn(with_rejected=view.shows_rejected)
    paint_starts(painter, plot, trend=trend, scale=scale, look=look, view=view)
    paint_points(painter, plot, trend=trend, x=x, y=y, shown=shown, look=look)
    painter.restore()
    return labels


def _paint_limits(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> list[LineLabel]:
    """The limits as they held along the axis; the ends of today's are labelled."""
    labels: list[LineLabel] = []
    for step in trend.steps(low=view.span.low, high=view.span.high):
        if step.high <= view.span.low or step.low >= view.span.high:
            continue
        left = plot.left() + max(view.span.share(step.low), 0.0) * plot.width()
        right = plot.left() + min(view.span.share(step.high), 1.0) * plot.width()
        part = QRectF(left, plot.top(), right - left, plot.height())
        labels = paint_bands(painter, part, bounds=step.bounds, scale=scale, colors=look.colors)
    return labels


def paint_crosshair(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> None:
    """Draw a line through the sample looked at and a ring around its value."""
    sample = view.sample
    x, y = _places(plot, trend=trend, scale=scale, view=view)
    if sample is None or np.isnan(x[sample]) or not view.span.holds(trend.x[sample]):
        return
    painter.setPen(QPen(QColor(look.colors.accent), 1.0))
    painter.drawLine(QLineF(x[sample], plot.top(), x[sample], plot.bottom()))
    if trend.drawn(with_rejected=view.shows_rejected)[sample]:
        painter.setPen(QPen(QColor(look.colors.accent), 1.4))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawEllipse(QPointF(x[sample], y[sample]), _CROSSHAIR_RING, _CROSSHAIR_RING)


def _places(
    plot: QRectF, *, trend: Trend, scale: Scale, view: ChartView
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x = plot.left() + view.span.shares(trend.x) * plot.width()
    return x, plot.bottom() - heights(trend, scale) * plot.height()


def heights(trend: Trend, scale: Scale) -> NDArray[np.float64]:
    """Where values stand along the vertical axis, 0 to 1; what lies outside is at the edge."""
    shares = scale.shares(trend.series.values)
    if scale.is_log:
        # A plain zero has no logarithm: it is drawn at the foot of the axis.
        shares = np.where(trend.series.values <= 0, 0.0, shares)
    return np.clip(shares, 0.0, 1.0)
