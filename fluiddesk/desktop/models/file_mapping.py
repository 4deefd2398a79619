"""Tables of the mapping view: the columns of a file, and its first rows as they stand."""

from collections.abc import Sequence
from enum import IntEnum

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import ListModel, StateModel
from fluiddesk.desktop.viewstate.file_mapping import NOT_USED, MappingState


class MappingColumn(IntEnum):
    """Columns of the table of columns."""

    HEADING = 0
    CARRIES = 1
    UNIT = 2
    SURE = 3
    EXAMPLES = 4


class MappingModel(StateModel[MappingState]):
    """The columns of a file with what they carry."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Heading in the file")),
            FactColumn(title=self.tr("Carries")),
            FactColumn(title=self.tr("Unit")),
            FactColumn(title=self.tr("Sure"), is_number=True),
            FactColumn(title=self.tr("In the file")),
        )

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


class RawRowsModel(ListModel[tuple[str, ...]]):
    """The first rows of a file, cell by cell, under the headings as they are read."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (FactColumn(title=""),)

    def show_under(self, headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """Show these rows under these headings."""
        self.beginResetModel()
        self._columns = tuple(FactColumn(title=one) for one in headings) or self.heads()
        self.rows = tuple(tuple(row) for row in rows)
        self.endResetModel()

    @override
    def cell(self, row: int, column: int) -> str:
        cells = self.rows[row]
        return cells[column] if column < len(cells) else ""
