"""One analyte against hours, by a plain painter: the same on screen, in a picture and on paper.

A plain painter draws a page of panels in a fraction of the time that a page of interactive plots
needs; zooming into one analyte is done by the enlarged plot.
"""

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen

from fluiddesk.charts.event_marks import EventMark, paint_events
from fluiddesk.charts.limit_bands import LineLabel, limit_beyond, paint_bands, spread
from fluiddesk.charts.palette import Palette, paint_mark
from fluiddesk.charts.point_marks import paint_points
from fluiddesk.charts.scales import Scale, grouped, tick_text
from fluiddesk.charts.trends import Trend, value_scale
from fluiddesk.domain.severity import Severity, Trust

_LEFT: Final = 38.0
_RIGHT: Final = 26.0
_TITLE: Final = 20.0
_BOTTOM: Final = 16.0
_QUESTION: Final = 9.0
"""Beside the mark of a sample in doubt, so that its question mark stands clear of the value."""

_TICK: Final = 3.0
_CROSSHAIR_RING: Final = 5.0
_HOURS_TICK_PX: Final = 55.0
_VALUE_TICK_PX: Final = 30.0

_SHORTER: Final = (
    ("Kinematic viscosity", "Viscosity"),
    (" and larger", ""),
    ("Contamination code", "Code"),
    ("Base number, perchloric acid", "Base number (perchloric)"),
    ("Base number, hydrochloric acid", "Base number (hydrochl.)"),
)
_UNITS_WITHOUT_A_WORD: Final = frozenset({"absent/present", "code", "index", "class", "pH"})

_RIGHT_ALIGNED: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """Colours and fonts of a chart; ``strong`` is the body font in a heavier cut."""

    colors: Palette
    body: QFont
    small: QFont
    strong: QFont


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartView:
    """What all panels of a page share: the hours axis, the events and the sample looked at."""

    hours: Scale
    marks: tuple[EventMark, ...] = field(default=())
    is_log: bool = False
    shows_rejected: bool = True
    sample: int | None = None


def plot_area(frame: QRectF) -> QRectF:
    """Where the points of a panel lie inside its frame."""
    return frame.adjusted(_LEFT, _TITLE + 4.0, -_RIGHT, -_BOTTOM)


def paint_trend(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Draw one whole panel into a frame."""
    paint_still(painter, frame, trend=trend, look=look, view=view)
    paint_readout(painter, frame, trend=trend, look=look, view=view)


def paint_still(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Draw what doesn't change while samples are looked at: limits, events, points and axes."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    plot = plot_area(frame)
    scale = _scale_of(trend, view)
    labels = paint_plot(painter, plot, trend=trend, scale=scale, look=look, view=view)
    _paint_labels(painter, plot, labels, look)
    _paint_value_axis(painter, plot, trend=trend, scale=scale, look=look)
    paint_hours_axis(painter, plot, hours=view.hours, look=look)
    _paint_limit_beyond(painter, plot, trend=trend, scale=scale, look=look)
    painter.restore()


def paint_readout(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Draw the title with its value, and the crosshair on the sample looked at."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    if view.sample is not None:
        scale = _scale_of(trend, view)
        paint_crosshair(painter, plot_area(frame), trend=trend, scale=scale, look=look, view=view)
    _paint_title(painter, frame, trend=trend, look=look, view=view)
    painter.restore()


def _scale_of(trend: Trend, view: ChartView) -> Scale:
    return value_scale(trend, is_log=view.is_log, with_rejected=view.shows_rejected)


def paint_plot(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> list[LineLabel]:
    """Draw what lies between the axes and give the labels for the ends of lines."""
    labels = paint_bands(painter, plot, bounds=trend.bounds, scale=scale, colors=look.colors)
    paint_events(painter, plot, marks=view.marks, scale=view.hours, colors=look.colors)
    labels += _paint_reference(painter, plot, trend=trend, scale=scale, look=look)
    painter.save()
    painter.setClipRect(plot.adjusted(-5.0, -6.0, 5.0, 6.0))
    x, y = _places(plot, trend=trend, scale=scale, view=view)
    shown = trend.drawn(with_rejected=view.shows_rejected)
    paint_points(painter, plot, trend=trend, x=x, y=y, shown=shown, colors=look.colors)
    painter.restore()
    return labels


def paint_crosshair(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look, view: ChartView
) -> None:
    """Draw a line through the sample looked at and a ring around its value."""
    sample = view.sample
    x, y = _places(plot, trend=trend, scale=scale, view=view)
    if sample is None or np.isnan(x[sample]) or not view.hours.holds(trend.hours[sample]):
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
    x = plot.left() + view.hours.shares(trend.hours) * plot.width()
    return x, plot.bottom() - heights(trend, scale) * plot.height()


def heights(trend: Trend, scale: Scale) -> NDArray[np.float64]:
    """Where values stand along the vertical axis, 0 to 1; what lies outside is at the edge."""
    shares = scale.shares(trend.series.values)
    if scale.is_log:
        # A plain zero has no logarithm: it is drawn at the foot of the axis.
        shares = np.where(trend.series.values <= 0, 0.0, shares)
    return np.clip(shares, 0.0, 1.0)


def _paint_reference(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look
) -> list[LineLabel]:
    reference = trend.series.reference
    if reference is None or not scale.holds(reference) or trend.series.analyte.is_presence_test:
        return []
    y = plot.bottom() - scale.share(reference) * plot.height()
    pen = QPen(QColor(look.colors.faint_ink), 1.0)
    pen.setDashPattern([4.0, 3.0])
    painter.setPen(pen)
    painter.drawLine(QLineF(plot.left(), y, plot.right(), y))
    return [LineLabel(y=y, text="new")]


def _paint_labels(painter: QPainter, plot: QRectF, labels: list[LineLabel], look: Look) -> None:
    painter.setFont(look.small)
    painter.setPen(QColor(look.colors.faint_ink))
    apart = QFontMetricsF(look.small).capHeight() + 3.0
    places = spread(labels, apart=apart, low=plot.top(), high=plot.bottom())
    for label, y in zip(labels, places, strict=True):
        box = QRectF(plot.right() + 4.0, y - 8.0, _RIGHT - 4.0, 16.0)
        painter.drawText(box, _LEFT_ALIGNED, label.text)


def _paint_value_axis(
    painter: QPainter, plot: QRectF, *, trend: Trend, scale: Scale, look: Look
) -> None:
    painter.setFont(look.small)
    if trend.series.analyte.is_presence_test:
        _paint_answers(painter, plot, scale=scale, look=look)
        return
    ticks = scale.ticks(about=max(3, int(plot.height() / _VALUE_TICK_PX)))
    if trend.series.analyte.decimals == 0:
        ticks = tuple(tick for tick in ticks if tick == round(tick)) or ticks
    marked = [(tick, tick_text(tick, ticks)) for tick in ticks]
    text_ink, line_ink = QColor(look.colors.faint_ink), QPen(QColor(look.colors.hairline), 1.0)
    for value, text in marked:
        y = plot.bottom() - scale.share(value) * plot.height()
        painter.setPen(line_ink)
        painter.drawLine(QLineF(plot.left() - _TICK, y, plot.left(), y))
        painter.setPen(text_ink)
        box = QRectF(plot.left() - _LEFT, y - 8.0, _LEFT - _TICK - 3.0, 16.0)
        painter.drawText(box, _RIGHT_ALIGNED, text)


def _paint_answers(painter: QPainter, plot: QRectF, *, scale: Scale, look: Look) -> None:
    """The two answers of a presence test, each above its row of marks."""
    painter.setPen(QColor(look.colors.faint_ink))
    for value, text in ((0.0, "absent"), (1.0, "present")):
        y = plot.bottom() - scale.share(value) * plot.height()
        box = QRectF(plot.left(), y - 22.0, plot.width(), 16.0)
        painter.drawText(box, _LEFT_ALIGNED, text)


def paint_hours_axis(painter: QPainter, plot: QRectF, *, hours: Scale, look: Look) -> None:
    """Draw the baseline with the hours under it."""
    painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
    foot = round(plot.bottom()) + 0.5
    painter.drawLine(QLineF(plot.left(), foot, plot.right(), foot))
    painter.setFont(look.small)
    for tick in _hours_ticks(plot, hours):
        x = plot.left() + hours.share(tick) * plot.width()
        painter.setPen(QPen(QColor(look.colors.hairline), 1.0))
        painter.drawLine(QLineF(x, foot, x, foot + _TICK))
        painter.setPen(QColor(look.colors.faint_ink))
        box = QRectF(x - 40.0, foot + 2.0, 80.0, 14.0)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, grouped(tick))


def _hours_ticks(plot: QRectF, hours: Scale) -> tuple[float, ...]:
    """Two ticks at least, so that distances can be read, with room for each label."""
    about = max(3, int(plot.width() / _HOURS_TICK_PX))
    ticks = hours.ticks(about=about)
    if len(ticks) > 1:
        return ticks
    finer = hours.ticks(about=2 * about)
    stride = -(-len(finer) // about)
    return finer[::stride]


def _paint_limit_beyond(
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


def _paint_title(
    painter: QPainter, frame: QRectF, *, trend: Trend, look: Look, view: ChartView
) -> None:
    """Name and unit at the left; the last value, or that of the sample looked at, at the right."""
    sample = trend.last if view.sample is None else view.sample
    taken = _paint_value(
        painter,
        frame,
        trend=trend,
        sample=sample,
        look=look,
        is_looked_at=view.sample is not None,
    )
    room = frame.width() - taken
    row = QRectF(frame.left(), frame.top(), room - 8.0, _TITLE)
    unit = title_unit(trend)
    small = QFontMetricsF(look.small)
    strong = QFontMetricsF(look.strong)
    unit_width = small.horizontalAdvance(unit) + 6.0 if unit else 0.0
    space = max(row.width() - unit_width, 20.0)
    name = trend.series.analyte.name
    name = name if strong.horizontalAdvance(name) <= space else _shorter(name)
    name = strong.elidedText(name, Qt.TextElideMode.ElideRight, space)
    painter.setFont(look.strong)
    painter.setPen(QColor(look.colors.ink))
    painter.drawText(row, _LEFT_ALIGNED, name)
    painter.setFont(look.small)
    painter.setPen(QColor(look.colors.faint_ink))
    # One point lower, so that both sizes stand on one base line.
    painter.drawText(
        row.adjusted(strong.horizontalAdvance(name) + 6.0, 1.0, 0.0, 1.0), _LEFT_ALIGNED, unit
    )


def _shorter(name: str) -> str:
    """A long name without the words that its neighbours and its unit make plain."""
    for long, short in _SHORTER:
        name = name.replace(long, short)
    return name


def _paint_value(
    painter: QPainter,
    frame: QRectF,
    *,
    trend: Trend,
    sample: int | None,
    look: Look,
    is_looked_at: bool,
) -> float:
    """Draw the value at the right of the title and give the width it took."""
    text = trend.series.shown(sample) if sample is not None else ""
    text = text or "\u2013"
    right = frame.right()
    width = QFontMetricsF(look.body).horizontalAdvance(text)
    painter.setFont(look.body)
    painter.setPen(QColor(look.colors.accent if is_looked_at else look.colors.ink))
    row = QRectF(right - width - 2.0, frame.top(), width + 2.0, _TITLE)
    painter.drawText(row, _RIGHT_ALIGNED, text)
    if sample is None or trend.series.severity[sample] < Severity.WATCH:
        return width
    severity = Severity(int(trend.series.severity[sample]))
    trust = Trust(int(trend.trust[sample]))
    room = 0.0 if trust is Trust.GOOD else _QUESTION
    box = QRectF(row.left() - 15.0 - room, frame.top() + _TITLE / 2 - 5.5, 11.0, 11.0)
    paint_mark(painter, box, severity=severity, colors=look.colors, trust=trust)
    return width + 16.0 + room


def title_unit(trend: Trend) -> str:
    """The unit as a title shows it: nothing where the name says it all."""
    unit = trend.series.analyte.unit
    return "" if unit in _UNITS_WITHOUT_A_WORD else shown_unit(unit)


def shown_unit(unit: str) -> str:
    """A unit as it is written on paper.

    >>> shown_unit("mm2/s"), shown_unit("C"), shown_unit("mg/kg")
    ('mm\u00b2/s', '\u00b0C', 'mg/kg')
    """
    return {"C": "\u00b0C", "um": "\u00b5m", "uS/cm": "\u00b5S/cm"}.get(
        unit, unit.replace("mm2", "mm\u00b2")
    )
