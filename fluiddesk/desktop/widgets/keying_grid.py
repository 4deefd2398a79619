"""The grid a report is typed into: the cell at hand is always open, Enter moves on."""

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, QRect, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QMouseEvent, QPainter
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QLineEdit,
    QStyleOptionViewItem,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.models.keying_grid import (
    DOUBT_ROLE,
    GHOST_ROLE,
    GridColumn,
    KeyingGridModel,
)
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.keying import Stop
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING, FactDelegate
from fluiddesk.desktop.widgets.fact_table import FactTable

_Index = QModelIndex | QPersistentModelIndex
_BAR = 3
_NO_HINT = QAbstractItemDelegate.EndEditHint.NoHint
_ON = {Qt.Key.Key_Return: 1, Qt.Key.Key_Enter: 1, Qt.Key.Key_Tab: 1, Qt.Key.Key_Down: 1}
_BACK = {Qt.Key.Key_Backtab: -1, Qt.Key.Key_Up: -1}


class KeyingDelegate(FactDelegate):
    """Draws ghosts and doubts, and opens the field that is typed into.

    Signals:
        left: the field was left for the one after (1) or before (-1).
    """

    left = Signal(int)

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_ground(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        super().paint_ground(painter, cell, index)
        if index.column() == GridColumn.NOTE and index.data(DOUBT_ROLE):
            bar = QRect(cell.rect.left(), cell.rect.top() + 4, _BAR, cell.rect.height() - 8)
            painter.fillRect(bar, QColor(self.theme.colors.accent))

    @override
    def paint_content(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        ghost = str(index.data(GHOST_ROLE) or "")
        if index.column() == GridColumn.NOTE:
            cell.rect.setLeft(cell.rect.left() + _BAR + 2)
        if cell.text or not ghost:
            super().paint_content(painter, cell, index)
            return
        font = cell.font
        font.setItalic(True)
        painter.setFont(font)
        ink = QColor(self.theme.colors.faint_ink)
        ink.setAlphaF(0.75)
        painter.setPen(ink)
        area = cell.rect.adjusted(CELL_PADDING, 0, -CELL_PADDING, 0)
        painter.drawText(area, cell.displayAlignment, ghost)

    @override
    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: _Index) -> QWidget:
        edit = QLineEdit(parent)
        edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        edit.setPlaceholderText(str(index.data(GHOST_ROLE) or ""))
        title = index.sibling(index.row(), GridColumn.TITLE).data()
        unit = index.sibling(index.row(), GridColumn.UNIT).data()
        edit.setAccessibleName(f"{title}, {unit}" if unit else str(title))
        edit.setStyleSheet("min-height: 0; padding: 0 3px; border-radius: 0;")
        if index.column() == GridColumn.VALUE:
            model, here = index.model(), QPersistentModelIndex(index)
            # Kept with every letter: what was typed must survive whatever happens next.
            edit.textEdited.connect(lambda text: model.setData(here, text))
        return edit

    @override
    def setEditorData(self, editor: QWidget, index: _Index) -> None:
        if isinstance(editor, QLineEdit):
            text = str(index.data(Qt.ItemDataRole.EditRole) or "")
            if editor.text().strip() != text:
                editor.setText(text)

    @override
    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            key = Qt.Key(event.key())
            step = _ON.get(key) or _BACK.get(key)
            if step and event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
                step = -1
            if step and isinstance(editor, QWidget):
                self.commitData.emit(editor)
                self.left.emit(step)
                return True
            if key == Qt.Key.Key_Escape:
                # The text stays: what is typed into the grid leaves it by a deed, not by a slip.
                return True
        return super().eventFilter(editor, event)


class KeyingGrid(FactTable):
    """Leads from field to field in the order of the report.

    Signals:
        stop_changed: another place is being typed into (``Stop``).
        passed_end: Enter was pressed in the last field.
    """

    stop_changed = Signal(object)
    passed_end = Signal()

    def __init__(self, model: KeyingGridModel, *, theme: Theme, name: str) -> None:
        super().__init__(model, name=name)
        self._keying = model
        self._delegate = KeyingDelegate(theme, self)
        self._delegate.left.connect(self._leave)
        self.setItemDelegate(self._delegate)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.set_widths(
            {
                GridColumn.TITLE: 148,
                GridColumn.VALUE: 112,
                GridColumn.AGAIN: 88,
                GridColumn.UNIT: 76,
                GridColumn.EXPECTED: 104,
                GridColumn.LAST: 72,
            }
        )
        self.share_room(GridColumn.NOTE)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._delegate.theme = theme
        self._keying.apply_theme(theme)

    @property
    def stop(self) -> Stop | None:
        """The place at hand."""
        return self._keying.stop(self.currentIndex())

    @property
    def editor(self) -> QLineEdit | None:
        """The field that is open."""
        found = self.indexWidget(self.currentIndex())
        if isinstance(found, QLineEdit):
            return found
        fields = self.viewport().findChildren(QLineEdit)
        return fields[-1] if fields else None

    def lay_out_rows(self) -> None:
        """Span the headings and show the column of second entries where there are any."""
        state = self._keying.state
        if state is None:
            return
        self.span_headings([n for n in range(len(state.rows)) if self._keying.is_heading(n)])
        self.setColumnHidden(GridColumn.AGAIN, not state.has_second)

    def go_to(self, stop: Stop | None) -> None:
        """Open the field of a place and give it the keyboard."""
        if stop is None:
            return
        index = self._keying.index_of(stop)
        self.close_field()
        if index == self.currentIndex():
            self._open_field(index)
        else:
            self.setCurrentIndex(index)
        self.setFocus(Qt.FocusReason.OtherFocusReason)

    def _leave(self, step: int) -> None:
        state, here = self._keying.state, self.currentIndex()
        if state is None:
            return
        following = state.next_stop(here.row(), step=step)
        if following is not None:
            self.go_to(following)
        elif step > 0:
            self.passed_end.emit()

    def close_field(self) -> None:
        """Take over what stands in the open field, and close it."""
        for field in self.viewport().findChildren(QLineEdit):
            self.commitData(field)
            self.closeEditor(field, _NO_HINT)

    def _open_field(self, index: _Index) -> None:
        if self._keying.flags(index) & Qt.ItemFlag.ItemIsEditable:
            self.scrollTo(self._keying.index(index.row(), index.column()))
            self.edit(self._keying.index(index.row(), index.column()))
            editor = self.editor
            if editor is not None:
                editor.selectAll()

    @override
    def currentChanged(self, current: _Index, previous: _Index) -> None:
        super().currentChanged(current, previous)
        stop = self._keying.stop(current)
        if stop is not None:
            self._open_field(current)
            self.stop_changed.emit(stop)

    @override
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        here, state = self.currentIndex(), self._keying.state
        if here.isValid() and state is not None and self.stop is None:
            self.go_to(Stop(row=here.row(), again=state.second_pass))

    @override
    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if self.state() != QAbstractItemView.State.EditingState:
            self._open_field(self.currentIndex())

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = Qt.Key(event.key())
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._leave(1)
        else:
            super().keyPressEvent(event)
