"""Lists of the Rules page: versions, differences, moves, problems, what holds, intervals."""

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, Index
from fluiddesk.desktop.models.limit_rules import CHANGED_ROLE, PROBLEM_ROLE
from fluiddesk.desktop.models.list_model import SteadyListModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.limit_draft import DraftRow, RuleDraft
from fluiddesk.desktop.viewstate.limit_preview import FigureLine
from fluiddesk.desktop.viewstate.limit_versions import (
    ChangeColumn,
    VersionColumn,
    change_text,
    kind_words,
    rule_text,
    scope_words,
    version_text,
)
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.facts import (
    HeldLimit,
    RowChange,
    RuleProblem,
    SetFacts,
    WhatIfMove,
)


class VersionModel(SteadyListModel[SetFacts]):
    """The limit sets, newest first."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("No."), is_number=True),
            FactColumn(title=self.tr("Name")),
            FactColumn(title=self.tr("State")),
            FactColumn(title=self.tr("From")),
            FactColumn(title=self.tr("Until")),
            FactColumn(title=self.tr("By")),
            FactColumn(title=self.tr("Note")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        return version_text(self.rows[row], VersionColumn(column))

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return self.rows[row].is_discarded


class ChangeModel(SteadyListModel[RowChange]):
    """The rows in which two sets differ."""

    def __init__(self, catalogue: Catalogue, *, theme: Theme, parent: QObject) -> None:
        super().__init__(theme=theme, parent=parent)
        self._catalogue = catalogue

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Scope")),
            FactColumn(title=self.tr("What")),
            FactColumn(title=self.tr("Before")),
            FactColumn(title=self.tr("After")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        return change_text(self.rows[row], ChangeColumn(column), self._catalogue)

    @override
    def tip(self, row: int, column: int) -> str:
        return self.rows[row].told


class FigureModel(SteadyListModel[FigureLine]):
    """Figures by the set in force and by the draft; a severity is drawn with its mark."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=""),
            FactColumn(title=self.tr("In force"), is_number=True),
            FactColumn(title=self.tr("Draft"), is_number=True),
            FactColumn(title=self.tr("Change"), is_number=True),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.name, one.before, one.after, one.change)[column]

    @override
    def value(self, row: int, column: int) -> Severity | None:
        return self.rows[row].severity if column == 0 else None

    @override
    def tip(self, row: int, column: int) -> str:
        return self.rows[row].note

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column == 1


class MoveModel(SteadyListModel[WhatIfMove]):
    """The boxes that would stand, or now stand, otherwise."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Box")),
            FactColumn(title=self.tr("Before and after")),
            FactColumn(title=self.tr("Why")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        moved = f"{one.before.word} to {one.after.word}"
        return (f"{one.machine}, {one.compartment}", moved, one.why)[column]

    @override
    def value(self, row: int, column: int) -> tuple[Severity, Severity] | None:
        one = self.rows[row]
        return (one.before, one.after) if column == 1 else None

    @override
    def tip(self, row: int, column: int) -> str:
        one = self.rows[row]
        return f"{one.machine}, {one.compartment}: {self.cell(row, 1)}. {one.why}"


class ProblemModel(SteadyListModel[RuleProblem]):
    """What is wrong with a set, or odd."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Row")),
            FactColumn(title=self.tr("What is wrong")),
            FactColumn(title=self.tr("What to do")),
            FactColumn(title=self.tr("Stops")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        stops = self.tr("yes") if one.stops else self.tr("no")
        if one.accepted:
            stops = self.tr("accepted")
        return (one.where, one.told, one.remedy, stops)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return bool(self.rows[row].accepted)


class HeldModel(SteadyListModel[HeldLimit]):
    """The limits that hold for one box, each with those it overrode."""

    def __init__(self, catalogue: Catalogue, *, theme: Theme, parent: QObject) -> None:
        super().__init__(theme=theme, parent=parent)
        self._catalogue = catalogue

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Analyte")),
            FactColumn(title=self.tr("Looks at")),
            FactColumn(title=self.tr("Watch / Act / Urgent")),
            FactColumn(title=self.tr("Holds for")),
            FactColumn(title=self.tr("Since")),
            FactColumn(title=self.tr("Set by")),
            FactColumn(title=self.tr("Overrode")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        overrode = "; ".join(
            f"{scope_words(other.scope, self._catalogue)}: {rule_text(other)}"
            for other in one.overrode
        )
        return (
            one.analyte,
            kind_words(one.limit),
            f"{rule_text(one.limit)} {'' if one.is_off else one.unit}".strip(),
            self.tr("this box")
            if one.limit.scope.compartment
            else scope_words(one.limit.scope, self._catalogue),
            one.since.isoformat(),
            one.limit.set_by,
            overrode,
        )[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return self.rows[row].is_off or column == len(self._columns) - 1


_INTERVAL_FIELDS = (
    "", "interval_hours", "interval_days", "window_share", "convention", "source", "",
)  # fmt: skip


class IntervalModel(SteadyListModel[IntervalRule]):
    """The interval rules of a set; with a draft their cells can be typed into.

    Signals:
        typed: (key of the draft's row, name of the field, text).
    """

    typed = Signal(int, str, str)

    def __init__(self, catalogue: Catalogue, *, theme: Theme, parent: QObject) -> None:
        super().__init__(theme=theme, parent=parent)
        self._catalogue = catalogue
        self._draft: RuleDraft | None = None
        self._places: Sequence[int] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Scope")),
            FactColumn(title=self.tr("Hours"), is_number=True),
            FactColumn(title=self.tr("Days"), is_number=True),
            FactColumn(
                title=self.tr("Window, %"),
                is_number=True,
                tip=self.tr("How far before and after the due point a sample is on time"),
            ),
            FactColumn(
                title=self.tr("Counted"),
                tip=self.tr("rolling: from the last sample; grid: from the planned point"),
            ),
            FactColumn(title=self.tr("Source")),
            FactColumn(title=self.tr("Set by")),
        )

    def show_rules(
        self,
        rules: Sequence[IntervalRule],
        draft: RuleDraft | None,
        *,
        places: Sequence[int] | None = None,
    ) -> None:
        """Show the rules of a set, or those of a draft.

        Args:
            rules: every rule of the set.
            draft: the draft that cells are typed into.
            places: the places of the rules to show; all where they are left out.
        """
        wanted = range(len(rules)) if places is None else places
        shown = [rules[place] for place in wanted]
        if (self._draft is None) != (draft is None) or list(wanted) != list(self._places):
            self.beginResetModel()
            self._draft, self._places, self.rows = draft, tuple(wanted), shown
            self.endResetModel()
            return
        self._draft = draft
        self.show(shown)

    def _own(self, row: int) -> DraftRow[IntervalRule] | None:
        """The row of the draft that is shown in a row; ``None`` where nothing is drafted."""
        return None if self._draft is None else self._draft.intervals.rows[self._places[row]]

    def key(self, row: int) -> int | None:
        """The key of a row in the draft; ``None`` where nothing is drafted."""
        own = self._own(row) if 0 <= row < self.length() else None
        return None if own is None else own.key

    def row_of(self, key: int) -> int | None:
        """The row in which a row of the draft is shown."""
        return next((row for row in range(self.length()) if self.key(row) == key), None)

    @override
    def cell(self, row: int, column: int) -> str:
        name, own = _INTERVAL_FIELDS[column], self._own(row)
        if own is not None and name:
            kept = own.typed.get(name)
            if kept is not None:
                return kept
        one = self.rows[row]
        hours = "" if one.interval_hours is None else f"{one.interval_hours:g}"
        return (
            scope_words(one.scope, self._catalogue),
            hours,
            "" if one.interval_days is None else str(one.interval_days),
            f"{100 * one.window_share:g}",
            one.convention,
            one.source,
            one.set_by,
        )[column]

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        if index.isValid() and self._draft is not None and _INTERVAL_FIELDS[index.column()]:
            return flags | Qt.ItemFlag.ItemIsEditable
        return flags

    @override
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if not index.isValid():
            return None
        row, column = index.row(), index.column()
        if role == Qt.ItemDataRole.EditRole:
            return self.cell(row, column)
        one = self._own(row)
        if one is not None and role in (PROBLEM_ROLE, CHANGED_ROLE):
            name = _INTERVAL_FIELDS[column]
            if role == PROBLEM_ROLE:
                return one.cell_problem(name) if name not in ("", "source") else ""
            if not name or one.was is None:
                return bool(name) and name != "source"
            return name in one.typed or getattr(one.rule, name) != getattr(one.was, name)
        return super().data(index, role)

    @override
    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        key = self.key(index.row())
        if role != Qt.ItemDataRole.EditRole or key is None:
            return False
        if str(value).strip() != self.cell(index.row(), index.column()):
            self.typed.emit(key, _INTERVAL_FIELDS[index.column()], str(value))
        return True
