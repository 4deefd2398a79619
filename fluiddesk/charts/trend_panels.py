"""The curves of one box: readout, events, and the page of panels or one enlarged."""

from typing import Final

import numpy as np
from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QGuiApplication,
    QImage,
    QKeyEvent,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QShortcut,
)
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.charts.enlarged_trend import SIDES as ENLARGED_SIDES
from fluiddesk.charts.enlarged_trend import EnlargedTrend
from fluiddesk.charts.event_lane import EventLane
from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import grouped
from fluiddesk.charts.shared_view import SharedView
from fluiddesk.charts.trend_data import all_data_text, data_text
from fluiddesk.charts.trend_grid import TrendGrid
from fluiddesk.charts.trend_plot import paint_trend
from fluiddesk.charts.trend_switches import TrendSwitches
from fluiddesk.charts.trend_titles import title_unit
from fluiddesk.charts.trends import Trend, trends_of
from fluiddesk.services.compartment_history.facts import CompartmentHistory, SampleFacts

_COPIED: Final = QSize(640, 320)
_COPY_SCALE: Final = 2.0


class _Readout(QLabel):
    """A line of text that is cut with an ellipsis where the switches leave no room for it."""

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setPen(self.palette().color(self.foregroundRole()))
        room = self.contentsRect()
        cut = self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, cut)
        painter.end()


class TrendPanels(QWidget):
    """All analytes of one box on one axis. Widgets are kept from box to box.

    ``switches`` are to be placed by the page that holds these panels.
    """

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self.shared = SharedView(self)
        self.lane = EventLane(self.shared, look)
        self.grid = TrendGrid(self.shared, look)
        self.enlarged = EnlargedTrend(self.shared, look)
        self.switches = TrendSwitches(self.shared, look)
        self.readout = _Readout()
        self._back = QPushButton(self.tr("All analytes"))
        self._scroll = QScrollArea()
        self._stack = QStackedWidget()
        self._lay_out()
        self._connect()
        self.apply_look(look)

    @property
    def is_enlarged(self) -> bool:
        """Whether one analyte fills the page."""
        return self._stack.currentWidget() is self.enlarged

    def show_history(self, history: CompartmentHistory) -> None:
        """Draw another box in the widgets that are there."""
        former = self.shared.history
        is_other = former is None or former.compartment != history.compartment
        if is_other:
            self.close_enlarged()
            self.grid.start_over()
        self.shared.show_history(history)
        if is_other:
            self._scroll.verticalScrollBar().setValue(0)
        elif self.is_enlarged:
            self._keep_enlarged()
        self.grid.setAccessibleName(
            self.tr("Trends of {box}, {machine}").format(box=history.box, machine=history.machine)
        )
        x = self.shared.frame.x
        self.switches.set_enabled(has_samples=bool(len(x)) and not bool(np.isnan(x).all()))
        self._show_readout(self.shared.view.sample)

    def _keep_enlarged(self) -> None:
        """After the box was read again: the same analyte with its new values."""
        trend = self.enlarged.trend
        code = trend.series.analyte.code if trend else ""
        panels = self.grid.places.panels
        same = [i for i, panel in enumerate(panels) if panel.trend.series.analyte.code == code]
        if same:
            self.enlarge(same[0])
        else:
            self.close_enlarged()

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self._look = look
        for part in (self.lane, self.grid, self.enlarged, self.switches):
            part.apply_look(look)
        self._show_readout(self.shared.view.sample)

    def enlarge(self, index: int) -> None:
        """Show one panel over the whole page."""
        if not 0 <= index < len(self.grid.places.panels):
            return
        self.grid.reach(index)
        self.enlarged.show_trend(self.grid.places.panels[index].trend)
        self._stack.setCurrentWidget(self.enlarged)
        self.enlarged.setFocus()
        self.lane.align(ENLARGED_SIDES)
        self._back.show()
        self._show_readout(self.shared.view.sample)

    def close_enlarged(self) -> None:
        """Back to the page of panels."""
        self._back.hide()
        if self.is_enlarged:
            self._stack.setCurrentWidget(self._scroll)
            self.lane.align()
            self.grid.setFocus()
            self._show_readout(self.shared.view.sample)

    def copy_picture(self) -> None:
        """Put the current panel on the clipboard as a picture."""
        trend = self._trend_to_copy()
        if trend is not None:
            # Picture and data in one go would need a clipboard content made here, which outlives
            # the interpreter and ends the program with a fault.
            QGuiApplication.clipboard().setImage(self._picture(trend))

    def copy_data(self) -> None:
        """Put the samples of the current panel on the clipboard as tab-separated text."""
        trend, history = self._trend_to_copy(), self.shared.history
        if trend is not None and history is not None:
            QGuiApplication.clipboard().setText(data_text(trend, history.samples))

    def copy_all_data(self) -> None:
        """Put the samples of every analyte on the clipboard as tab-separated text."""
        history = self.shared.history
        if history is not None:
            trends = trends_of(history, self.shared.frame)
            QGuiApplication.clipboard().setText(all_data_text(trends, history.samples))

    def _trend_to_copy(self) -> Trend | None:
        return self.enlarged.trend if self.is_enlarged else self.grid.current_trend

    def _picture(self, trend: Trend) -> QImage:
        size = _COPIED * _COPY_SCALE
        image = QImage(size, QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(_COPY_SCALE)
        image.fill(QColor(self._look.colors.ground))
        painter = QPainter(image)
        frame = QRectF(12.0, 8.0, _COPIED.width() - 24.0, _COPIED.height() - 16.0)
        paint_trend(painter, frame, trend=trend, look=self._look, view=self.shared.view)
        painter.end()
        return image

    def _show_readout(self, sample: int | None) -> None:
        """Say which sample the crosshair is on, and its value where one analyte is enlarged."""
        history = self.shared.history
        text = "" if history is None or sample is None else self._told(history.samples[sample])
        if self.is_enlarged and self.enlarged.trend is not None:
            trend = self.enlarged.trend
            shown = trend.series.shown(sample) if sample is not None else ""
            title = f"{trend.series.analyte.name}  {shown} {title_unit(trend)}".rstrip()
            text = f"{title}   {text}".rstrip()
        is_hint = not text
        if is_hint and history is not None and history.samples:
            text = self._hint(history)
        self.readout.setFont(self._look.small if is_hint else self._look.body)
        shade = self.readout.palette()
        colors = self._look.colors
        ink = QColor(colors.faint_ink if is_hint else colors.ink)
        shade.setColor(self.readout.foregroundRole(), ink)
        self.readout.setPalette(shade)
        self.readout.setText(text)
        self.readout.setToolTip(text)
        self.grid.setAccessibleDescription(text)
        self.enlarged.setAccessibleDescription(text)

    def _hint(self, history: CompartmentHistory) -> str:
        """What the lines and grounds mean, as far as this box has them."""
        parts = []
        if any(one.reference is not None for one in history.series):
            parts.append(self.tr("Dashed: new fluid."))
        if any(one.sisters is not None for one in history.series):
            parts.append(self.tr("Grey: like machines, 10 to 90 %."))
        if any(one.other_side is not None for one in history.series):
            parts.append(self.tr("Dotted: other side."))
        if any(not mark.is_certain for mark in self.shared.view.marks):
            parts.append(self.tr("Hatched: inferred."))
        return " ".join(parts)

    def _told(self, sample: SampleFacts) -> str:
        parts = [
            sample.taken_on.isoformat(),
            self.tr("{hours} h").format(hours=_whole(sample.hours)),
            self.tr("{hours} h on fluid").format(hours=_whole(sample.fluid_hours)),
            sample.severity.word,
        ]
        if sample.trust_reason:
            parts.append(f"{sample.trust.word}: {sample.trust_reason}")
        return "   ".join(parts)

    def _lay_out(self) -> None:
        self._scroll.setWidget(self.grid)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOn)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._stack.addWidget(self._scroll)
        self._stack.addWidget(self.enlarged)
        self._back.hide()
        # A long readout gives way: the switches keep their place.
        self.readout.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.readout.setMinimumHeight(QFontMetrics(self._look.body).height())
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, 4)
        row.setSpacing(8)
        row.addWidget(self._back)
        row.addWidget(self.readout, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        column.addWidget(self.lane)
        column.addWidget(self._stack, 1)

    def _connect(self) -> None:
        self._back.clicked.connect(self.close_enlarged)
        self.switches.picture_asked.connect(self.copy_picture)
        self.switches.data_asked.connect(self.copy_data)
        self.switches.all_data_asked.connect(self.copy_all_data)
        self.shared.sample_looked_at.connect(self._show_readout)
        self.shared.reframed.connect(self._follow_axis)
        self.grid.panel_opened.connect(self.enlarge)
        self.grid.panel_reached.connect(self._scroll_to)
        self.enlarged.closed.connect(self.close_enlarged)
        self.enlarged.turned.connect(self._turn)
        picture = QShortcut(QKeySequence(QKeySequence.StandardKey.Copy), self)
        picture.activated.connect(self.copy_picture)
        data = QShortcut(QKeySequence("Ctrl+Shift+C"), self)
        data.activated.connect(self.copy_data)
        for shortcut in (picture, data):
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)

    def _turn(self, by: int) -> None:
        count = len(self.grid.places.panels)
        self.enlarge(min(max(self.grid.current + by, 0), count - 1))

    def _follow_axis(self) -> None:
        """On another axis the enlarged analyte stands at other places."""
        trend = self.grid.current_trend
        if self.is_enlarged and trend is not None:
            self.enlarged.show_trend(trend)

    def _scroll_to(self, frame: QRect) -> None:
        center, half = frame.center(), frame.height() // 2 + 12
        self._scroll.ensureVisible(center.x(), center.y(), 0, half)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        # Letters reach the page of curves from whichever chart has the keyboard.
        is_plain = event.modifiers() in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.ShiftModifier,
        )
        if not (is_plain and self.switches.take_key(event.text())):
            super().keyPressEvent(event)


def _whole(hours: float) -> str:
    return "\u2013" if np.isnan(hours) else grouped(hours)
