"""Paints the cells of a fact table: text on the rhythm of the header, focus as a bar of accent."""

from typing import Final

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRect, Qt
from PySide6.QtGui import QColor, QPainter, QPalette
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem
from typing_extensions import override

CELL_PADDING: Final = 6
_FOCUS_BAR: Final = 3


class FactDelegate(QStyledItemDelegate):
    """Draws ground, focus and text itself, so that cells stand exactly under their header."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)

    @override
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        cell = QStyleOptionViewItem(option)
        self.initStyleOption(cell, index)
        painter.save()
        self.paint_ground(painter, cell, index)
        self.paint_content(painter, cell, index)
        painter.restore()

    def paint_ground(
        self,
        painter: QPainter,
        cell: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        """The ground of a selected row, and a bar at its left while the table has the keyboard."""
        if not cell.state & QStyle.StateFlag.State_Selected:
            return
        painter.fillRect(cell.rect, cell.palette.color(QPalette.ColorRole.Highlight))
        has_keyboard = cell.widget is not None and cell.widget.hasFocus()
        if has_keyboard and index.column() == 0:
            bar = QRect(cell.rect.left(), cell.rect.top(), _FOCUS_BAR, cell.rect.height())
            painter.fillRect(bar, cell.palette.color(QPalette.ColorRole.Accent))

    def paint_content(
        self,
        painter: QPainter,
        cell: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        """The text, shortened at its end where it does not fit."""
        area = cell.rect.adjusted(CELL_PADDING, 0, -CELL_PADDING, 0)
        ink = index.data(Qt.ItemDataRole.ForegroundRole)
        painter.setPen(
            ink if isinstance(ink, QColor) else cell.palette.color(QPalette.ColorRole.Text)
        )
        painter.setFont(cell.font)
        text = cell.fontMetrics.elidedText(cell.text, Qt.TextElideMode.ElideRight, area.width())
        painter.drawText(area, cell.displayAlignment, text)
