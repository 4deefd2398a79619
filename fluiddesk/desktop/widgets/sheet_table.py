"""The bottles of a visit sheet as a table that is keyed like the paper it comes from."""

from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPalette, QPen
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QLineEdit,
    QStyleOptionViewItem,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.viewstate.taking_draft import FIRST_KEYED, Cell, TakingDraft
from fluiddesk.desktop.widgets.fact_delegate import FactDelegate
from fluiddesk.desktop.widgets.fact_table import FactTable

_WIDTHS: Final[dict[int, int]] = {
    Cell.NUMBER: 34,
    Cell.BOX: 172,
    Cell.BOTTLE: 104,
    Cell.TAKEN: 54,
    Cell.METHOD: 64,
    Cell.FLUSHED: 62,
    Cell.WARM: 54,
    Cell.MIXED: 54,
    Cell.FILL: 60,
    Cell.MARKED: 78,
    Cell.LITRES: 66,
    Cell.CHANGED: 70,
    Cell.FILTER: 52,
}


class SheetLines(Protocol):
    """The table of a sheet's bottles."""

    def show(self, draft: TakingDraft | None) -> None:
        """Show another sheet."""

    def tell_change(self) -> None:
        """Tell that cells were written by other ways."""


class _SheetDelegate(FactDelegate):
    """Underlines the cells that are wrong, and tells each letter that is typed.

    Signals:
        typing: (row, column, text) of a cell that is not left yet.
    """

    typing = Signal(int, int, str)

    @override
    def createEditor(
        self,
        parent: QWidget,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> QWidget:
        editor = super().createEditor(parent, option, index)
        if isinstance(editor, QLineEdit):
            row, column = index.row(), index.column()
            editor.textEdited.connect(lambda text: self.typing.emit(row, column, text))
        return editor

    @override
    def paint_content(
        self,
        painter: QPainter,
        cell: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        super().paint_content(painter, cell, index)
        has_focus = cell.widget is not None and cell.widget.hasFocus()
        accent = cell.palette.color(QPalette.ColorRole.Accent)
        if index.data(Qt.ItemDataRole.UserRole):
            box = cell.rect.adjusted(4, 0, -4, -3)
            painter.setPen(QPen(accent, 2, Qt.PenStyle.DotLine))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
        view = cell.widget
        current = view.currentIndex() if isinstance(view, QAbstractItemView) else None
        if has_focus and current == index:
            painter.setPen(QPen(accent, 1))
            painter.drawRect(cell.rect.adjusted(1, 1, -2, -2))


class SheetTable(FactTable):
    """Keyed like the sheet: typing writes, Enter and Tab go on, Space turns yes and no.

    Signals:
        letter_typed: something was typed into a cell that is not left yet.
    """

    letter_typed = Signal()

    def __init__(self, lines: SheetLines, model: QAbstractItemModel, *, name: str) -> None:
        super().__init__(model, name=name)
        self._lines = lines
        self.draft: TakingDraft | None = None
        delegate = _SheetDelegate(self)
        delegate.typing.connect(self._type_in)
        self.setItemDelegate(delegate)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            triggers.AnyKeyPressed | triggers.DoubleClicked | triggers.EditKeyPressed
        )
        self.setTabKeyNavigation(True)
        self.set_widths(_WIDTHS)
        self.share_room(Cell.NOTE)
        # A sheet is keyed cell by cell: it looks like the paper it comes from.
        self.setShowGrid(True)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        at, draft = self.currentIndex(), self.draft
        is_control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if draft is None or not at.isValid():
            super().keyPressEvent(event)
        elif event.key() == Qt.Key.Key_Space and at.column() != Cell.NOTE:
            draft.turn(at.row(), at.column())
            self._lines.tell_change()
        elif event.key() == Qt.Key.Key_D and is_control:
            draft.fill_down(at.row(), at.column())
            self._lines.tell_change()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            # A line being typed passes Enter on; it goes on by itself once it is written.
            if self.state() is not QAbstractItemView.State.EditingState:
                self.go_on()
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            draft.write(at.row(), at.column(), "")
            self._lines.tell_change()
        else:
            super().keyPressEvent(event)

    def _type_in(self, row: int, column: int, text: str) -> None:
        if self.draft is not None:
            self.draft.type_in(row, column, text)
            self.letter_typed.emit()

    def go_on(self) -> None:
        """Lead the keyboard to the next cell that is keyed."""
        at, draft, model = self.currentIndex(), self.draft, self.model()
        if draft is None or not at.isValid():
            return
        row, column = at.row(), at.column() + 1
        while row < model.rowCount():
            while column < model.columnCount():
                if draft.can_write(row, column) and not self.isColumnHidden(column):
                    self.setCurrentIndex(model.index(row, column))
                    return
                column += 1
            row, column = row + 1, int(FIRST_KEYED)

    @override
    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)
        hints = QAbstractItemDelegate.EndEditHint
        if hint in (hints.EditNextItem, hints.SubmitModelCache):
            self.go_on()
