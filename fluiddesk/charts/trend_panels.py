"""The charts of one box: switches and readout above, the page of panels or one enlarged below."""

from typing import TYPE_CHECKING, Final

import numpy as np
from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QGuiApplication,
    QImage,
    QKeySequence,
    QPainter,
    QPaintEvent,
    QShortcut,
)
from PySide6.QtWidgets import (
    QCheckBox,
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

from fluiddesk.charts.scales import Scale, grouped
from fluiddesk.charts.trend_grid import TrendGrid
from fluiddesk.charts.trend_plot import Look, paint_trend, title_unit
from fluiddesk.charts.trends import Trend
from fluiddesk.services.compartment_history.facts import CompartmentHistory, SampleFacts

if TYPE_CHECKING:
    from fluiddesk.charts.enlarged_trend import EnlargedTrend

_COPIED: Final = QSize(640, 320)
_COPY_SCALE: Final = 2.0
_LEAST_HOURS: Final = 50.0


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
    """All analytes of one box against machine hours. Widgets are kept from box to box."""

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._history: CompartmentHistory | None = None
        self._enlarged: EnlargedTrend | None = None
        self.grid = TrendGrid(look)
        self.readout = _Readout()
        self._back = QPushButton(self.tr("All analytes"))
        self._whole = QPushButton(self.tr("All hours"))
        self._last_fill = QPushButton(self.tr("This fill"))
        self._log = QCheckBox(self.tr("Log scale"))
        self._rejected = QCheckBox(self.tr("Rejected"))
        self._rejected.setToolTip(self.tr("Show rejected samples, as crosses"))
        self._scroll = QScrollArea()
        self._stack = QStackedWidget()
        self._lay_out()
        self._connect()
        self.apply_look(look)

    @property
    def enlarged(self) -> "EnlargedTrend | None":
        """The enlarged plot, once one was asked for."""
        return self._enlarged

    @property
    def is_enlarged(self) -> bool:
        """Whether one analyte fills the page."""
        return self._stack.currentWidget() is not self._scroll

    def show_history(self, history: CompartmentHistory) -> None:
        """Draw another box in the widgets that are there."""
        self._history = history
        self.close_enlarged()
        self.grid.show_history(history)
        self._scroll.verticalScrollBar().setValue(0)
        self.grid.setAccessibleName(
            self.tr("Trends of {box}, {machine}").format(box=history.box, machine=history.machine)
        )
        has_hours = bool(len(history.hours)) and not bool(np.isnan(history.hours).all())
        for switch in (self._whole, self._last_fill, self._log, self._rejected):
            switch.setEnabled(has_hours)
        self._show_readout(None)

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self._look = look
        self.grid.apply_look(look)
        self._show_readout(self.grid.view.sample)
        if self._enlarged is not None:
            self._enlarged.apply_look(look)

    def enlarge(self, index: int) -> None:
        """Show one panel over the whole page, where it can be zoomed and dragged."""
        if self._enlarged is None:
            from fluiddesk.charts.enlarged_trend import EnlargedTrend

            self._enlarged = EnlargedTrend(self._look)
            self._enlarged.closed.connect(self.close_enlarged)
            self._enlarged.stepped.connect(self.grid.step)
            self._stack.addWidget(self._enlarged)
        self._enlarged.show_trend(self.grid.places.panels[index].trend, self.grid.view)
        self._stack.setCurrentWidget(self._enlarged)
        self._enlarged.setFocus()
        self._back.show()
        self._last_fill.hide()
        self._show_readout(self.grid.view.sample)

    def close_enlarged(self) -> None:
        """Back to the page of panels."""
        self._back.hide()
        self._last_fill.show()
        if self.is_enlarged:
            self._stack.setCurrentWidget(self._scroll)
            self.grid.setFocus()
            self._show_readout(self.grid.view.sample)

    def show_all_hours(self) -> None:
        """Show every sample, in the panels and in the enlarged one."""
        self.grid.show_hours()
        if self._enlarged is not None and self._enlarged.trend is not None and self.is_enlarged:
            self._enlarged.show_trend(self._enlarged.trend, self.grid.view)

    def show_last_fill(self) -> None:
        """Zoom all panels to the fluid now in the box."""
        history = self._history
        if history is None or not history.samples:
            return
        hours = history.hours[history.fills == history.fills[-1]]
        hours = hours[~np.isnan(hours)]
        if len(hours):
            room = max((hours.max() - hours.min()) * 0.15, _LEAST_HOURS)
            self.grid.show_hours(
                Scale(low=float(hours.min() - room), high=float(hours.max() + room))
            )

    def copy_picture(self) -> None:
        """Put the current panel on the clipboard as a picture."""
        trend = self._trend_to_copy()
        if trend is not None:
            # Picture and data in one go would need a clipboard content made here, which outlives
            # the interpreter and ends the program with a fault.
            QGuiApplication.clipboard().setImage(self._picture(trend))

    def copy_data(self) -> None:
        """Put the samples of the current panel on the clipboard as tab-separated text."""
        trend = self._trend_to_copy()
        if trend is not None and self._history is not None:
            QGuiApplication.clipboard().setText(data_text(trend, self._history.samples))

    def _trend_to_copy(self) -> Trend | None:
        if self.is_enlarged and self._enlarged is not None:
            return self._enlarged.trend
        panels = self.grid.places.panels
        return panels[self.grid.current].trend if panels else None

    def _picture(self, trend: Trend) -> QImage:
        size = _COPIED * _COPY_SCALE
        image = QImage(size, QImage.Format.Format_RGB32)
        image.setDevicePixelRatio(_COPY_SCALE)
        image.fill(QColor(self._look.colors.ground))
        painter = QPainter(image)
        frame = QRectF(12.0, 8.0, _COPIED.width() - 24.0, _COPIED.height() - 16.0)
        paint_trend(painter, frame, trend=trend, look=self._look, view=self.grid.view)
        painter.end()
        return image

    def _show_readout(self, sample: int | None) -> None:
        """Say which sample the crosshair is on, and its value where one analyte is enlarged."""
        history, is_hint = self._history, False
        text = "" if history is None or sample is None else self._told(history.samples[sample])
        if self.is_enlarged and self._enlarged is not None and self._enlarged.trend is not None:
            trend = self._enlarged.trend
            shown = trend.series.shown(sample) if sample is not None else ""
            title = f"{trend.series.analyte.name}  {shown} {title_unit(trend)}".rstrip()
            text = f"{title}   {text}".rstrip()
        elif not text and history is not None and history.samples:
            is_hint = True
            text = self.tr("Lines: fluid changes. Ticks: top-ups and other work")
        self.readout.setFont(self._look.small if is_hint else self._look.body)
        shade = self.readout.palette()
        colors = self._look.colors
        ink = QColor(colors.faint_ink if is_hint else colors.ink)
        shade.setColor(self.readout.foregroundRole(), ink)
        self.readout.setPalette(shade)
        self.readout.setText(text)
        self.readout.setToolTip(text)
        self.grid.setAccessibleDescription(text)

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
        self._rejected.setChecked(True)
        self._back.hide()
        # A long readout gives way: the switches keep their place.
        self.readout.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
        self.readout.setMinimumHeight(QFontMetrics(self._look.body).height())
        row = QHBoxLayout()
        row.setContentsMargins(0, 0, 0, 4)
        row.setSpacing(8)
        row.addWidget(self._back)
        row.addWidget(self.readout, 1)
        for switch in (self._log, self._rejected, self._last_fill, self._whole):
            row.addWidget(switch)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(row)
        column.addWidget(self._stack, 1)

    def _connect(self) -> None:
        self._back.clicked.connect(self.close_enlarged)
        self._whole.clicked.connect(self.show_all_hours)
        self._last_fill.clicked.connect(self.show_last_fill)
        self._log.toggled.connect(self._set_log)
        self._rejected.toggled.connect(self._set_rejected)
        self.grid.sample_looked_at.connect(self._look_at)
        self.grid.panel_opened.connect(self.enlarge)
        self.grid.panel_reached.connect(self._scroll_to)
        picture = QShortcut(QKeySequence(QKeySequence.StandardKey.Copy), self)
        picture.activated.connect(self.copy_picture)
        data = QShortcut(QKeySequence("Ctrl+Shift+C"), self)
        data.activated.connect(self.copy_data)
        for shortcut in (picture, data):
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)

    def _look_at(self, sample: int | None) -> None:
        self._show_readout(sample)
        self._follow_grid()

    def _set_log(self, is_log: bool) -> None:  # noqa: FBT001 - slot of a switch
        self.grid.set_log(is_log)
        self._follow_grid()

    def _set_rejected(self, shows: bool) -> None:  # noqa: FBT001 - slot of a switch
        self.grid.set_rejected_shown(shows)
        self._follow_grid()

    def _follow_grid(self) -> None:
        if self._enlarged is not None and self.is_enlarged:
            self._enlarged.set_view(self.grid.view)

    def _scroll_to(self, frame: QRect) -> None:
        center, half = frame.center(), frame.height() // 2 + 12
        self._scroll.ensureVisible(center.x(), center.y(), 0, half)


def data_text(trend: Trend, samples: tuple[SampleFacts, ...]) -> str:
    """One analyte's samples as a table: date, hours, fluid hours, value, severity, bottle."""
    analyte = trend.series.analyte
    lines = [
        "\t".join(
            (
                "Date",
                "Hours",
                "Hours on fluid",
                f"{analyte.name} ({analyte.unit})",
                "Severity",
                "Trust",
                "Bottle",
            )
        )
    ]
    for index, sample in enumerate(samples):
        shown = trend.series.shown(index)
        if shown:
            lines.append(
                "\t".join(
                    (
                        sample.taken_on.isoformat(),
                        _plain(sample.hours),
                        _plain(sample.fluid_hours),
                        shown,
                        sample.severity.word,
                        sample.trust.word,
                        sample.bottle_code,
                    )
                )
            )
    return "\n".join(lines)


def _whole(hours: float) -> str:
    return "\u2013" if np.isnan(hours) else grouped(hours)


def _plain(hours: float) -> str:
    return "" if np.isnan(hours) else f"{hours:.0f}"
