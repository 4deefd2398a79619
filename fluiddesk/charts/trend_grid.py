"""The page of small multiples: one canvas, one hours axis, one crosshair through all panels."""

from dataclasses import replace
from typing import Final

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget
from typing_extensions import override

from fluiddesk.charts.event_marks import event_marks
from fluiddesk.charts.scales import Scale, moved_to_show, zoomed
from fluiddesk.charts.trend_layout import TrendGroup, TrendLayout, arrange, grouped_trends
from fluiddesk.charts.trend_plot import ChartView, Look, paint_readout, paint_still, plot_area
from fluiddesk.charts.trends import hour_scale, trends_of
from fluiddesk.services.compartment_history.facts import CompartmentHistory

_ZOOM_STEP: Final = 1.5
_LEAST_DRAG_PX: Final = 8.0
_LEFT_BUTTON: Final = Qt.MouseButton.LeftButton


class TrendGrid(QWidget):
    """Every analyte of one box as equal panels.

    Signals:
        sample_looked_at: index of the sample under the crosshair, or ``None``.
        panel_opened: index of a panel that was double-clicked, or chosen with Enter.
        panel_reached: the frame (``QRect``) of the panel reached by keyboard, to be scrolled to.
    """

    sample_looked_at = Signal(object)
    panel_opened = Signal(int)
    panel_reached = Signal(QRect)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._groups: tuple[TrendGroup, ...] = ()
        self._places: TrendLayout = arrange((), width=1.0)
        self._stills: dict[int, QPixmap] = {}
        self._whole = Scale(low=0.0, high=1000.0)
        self._view = ChartView(hours=self._whole)
        self._hours = np.empty(0)
        self._current = 0
        self._drag: tuple[float, float] | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)

    @property
    def places(self) -> TrendLayout:
        """The panels as they stand now."""
        return self._places

    @property
    def view(self) -> ChartView:
        """What all panels share."""
        return self._view

    @property
    def current(self) -> int:
        """The panel that keys act on."""
        return self._current

    def show_history(self, history: CompartmentHistory) -> None:
        """Draw another box, with all of its hours."""
        self._groups = grouped_trends(trends_of(history))
        self._hours = history.hours
        self._whole = hour_scale(self._hours)
        self._current = 0
        self._view = replace(self._view, hours=self._whole, marks=event_marks(history), sample=None)
        self._arrange()

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self._look = look
        self._redraw()

    def set_log(self, is_log: bool) -> None:  # noqa: FBT001 - slot of a switch
        """Draw the values on logarithmic axes, where that can be done."""
        self._change(replace(self._view, is_log=is_log))

    def set_rejected_shown(self, shows: bool) -> None:  # noqa: FBT001 - slot of a switch
        """Draw rejected samples, or leave them out."""
        self._change(replace(self._view, shows_rejected=shows))

    def show_hours(self, hours: Scale | None = None) -> None:
        """Show a span of hours in every panel; all of them by default."""
        self._change(replace(self._view, hours=hours or self._whole))

    def look_at(self, sample: int | None) -> None:
        """Put the crosshair on a sample, or take it away."""
        if sample == self._view.sample:
            return
        view = replace(self._view, sample=sample)
        if sample is not None and not np.isnan(self._hours[sample]):
            hours = moved_to_show(view.hours, float(self._hours[sample]))
            if hours is not view.hours:
                self._stills.clear()
            view = replace(view, hours=hours)
        self._view = view
        self.update()
        self.sample_looked_at.emit(sample)

    def step(self, by: int) -> None:
        """Move the crosshair to the next sample that has a place on the axis."""
        known = np.flatnonzero(~np.isnan(self._hours))
        if not len(known):
            return
        # Without a crosshair it comes in from the newest end.
        sample = self._view.sample
        at = (len(known) if sample is None else int(np.searchsorted(known, sample))) + by
        self.look_at(int(known[min(max(at, 0), len(known) - 1)]))

    def zoom(self, factor: float, *, about: float | None = None) -> None:
        """Stretch the hours axis of all panels about a value; the sample looked at by default."""
        hours = self._view.hours
        if about is None:
            sample = self._view.sample
            about = (hours.low + hours.high) / 2 if sample is None else float(self._hours[sample])
        self.show_hours(zoomed(hours, about=about, factor=factor, whole=self._whole))

    def _change(self, view: ChartView) -> None:
        self._view = view
        self._redraw()

    def _redraw(self) -> None:
        self._stills.clear()
        self.update()

    def _arrange(self) -> None:
        self._places = arrange(self._groups, width=float(max(self.width(), 1)))
        self.setMinimumHeight(round(self._places.height))
        self._redraw()

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        asked = QRectF(event.rect())
        painter.fillRect(asked, QColor(self._look.colors.ground))
        for heading, row in self._places.headings:
            if row.intersects(asked):
                painter.setFont(self._look.small)
                painter.setPen(QColor(self._look.colors.faint_ink))
                text = heading or self.tr("Matters most now")
                painter.drawText(row, Qt.AlignmentFlag.AlignVCenter, text)
        for index, panel in enumerate(self._places.panels):
            if panel.frame.adjusted(-4.0, -4.0, 4.0, 4.0).intersects(asked):
                self._paint_panel(painter, index)
        self._paint_drag(painter)
        painter.end()

    def _paint_panel(self, painter: QPainter, index: int) -> None:
        panel = self._places.panels[index]
        painter.drawPixmap(panel.frame.topLeft(), self._still(index))
        paint_readout(painter, panel.frame, trend=panel.trend, look=self._look, view=self._view)
        if self.hasFocus() and index == self._current:
            painter.setPen(QPen(QColor(self._look.colors.accent), 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(panel.frame.adjusted(-5.0, -1.0, 3.0, 3.0), 3.0, 3.0)

    def _still(self, index: int) -> QPixmap:
        """What stays the same while the crosshair moves, drawn once."""
        kept = self._stills.get(index)
        if kept is not None:
            return kept
        panel, ratio = self._places.panels[index], self.devicePixelRatioF()
        size = panel.frame.size()
        still = QPixmap(round(size.width() * ratio), round(size.height() * ratio))
        still.setDevicePixelRatio(ratio)
        still.fill(QColor(self._look.colors.ground))
        painter = QPainter(still)
        frame = QRectF(QPointF(0.0, 0.0), size)
        paint_still(painter, frame, trend=panel.trend, look=self._look, view=self._view)
        painter.end()
        self._stills[index] = still
        return still

    def _paint_drag(self, painter: QPainter) -> None:
        if self._drag is None:
            return
        shade = QColor(self._look.colors.accent)
        shade.setAlphaF(0.14)
        low, high = sorted(self._drag)
        for panel in self._places.panels:
            plot = plot_area(panel.frame)
            left = plot.left() + self._view.hours.share(low) * plot.width()
            right = plot.left() + self._view.hours.share(high) * plot.width()
            painter.fillRect(QRectF(left, plot.top(), right - left, plot.height()), shade)

    def _hours_at(self, place: QPointF) -> float | None:
        index = self._places.panel_at(place)
        if index is None:
            return None
        plot = plot_area(self._places.panels[index].frame)
        share = (place.x() - plot.left()) / plot.width()
        return self._view.hours.value(min(max(share, 0.0), 1.0))

    @override
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        hours = self._hours_at(event.position())
        if hours is None:
            return
        if self._drag is not None:
            self._drag = (self._drag[0], hours)
            self.update()
            return
        if not np.isnan(self._hours).all():
            self.look_at(int(np.nanargmin(np.abs(self._hours - hours))))

    @override
    def mousePressEvent(self, event: QMouseEvent) -> None:
        index = self._places.panel_at(event.position())
        hours = self._hours_at(event.position())
        if event.button() is not _LEFT_BUTTON or index is None or hours is None:
            return
        self._current = index
        self._drag = (hours, hours)
        self.update()

    @override
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        drag, self._drag = self._drag, None
        if drag is None:
            return
        low, high = sorted(drag)
        hours = self._view.hours
        least = (hours.high - hours.low) * _LEAST_DRAG_PX / max(self.width(), 1)
        if high - low > least * self._places.columns:
            self.show_hours(Scale(low=low, high=high))
        self.update()

    @override
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        index = self._places.panel_at(event.position())
        self._drag = None
        if index is not None:
            self._current = index
            self.panel_opened.emit(index)

    @override
    def wheelEvent(self, event: QWheelEvent) -> None:
        hours = self._hours_at(event.position())
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier and hours is not None:
            turn = event.angleDelta().y()
            self.zoom(_ZOOM_STEP if turn > 0 else 1 / _ZOOM_STEP, about=hours)
            event.accept()
        else:
            event.ignore()

    @override
    def leaveEvent(self, event: QEvent) -> None:
        if not self.hasFocus():
            self.look_at(None)

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
        key = event.key()
        moves = {
            Qt.Key.Key_Left: -1,
            Qt.Key.Key_Right: 1,
            Qt.Key.Key_Home: -(10**6),
            Qt.Key.Key_End: 10**6,
        }
        zooms = {
            Qt.Key.Key_Plus: _ZOOM_STEP,
            Qt.Key.Key_Equal: _ZOOM_STEP,
            Qt.Key.Key_Minus: 1 / _ZOOM_STEP,
        }
        if key in moves:
            self.step(moves[Qt.Key(key)])
        elif key in zooms:
            self.zoom(zooms[Qt.Key(key)])
        elif key == Qt.Key.Key_0:
            self.show_hours()
        elif key == Qt.Key.Key_Escape and self._view.sample is not None:
            self.look_at(None)
        elif not self._places.panels:
            super().keyPressEvent(event)
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._reach(self._places.neighbour(self._current, down=key == Qt.Key.Key_Down))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.panel_opened.emit(self._current)
        else:
            super().keyPressEvent(event)

    def _reach(self, index: int) -> None:
        self._current = index
        self.update()
        self.panel_reached.emit(self._places.panels[index].frame.toAlignedRect())
