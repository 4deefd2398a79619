"""The table of past results: what the laboratory printed, and whose it may be."""

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.past_results import PastLine


class PastModel(FactModel):
    """Rows of a file under preview, or rows that wait."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._lines: tuple[PastLine, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Row"), is_number=True),
            FactColumn(title=self.tr("Machine printed")),
            FactColumn(title=self.tr("Compartment printed")),
            FactColumn(title=self.tr("Sampled on")),
            FactColumn(title=self.tr("Most likely")),
            FactColumn(title=self.tr("State or file")),
            FactColumn(title=self.tr("Why it is not sure")),
        )

    def show(self, lines: tuple[PastLine, ...]) -> None:
        """Show these rows."""
        self.beginResetModel()
        self._lines = lines
        self.endResetModel()

    def line(self, row: int) -> PastLine | None:
        """The line in a row."""
        return self._lines[row] if 0 <= row < len(self._lines) else None

    @override
    def length(self) -> int:
        return len(self._lines)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._lines[row]
        return (one.row, one.machine, one.compartment, one.sampled_on, one.match, one.fate,
                one.why)[column]  # fmt: skip

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (0, 6)
