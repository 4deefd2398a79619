"""A lane over the charts: every sample with its verdict, and what was done to the box."""

from collections.abc import Iterable
from typing import Final

import numpy as np
from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFontMetricsF,
    QHelpEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget
from typing_extensions import override

from fluiddesk.charts.axes import Axis, place_text
from fluiddesk.charts.event_marks import EventMark, MarkKind
from fluiddesk.charts.limit_bands import with_alpha
from fluiddesk.charts.look import Look
from fluiddesk.charts.shared_view import SharedView
from fluiddesk.charts.span_canvas import SpanCanvas
from fluiddesk.charts.trend_axes import paint_across_axis
from fluiddesk.domain.severity import Severity, Trust

SIDES: Final = (56.0, 32.0)
"""Room for the names of the rows, and for the last word."""
_ROW: Final = 17.0
_AXIS: Final = 17.0
_MARK: Final = 9.0
_SMALLEST_MARK: Final = 5.0
_SHAPE: Final = 4.0
_TIP_REACH: Final = 6.0
_LEAST_APART: Final = 9.0
_PLAIN_LINES: Final = {MarkKind.CHANGE: (1.0, _ROW), MarkKind.TOP_UP: (2.0, 7.0)}
"""Width and height of the marks that are lines."""
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class EventLane(SpanCanvas):
    """Samples in the upper row, fluid and work in the lower one, on the axis of the charts."""

    def __init__(self, shared: SharedView, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(shared, look, parent)
        self._still: QPixmap | None = None
        self._sides = SIDES
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Samples and events along the axis"))
        shared.reframed.connect(self._redraw)
        shared.redrawn.connect(self._redraw)
        shared.sample_looked_at.connect(lambda _sample: self.update())

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self.look = look
        self._redraw()

    def align(self, sides: tuple[float, float] = SIDES) -> None:
        """Leave this room at the left and right, to stand in line with a chart below."""
        self._sides = sides
        self._redraw()

    @override
    def sizeHint(self) -> QSize:
        return QSize(400, round(2 * _ROW + _AXIS + 2.0))

    def _plot(self) -> QRectF:
        left, right = self._sides
        return QRectF(left, 1.0, self.width() - left - right, 2 * _ROW)

    @override
    def plots(self) -> Iterable[QRectF]:
        return (self._plot(),)

    @override
    def plot_at(self, place: QPointF) -> QRectF | None:
        plot = self._plot()
        return plot if plot.left() - 4.0 <= place.x() <= plot.right() + 4.0 else None

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._redraw()

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        if self._still is None:
            self._still = self._drawn()
        painter.drawPixmap(0, 0, self._still)
        self._paint_crosshair(painter, self._plot())
        self.paint_drag(painter)
        painter.end()

    def _redraw(self) -> None:
        self._still = None
        self.update()

    def _drawn(self) -> QPixmap:
        """What stays the same while the crosshair moves."""
        ratio = self.devicePixelRatioF()
        size = self.size() * ratio
        still = QPixmap(size)
        still.setDevicePixelRatio(ratio)
        plot, view, colors = self._plot(), self.shared.view, self.look.colors
        still.fill(QColor(colors.ground))
        painter = QPainter(still)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self.look.small)
        painter.setPen(QColor(colors.faint_ink))
        for row, words in enumerate((self.tr("Samples"), self.tr("Events"))):
            place = QRectF(0.0, plot.top() + row * _ROW, plot.left(), _ROW)
            painter.drawText(place, _LEFT_ALIGNED, words)
        paint_across_axis(painter, plot, axis=view.axis, span=view.span, look=self.look)
        painter.setClipRect(plot.adjusted(-6.0, 0.0, 6.0, 1.0))
        self._paint_marks(painter, plot)
        self._paint_samples(painter, plot)
        painter.end()
        return still

    def _x(self, plot: QRectF, place: float) -> float:
        return plot.left() + self.shared.view.span.share(place) * plot.width()

    def _paint_samples(self, painter: QPainter, plot: QRectF) -> None:
        history, frame, view = self.shared.history, self.shared.frame, self.shared.view
        if history is None or not len(frame.x):
            return
        inside = (frame.x >= view.span.low) & (frame.x <= view.span.high)
        if frame.axis is Axis.FLUID_HOURS:
            inside &= frame.fills == frame.last_fill
        index = np.flatnonzero(inside)
        apart = plot.width() / max(len(index), 1)
        side = min(_MARK, max(_SMALLEST_MARK, apart - 1.0))
        for sample in index.tolist():
            facts = history.samples[sample]
            if facts.trust is Trust.REJECTED and not view.shows_rejected:
                continue
            x = self._x(plot, float(frame.x[sample]))
            box = QRectF(x - side / 2, plot.top() + (_ROW - side) / 2, side, side)
            # Behind the mark the line of a fluid change would run through it.
            painter.fillRect(box.adjusted(-1.0, 0.0, 1.0, 0.0), QColor(self.look.colors.ground))
            stamps = self.look.stamps
            stamps.paint(painter, box, severity=facts.severity, colors=self.look.colors)
            if facts.trust is not Trust.GOOD and apart > 2 * _MARK:
                painter.setPen(QColor(self.look.colors.ink))
                painter.drawText(QPointF(box.right() + 1.0, box.top() + 5.0), "?")

    def _paint_marks(self, painter: QPainter, plot: QRectF) -> None:
        view = self.shared.view
        marks = sorted((m for m in view.marks if view.span.holds(m.x)), key=lambda mark: mark.x)
        foot = plot.bottom() - _ROW / 2
        places = [self._x(plot, mark.x) for mark in marks]
        is_dense = len(marks) * _LEAST_APART > plot.width()
        self._paint_plain_lines(painter, plot, marks, places, every=is_dense)
        for mark, x in zip(marks, places, strict=True):
            if not ((mark.is_certain or is_dense) and mark.kind in _PLAIN_LINES):
                self._paint_shape(painter, mark, QPointF(x, foot), plot)
        small = QFontMetricsF(self.look.small)
        painter.setFont(self.look.small)
        painter.setPen(QColor(self.look.colors.faint_ink))
        for index, (mark, x) in enumerate(zip(marks, places, strict=True)):
            text = _short(mark)
            width = small.horizontalAdvance(text)
            room = (
                places[index + 1] if index + 1 < len(places) else plot.right() + self._sides[1]
            ) - x
            if text and width + 2 * _SHAPE + 8.0 < room:
                box = QRectF(x + _SHAPE + 3.0, foot - _ROW / 2, width + 2.0, _ROW)
                painter.drawText(box, _LEFT_ALIGNED, text)

    def _paint_plain_lines(
        self,
        painter: QPainter,
        plot: QRectF,
        marks: list[EventMark],
        places: list[float],
        *,
        every: bool,
    ) -> None:
        """Changes and top-ups are many: each kind is drawn in one go.

        Inferred ones are hatched apart, unless there is no room for that and ``every`` is drawn.
        """
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
        for kind, (width, height) in _PLAIN_LINES.items():
            painter.setPen(QPen(QColor(self.look.colors.faint_ink), width))
            painter.drawLines(
                [
                    QLineF(round(x), plot.bottom() - height, round(x), plot.bottom())
                    for mark, x in zip(marks, places, strict=True)
                    if mark.kind is kind and (mark.is_certain or every)
                ]
            )
        painter.restore()

    def _paint_shape(self, painter: QPainter, mark: EventMark, at: QPointF, plot: QRectF) -> None:
        colors = self.look.colors
        ink = QColor(colors.faint_ink)
        x = round(at.x()) + 0.5
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(ink, 1.2))
        if not mark.is_certain:
            hatched = QBrush(with_alpha(ink, 0.7), Qt.BrushStyle.BDiagPattern)
            top = plot.top() if mark.is_line else at.y() - _ROW / 2
            painter.fillRect(QRectF(x - 3.0, top, 6.0, plot.bottom() - top), hatched)
        match mark.kind:
            case MarkKind.FILTER:
                painter.drawRect(QRectF(x - 3.0, at.y() - 3.0, 6.0, 6.0))
            case MarkKind.COMPONENT:
                painter.setBrush(ink)
                painter.drawPolygon(_diamond(QPointF(x, at.y())))
            case MarkKind.REPAIR:
                painter.setPen(QPen(ink, 2.0))
                painter.drawLine(QLineF(x - 3.5, at.y(), x + 3.5, at.y()))
                painter.drawLine(QLineF(x, at.y() - 3.5, x, at.y() + 3.5))
            case MarkKind.FINDING:
                painter.drawEllipse(QPointF(x, at.y()), 3.5, 3.5)
                painter.setBrush(ink)
                painter.drawEllipse(QPointF(x, at.y()), 0.9, 0.9)
            case MarkKind.STAND_DOWN:
                ends = x + 6.0 if mark.until is None else self._x(plot, mark.until)
                # Along the foot, where it covers no mark and no word.
                painter.fillRect(QRectF(x, plot.bottom() - 3.0, max(ends - x, 3.0), 3.0), ink)
            case _:
                pass

    def _paint_crosshair(self, painter: QPainter, plot: QRectF) -> None:
        sample, frame = self.shared.view.sample, self.shared.frame
        if sample is None or np.isnan(frame.x[sample]):
            return
        x = self._x(plot, float(frame.x[sample]))
        if plot.left() <= x <= plot.right():
            painter.setPen(QPen(QColor(self.look.colors.accent), 1.0))
            painter.drawLine(QLineF(x, plot.top(), x, plot.bottom()))

    @override
    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent):
            text = self.told_at(QPointF(event.pos()))
            if text:
                QToolTip.showText(event.globalPos(), text, self)
            else:
                QToolTip.hideText()
            return True
        return super().event(event)

    def told_at(self, place: QPointF) -> str:
        """What stands near a point, one event a line."""
        plot, view = self._plot(), self.shared.view
        near = [
            f"{place_text(view.axis, mark.x)}  {mark.words}"
            for mark in view.marks
            if abs(self._x(plot, mark.x) - place.x()) <= _TIP_REACH
        ]
        history, frame = self.shared.history, self.shared.frame
        if history is not None and place.y() < plot.top() + _ROW:
            near += [
                f"{sample.taken_on.isoformat()}  {_judged(sample.severity, sample.trust)}"
                for sample, x in zip(history.samples, frame.x.tolist(), strict=True)
                if not np.isnan(x) and abs(self._x(plot, x) - place.x()) <= _TIP_REACH
            ]
        return "\n".join(near)


def _judged(severity: Severity, trust: Trust) -> str:
    return severity.word if trust is Trust.GOOD else f"{severity.word}, {trust.word.lower()}"


def _short(mark: EventMark) -> str:
    """The word beside a mark; a change is told by its line."""
    if mark.kind is MarkKind.CHANGE:
        return ""
    if mark.kind is MarkKind.TOP_UP:
        return "" if mark.litres is None else f"{mark.litres:g} L"
    return mark.kind.value


def _diamond(at: QPointF) -> QPolygonF:
    return QPolygonF(
        [
            QPointF(at.x(), at.y() - _SHAPE),
            QPointF(at.x() + _SHAPE, at.y()),
            QPointF(at.x(), at.y() + _SHAPE),
            QPointF(at.x() - _SHAPE, at.y()),
        ]
    )
