"""A table of rules, typed into in place: changed cells are marked, problems told below the cell."""

from typing import Final

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRect, Qt
from PySide6.QtGui import QColor, QKeyEvent, QPainter, QPalette, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QLabel,
    QLineEdit,
    QStyleOptionViewItem,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.models.limit_lists import IntervalModel
from fluiddesk.desktop.models.limit_rules import CHANGED_ROLE, PROBLEM_ROLE, LimitModel
from fluiddesk.desktop.theme import STEP, Theme, give_look
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING, FactDelegate
from fluiddesk.desktop.widgets.fact_table import FactTable

_Index = QModelIndex | QPersistentModelIndex
_NOTE_WIDTH: Final = 380
_DOT: Final = 4


class RuleDelegate(FactDelegate):
    """Marks changed cells with a dot, cells with a problem with a line, the cell one is in."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_content(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        if index.data(CHANGED_ROLE):
            cell.font = self.theme.strong
        super().paint_content(painter, cell, index)
        colors = self.theme.colors
        if index.data(CHANGED_ROLE):
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colors.accent))
            corner = QRect(cell.rect.left() + 1, cell.rect.top() + STEP, _DOT, _DOT)
            painter.drawRect(corner)
        if index.data(PROBLEM_ROLE):
            pen = QPen(QColor(colors.ink), 2, Qt.PenStyle.DotLine)
            painter.setPen(pen)
            bottom = cell.rect.bottom() - 3
            painter.drawLine(
                cell.rect.left() + CELL_PADDING, bottom, cell.rect.right() - CELL_PADDING, bottom
            )
        view = cell.widget
        if isinstance(view, RuleTable) and view.is_at(index):
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(cell.palette.color(QPalette.ColorRole.Accent), 1))
            painter.drawRect(cell.rect.adjusted(0, 0, -1, -1))

    @override
    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: _Index) -> QWidget:
        editor = QLineEdit(parent)
        editor.setObjectName("cell_editor")
        editor.setStyleSheet("min-height: 0px; padding: 0 4px; border-radius: 0px;")
        is_right = int(index.data(Qt.ItemDataRole.TextAlignmentRole) or 0) & int(
            Qt.AlignmentFlag.AlignRight
        )
        if is_right:
            editor.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        head = index.model().headerData(index.column(), Qt.Orientation.Horizontal)
        editor.setAccessibleName(str(head or ""))
        return editor


class RuleTable(FactTable):
    """Edited by F2, Enter or typing; Esc leaves the cell as it was, Delete empties a bound."""

    # Qt tells of a current cell while the table is still being made.
    note: "CellNote | None" = None

    def __init__(self, model: LimitModel | IntervalModel, *, name: str, theme: Theme) -> None:
        super().__init__(model, name=name)
        self._rules = model
        self.delegate = RuleDelegate(theme, self)
        self.setItemDelegate(self.delegate)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            triggers.EditKeyPressed | triggers.AnyKeyPressed | triggers.DoubleClicked
        )
        self.note = CellNote(theme, self.viewport())
        self.row_opened.connect(lambda _row: self.edit_cell())
        model.dataChanged.connect(self._tell)
        model.modelReset.connect(self._tell)
        for bar in (self.verticalScrollBar(), self.horizontalScrollBar()):
            bar.valueChanged.connect(self._tell)

    def is_at(self, index: _Index) -> bool:
        """Whether a cell has the keyboard and can be typed into."""
        current = self.currentIndex()
        is_here = (index.row(), index.column()) == (current.row(), current.column())
        return is_here and self.hasFocus() and bool(index.flags() & Qt.ItemFlag.ItemIsEditable)

    def edit_cell(self) -> None:
        """Type into the cell one is in, else into the first of its row that can be."""
        index = self.currentIndex()
        if not index.isValid():
            return
        cells = [index, *(index.siblingAtColumn(n) for n in range(self.model().columnCount()))]
        for cell in cells:
            if cell.flags() & Qt.ItemFlag.ItemIsEditable and not self.isColumnHidden(cell.column()):
                self.setCurrentIndex(cell)
                self.edit(cell)
                return

    def go_to(self, row: int, column: int) -> None:
        """Lead the keyboard to a cell."""
        self.setCurrentIndex(self.model().index(row, column))
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.delegate.theme = theme
        if self.note is not None:
            self.note.apply_theme(theme)
        self.viewport().update()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.state() == QAbstractItemView.State.EditingState:
            # Enter reaches the table as well, once the editor has seen it.
            event.accept()
            return
        index = self.currentIndex()
        is_open = bool(index.flags() & Qt.ItemFlag.ItemIsEditable)
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and is_open:
            self.model().setData(index, "", Qt.ItemDataRole.EditRole)
            return
        super().keyPressEvent(event)

    @override
    def currentChanged(self, current: _Index, previous: _Index) -> None:
        super().currentChanged(current, previous)
        for index in (current, previous):
            if index.isValid():
                self.update(self.model().index(index.row(), index.column()))
        self._tell()

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._tell()

    def _tell(self, *_: object) -> None:
        """Say right below the cell what is wrong with it."""
        index = self.currentIndex()
        text = str(index.data(PROBLEM_ROLE) or "") if index.isValid() else ""
        if self.note is not None:
            self.note.say(text, self.visualRect(index))


class CellNote(QLabel):
    """A text right below a cell; hidden while there is nothing to say."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.setWordWrap(True)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        give_look(self, "body")
        self.setContentsMargins(STEP * 2, STEP, STEP * 2, STEP)
        self.apply_theme(theme)
        self.hide()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        colors = theme.colors
        self.setStyleSheet(
            f"background: {colors.raised}; color: {colors.ink}; "
            f"border: 1px solid {colors.hairline}; border-left: 3px solid {colors.accent};"
        )

    def say(self, text: str, cell: QRect) -> None:
        """Show a text below a cell, above it where there is no room."""
        self.setText(text)
        self.setVisible(bool(text))
        room = self.parentWidget()
        if not text or room is None:
            return
        width = min(_NOTE_WIDTH, room.width())
        height = self.heightForWidth(width)
        left = max(0, min(cell.left(), room.width() - width))
        top = cell.bottom() + 2
        if top + height > room.height():
            top = cell.top() - height - 2
        self.setGeometry(left, top, width, height)
        self.raise_()
