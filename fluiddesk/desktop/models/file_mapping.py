"""Tables of the mapping view: the columns of a file, and its first rows as they stand."""

from collections.abc import Sequence
from enum import IntEnum

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.file_mapping import NOT_USED, MappingState


class MappingColumn(IntEnum):
    """Columns of the table of columns."""

    HEADING = 0
    CARRIES = 1
    UNIT = 2
    SURE = 3
    EXAMPLES = 4


class MappingModel(FactModel):
    """The columns of a file with what they carry."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._state: MappingState | None = None

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Heading in the file")),
            FactColumn(title=self.tr("Carries")),
            FactColumn(title=self.tr("Unit")),
            FactColumn(title=self.tr("Sure"), is_number=True),
            FactColumn(title=self.tr("In the file")),
        )

    @property
    def state(self) -> MappingState | None:
        """The view state, once a file was looked at."""
        return self._state

    def show(self, state: MappingState | None) -> None:
        """Show another file, or another reading of it."""
        self.beginResetModel()
        self._state = state
        self.endResetModel()

    def show_again(self) -> None:
        """Draw every row anew after a choice."""
        if self.length():
            corner = self.index(self.length() - 1, self.columnCount() - 1)
            self.dataChanged.emit(self.index(0, 0), corner)

    @property
    def _shown(self) -> MappingState:
        if self._state is None:
            message = "no file was looked at"
            raise LookupError(message)
        return self._state

    @override
    def length(self) -> int:
        return len(self._state.rows) if self._state is not None else 0

    @override
    def cell(self, row: int, column: int) -> str:
        state = self._shown
        if self.is_heading(row):
            return state.rows[row].title if column == MappingColumn.HEADING else ""
        texts = {
            MappingColumn.HEADING: state.rows[row].title,
            MappingColumn.CARRIES: state.carries(row),
            MappingColumn.UNIT: state.column(row).unit,
            MappingColumn.SURE: state.sure(row),
            MappingColumn.EXAMPLES: state.examples(row),
        }
        return texts[MappingColumn(column)]

    @override
    def is_heading(self, row: int) -> bool:
        return self._shown.rows[row].guess is None

    @override
    def is_faint(self, row: int, column: int) -> bool:
        if column in (MappingColumn.SURE, MappingColumn.EXAMPLES):
            return True
        return column == MappingColumn.CARRIES and self.cell(row, column) == NOT_USED


class RawRowsModel(FactModel):
    """The first rows of a file, cell by cell, under the headings as they are read."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._rows: tuple[tuple[str, ...], ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (FactColumn(title=""),)

    def show(self, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Show these rows under these headings."""
        self.beginResetModel()
        self._columns = tuple(FactColumn(title=one) for one in headings) or self.heads()
        self._rows = tuple(tuple(row) for row in rows)
        self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._rows)

    @override
    def cell(self, row: int, column: int) -> str:
        cells = self._rows[row]
        return cells[column] if column < len(cells) else ""
