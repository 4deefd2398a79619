"""A drawn chart on the shared axis: pointer, wheel and keys act alike on all of them."""

from collections.abc import Iterable
from typing import Final

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import Scale
from fluiddesk.charts.shared_view import ZOOM_STEP, SharedView

_LEAST_DRAG_PX: Final = 8.0
_DRAG_ALPHA: Final = 0.14


class SpanCanvas(QWidget):
    """Dragging over a stretch zooms to it, the wheel zooms, Left and Right walk the samples."""

    needs_control: bool = False
    """Whether the wheel zooms with Ctrl alone, as it scrolls the page otherwise."""

    def __init__(self, shared: SharedView, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shared = shared
        self.look = look
        self._drag: tuple[float, float] | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def plots(self) -> Iterable[QRectF]:
        """The areas that hold the shared axis."""
        raise NotImplementedError

    def plot_at(self, place: QPointF) -> QRectF | None:
        """The area a point belongs to."""
        raise NotImplementedError

    def press(self, place: QPointF) -> None:
        """Hear that the pointer was pressed somewhere."""

    def paint_drag(self, painter: QPainter) -> None:
        """Shade the stretch that is being dragged over."""
        if self._drag is None:
            return
        shade = QColor(self.look.colors.accent)
        shade.setAlphaF(_DRAG_ALPHA)
        low, high = sorted(self._drag)
        span = self.shared.view.span
        for plot in self.plots():
            left = plot.left() + span.share(low) * plot.width()
            right = plot.left() + span.share(high) * plot.width()
            painter.fillRect(QRectF(left, plot.top(), right - left, plot.height()), shade)

    def _place_at(self, place: QPointF) -> float | None:
        plot = self.plot_at(place)
        if plot is None:
            return None
        share = (place.x() - plot.left()) / plot.width()
        return self.shared.view.span.value(min(max(share, 0.0), 1.0))

    @override
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        place = self._place_at(event.position())
        if place is None:
            return
        if self._drag is not None:
            self._drag = (self._drag[0], place)
            self.update()
        else:
            self.shared.look_near(place)

    @override
    def mousePressEvent(self, event: QMouseEvent) -> None:
        place = self._place_at(event.position())
        if event.button() is Qt.MouseButton.LeftButton and place is not None:
            self.press(event.position())
            self._drag = (place, place)
            self.update()

    @override
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        drag, self._drag = self._drag, None
        plot = self.plot_at(event.position()) or next(iter(self.plots()), None)
        if drag is None or plot is None:
            return
        low, high = sorted(drag)
        span = self.shared.view.span
        if high - low > (span.high - span.low) * _LEAST_DRAG_PX / plot.width():
            self.shared.show_span(Scale(low=low, high=high))
        self.update()

    @override
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._drag = None

    @override
    def wheelEvent(self, event: QWheelEvent) -> None:
        is_meant = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        place = self._place_at(event.position())
        turn = event.angleDelta().y()
        if place is None or not turn or not (is_meant or not self.needs_control):
            event.ignore()
            return
        self.shared.zoom(ZOOM_STEP if turn > 0 else 1 / ZOOM_STEP, about=place)
        event.accept()

    @override
    def leaveEvent(self, event: QEvent) -> None:
        if not self.hasFocus():
            self.shared.look_at(None)

    @override
    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    @override
    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self.take_key(event):
            super().keyPressEvent(event)

    def take_key(self, event: QKeyEvent) -> bool:
        """Do what a key asks for; whether it asked for anything."""
        acts = self.shared.key_acts()
        pressed = QKeySequence(event.keyCombination()).toString(
            QKeySequence.SequenceFormat.PortableText
        )
        # On the number pad and with Shift the same signs come under other names.
        act = acts.get(pressed.removeprefix("Num+")) or acts.get(event.text())
        if event.key() == Qt.Key.Key_Escape and self.shared.view.sample is not None:
            act = lambda: self.shared.look_at(None)  # noqa: E731 - one of the acts, made here
        if act is None:
            return False
        act()
        return True
