"""Alarms month by month over a year: as they were, and as a draft of limits would have them."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from fluiddesk.charts.palette import Palette
from fluiddesk.services.limit_rules.facts import MonthAlarms

_HEIGHT: Final = 44
_CAPTION: Final = 16
_GAP: Final = 3.0
_FAINT: Final = 0.35


class AlarmMonths(QWidget):
    """Two bars a month: the set in force in faint ink, the draft in full ink.

    Both share one scale. The first and the last month are named below, the tallest bar above.
    """

    def __init__(self, colors: Palette, *, font: QFont, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colors, self._font = colors, font
        self._months: Sequence[MonthAlarms] = ()
        self.setAccessibleName(self.tr("Alarms a month"))
        self.setFixedHeight(_HEIGHT + 2 * _CAPTION)

    def show_months(self, months: Sequence[MonthAlarms]) -> None:
        """Draw other months, oldest first."""
        self._months = months
        told = [f"{one.month:%Y-%m}: {one.before}, {one.after}" for one in months]
        self.setAccessibleDescription("; ".join(told))
        self.setToolTip("\n".join(self._told(one) for one in months))
        self.update()

    def _told(self, one: MonthAlarms) -> str:
        words = self.tr("{0}: {1} in force, {2} by the draft, of {3} samples")
        return words.format(f"{one.month:%Y-%m}", one.before, one.after, one.samples)

    def apply_colors(self, colors: Palette) -> None:
        """Draw in another theme."""
        self._colors = colors
        self.update()

    @override
    def sizeHint(self) -> QSize:
        return QSize(240, self.height())

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._months:
            return
        painter = QPainter(self)
        painter.setFont(self._font)
        most = max(max(one.before, one.after) for one in self._months) or 1
        step = self.width() / len(self._months)
        base = _CAPTION + _HEIGHT
        for place, one in enumerate(self._months):
            self._paint_month(painter, left=place * step, step=step, one=one, most=most)
        painter.fillRect(QRectF(0, base, self.width(), 1), QColor(self._colors.hairline))
        self._paint_words(painter, step=step, most=most)
        painter.end()

    def _paint_month(
        self, painter: QPainter, *, left: float, step: float, one: MonthAlarms, most: int
    ) -> None:
        width = max(1.0, (step - _GAP - 1) / 2)
        faint, full = QColor(self._colors.data), QColor(self._colors.data)
        faint.setAlphaF(_FAINT)
        for count, at, ink in ((one.before, left, faint), (one.after, left + width + 1, full)):
            height = _HEIGHT * count / most
            painter.fillRect(QRectF(at, _CAPTION + _HEIGHT - height, width, height), ink)

    def _paint_words(self, painter: QPainter, *, step: float, most: int) -> None:
        metrics = QFontMetricsF(self._font)
        painter.setPen(QColor(self._colors.faint_ink))
        below = QRectF(0, _CAPTION + _HEIGHT + 2, self.width(), _CAPTION)
        first, last = (f"{self._months[place].month:%Y-%m}" for place in (0, -1))
        painter.drawText(below, int(Qt.AlignmentFlag.AlignLeft), first)
        painter.drawText(below, int(Qt.AlignmentFlag.AlignRight), last)
        heights = [max(one.before, one.after) for one in self._months]
        tallest = heights.index(max(heights))
        text = str(most)
        at = min(tallest * step, self.width() - metrics.horizontalAdvance(text))
        painter.drawText(QRectF(at, 0, 60, _CAPTION), int(Qt.AlignmentFlag.AlignLeft), text)
