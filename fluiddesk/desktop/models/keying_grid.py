"""The grid of a report that is being keyed, as a table that can be typed into."""

from enum import IntEnum
from typing import Any

from PySide6.QtCore import QModelIndex, Qt, Signal
from PySide6.QtGui import QColor
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, Index, Role
from fluiddesk.desktop.models.list_model import StateModel
from fluiddesk.desktop.viewstate.keying import (
    KeyingState,
    Part,
    Stop,
    expected_range,
    row_note,
)

GHOST_ROLE = Role.UserRole + 1
"""The expected value, shown faintly in an empty cell."""
DOUBT_ROLE = Role.UserRole + 2
"""Whether a warning of the row is open."""


class GridColumn(IntEnum):
    """Columns of the grid, in display order."""

    TITLE = 0
    VALUE = 1
    AGAIN = 2
    UNIT = 3
    EXPECTED = 4
    LAST = 5
    NOTE = 6


class KeyingGridModel(StateModel[KeyingState]):
    """Rows of a report in the order of the laboratory.

    Signals:
        typed: row and text of a first entry, with every letter.
        typed_again: row and text of a second entry, when it is left.
    """

    typed = Signal(int, str)
    typed_again = Signal(int, str)

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("On the report")),
            FactColumn(title=self.tr("Value"), is_number=True),
            FactColumn(title=self.tr("Again"), is_number=True),
            FactColumn(title=self.tr("Unit")),
            FactColumn(
                title=self.tr("Expected"),
                is_number=True,
                tip=self.tr("95 of 100 sound values of this box lie here"),
            ),
            FactColumn(title=self.tr("Last"), is_number=True, tip=self.tr("The report before")),
            FactColumn(title=self.tr("To look at")),
        )

    def stop(self, index: Index) -> Stop | None:
        """The place of a cell that can be typed into."""
        if not index.isValid() or not self.flags(index) & Qt.ItemFlag.ItemIsEditable:
            return None
        return Stop(row=index.row(), again=index.column() == GridColumn.AGAIN)

    def index_of(self, stop: Stop) -> QModelIndex:
        """The cell of a place."""
        return self.index(stop.row, GridColumn.AGAIN if stop.again else GridColumn.VALUE)

    @override
    def length(self) -> int:
        return len(self._state.rows) if self._state is not None else 0

    @override
    def cell(self, row: int, column: int) -> str:
        state = self._shown
        one = state.rows[row]
        if one.part is Part.HEADING:
            return one.title if column == GridColumn.TITLE else ""
        if column == GridColumn.NOTE:
            return row_note(state, row)
        texts = {
            GridColumn.TITLE: one.title,
            GridColumn.VALUE: state.shown(row),
            GridColumn.AGAIN: state.second(row),
            GridColumn.UNIT: one.unit,
            GridColumn.EXPECTED: expected_range(one.expected),
            GridColumn.LAST: one.expected.last if one.expected else "",
        }
        return texts[GridColumn(column)]

    @override
    def tip(self, row: int, column: int) -> str:
        state = self._shown
        if column == GridColumn.NOTE:
            return "\n".join(f"{one.told} {one.why}" for one in state.warnings_at(row))
        if column == GridColumn.TITLE:
            return state.rows[row].name
        return self.cell(row, column)

    @override
    def is_heading(self, row: int) -> bool:
        return self._shown.rows[row].part is Part.HEADING

    @override
    def is_faint(self, row: int, column: int) -> bool:
        if column == GridColumn.NOTE:
            return not any(one.is_open for one in self._shown.warnings_at(row))
        return column in (GridColumn.UNIT, GridColumn.EXPECTED, GridColumn.LAST)

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        if not index.isValid() or self.is_heading(index.row()):
            return flags
        state, row = self._shown, index.row()
        is_first = index.column() == GridColumn.VALUE and not state.second_pass
        is_again = (
            index.column() == GridColumn.AGAIN and state.second_pass and state.is_entered_again(row)
        )
        return flags | Qt.ItemFlag.ItemIsEditable if is_first or is_again else flags

    @override
    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        if not index.isValid():
            return None
        row, column = index.row(), index.column()
        if role == Role.EditRole:
            return self.cell(row, column)
        if role == GHOST_ROLE:
            return self._ghost(row) if column == GridColumn.VALUE else ""
        if role == DOUBT_ROLE:
            return any(one.is_open for one in self._shown.warnings_at(row))
        return super().data(index, role)

    def _ghost(self, row: int) -> str:
        expected = self._shown.rows[row].expected
        return expected.text if expected else ""

    @override
    def _look(self, row: int, column: int, role: int) -> Any:
        if role == Role.ForegroundRole and column == GridColumn.VALUE and not self.is_heading(row):
            return QColor(self._theme.colors.ink)
        return super()._look(row, column, role)

    @override
    def setData(self, index: Index, value: Any, role: int = Role.EditRole) -> bool:
        stop = self.stop(index)
        if role != Role.EditRole or stop is None:
            return False
        text = str(value).strip()
        if stop.again:
            if text != self._shown.second(stop.row):
                self.typed_again.emit(stop.row, text)
        elif text != self._shown.text(stop.row):
            self._shown.set_text(stop.row, text)
            self.typed.emit(stop.row, text)
        self.dataChanged.emit(index, index)
        return True
