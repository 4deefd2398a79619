"""Tables of the Register page: the records of a section, and the parts of one machine."""

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import ListModel, SteadyListModel
from fluiddesk.desktop.viewstate.record_history import HistoryLine
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register import (
    PartColumn,
    PartRow,
    RecordColumn,
    RegisterRow,
)
from fluiddesk.desktop.viewstate.register_words import Record


class RecordModel(ListModel[RegisterRow]):
    """The records of one section, machines under their sites."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Name")),
            FactColumn(title=self.tr("What it is")),
            FactColumn(title=self.tr("State")),
            FactColumn(title=self.tr("Still missing")),
        )

    def record(self, row: int) -> Record | None:
        """The record of a row; ``None`` for a heading."""
        return self.rows[row].record if 0 <= row < len(self.rows) else None

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.name, one.about, one.state, one.lacks)[column]

    @override
    def is_heading(self, row: int) -> bool:
        return self.rows[row].record is None

    @override
    def is_faint(self, row: int, column: int) -> bool:
        one = self.rows[row]
        if column == RecordColumn.LACKS:
            return not one.blocks
        return column != RecordColumn.NAME


class PartModel(SteadyListModel[PartRow]):
    """The boxes, sampling points and meters of one machine."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Compartment, point or meter")),
            FactColumn(title=self.tr("Fluid, place or last reading")),
            FactColumn(title=self.tr("L"), is_number=True, tip=self.tr("Capacity in litres")),
            FactColumn(title=self.tr("Interval or day")),
            FactColumn(title=self.tr("Still missing")),
        )

    def record(self, row: int) -> Record | None:
        """The part in a row."""
        return self.rows[row].record if 0 <= row < len(self.rows) else None

    @override
    def cell(self, row: int, column: int) -> str:
        return self.rows[row].cells[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (PartColumn.FLUID, PartColumn.INTERVAL)


class TrailModel(ListModel[TrailLine]):
    """The papers, remarks and changes of a record, newest first."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("When (UTC)")),
            FactColumn(title=self.tr("Who")),
            FactColumn(title=self.tr("What")),
            FactColumn(title=self.tr("Words")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.at, one.who, one.what, one.words)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column < len(self.heads()) - 1


class HistoryModel(ListModel[HistoryLine]):
    """What happened to a machine or a box, newest first."""

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

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.on, one.what, one.words, one.hours)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column == 0 or self.rows[row].is_void
