"""The versions of the limit set, and what differs between two of them."""

from collections.abc import Mapping, Sequence
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QSplitter, QVBoxLayout, QWidget

from fluiddesk.desktop.models.limit_lists import ChangeModel, VersionModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_versions import ChangeColumn, VersionColumn
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.facts import RowChange, SetFacts

_WIDTHS: Final[Mapping[int, int]] = {
    VersionColumn.NUMBER: 34,
    VersionColumn.STATE: 72,
}
_OPTIONAL: Final[Mapping[int, int]] = {
    VersionColumn.FROM: 98,
    VersionColumn.AUTHOR: 104,
    VersionColumn.UNTIL: 98,
    VersionColumn.NOTE: 200,
}
_PAIR: Final = 2


class LimitHistory(QWidget):
    """Lists the versions; two chosen ones, or one and what it was made from, are compared.

    Signals:
        opened: Enter on a version: its number.
        compare_asked: (earlier, later) numbers.
    """

    opened = Signal(int)
    compare_asked = Signal(int, int)

    def __init__(self, catalogue: Catalogue, *, theme: Theme) -> None:
        super().__init__()
        self._versions = VersionModel(theme=theme, parent=self)
        self.version_table = FactTable(self._versions, name=self.tr("Versions of the limit set"))
        self._changes = ChangeModel(catalogue, theme=theme, parent=self)
        self.change_table = FactTable(self._changes, name=self.tr("What differs"))
        self._caption = QuietLabel("small", theme)
        self._hint = QuietLabel(
            "small", theme, self.tr("Enter shows a version. Choose two to compare them.")
        )
        self.version_table.set_widths(_WIDTHS)
        self.version_table.fit_columns(stretch=VersionColumn.NAME, least=92, optional=_OPTIONAL)
        self.change_table.set_widths({ChangeColumn.BEFORE: 108, ChangeColumn.AFTER: 108})
        self.change_table.fit_columns(
            stretch=ChangeColumn.WHAT, least=112, optional={ChangeColumn.SCOPE: 112}
        )
        self._lay_out()
        self.version_table.row_opened.connect(lambda row: self.opened.emit(self._number(row)))
        self.version_table.selectionModel().selectionChanged.connect(lambda *_: self._chosen())

    def _lay_out(self) -> None:
        left, right = QWidget(), QWidget()
        for holder, caption, table in (
            (left, self._hint, self.version_table),
            (right, self._caption, self.change_table),
        ):
            column = QVBoxLayout(holder)
            column.setContentsMargins(0 if holder is left else GAP, STEP, 0, 0)
            column.setSpacing(STEP)
            column.addWidget(caption)
            column.addWidget(table, 1)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(left)
        split.addWidget(right)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.setSizes([1, 1])
        for place in (0, 1):
            split.setStretchFactor(place, 1)
        row = QHBoxLayout(self)
        row.setContentsMargins(GAP, 0, 0, 0)
        row.addWidget(split)

    def _number(self, row: int) -> int:
        return self._versions.rows[row].number

    def show_versions(self, sets: Sequence[SetFacts], *, shown: int | None) -> None:
        """List the versions, with the one on the page chosen."""
        self._versions.show(sets)
        row = next((at for at, one in enumerate(sets) if one.number == shown), None)
        if row is not None:
            self.version_table.choose(row)
        self._chosen()

    def show_changes(self, changes: Sequence[RowChange], *, before: int, after: int) -> None:
        """Show what differs between two versions."""
        self._changes.show(changes)
        count = self.tr("1 row") if len(changes) == 1 else self.tr("{0} rows").format(len(changes))
        words = self.tr("From {0} to {1}: {2} changed.").format(before, after, count)
        self._caption.setText(
            words if changes else self.tr("{0} and {1} are equal.").format(before, after)
        )

    def _chosen(self) -> None:
        rows = sorted(one.row() for one in self.version_table.selectionModel().selectedRows())
        if len(rows) == _PAIR:
            later, earlier = (self._number(row) for row in rows)
            self.compare_asked.emit(earlier, later)
            return
        one = self._versions.rows[rows[0]] if len(rows) == 1 else None
        if one is not None and one.based_on is not None:
            self.compare_asked.emit(one.based_on, one.number)
        else:
            self._changes.show(())
            self._caption.setText(self.tr("Made from no other version.") if one else "")

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._versions, self._changes, self._caption, self._hint):
            part.apply_theme(theme)
