"""The grid a report is typed into: one field stands over the cell at hand, Enter moves it on."""

from typing import Final

from PySide6.QtCore import QEvent, QModelIndex, QObject, QPersistentModelIndex, QRect, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QResizeEvent,
    QShowEvent,
)
from PySide6.QtWidgets import QAbstractItemView, QLineEdit, QStyleOptionViewItem
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
_BAR: Final = 3
_STEPS: Final = {
    Qt.Key.Key_Return: 1,
    Qt.Key.Key_Enter: 1,
    Qt.Key.Key_Tab: 1,
    Qt.Key.Key_Down: 1,
    Qt.Key.Key_Backtab: -1,
    Qt.Key.Key_Up: -1,
}


class KeyingDelegate(FactDelegate):
    """Draws ghosts, and a bar beside what is to be looked at."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_ground(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        super().paint_ground(painter, cell, index)
        if index.column() == GridColumn.NOTE and index.data(DOUBT_ROLE):
            bar = QRect(cell.rect.left(), cell.rect.top() + 5, _BAR, cell.rect.height() - 10)
            painter.fillRect(bar, QColor(self.theme.colors.ink))

    @override
    def paint_content(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        ghost = str(index.data(GHOST_ROLE) or "")
        if index.column() == GridColumn.NOTE:
            cell.rect.setLeft(cell.rect.left() + _BAR + 2)
        if cell.text or not ghost:
            super().paint_content(painter, cell, index)
            return
        cell.font.setItalic(True)
        painter.setFont(cell.font)
        painter.setPen(QColor(self.theme.colors.faint_ink))
        area = cell.rect.adjusted(CELL_PADDING, 0, -CELL_PADDING, 0)
        painter.drawText(area, cell.displayAlignment, ghost)


class KeyingGrid(FactTable):
    """Leads from field to field in the order of the report.

    What is typed first is taken over with every letter, what is typed again when it is left.

    Signals:
        stop_changed: another place is being typed into (``Stop``).
        passed_end: Enter was pressed in the last field.
    """

    stop_changed = Signal(object)
    passed_end = Signal()

    def __init__(self, model: KeyingGridModel, *, theme: Theme, name: str) -> None:
        # Needed while the base is being made: it sets the first current cell.
        self._keying = model
        self._stop: Stop | None = None
        super().__init__(model, name=name)
        self._delegate = KeyingDelegate(theme, self)
        self.setItemDelegate(self._delegate)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.field = QLineEdit(self.viewport())
        self.field.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.field.setStyleSheet("min-height: 0; padding: 0 4px; border-radius: 0;")
        self.field.installEventFilter(self)
        self.field.textEdited.connect(self._edited)
        self.field.hide()
        self.set_widths(
            {
                GridColumn.TITLE: 148,
                GridColumn.VALUE: 112,
                GridColumn.AGAIN: 88,
                GridColumn.UNIT: 76,
                GridColumn.EXPECTED: 116,
                GridColumn.LAST: 72,
            }
        )
        self.share_room(GridColumn.NOTE)
        self.verticalScrollBar().valueChanged.connect(self._place_field)
        self.horizontalScrollBar().valueChanged.connect(self._place_field)
        self.horizontalHeader().sectionResized.connect(self._place_field)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._delegate.theme = theme
        self._keying.apply_theme(theme)

    @property
    def stop(self) -> Stop | None:
        """The place at hand."""
        return self._stop

    def lay_out_rows(self) -> None:
        """Span the headings and show the column of second entries where there are any."""
        self._stop = None
        self.field.hide()
        state = self._keying.state
        if state is None:
            return
        self.span_headings([n for n in range(len(state.rows)) if self._keying.is_heading(n)])
        self.setColumnHidden(GridColumn.AGAIN, not state.has_second)

    def go_to(self, stop: Stop | None) -> None:
        """Put the field over a place and give it the keyboard."""
        if stop is None:
            return
        index = self._keying.index_of(stop)
        if not self._keying.flags(index) & Qt.ItemFlag.ItemIsEditable:
            return
        self.take_over()
        self._stop = stop
        self.setCurrentIndex(index)
        self._show_near(stop.row)
        self._fill_field()
        self._place_field()
        self.field.show()
        self.field.setFocus(Qt.FocusReason.OtherFocusReason)
        self.field.selectAll()
        self.stop_changed.emit(stop)

    def close_field(self) -> None:
        """Take over what stands in the field, and take the field away."""
        self.take_over()
        self._stop = None
        self.field.hide()

    def take_over(self) -> None:
        """Write what stands in the field into the grid."""
        if self._stop is not None and self._keying.state is not None:
            self._keying.setData(self._keying.index_of(self._stop), self.field.text())

    def show_texts(self) -> None:
        """Show in the field what the grid says, where something else than typing changed it."""
        stop, state = self._stop, self._keying.state
        if stop is None or state is None or stop.again:
            return
        if self.field.text().strip() != state.text(stop.row):
            self._fill_field()

    def _fill_field(self) -> None:
        stop, state = self._stop, self._keying.state
        if stop is None or state is None:
            return
        row = state.rows[stop.row]
        self.field.setText(state.second(stop.row) if stop.again else state.text(stop.row))
        ghost = row.expected.text if row.expected and not stop.again else ""
        self.field.setPlaceholderText(ghost)
        again = self.tr(", again") if stop.again else ""
        self.field.setAccessibleName(f"{row.title} {row.unit}".strip() + again)

    def _show_near(self, row: int) -> None:
        """Keep two rows in view on either side, so that it is seen what comes next."""
        for near in (row + 2, row - 2, row):
            shown = max(0, min(near, self._keying.rowCount() - 1))
            self.scrollTo(self._keying.index(shown, GridColumn.VALUE))

    def _place_field(self) -> None:
        if self._stop is not None:
            self.field.setGeometry(self.visualRect(self._keying.index_of(self._stop)))

    def _edited(self, text: str) -> None:
        stop = self._stop
        if stop is not None and not stop.again:
            self._keying.setData(self._keying.index_of(stop), text)

    def _leave(self, step: int) -> None:
        state, stop = self._keying.state, self._stop
        if state is None or stop is None:
            return
        self.take_over()
        following = state.next_stop(stop.row, step=step)
        if following is not None:
            self.go_to(following)
        elif step > 0:
            self.passed_end.emit()

    @override
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if watched is not self.field or event.type() != QEvent.Type.KeyPress:
            return super().eventFilter(watched, event)
        key = Qt.Key(event.key()) if isinstance(event, QKeyEvent) else Qt.Key.Key_unknown
        step = _STEPS.get(key)
        if step is None:
            # What is typed leaves the grid by a deed, not by a slip: Escape does nothing.
            return key == Qt.Key.Key_Escape
        is_back = isinstance(event, QKeyEvent) and bool(
            event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        )
        self._leave(-1 if is_back else step)
        return True

    @override
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        super().mouseReleaseEvent(event)
        here, state = self.currentIndex(), self._keying.state
        if here.isValid() and state is not None:
            self.go_to(Stop(row=here.row(), again=state.second_pass))

    @override
    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if self._stop is not None:
            self.field.setFocus(Qt.FocusReason.OtherFocusReason)

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_field()

    @override
    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._place_field()
