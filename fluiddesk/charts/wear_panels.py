"""True wear of every metal of one box: a row of charts each, walked through fill by fill."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from PySide6.QtCore import QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QFontMetricsF,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget
from typing_extensions import override

from fluiddesk.charts.look import Look
from fluiddesk.charts.scales import grouped
from fluiddesk.charts.wear_plots import (
    RateUnit,
    hours_scale,
    paint_control_chart,
    paint_grams,
    paint_rates,
    rate_now,
    rate_of,
)
from fluiddesk.services.compartment_history.wear_facts import AnalyteWear, FillWear, TrueWear

_HEAD: Final = 22.0
_TITLE: Final = 18.0
_PANEL: Final = 118.0
_AFTER: Final = 20.0
_GAP: Final = 20.0
_COLUMNS: Final = 3
_SIDES: Final = (44.0, 34.0)
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT_ALIGNED: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_WRAPPED: Final = (
    Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextWordWrap
)
_ROW: Final = _HEAD + _TITLE + _PANEL + _AFTER


class WearPanels(QWidget):
    """Left and Right walk through the fills, Up and Down through the metals.

    Signals:
        fill_looked_at: words about the fill under the pointer, or empty.
        metal_reached: the frame (``QRect``) of the metal reached by keyboard, to be scrolled to.
    """

    fill_looked_at = Signal(str)
    metal_reached = Signal(QRect)

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._wear = TrueWear()
        self._unit = RateUnit.PPM_PER_100_H
        self._current = 0
        self._fill: int | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Minimum)
        self.setAccessibleName(self.tr("True wear"))

    @property
    def metals(self) -> Sequence[AnalyteWear]:
        """What is drawn, from top to bottom."""
        return self._wear.metals

    @property
    def current(self) -> int:
        """The metal that keys act on."""
        return self._current

    @property
    def unit(self) -> RateUnit:
        """The unit of the rates."""
        return self._unit

    def show_wear(self, wear: TrueWear) -> None:
        """Draw another box."""
        self._wear, self._current, self._fill = wear, 0, None
        self.setMinimumHeight(round(_ROW * len(wear.metals)))
        self.update()

    def set_unit(self, unit: RateUnit) -> None:
        """Tell rates in another unit."""
        self._unit = unit
        self.update()
        self._tell()

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        self._look = look
        self.update()

    def step(self, by: int) -> None:
        """Move to the next fill of the metal that keys act on; without one, come in at the end."""
        if not self.metals:
            return
        count = len(self.metals[self._current].fills)
        if count:
            at = (count if self._fill is None else self._fill) + by
            self._look_at(self._current, min(max(at, 0), count - 1))

    def told(self) -> str:
        """Words about the fill looked at."""
        if self._fill is None or not self.metals:
            return ""
        wear = self.metals[self._current]
        return fill_words(wear, wear.fills[self._fill], self._unit)

    def copy_data(self) -> None:
        """Put the fills of every metal on the clipboard as tab-separated text."""
        QGuiApplication.clipboard().setText(wear_text(self.metals))

    def _look_at(self, metal: int, fill: int | None) -> None:
        if (metal, fill) != (self._current, self._fill):
            self._current, self._fill = metal, fill
            self.update()
            self._tell()

    def _tell(self) -> None:
        told = self.told()
        self.setAccessibleDescription(told)
        self.fill_looked_at.emit(told)

    # --- drawing ----------------------------------------------------------------------------

    def _panel(self, metal: int, column: int) -> QRectF:
        width = (self.width() - (_COLUMNS - 1) * _GAP) / _COLUMNS
        top = metal * _ROW + _HEAD
        return QRectF(column * (width + _GAP), top, width, _TITLE + _PANEL)

    def _plot(self, metal: int, column: int) -> QRectF:
        return self._panel(metal, column).adjusted(_SIDES[0], _TITLE + 4.0, -_SIDES[1], -_TITLE)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(event.rect(), QColor(self._look.colors.ground))
        for index, wear in enumerate(self.metals):
            row = QRectF(0.0, index * _ROW, self.width(), _ROW)
            if row.intersects(QRectF(event.rect())):
                self._paint_metal(painter, index, wear)
        painter.end()

    def _paint_metal(self, painter: QPainter, index: int, wear: AnalyteWear) -> None:
        look, row = self._look, QRectF(0.0, index * _ROW, self.width(), _ROW)
        is_reached = self.hasFocus() and index == self._current
        self._paint_head(painter, row, wear, is_reached=is_reached)
        chosen = self._fill if index == self._current else None
        paint_rates(
            painter, self._plot(index, 0), wear=wear, unit=self._unit, chosen=chosen, look=look
        )
        self._title(painter, index, 0, self.tr("Rate of each fill"), self._unit.value)
        self._paint_grams(painter, index, wear)
        self._paint_chart(painter, index, wear, chosen)

    def _paint_head(
        self, painter: QPainter, row: QRectF, wear: AnalyteWear, *, is_reached: bool
    ) -> None:
        look = self._look
        line = QRectF(row.left(), row.top(), row.width(), _HEAD)
        painter.setFont(look.strong)
        painter.setPen(QColor(look.colors.accent if is_reached else look.colors.ink))
        painter.drawText(line, _LEFT_ALIGNED, wear.analyte.name)
        painter.setPen(QColor(look.colors.ink))
        at = QFontMetricsF(look.strong).horizontalAdvance(wear.analyte.name) + 12.0
        painter.setFont(look.body)
        painter.drawText(
            line.adjusted(at, 0.0, 0.0, 0.0), _LEFT_ALIGNED, now_words(wear, self._unit)
        )
        painter.setFont(look.small)
        painter.setPen(QColor(look.colors.faint_ink))
        if wear.reads_low_by is not None:
            text = self.tr("reads low by {0} %: losses hide it").format(
                round(100 * wear.reads_low_by)
            )
            painter.drawText(line, _RIGHT_ALIGNED, text)

    def _title(self, painter: QPainter, metal: int, column: int, title: str, note: str) -> None:
        look, panel = self._look, self._panel(metal, column)
        row = QRectF(panel.left(), panel.top(), panel.width(), _TITLE)
        painter.setFont(look.small)
        painter.setPen(QColor(look.colors.ink))
        painter.drawText(row, _LEFT_ALIGNED, title)
        at = QFontMetricsF(look.small).horizontalAdvance(title) + 8.0
        painter.setPen(QColor(look.colors.faint_ink))
        rest = row.adjusted(at, 0.0, 0.0, 0.0)
        cut = QFontMetricsF(look.small).elidedText(note, Qt.TextElideMode.ElideRight, rest.width())
        painter.drawText(rest, _LEFT_ALIGNED, cut)

    def _paint_grams(self, painter: QPainter, index: int, wear: AnalyteWear) -> None:
        grams = wear.cumulative
        if grams is None or not len(grams.grams):
            self._say(painter, index, 1, self.tr("No rate, so no sum can be given."))
            return
        paint_grams(
            painter, self._plot(index, 1), grams=grams, across=hours_scale(wear), look=self._look
        )
        since = "" if grams.since is None else self.tr(" since {0}").format(grams.since.isoformat())
        part = self.tr(" (first record)") if grams.is_partial else ""
        total = f"{grams.grams[-1]:.3g} g"
        self._title(painter, index, 1, self.tr("Metal made"), f"{total}{since}{part}")

    def _paint_chart(
        self, painter: QPainter, index: int, wear: AnalyteWear, chosen: int | None
    ) -> None:
        if wear.chart is None:
            self._say(painter, index, 2, wear.no_chart_why)
            return
        number = None
        if chosen is not None and wear.fills[chosen].fill in wear.chart.fills:
            number = wear.chart.fills.index(wear.fills[chosen].fill)
        paint_control_chart(
            painter, self._plot(index, 2), chart=wear.chart, chosen=number, look=self._look
        )
        signs = []
        if wear.chart.is_step.any():
            signs.append(self.tr("step"))
        if wear.chart.is_drift.any():
            signs.append(self.tr("drift"))
        note = ", ".join(signs) or self.tr("in control")
        self._title(painter, index, 2, self.tr("Control chart by fill"), note)

    def _say(self, painter: QPainter, metal: int, column: int, text: str) -> None:
        painter.setFont(self._look.small)
        painter.setPen(QColor(self._look.colors.faint_ink))
        painter.drawText(self._panel(metal, column).adjusted(0.0, 0.0, -8.0, -20.0), _WRAPPED, text)

    # --- pointer and keys -------------------------------------------------------------------

    @override
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        metal = int(event.position().y() // _ROW)
        if 0 <= metal < len(self.metals):
            self._look_at(metal, self._fill_at(metal, event.position()))

    def _fill_at(self, metal: int, place: QPointF) -> int | None:
        wear = self.metals[metal]
        for column in (0, 1):
            plot = self._plot(metal, column)
            if plot.left() <= place.x() <= plot.right() and wear.fills:
                hours = hours_scale(wear).value((place.x() - plot.left()) / plot.width())
                ends = np.array([one.to_hours for one in wear.fills])
                return min(int(np.searchsorted(ends, hours)), len(ends) - 1)
        plot = self._plot(metal, 2)
        if wear.chart is None or not plot.left() <= place.x() <= plot.right():
            return None
        count = len(wear.chart.fills)
        at = min(int((place.x() - plot.left()) / plot.width() * count), count - 1)
        numbers = [one.fill for one in wear.fills]
        return numbers.index(wear.chart.fills[at]) if wear.chart.fills[at] in numbers else None

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        pressed = QKeySequence(event.keyCombination())
        if pressed == QKeySequence("Ctrl+Shift+C") or event.matches(QKeySequence.StandardKey.Copy):
            self.copy_data()
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self.step(1 if key == Qt.Key.Key_Right else -1)
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and self.metals:
            to = self._current + (1 if key == Qt.Key.Key_Down else -1)
            self._current = min(max(to, 0), len(self.metals) - 1)
            self._fill = None
            self.update()
            self._tell()
            frame = QRectF(0.0, self._current * _ROW, self.width(), _ROW)
            self.metal_reached.emit(frame.toAlignedRect())
        else:
            super().keyPressEvent(event)

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.update()

    @override
    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.update()

    @override
    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.update()


def now_words(wear: AnalyteWear, unit: RateUnit) -> str:
    """The rate of the box now with its band: "25.8 ppm per 100 h (21.7 to 30.0)"."""
    rate = rate_now(wear, unit)
    if np.isnan(rate.middle):
        return "no rate can be given"
    told = f"{rate.middle:.3g} {unit.value} ({rate.low:.3g} to {rate.high:.3g})"
    if wear.sisters_ppm_per_100_h is None or unit is not RateUnit.PPM_PER_100_H:
        return told
    return f"{told}, like machines {wear.sisters_ppm_per_100_h:.3g}"


def fill_words(wear: AnalyteWear, fill: FillWear, unit: RateUnit) -> str:
    """One fill in words."""
    until = f"{fill.on.isoformat()} at {_hours(fill.to_hours)}"
    head = f"{wear.analyte.name}, fill {fill.fill}, to {until}"
    if not fill.has_rate:
        return f"{head}: {fill.why}"
    rate = rate_of(fill, unit)
    most = "at most " if fill.is_bound else ""
    parts = [
        f"{most}{rate.middle:.3g} {unit.value} ({rate.low:.3g} to {rate.high:.3g})",
        f"{fill.grams:.3g} g made",
        f"value over age {fill.naive_ppm_per_100_h:.3g} ppm per 100 h",
    ]
    if fill.reads_low_by is not None:
        parts.append(f"reads low by {100 * fill.reads_low_by:.0f} %")
    return f"{head}: {'; '.join(parts)}"


def _hours(hours: float) -> str:
    return "\u2013" if np.isnan(hours) else f"{grouped(hours)} h"


def wear_text(metals: Sequence[AnalyteWear]) -> str:
    """Every fill of every metal as tab-separated text."""
    head = (
        "Analyte", "Fill", "From hours", "To hours", "Day", "ppm per 100 h", "10 %", "90 %", "mg/h",
        "10 %", "90 %", "Grams", "Value over age, ppm per 100 h", "Reads low by %", "Note",
    )  # fmt: skip
    lines = ["\t".join(head)]
    for wear in metals:
        for one in wear.fills:
            figures = (
                one.from_hours, one.to_hours, None, one.ppm_per_100_h, one.ppm_low, one.ppm_high,
                one.mg_per_hour, one.mg_low, one.mg_high, one.grams, one.naive_ppm_per_100_h,
                None if one.reads_low_by is None else 100 * one.reads_low_by,
            )  # fmt: skip
            cells = ["" if f is None or np.isnan(f) else f"{f:.5g}" for f in figures]
            cells[2] = one.on.isoformat()
            note = one.why or ("at most" if one.is_bound else "")
            lines.append("\t".join([wear.analyte.name, str(one.fill), *cells, note]))
    return "\n".join(lines)
