"""The header of a fact table: the mark of the sorted column stands clear of the words."""

from typing import Final

from PySide6.QtCore import QPointF, QRect, Qt
from PySide6.QtGui import QPainter, QPalette, QPolygonF
from PySide6.QtWidgets import QHeaderView, QWidget
from typing_extensions import override

from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING

_MARK: Final = 7.0


class FactHeader(QHeaderView):
    """Draws a small triangle on the side that the words leave free."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self.setHighlightSections(False)
        self.setMinimumSectionSize(28)
        self.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self.setStyleSheet(
            f"QHeaderView::section {{ padding: 4px {CELL_PADDING}px; }}"
            "QHeaderView::up-arrow, QHeaderView::down-arrow { image: none; width: 0; height: 0; }"
        )

    @override
    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:
        painter.save()
        super().paintSection(painter, rect, logicalIndex)
        painter.restore()
        if self.isSortIndicatorShown() and logicalIndex == self.sortIndicatorSection():
            self._paint_mark(painter, rect, logicalIndex)

    def _paint_mark(self, painter: QPainter, rect: QRect, section: int) -> None:
        alignment = self.model().headerData(
            section, self.orientation(), Qt.ItemDataRole.TextAlignmentRole
        )
        is_number = bool(int(alignment or 0) & int(Qt.AlignmentFlag.AlignRight))
        left = rect.left() + CELL_PADDING if is_number else rect.right() - CELL_PADDING - _MARK
        middle = float(rect.center().y())
        is_rising = self.sortIndicatorOrder() == Qt.SortOrder.AscendingOrder
        base, tip = (middle + 2, middle - 2) if is_rising else (middle - 2, middle + 2)
        painter.save()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.palette().color(QPalette.ColorRole.Accent))
        corners = [
            QPointF(left, base),
            QPointF(left + _MARK, base),
            QPointF(left + _MARK / 2, tip),
        ]
        painter.drawPolygon(QPolygonF(corners))
        painter.restore()
