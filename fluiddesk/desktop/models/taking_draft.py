"""The sheet of a visit as a table to be keyed."""

from typing import Any

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.taking_draft import Cell, TakingDraft

Index = QModelIndex | QPersistentModelIndex


class TakingModel(FactModel):
    """The bottles of a ``TakingDraft``.

    Signals:
        written: a cell was written.
    """

    written = Signal()

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self.draft: TakingDraft | None = None

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        yes_no = self.tr("y or n; Space turns it; Ctrl+D fills the blanks below")
        return (
            FactColumn(title=self.tr("No."), is_number=True),
            FactColumn(title=self.tr("Box")),
            FactColumn(title=self.tr("Bottle")),
            FactColumn(title=self.tr("Taken"), tip=yes_no),
            FactColumn(title=self.tr("Method"), tip=self.tr("probe, tube, drain or unknown")),
            FactColumn(title=self.tr("Flushed"), tip=yes_no),
            FactColumn(title=self.tr("Warm"), tip=yes_no),
            FactColumn(title=self.tr("Mixed"), tip=yes_no),
            FactColumn(
                title=self.tr("Filled"), tip=self.tr("above the line, below it, or to the neck")
            ),
            FactColumn(title=self.tr("Lid marked"), tip=yes_no),
            FactColumn(title=self.tr("Added, l"), is_number=True, tip=self.tr("0 is an answer")),
            FactColumn(title=self.tr("Changed"), tip=self.tr("The fluid, at this visit: y or n")),
            FactColumn(title=self.tr("Filter"), tip=self.tr("Changed at this visit: y or n")),
            FactColumn(title=self.tr("Note"), tip=self.tr("Or why it was not taken")),
        )

    def show(self, draft: TakingDraft | None) -> None:
        """Show another sheet."""
        self.beginResetModel()
        self.draft = draft
        self.endResetModel()

    def tell_change(self) -> None:
        """Tell that cells were written by other ways."""
        if self.length():
            corner = self.index(self.length() - 1, self.columnCount() - 1)
            self.dataChanged.emit(self.index(0, 0), corner)

    @override
    def length(self) -> int:
        return 0 if self.draft is None else len(self.draft)

    @override
    def cell(self, row: int, column: int) -> str:
        return "" if self.draft is None else self.draft.text(row, column)

    @override
    def value(self, row: int, column: int) -> object:
        return None if self.draft is None else self.draft.problem(row, column)

    @override
    def tip(self, row: int, column: int) -> str:
        if self.draft is None:
            return ""
        return self.draft.problem(row, column) or self.cell(row, column)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        if self.draft is None:
            return False
        return column == Cell.NUMBER or (
            not self.draft.is_taken(row) and column not in (Cell.BOX, Cell.TAKEN, Cell.NOTE)
        )

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        if not index.isValid() or self.draft is None:
            return flags
        if self.draft.can_write(index.row(), index.column()):
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    @override
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if index.isValid() and role == Qt.ItemDataRole.EditRole:
            return self.cell(index.row(), index.column())
        return super().data(index, role)

    @override
    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        if not index.isValid() or role != Qt.ItemDataRole.EditRole or self.draft is None:
            return False
        self.draft.write(index.row(), index.column(), str(value))
        self.tell_change()
        self.written.emit()
        return True
