"""Draws a severity before and after in a table cell: mark and word, arrow, mark and word."""

from typing import Final

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionViewItem
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import STEP, Theme
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING, FactDelegate
from fluiddesk.domain.severity import Severity

_MARK: Final = 11
_WORD: Final = 64
_ARROW: Final = 14
MOVE_WIDTH: Final = 2 * (CELL_PADDING + _MARK + STEP + _WORD) + _ARROW + STEP
"""The width a column of moves needs, in pixels."""


class SeverityMoveDelegate(FactDelegate):
    """Draws (before, after) of a cell's plain value; where both are equal, once, in faint ink."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_content(
        self,
        painter: QPainter,
        cell: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        severities = index.data(Qt.ItemDataRole.UserRole)
        if severities is None:
            return
        before, after = severities
        area = QRectF(cell.rect)
        left = area.left() + CELL_PADDING
        if before == after:
            self._paint_one(painter, area, left=left, severity=after, is_faint=True)
        else:
            right = self._paint_one(painter, area, left=left, severity=before, is_faint=True)
            self._paint_arrow(painter, left=right, middle=area.center().y())
            self._paint_one(
                painter, area, left=right + _ARROW + STEP, severity=after, is_faint=False
            )

    def _paint_one(
        self, painter: QPainter, area: QRectF, *, left: float, severity: Severity, is_faint: bool
    ) -> float:
        colors = self.theme.colors
        box = QRectF(left, area.center().y() - _MARK / 2, _MARK, _MARK)
        paint_mark(painter, box, severity=severity, colors=colors)
        painter.setFont(self.theme.body)
        painter.setPen(QColor(colors.faint_ink if is_faint else colors.ink))
        word_at = left + _MARK + STEP
        word = QRectF(word_at, area.top(), _WORD, area.height())
        painter.drawText(word, int(Qt.AlignmentFlag.AlignVCenter), severity.word)
        return word.right()

    def _paint_arrow(self, painter: QPainter, *, left: float, middle: float) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(QColor(self.theme.colors.faint_ink), 1.2))
        tip = QPointF(left + _ARROW - STEP, middle)
        painter.drawLine(QPointF(left, middle), tip)
        painter.drawLine(tip, tip + QPointF(-3.5, -3))
        painter.drawLine(tip, tip + QPointF(-3.5, 3))
