"""Tables of the Register page: the records of a section, and the parts of one machine."""

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.record_history import HistoryLine
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register import (
    PartColumn,
    PartRow,
    RecordColumn,
    RegisterRow,
    RegisterState,
)
from fluiddesk.desktop.viewstate.register_words import Record


class RecordModel(FactModel):
    """The records of one section, machines under their sites."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._rows: tuple[RegisterRow, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Name")),
            FactColumn(title=self.tr("What it is")),
            FactColumn(title=self.tr("State")),
            FactColumn(title=self.tr("Still missing")),
        )

    def show(self, state: RegisterState) -> None:
        """Show the records as the view state arranged them."""
        self.beginResetModel()
        self._rows = state.rows
        self.endResetModel()

    def record(self, row: int) -> Record | None:
        """The record of a row; ``None`` for a heading."""
        return self._rows[row].record if 0 <= row < len(self._rows) else None

    @override
    def length(self) -> int:
        return len(self._rows)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._rows[row]
        return (one.name, one.about, one.state, one.lacks)[column]

    @override
    def is_heading(self, row: int) -> bool:
        return self._rows[row].record is None

    @override
    def is_faint(self, row: int, column: int) -> bool:
        one = self._rows[row]
        if column == RecordColumn.LACKS:
            return not one.blocks
        return column != RecordColumn.NAME


class PartModel(FactModel):
    """The boxes, sampling points and meters of one machine."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._rows: tuple[PartRow, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Compartment, point or meter")),
            FactColumn(title=self.tr("Fluid, place or last reading")),
            FactColumn(title=self.tr("L"), is_number=True, tip=self.tr("Capacity in litres")),
            FactColumn(title=self.tr("Interval or day")),
            FactColumn(title=self.tr("Still missing")),
        )

    def show(self, rows: tuple[PartRow, ...]) -> None:
        """Show the parts of a machine; the same parts keep the selection."""
        if len(rows) == len(self._rows) and rows:
            self._rows = rows
            corner = self.index(len(rows) - 1, len(PartColumn) - 1)
            self.dataChanged.emit(self.index(0, 0), corner)
            return
        self.beginResetModel()
        self._rows = rows
        self.endResetModel()

    def record(self, row: int) -> Record | None:
        """The part in a row."""
        return self._rows[row].record if 0 <= row < len(self._rows) else None

    @override
    def length(self) -> int:
        return len(self._rows)

    @override
    def cell(self, row: int, column: int) -> str:
        return self._rows[row].cells[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (PartColumn.FLUID, PartColumn.INTERVAL)


class TrailModel(FactModel):
    """The papers, remarks and changes of a record, newest first."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._lines: tuple[TrailLine, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("When (UTC)")),
            FactColumn(title=self.tr("Who")),
            FactColumn(title=self.tr("What")),
            FactColumn(title=self.tr("Words")),
        )

    def show(self, lines: tuple[TrailLine, ...]) -> None:
        """Show these lines."""
        self.beginResetModel()
        self._lines = lines
        self.endResetModel()

    def line(self, row: int) -> TrailLine | None:
        """The line in a row."""
        return self._lines[row] if 0 <= row < len(self._lines) else None

    @override
    def length(self) -> int:
        return len(self._lines)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._lines[row]
        return (one.at, one.who, one.what, one.words)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column < len(self.heads()) - 1


class HistoryModel(FactModel):
    """What happened to a machine or a box, newest first."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._lines: tuple[HistoryLine, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Day")),
            FactColumn(title=self.tr("What")),
            FactColumn(title=self.tr("Words")),
            FactColumn(
                title=self.tr("Hours"), is_number=True, tip=self.tr("True hours of the machine")
            ),
        )

    def show(self, lines: tuple[HistoryLine, ...]) -> None:
        """Show these lines."""
        self.beginResetModel()
        self._lines = lines
        self.endResetModel()

    def line(self, row: int) -> HistoryLine | None:
        """The line in a row."""
        return self._lines[row] if 0 <= row < len(self._lines) else None

    @override
    def length(self) -> int:
        return len(self._lines)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._lines[row]
        return (one.on, one.what, one.words, one.hours)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column == 0 or self._lines[row].is_void
