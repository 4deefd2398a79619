"""Tables of the Rules page: the scopes with their counts, and the limits of one scope."""

from collections.abc import Callable

from PySide6.QtCore import QObject, Qt
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.limit_ruler import Ruler, aligned, ruler
from fluiddesk.desktop.viewstate.limit_rules import (
    FamilyHeading,
    LimitColumn,
    LimitsState,
    ScopeEntry,
    cell_text,
)
from fluiddesk.services.limit_rules import LimitLine, LimitsShown


class ScopeModel(FactModel):
    """The scopes that limits are set for, with the number of limits in each."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._entries: list[ScopeEntry] = []

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Scope")),
            FactColumn(title="", is_number=True, tip=self.tr("Limits in the scope")),
        )

    def show(self, entries: list[ScopeEntry]) -> None:
        """Show other scopes, or other counts of the same ones, which keeps the selection."""
        if [one.label for one in entries] == [one.label for one in self._entries]:
            self._entries = entries
            self.dataChanged.emit(self.index(0, 0), self.index(len(entries) - 1, 1))
            return
        self.beginResetModel()
        self._entries = entries
        self.endResetModel()

    def scope(self, row: int) -> int | None:
        """The number of the scope in a row; ``None`` for a heading."""
        return self._entries[row].number

    def row_of(self, scope: int) -> int:
        """The row of a scope."""
        return [one.number for one in self._entries].index(scope)

    @override
    def length(self) -> int:
        return len(self._entries)

    @override
    def cell(self, row: int, column: int) -> str:
        entry = self._entries[row]
        if column == 0:
            return entry.label
        return "" if entry.number is None else str(entry.count)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column == 1 or self._entries[row].count == 0

    @override
    def is_heading(self, row: int) -> bool:
        return self._entries[row].number is None


class LimitModel(FactModel):
    """The limits of a scope by family; the plain value of the bands column is a ``Ruler``."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._state: LimitsState | None = None

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Analyte")),
            FactColumn(title=self.tr("Symbol")),
            FactColumn(title=self.tr("Looks at")),
            FactColumn(title=self.tr("Worse"), tip=self.tr("The direction that does harm")),
            FactColumn(title=self.tr("Watch"), is_number=True),
            FactColumn(title=self.tr("Act"), is_number=True),
            FactColumn(title=self.tr("Urgent"), is_number=True),
            FactColumn(title=self.tr("Unit")),
            FactColumn(title=self.tr("Bands"), tip=self.tr("The bands at true proportion")),
            FactColumn(title=self.tr("Needs")),
            FactColumn(title=self.tr("Source")),
            FactColumn(title=self.tr("Set by")),
        )

    @property
    def state(self) -> LimitsState | None:
        """The view state, once a limit set is shown."""
        return self._state

    def show(self, facts: LimitsShown | None) -> None:
        """Show another limit set, under the scope and filter of the last one where they fit."""
        old = self._state
        self.beginResetModel()
        self._state = None if facts is None else _taken_over(facts, old)
        self.endResetModel()

    def choose(self, scope: int) -> None:
        """Show the limits of one scope."""
        self._rearrange(lambda state: state.choose(scope))

    def filter(self, wanted: str) -> None:
        """Show the limits that hold these words."""
        self._rearrange(lambda state: state.filter(wanted))

    def line(self, row: int) -> LimitLine | None:
        """The limit of a row; ``None`` for a heading."""
        shown = self._rows[row]
        return None if isinstance(shown, FamilyHeading) else shown

    @property
    def _rows(self) -> list[FamilyHeading | LimitLine]:
        return [] if self._state is None else self._state.rows

    def _rearrange(self, change: Callable[[LimitsState], None]) -> None:
        if self._state is not None:
            self.beginResetModel()
            change(self._state)
            self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._rows)

    @override
    def cell(self, row: int, column: int) -> str:
        shown = self._rows[row]
        if isinstance(shown, FamilyHeading):
            return shown.text if column == 0 else ""
        text = cell_text(shown, LimitColumn(column))
        decimals = self._state.decimals.get(LimitColumn(column)) if self._state else None
        return text if decimals is None else aligned(text, decimals=decimals)

    @override
    def value(self, row: int, column: int) -> Ruler | None:
        line = self.line(row)
        return ruler(line) if line is not None and column == LimitColumn.BANDS else None

    @override
    def is_faint(self, row: int, column: int) -> bool:
        line = self.line(row)
        quiet = (LimitColumn.UNIT, LimitColumn.SYMBOL, LimitColumn.SET_BY)
        return line is not None and (column in quiet or not line.is_judged)

    @override
    def is_heading(self, row: int) -> bool:
        return isinstance(self._rows[row], FamilyHeading)

    @override
    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        if self._state is None:
            return
        self.layoutAboutToBeChanged.emit()
        old_rows = self._keys()
        by = None if column in (-1, LimitColumn.BANDS) else LimitColumn(column)
        self._state.sort(by, descending=order == Qt.SortOrder.DescendingOrder)
        self._move_persistent(old_rows, self._keys())
        self.layoutChanged.emit()

    def _keys(self) -> list[int | str]:
        """What makes each row itself: a heading's words, a limit's own object."""
        return [row.text if isinstance(row, FamilyHeading) else id(row) for row in self._rows]


def _taken_over(facts: LimitsShown, old: LimitsState | None) -> LimitsState:
    made = LimitsState(facts)
    if old is None:
        return made
    made.filter(old.wanted)
    made.sort(old.sort_column, descending=old.descending)
    if old.chosen >= 0 and old.labels[old.chosen] in made.labels:
        made.choose(made.labels.index(old.labels[old.chosen]))
    return made
