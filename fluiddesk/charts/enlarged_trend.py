"""One analyte over the whole page, to be zoomed and dragged in both directions.

The axes, zooming and dragging are pyqtgraph's; what stands between the axes is the drawing of the
small panels, so that both say the same. Importing this module loads pyqtgraph, which takes a while:
it is imported when a panel is first enlarged.
"""

from dataclasses import replace
from typing import Any, Final

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QTransform
from PySide6.QtWidgets import (
    QGraphicsItem,
    QStyleOptionGraphicsItem,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.charts.scales import Scale
from fluiddesk.charts.trend_plot import ChartView, Look, paint_crosshair, paint_plot
from fluiddesk.charts.trends import Trend, value_scale

_RIGHT_ROOM: Final = 34.0
_LABEL_WIDTH: Final = 30.0


class _Drawing(QGraphicsItem):
    """Everything between the axes, drawn in pixels by the painter of the small panels."""

    def __init__(self, owner: "EnlargedTrend") -> None:
        super().__init__()
        self._owner = owner

    @override
    def boundingRect(self) -> QRectF:
        return QRectF(self._owner.view_rect())

    @override
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        self._owner.paint_between_axes(painter)


class EnlargedTrend(QWidget):
    """One analyte, large. Left and Right move the crosshair, 0 shows everything, Esc goes back.

    Signals:
        closed: the person wants the page of panels back.
        stepped: by how many samples the crosshair is to be moved.
    """

    closed = Signal()
    stepped = Signal(int)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._trend: Trend | None = None
        self._view = ChartView(hours=Scale(low=0.0, high=1.0))
        self._plot: Any = pg.PlotWidget(self)
        self._box: Any = self._plot.getViewBox()
        self._drawing = _Drawing(self)
        self._make_plot()
        room = QVBoxLayout(self)
        room.setContentsMargins(0, 0, 0, 0)
        room.addWidget(self._plot)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.apply_look(look)

    @property
    def trend(self) -> Trend | None:
        """The analyte on show."""
        return self._trend

    def show_trend(self, trend: Trend, view: ChartView) -> None:
        """Show one analyte over the hours that the panels show."""
        self._trend = trend
        self._view = view
        scale = value_scale(trend, is_log=view.is_log, with_rejected=view.shows_rejected)
        self._plot.setLogMode(x=False, y=scale.is_log)
        low, high = scale.low, scale.high
        if scale.is_log:
            low, high = float(np.log10(low)), float(np.log10(high))
        self._box.setRange(
            xRange=(view.hours.low, view.hours.high), yRange=(low, high), padding=0.0
        )
        self._is_log = scale.is_log
        axis = self._plot.getAxis("left")
        presence = trend.series.analyte.is_presence_test
        axis.setTicks([[(0.0, "absent"), (1.0, "present")]] if presence else None)
        self.setAccessibleName(trend.series.analyte.name)
        self._drawing.update()

    def set_view(self, view: ChartView) -> None:
        """Follow the panels: the crosshair, and whether rejected samples are shown."""
        is_other_axis = view.is_log != self._view.is_log
        self._view = view
        if is_other_axis and self._trend is not None:
            self.show_trend(self._trend, view)
        self._drawing.update()

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self._look = look
        self._plot.setBackground(QColor(look.colors.ground))
        for side in ("left", "bottom"):
            axis = self._plot.getAxis(side)
            axis.setPen(QColor(look.colors.hairline))
            axis.setTextPen(QColor(look.colors.faint_ink))
            axis.setTickFont(look.small)
            axis.setStyle(tickLength=4)
        self._drawing.update()

    def view_rect(self) -> QRectF:
        """The part of the plane on show, in data coordinates."""
        return QRectF(self._box.viewRect())

    def paint_between_axes(self, painter: QPainter) -> None:
        """Draw limits, events, points and the crosshair at the present zoom."""
        if self._trend is None:
            return
        (left, right), (low, high) = self._box.viewRange()
        if self._is_log:
            low, high = 10.0**low, 10.0**high
        scale = Scale(low=low, high=high, is_log=self._is_log)
        view = replace(self._view, hours=Scale(low=left, high=right))
        plot = QRectF(self._box.sceneBoundingRect())
        painter.save()
        # Marks keep their size: they are drawn in pixels, not in data coordinates.
        painter.setWorldTransform(QTransform())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        labels = paint_plot(
            painter, plot, trend=self._trend, scale=scale, look=self._look, view=view
        )
        paint_crosshair(painter, plot, trend=self._trend, scale=scale, look=self._look, view=view)
        painter.setFont(self._look.small)
        painter.setPen(QColor(self._look.colors.faint_ink))
        for label in labels:
            box = QRectF(plot.right() - _LABEL_WIDTH - 4.0, label.y - 16.0, _LABEL_WIDTH, 16.0)
            painter.drawText(
                box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, label.text
            )
        painter.restore()

    def _make_plot(self) -> None:
        self._is_log = False
        self._plot.hideButtons()
        self._plot.setMenuEnabled(False)
        self._plot.setFrameShape(pg.QtWidgets.QFrame.Shape.NoFrame)
        self._plot.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        for side in ("left", "bottom"):
            # A factor of thousand before the unit would hide the figure that limits are set in.
            self._plot.getAxis(side).enableAutoSIPrefix(enable=False)
        self._box.disableAutoRange()
        self._box.addItem(self._drawing, ignoreBounds=True)
        self._box.sigRangeChanged.connect(self._follow_range)

    def _follow_range(self) -> None:
        self._drawing.prepareGeometryChange()
        self._drawing.update()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        zooms = {Qt.Key.Key_Plus: 0.7, Qt.Key.Key_Equal: 0.7, Qt.Key.Key_Minus: 1.4}
        if key == Qt.Key.Key_Escape:
            self.closed.emit()
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self.stepped.emit(1 if key == Qt.Key.Key_Right else -1)
        elif key in zooms:
            self._box.scaleBy((zooms[Qt.Key(key)], 1.0))
        elif key == Qt.Key.Key_0 and self._trend is not None:
            self.show_trend(self._trend, self._view)
        else:
            super().keyPressEvent(event)
