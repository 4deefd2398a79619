"""One line that says what the small signs in a cell mean."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetrics, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import SMALL_PX, Theme
from fluiddesk.desktop.widgets.condition_cell import paint_tick
from fluiddesk.domain.severity import Severity, Trust

_SIGN = 11
_GAP = 5
_BETWEEN = 16


class CellLegend(QWidget):
    """Sign and word, side by side, in the small type."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._words = (
            self.tr("days since the last sample"),
            self.tr("sample overdue"),
            self.tr("sample in doubt"),
            self.tr("two intervals old"),
            self.tr("rising"),
            self.tr("level"),
            self.tr("falling"),
        )
        self.setAccessibleName(self.tr("Signs in a cell: {0}").format(", ".join(self._words)))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        metrics = QFontMetrics(self._theme.small)
        words = sum(metrics.horizontalAdvance(word) + 24 + _BETWEEN for word in self._words)
        return QSize(words, SMALL_PX + 9)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        left = 0.0
        for number, word in enumerate(self._words):
            left = self._paint_sign(painter, left, number) + _GAP
            left = self._paint_text(painter, left, word, self._theme.small) + _BETWEEN

    def _paint_sign(self, painter: QPainter, left: float, number: int) -> float:
        colors = self._theme.colors
        box = QRectF(left, (self.height() - _SIGN) / 2, _SIGN, _SIGN)
        normal = Severity.NORMAL
        match number:
            case 0:
                return self._paint_text(painter, left, "34", self._theme.small)
            case 1:
                painter.setPen(QColor(colors.ink))
                font = self._theme.small_strong
                right = self._paint_text(painter, left, "98", font, color=colors.ink)
                under = self.height() // 2 + 7
                painter.drawLine(round(left), under, round(right), under)
                return right
            case 2:
                paint_mark(painter, box, severity=normal, colors=colors, trust=Trust.SUSPECT)
                return box.right() + 7
            case 3:
                paint_mark(painter, box, severity=normal, colors=colors, is_stale=True)
            case _:
                tick = box.adjusted(1.5, 1.5, -1.5, -1.5)
                ink = QColor(colors.ink if number == 4 else colors.faint_ink)  # noqa: PLR2004
                paint_tick(painter, tick, direction=5 - number, color=ink)
        return box.right()

    def _paint_text(
        self, painter: QPainter, left: float, text: str, font: QFont, *, color: str = ""
    ) -> float:
        painter.setFont(font)
        painter.setPen(QColor(color or self._theme.colors.faint_ink))
        width = QFontMetrics(font).horizontalAdvance(text)
        room = QRectF(left, 0, width + 2, self.height())
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, text)
        return left + width
