"""One analyte over the whole page, drawn as in its small panel, with figures at the lines' ends."""

from collections.abc import Iterable
from typing import Final

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from fluiddesk.charts.limit_bands import LETTERS, LineLabel, spread
from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import Scale
from fluiddesk.charts.shared_view import ZOOM_STEP, SharedView
from fluiddesk.charts.span_canvas import SpanCanvas
from fluiddesk.charts.trend_axes import paint_across_axis, paint_limit_beyond, paint_value_axis
from fluiddesk.charts.trend_plot import paint_crosshair, paint_plot
from fluiddesk.charts.trends import Trend, value_scale

SIDES: Final = (56.0, 132.0)
"""Room at the left for the values and at the right for words at the lines' ends."""
_TOP: Final = 12.0
_BOTTOM: Final = 24.0
_LABEL: Final = 16.0
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class EnlargedTrend(SpanCanvas):
    """One analyte, large.

    Left and Right move the crosshair, Up and Down lead to the analyte before and after, Shift with
    page up, page down or the wheel stretches the values, 0 shows everything, Esc goes back.

    Signals:
        closed: the person wants the page of panels back.
        turned: by how many analytes to go on.
    """

    closed = Signal()
    turned = Signal(int)

    def __init__(self, shared: SharedView, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(shared, look, parent)
        self._trend: Trend | None = None
        self._values: Scale | None = None
        shared.redrawn.connect(self.update)
        shared.sample_looked_at.connect(lambda _sample: self.update())

    @property
    def trend(self) -> Trend | None:
        """The analyte on show."""
        return self._trend

    @property
    def values(self) -> Scale:
        """The vertical axis on show."""
        if self._trend is None:
            return Scale(low=0.0, high=1.0)
        view = self.shared.view
        whole = value_scale(self._trend, is_log=view.is_log, with_rejected=view.shows_rejected)
        # Another scale than the one zoomed into: the switch for logarithms, say.
        is_same = self._values is not None and self._values.is_log == whole.is_log
        return self._values if is_same and self._values is not None else whole

    def show_trend(self, trend: Trend) -> None:
        """Show one analyte over the stretch that the panels show."""
        self._trend, self._values = trend, None
        self.setAccessibleName(trend.series.analyte.name)
        self.update()

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self.look = look
        self.update()

    def zoom_values(self, factor: float) -> None:
        """Stretch the values about the middle of the axis."""
        scale = self.values
        low, high = scale.value((1 - 1 / factor) / 2), scale.value((1 + 1 / factor) / 2)
        if scale.low >= 0:
            low = max(low, 0.0) if not scale.is_log else low
        self._values = Scale(low=low, high=high, is_log=scale.is_log)
        self.update()

    def show_all(self) -> None:
        """Show every value."""
        self._values = None
        self.update()

    def _plot(self) -> QRectF:
        return QRectF(self.rect()).adjusted(SIDES[0], _TOP, -SIDES[1], -_BOTTOM)

    @override
    def plots(self) -> Iterable[QRectF]:
        return (self._plot(),)

    @override
    def plot_at(self, place: QPointF) -> QRectF | None:
        plot = self._plot()
        return plot if plot.adjusted(-6.0, -6.0, 6.0, 6.0).contains(place) else None

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self.look.colors.ground))
        if self._trend is not None:
            self._paint(painter, self._trend)
        self.paint_drag(painter)
        painter.end()

    def _paint(self, painter: QPainter, trend: Trend) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plot, view, scale, look = self._plot(), self.shared.view, self.values, self.look
        labels = paint_plot(painter, plot, trend=trend, scale=scale, look=look, view=view)
        paint_value_axis(painter, plot, trend=trend, scale=scale, look=look)
        paint_across_axis(painter, plot, axis=view.axis, span=view.span, look=look)
        paint_limit_beyond(painter, plot, trend=trend, scale=scale, look=look)
        paint_crosshair(painter, plot, trend=trend, scale=scale, look=look, view=view)
        painter.setFont(look.small)
        painter.setPen(QColor(look.colors.faint_ink))
        places = spread(labels, apart=_LABEL, low=plot.top(), high=plot.bottom())
        for label, y in zip(labels, places, strict=True):
            box = QRectF(plot.right() + 6.0, y - _LABEL / 2, SIDES[1] - 6.0, _LABEL)
            painter.drawText(box, _LEFT_ALIGNED, _words(label, trend))

    @override
    def wheelEvent(self, event: QWheelEvent) -> None:
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            # With Shift some platforms turn the wheel sideways.
            turn = event.angleDelta().y() or event.angleDelta().x()
            self.zoom_values(ZOOM_STEP if turn > 0 else 1 / ZOOM_STEP)
            event.accept()
            return
        super().wheelEvent(event)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        is_shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key == Qt.Key.Key_Escape:
            self.closed.emit()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.turned.emit(1 if key == Qt.Key.Key_Down else -1)
        elif is_shifted and key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self.zoom_values(ZOOM_STEP if key == Qt.Key.Key_PageUp else 1 / ZOOM_STEP)
        else:
            if key == Qt.Key.Key_0:
                self.show_all()
            super().keyPressEvent(event)


def _words(label: LineLabel, trend: Trend) -> str:
    """What a line stands for, with its figure."""
    names = {letter: severity.word for severity, letter in LETTERS.items()} | {"new": "New fluid"}
    name = names.get(label.text, label.text)
    return name if label.value is None else f"{name} {trend.series.analyte.text(label.value)}"
