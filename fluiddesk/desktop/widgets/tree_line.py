"""Paints one line of the machine tree: mark, name, and a faint note."""

from typing import Final

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget
from typing_extensions import override

from fluiddesk.charts.palette import MarkStamps, paint_mark
from fluiddesk.desktop.theme import CONTROL_HEIGHT, Theme
from fluiddesk.desktop.viewstate.machine_tree import MACHINE, SITE, TreeNode
from fluiddesk.domain.severity import Trust

NODE_ROLE: Final = Qt.ItemDataRole.UserRole
"""The model's role that gives a ``TreeNode``."""

_MARK: Final = 12
_LEFT: Final = 4
_GAP: Final = 11
"""Wide enough for the question mark of a sample in doubt."""


class TreeLine(QStyledItemDelegate):
    """The delegate of the machine tree."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.theme = theme
        self._stamps = MarkStamps()

    @override
    def sizeHint(
        self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex
    ) -> QSize:
        return QSize(120, CONTROL_HEIGHT)

    @override
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        node = index.data(NODE_ROLE)
        if not isinstance(node, TreeNode):
            return
        rect: QRect = option.rect
        state: QStyle.StateFlag = option.state
        colors, middle = self.theme.colors, Qt.AlignmentFlag.AlignVCenter
        if state & QStyle.StateFlag.State_Selected:
            painter.fillRect(rect, QColor(colors.accent_ground))
        top = rect.top() + (rect.height() - _MARK) / 2
        box = QRectF(rect.left() + _LEFT, top, _MARK, _MARK)
        if node.trust is Trust.GOOD:
            self._stamps.paint(painter, box, severity=node.severity, colors=colors)
        else:
            paint_mark(painter, box, severity=node.severity, colors=colors, trust=node.trust)
        font = self.theme.strong if node.level == MACHINE else self.theme.body
        left = rect.left() + _LEFT + _MARK + _GAP
        room = QRect(left, rect.top(), rect.right() - left - 4, rect.height())
        metrics = QFontMetrics(font)
        small = QFontMetrics(self.theme.small)
        # A count is kept whole and the name gives way; any other note gives way itself.
        kept = small.horizontalAdvance(node.note) + _GAP if node.level == SITE else 0
        text = metrics.elidedText(node.text, Qt.TextElideMode.ElideRight, room.width() - kept)
        painter.setFont(font)
        painter.setPen(QColor(colors.ink))
        painter.drawText(room, middle, text)
        self._paint_note(painter, room.adjusted(metrics.horizontalAdvance(text) + 8, 0, 0, 0), node)

    def _paint_note(self, painter: QPainter, room: QRect, node: TreeNode) -> None:
        metrics = QFontMetrics(self.theme.small)
        note = metrics.elidedText(node.note, Qt.TextElideMode.ElideRight, max(0, room.width()))
        painter.setFont(self.theme.small)
        painter.setPen(QColor(self.theme.colors.faint_ink))
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, note)
