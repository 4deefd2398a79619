"""Tables of the Results page: rows of a file, its problems, past intakes, and what moved."""

from collections.abc import Sequence

from PySide6.QtCore import QObject, Qt
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.lab_intake import (
    PreviewState,
    RowColumn,
    RowFilter,
    has_condition,
    problem_cells,
)
from fluiddesk.services.lab_intake.facts import (
    IntakePreview,
    Moved,
    PastIntake,
    PreviewRow,
    ProblemFacts,
    RowFate,
)


class PreviewModel(FactModel):
    """The rows of a laboratory's file under a filter and an order.

    The plain value of the condition column is (severity before, severity after), or ``None`` for a
    row without one.
    """

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._state: PreviewState | None = None

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Row"), is_number=True, tip=self.tr("Row of the file")),
            FactColumn(title=self.tr("Bottle code")),
            FactColumn(title=self.tr("Machine")),
            FactColumn(title=self.tr("Compartment")),
            FactColumn(title=self.tr("Row is"), tip=self.tr("What taking in does with the row")),
            FactColumn(title=self.tr("Condition"), tip=self.tr("Before, and after taking in")),
            FactColumn(title=self.tr("What it says")),
            FactColumn(title=self.tr("Sampled on")),
            FactColumn(title=self.tr("Report")),
            FactColumn(title=self.tr("Issue"), is_number=True),
        )

    @property
    def state(self) -> PreviewState | None:
        """The view state, once a file is shown."""
        return self._state

    def show(self, preview: IntakePreview | None) -> None:
        """Show another file, or none."""
        self.beginResetModel()
        self._state = PreviewState(preview) if preview else None
        self.endResetModel()

    def show_rows(self, row_filter: RowFilter) -> None:
        """Show the rows of one filter."""
        if self._state is not None:
            self.beginResetModel()
            self._state.show(row_filter)
            self.endResetModel()

    def row(self, position: int) -> PreviewRow:
        """The row of the file that stands at a place of the table."""
        return self._shown[position]

    @property
    def _shown(self) -> PreviewState:
        if self._state is None:
            message = "no file is shown"
            raise LookupError(message)
        return self._state

    @override
    def length(self) -> int:
        return len(self._state) if self._state is not None else 0

    @override
    def cell(self, row: int, column: int) -> str:
        return self._shown.text(self._shown[row], RowColumn(column))

    @override
    def value(self, row: int, column: int) -> object:
        shown = self._shown[row]
        if column != RowColumn.CONDITION or not has_condition(shown):
            return None
        before = shown.severity_before if shown.moves else shown.severity_after
        return (before, shown.severity_after)

    @override
    def tip(self, row: int, column: int) -> str:
        shown = self._shown[row]
        if column == RowColumn.MACHINE and shown.site:
            return f"{shown.machine}, {shown.site}"
        return self.cell(row, column)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        fate = self._shown[row].fate
        return fate is RowFate.UNCHANGED or column in (RowColumn.ROW, RowColumn.ISSUE)

    @override
    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        if self._state is None or column < 0:
            return
        self.layoutAboutToBeChanged.emit()
        before = self._state.visible.tolist()
        self._state.sort(RowColumn(column), descending=order == Qt.SortOrder.DescendingOrder)
        self._move_persistent(before, self._state.visible.tolist())
        self.layoutChanged.emit()


class ProblemModel(FactModel):
    """What is wrong in a file: where, what it says there, and what to do."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self.problems: tuple[ProblemFacts, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Row"), is_number=True),
            FactColumn(title=self.tr("Column")),
            FactColumn(title=self.tr("Value")),
            FactColumn(title=self.tr("What is wrong")),
            FactColumn(title=self.tr("What to do")),
        )

    def show(self, problems: Sequence[ProblemFacts]) -> None:
        """Show other problems."""
        self.beginResetModel()
        self.problems = tuple(problems)
        self.endResetModel()

    def first_of_row(self, file_row: int) -> int | None:
        """Where the first problem of a row of the file stands; ``None`` if it has none."""
        places = (place for place, one in enumerate(self.problems) if one.row == file_row)
        return next(places, None)

    @override
    def length(self) -> int:
        return len(self.problems)

    @override
    def cell(self, row: int, column: int) -> str:
        return problem_cells(self.problems[row])[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return not self.problems[row].holds_row


class MovedModel(FactModel):
    """The compartments whose severity changed; the condition's plain value is (before, after)."""

    CONDITION = 3

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._moved: tuple[Moved, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Site")),
            FactColumn(title=self.tr("Machine")),
            FactColumn(title=self.tr("Compartment")),
            FactColumn(title=self.tr("Condition")),
            FactColumn(title=self.tr("What it says")),
        )

    def show(self, moved: Sequence[Moved]) -> None:
        """Show other compartments, the worst first."""
        self.beginResetModel()
        self._moved = tuple(sorted(moved, key=lambda one: -int(one.after)))
        self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._moved)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._moved[row]
        change = f"{one.before.word} → {one.after.word}"
        return (one.site, one.machine, one.compartment, change, one.headline)[column]

    @override
    def value(self, row: int, column: int) -> object:
        one = self._moved[row]
        return (one.before, one.after) if column == self.CONDITION else None


class PastIntakeModel(FactModel):
    """The files taken in before, newest first."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._past: tuple[PastIntake, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("File")),
            FactColumn(title=self.tr("Layout")),
            FactColumn(title=self.tr("Taken in at (UTC)")),
            FactColumn(title=self.tr("By")),
            FactColumn(title=self.tr("Results"), is_number=True),
            FactColumn(title=self.tr("Held"), is_number=True),
            FactColumn(title=self.tr("State")),
        )

    def show(self, past: Sequence[PastIntake]) -> None:
        """Show other intakes."""
        self.beginResetModel()
        self._past = tuple(sorted(past, key=lambda one: one.taken_in_at, reverse=True))
        self.endResetModel()

    def intake(self, row: int) -> PastIntake:
        """The intake of a row."""
        return self._past[row]

    @override
    def length(self) -> int:
        return len(self._past)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._past[row]
        cells = (
            one.file_name,
            one.layout,
            one.taken_in_at.strftime("%Y-%m-%d %H:%M"),
            one.who,
            str(one.taken_in),
            str(one.held) if one.held else "",
            self.tr("Undone") if one.is_undone else self.tr("In force"),
        )
        return cells[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return self._past[row].is_undone
