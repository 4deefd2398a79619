"""The cells of a row that was put aside, with a column to correct them in."""

from enum import IntEnum
from typing import Any

from PySide6.QtCore import Qt
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, Index, Role
from fluiddesk.desktop.models.list_model import StateModel
from fluiddesk.desktop.viewstate.held_rows import HeldRowState


class HeldColumn(IntEnum):
    """Columns of the table."""

    HEADING = 0
    PRINTED = 1
    TAKEN = 2


class HeldRowModel(StateModel[HeldRowState]):
    """One row of a file, a cell in each line."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Heading")),
            FactColumn(title=self.tr("In the file")),
            FactColumn(title=self.tr("To be taken in"), tip=self.tr("Type to correct a cell")),
        )

    @override
    def length(self) -> int:
        return len(self._state.places) if self._state is not None else 0

    @override
    def cell(self, row: int, column: int) -> str:
        state = self._shown
        texts = {
            HeldColumn.HEADING: state.heading(row),
            HeldColumn.PRINTED: state.printed(row),
            HeldColumn.TAKEN: state.text(row),
        }
        return texts[HeldColumn(column)]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        is_same = column == HeldColumn.TAKEN and not self._shown.is_corrected(row)
        return column == HeldColumn.PRINTED or is_same

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        is_open = index.isValid() and index.column() == HeldColumn.TAKEN
        return flags | Qt.ItemFlag.ItemIsEditable if is_open else flags

    @override
    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        if index.isValid() and role == Role.EditRole:
            return self.cell(index.row(), index.column())
        return super().data(index, role)

    @override
    def setData(self, index: Index, value: Any, role: int = Role.EditRole) -> bool:
        if role != Role.EditRole or not self.flags(index) & Qt.ItemFlag.ItemIsEditable:
            return False
        self._shown.correct(index.row(), str(value).strip())
        self.dataChanged.emit(index, index)
        return True
