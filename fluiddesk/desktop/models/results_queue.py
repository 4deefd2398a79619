"""The clerk's queue as a table with headings."""

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import StateModel
from fluiddesk.desktop.viewstate.results_queue import (
    QueueColumn,
    QueuePart,
    QueueRow,
    QueueState,
)
from fluiddesk.services.keyed_results.facts import ResultsQueue


class ResultsQueueModel(StateModel[QueueState]):
    """Lines of the queue under the headings of their lists.

    The plain value of the column of the last verdict is its severity.
    """

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Bottle code")),
            FactColumn(title=self.tr("Machine")),
            FactColumn(title=self.tr("Compartment")),
            FactColumn(title=self.tr("Site")),
            FactColumn(title=self.tr("Drawn on")),
            FactColumn(title=self.tr("Days"), is_number=True, tip=self.tr("Since it was drawn")),
            FactColumn(title=self.tr("Last verdict"), tip=self.tr("Of the box, as it stands")),
            FactColumn(title=self.tr("Note")),
        )

    def show_queue(self, queue: ResultsQueue | None) -> None:
        """Show another reading of the queue, under the filter in use."""
        part = self._state.part if self._state else QueuePart.ALL
        self.show_state(QueueState(queue, part=part) if queue is not None else None)

    def show_part(self, part: QueuePart) -> None:
        """Show one list, or all."""
        if self._state is not None:
            self.beginResetModel()
            self._state.show(part)
            self.endResetModel()

    def row(self, position: int) -> QueueRow:
        """The row at a place of the table."""
        return self._shown.rows[position]

    @override
    def length(self) -> int:
        return len(self._state.rows) if self._state is not None else 0

    @override
    def cell(self, row: int, column: int) -> str:
        return self._shown.text(row, QueueColumn(column))

    @override
    def value(self, row: int, column: int) -> object:
        line = self._shown.rows[row].line
        if column != QueueColumn.LAST or line is None or not line.machine:
            return None
        return (line.last_severity, line.last_severity)

    @override
    def is_heading(self, row: int) -> bool:
        return self._shown.rows[row].line is None

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (QueueColumn.SITE, QueueColumn.DRAWN)
