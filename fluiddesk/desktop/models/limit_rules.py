"""Tables of the Rules page: the scopes with their counts, and the limits of one scope."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from PySide6.QtCore import QObject, Qt, Signal
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel, Index
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.limit_draft import RuleDraft
from fluiddesk.desktop.viewstate.limit_ruler import Ruler, aligned, ruler
from fluiddesk.desktop.viewstate.limit_rules import (
    FamilyHeading,
    LimitColumn,
    LimitsState,
    ScopeEntry,
    cell_text,
)
from fluiddesk.desktop.viewstate.limit_writing import BOUNDS
from fluiddesk.services.limit_rules import LimitLine, LimitsShown

PROBLEM_ROLE: Final = Qt.ItemDataRole.UserRole + 1
"""What is wrong with a cell, in words."""
CHANGED_ROLE: Final = Qt.ItemDataRole.UserRole + 2
"""Whether a cell differs from the set a draft was made from."""
PADDING: Final = " \N{FIGURE SPACE}\N{PUNCTUATION SPACE}"

BOUND_COLUMNS: Final = (LimitColumn.WATCH, LimitColumn.ACT, LimitColumn.URGENT)
FIELDS: Final[Mapping[LimitColumn, str]] = {
    LimitColumn.WATCH: "watch",
    LimitColumn.ACT: "act",
    LimitColumn.URGENT: "urgent",
    LimitColumn.SOURCE: "source",
}
"""The field of a limit that is typed in a column."""


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
    """The limits of a set under a scope, a filter and an order, with headings between families.

    With a draft its cells can be typed into; what was typed is told, not taken over: the page puts
    it into the draft as a step that can be undone, and shows the draft anew.

    Signals:
        typed: (key of the draft's row, name of the field, text).
    """

    typed = Signal(int, str, str)

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._state: LimitsState | None = None
        self._draft: RuleDraft | None = None
        self._key_of: dict[int, int] = {}

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Analyte")),
            FactColumn(title=self.tr("Symbol")),
            FactColumn(title=self.tr("Looks at")),
            FactColumn(title=self.tr("Worse"), tip=self.tr("Whether higher or lower is worse")),
            FactColumn(title=self.tr("Watch"), is_number=True),
            FactColumn(title=self.tr("Act"), is_number=True),
            FactColumn(title=self.tr("Urgent"), is_number=True),
            FactColumn(title=self.tr("Unit")),
            FactColumn(title=self.tr("Bands")),
            FactColumn(title=self.tr("Needs")),
            FactColumn(title=self.tr("Source")),
            FactColumn(title=self.tr("Set by")),
        )

    @property
    def state(self) -> LimitsState | None:
        """The view state, once a limit set is shown."""
        return self._state

    def show(
        self,
        facts: LimitsShown | None,
        draft: RuleDraft | None = None,
        *,
        box_names: Mapping[str, str] | None = None,
    ) -> None:
        """Show another limit set, under the scope and filter of the last one where they fit.

        Where the rows stay the same ones, the selection and the cell with the keyboard stay too.
        """
        old, before = self._state, self._keys()
        made = None if facts is None else _taken_over(facts, old, box_names or {})
        key_of = {} if draft is None else {id(row.rule): row.key for row in draft.limits.rows}
        was_draft = self._draft is not None
        if before and made is not None and was_draft == (draft is not None):
            after = [_row_key(row, key_of) for row in made.rows]
            if before == after and draft is not None:
                self._state, self._draft, self._key_of = made, draft, key_of
                self._tell_all()
                return
        self.beginResetModel()
        self._state, self._draft, self._key_of = made, draft, key_of
        self.endResetModel()

    def _tell_all(self) -> None:
        corner = self.index(self.length() - 1, len(LimitColumn) - 1)
        self.dataChanged.emit(self.index(0, 0), corner)

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

    def key(self, row: int) -> int | None:
        """The key of a row in the draft; ``None`` for a heading, and where nothing is drafted."""
        line = self.line(row) if 0 <= row < self.length() else None
        return None if line is None else self._key_of.get(id(line.limit))

    def key_of(self, line: LimitLine) -> int | None:
        """The key of a limit in the draft, whether it is in view or not."""
        return self._key_of.get(id(line.limit))

    def row_of(self, key: int) -> int | None:
        """The row in which a row of the draft is shown, if the scope and the filter show it."""
        return next((row for row in range(self.length()) if self.key(row) == key), None)

    def problem(self, row: int, column: int) -> str:
        """What is wrong with a cell of the draft; empty while it is sound."""
        key, name = self.key(row), FIELDS.get(LimitColumn(column))
        if key is None or name not in BOUNDS or self._draft is None:
            return ""
        return self._draft.limits.row(key).cell_problem(name)

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
        kept = self._typed(row, column)
        if kept is not None:
            return kept
        if shown.limit.is_off and LimitColumn(column) in BOUND_COLUMNS:
            return self.tr("off")
        text = cell_text(shown, LimitColumn(column))
        decimals = self._state.decimals.get(LimitColumn(column)) if self._state else None
        return text if decimals is None else aligned(text, decimals=decimals)

    def _typed(self, row: int, column: int) -> str | None:
        """A text that could not be read, as it was typed."""
        key, name = self.key(row), FIELDS.get(LimitColumn(column))
        if key is None or name is None or self._draft is None:
            return None
        return self._draft.limits.row(key).typed.get(name)

    @override
    def value(self, row: int, column: int) -> Ruler | None:
        line = self.line(row)
        return ruler(line) if line is not None and column == LimitColumn.BANDS else None

    @override
    def tip(self, row: int, column: int) -> str:
        return self.problem(row, column) or super().tip(row, column)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        line = self.line(row)
        quiet = (LimitColumn.UNIT, LimitColumn.SYMBOL, LimitColumn.SET_BY)
        if line is None:
            return False
        return column in quiet or not line.is_judged or line.limit.is_off

    def is_changed(self, row: int, column: int) -> bool:
        """Whether a cell differs from the set the draft was made from."""
        key, name = self.key(row), FIELDS.get(LimitColumn(column))
        if key is None or name is None or self._draft is None:
            return False
        one = self._draft.limits.row(key)
        if one.was is None or one.rule.is_off != one.was.is_off:
            return name in BOUNDS
        return name in one.typed or getattr(one.rule, name) != getattr(one.was, name)

    @override
    def is_heading(self, row: int) -> bool:
        return isinstance(self._rows[row], FamilyHeading)

    # --- typing -----------------------------------------------------------------------------

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        if index.isValid() and self.is_editable(index.row(), index.column()):
            return flags | Qt.ItemFlag.ItemIsEditable
        return flags

    def is_editable(self, row: int, column: int) -> bool:
        """Whether a cell can be typed into."""
        line = self.line(row)
        if self._draft is None or line is None or LimitColumn(column) not in FIELDS:
            return False
        return not (line.limit.is_off and LimitColumn(column) in BOUND_COLUMNS)

    @override
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role == Qt.ItemDataRole.EditRole and index.isValid():
            return self.cell(index.row(), index.column()).strip(PADDING)
        if role == PROBLEM_ROLE and index.isValid():
            return self.problem(index.row(), index.column())
        if role == CHANGED_ROLE and index.isValid():
            return self.is_changed(index.row(), index.column())
        return super().data(index, role)

    @override
    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        key = self.key(index.row())
        if role != Qt.ItemDataRole.EditRole or key is None:
            return False
        if str(value).strip() != self.data(index, Qt.ItemDataRole.EditRole):
            self.typed.emit(key, FIELDS[LimitColumn(index.column())], str(value))
        return True

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
        """What makes each row itself: a heading's words, a draft's key, a limit's own object."""
        return [_row_key(row, self._key_of) for row in self._rows]


def _row_key(row: FamilyHeading | LimitLine, key_of: Mapping[int, int]) -> int | str:
    if isinstance(row, FamilyHeading):
        return row.text
    return key_of.get(id(row.limit), id(row))


def _taken_over(
    facts: LimitsShown, old: LimitsState | None, box_names: Mapping[str, str]
) -> LimitsState:
    made = LimitsState(facts, box_names=box_names)
    if old is not None:
        made.take_over(old)
    return made
