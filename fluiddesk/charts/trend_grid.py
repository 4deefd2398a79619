"""The page of small multiples: one canvas, one axis, one crosshair through all panels."""

from collections.abc import Iterable

from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget
from typing_extensions import override

from fluiddesk.charts.look import Look
from fluiddesk.charts.shared_view import SharedView
from fluiddesk.charts.span_canvas import SpanCanvas
from fluiddesk.charts.trend_axes import plot_area
from fluiddesk.charts.trend_layout import TrendGroup, TrendLayout, arrange, grouped_trends
from fluiddesk.charts.trend_plot import make_backdrop, paint_readout, paint_still
from fluiddesk.charts.trend_titles import TITLE
from fluiddesk.charts.trends import Trend, trends_of


class TrendGrid(SpanCanvas):
    """Every analyte of one box as equal panels.

    Signals:
        panel_opened: index of a panel that was double-clicked, or chosen with Enter.
        panel_reached: the frame (``QRect``) of the panel reached by keyboard, to be scrolled to.
    """

    panel_opened = Signal(int)
    panel_reached = Signal(QRect)
    needs_control = True

    def __init__(self, shared: SharedView, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(shared, look, parent)
        self._groups: tuple[TrendGroup, ...] = ()
        self._places: TrendLayout = arrange((), width=1.0)
        self._stills: dict[int, QPixmap] = {}
        self._backdrop: QPixmap | None = None
        self._current = 0
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        shared.reframed.connect(self._reframe)
        shared.redrawn.connect(self.redraw)
        shared.sample_looked_at.connect(self._look)

    @property
    def places(self) -> TrendLayout:
        """The panels as they stand now."""
        return self._places

    @property
    def current(self) -> int:
        """The panel that keys act on."""
        return self._current

    @property
    def current_trend(self) -> Trend | None:
        """The analyte of the panel that keys act on."""
        panels = self._places.panels
        return panels[self._current].trend if self._current < len(panels) else None

    def reach(self, index: int) -> None:
        """Have keys act on another panel, and bring it into view."""
        if 0 <= index < len(self._places.panels):
            self._current = index
            self.update()
            self.panel_reached.emit(self._places.panels[index].frame.toAlignedRect())

    def start_over(self) -> None:
        """Have keys act on the first panel again."""
        self._current = 0

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self.look = look
        self.redraw()

    def redraw(self) -> None:
        """Draw every panel anew."""
        self._stills.clear()
        self._backdrop = None
        self.update()

    def _reframe(self) -> None:
        history = self.shared.history
        if history is not None:
            leading = [reason.rule.analyte for reason in history.reasons]
            self._groups = grouped_trends(trends_of(history, self.shared.frame), leading)
            self._arrange()

    def _look(self, _sample: object) -> None:
        self.update()

    def _arrange(self) -> None:
        self._places = arrange(self._groups, width=float(max(self.width(), 1)))
        self.setMinimumHeight(round(self._places.height))
        self.redraw()

    @override
    def plots(self) -> Iterable[QRectF]:
        return (plot_area(panel.frame) for panel in self._places.panels)

    @override
    def plot_at(self, place: QPointF) -> QRectF | None:
        index = self._places.panel_at(place)
        return None if index is None else plot_area(self._places.panels[index].frame)

    @override
    def press(self, place: QPointF) -> None:
        index = self._places.panel_at(place)
        self._current = self._current if index is None else index

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._arrange()

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        asked = QRectF(event.rect())
        painter.fillRect(asked, QColor(self.look.colors.ground))
        for heading, row in self._places.headings:
            if row.intersects(asked):
                painter.setFont(self.look.small)
                painter.setPen(QColor(self.look.colors.faint_ink))
                text = heading or self.tr("Matters most now")
                painter.drawText(row, Qt.AlignmentFlag.AlignVCenter, text)
        for index, panel in enumerate(self._places.panels):
            if panel.frame.adjusted(-4.0, -4.0, 4.0, 4.0).intersects(asked):
                self._paint_panel(painter, index)
        self.paint_drag(painter)
        painter.end()

    def _paint_panel(self, painter: QPainter, index: int) -> None:
        panel, view = self._places.panels[index], self.shared.view
        painter.drawPixmap(panel.frame.topLeft(), self._still(index))
        paint_readout(painter, panel.frame, trend=panel.trend, look=self.look, view=view)
        if self.hasFocus() and index == self._current:
            painter.setPen(QPen(QColor(self.look.colors.accent), 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(panel.frame.adjusted(-5.0, -1.0, 3.0, 3.0), 3.0, 3.0)

    def _still(self, index: int) -> QPixmap:
        """What stays the same while the crosshair moves, drawn once."""
        kept = self._stills.get(index)
        if kept is not None:
            return kept
        panel, ratio, view = self._places.panels[index], self.devicePixelRatioF(), self.shared.view
        size = panel.frame.size()
        if self._backdrop is None:
            self._backdrop = make_backdrop(panel.frame, look=self.look, view=view, ratio=ratio)
        still = QPixmap(round(size.width() * ratio), round(size.height() * ratio))
        still.setDevicePixelRatio(ratio)
        still.fill(QColor(self.look.colors.ground))
        painter = QPainter(still)
        frame = QRectF(QPointF(0.0, 0.0), size)
        paint_still(
            painter, frame, trend=panel.trend, look=self.look, view=view, backdrop=self._backdrop
        )
        painter.end()
        self._stills[index] = still
        return still

    def told_at(self, place: QPointF) -> str:
        """What stands behind the title under a point: unit, limits with source, like machines."""
        index = self._places.panel_at(place)
        if index is None or place.y() > self._places.panels[index].frame.top() + TITLE:
            return ""
        series = self._places.panels[index].trend.series
        lines = [f"{series.analyte.name}, {series.analyte.unit}"]
        lines += [f"{band.text}; {band.source}, set by {band.set_by}" for band in series.bands]
        if series.sisters is not None:
            sisters = series.sisters
            lines.append(
                self.tr("Grey: {boxes} boxes, {samples} samples of {scope}").format(
                    boxes=sisters.boxes, samples=sisters.samples, scope=sisters.scope
                )
            )
        return "\n".join(lines)

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

    @override
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        super().mouseDoubleClickEvent(event)
        index = self._places.panel_at(event.position())
        if index is not None:
            self._current = index
            self.panel_opened.emit(index)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        if not self._places.panels or self.take_key(event):
            return
        if key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self.reach(self._places.neighbour(self._current, down=key == Qt.Key.Key_Down))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.panel_opened.emit(self._current)
        else:
            super().keyPressEvent(event)
