"""Edits what a row holds besides its bounds: fields below the table, checked while typing."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from functools import partial
from typing import Any, Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QLineEdit,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_draft import DraftRow
from fluiddesk.desktop.viewstate.limit_row_fields import (
    RowField,
    interval_fields,
    interval_sentence,
    limit_fields,
    row_problems,
)
from fluiddesk.desktop.viewstate.limit_writing import written, written_interval
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit
from fluiddesk.services.catalogue import Catalogue

_COLUMNS: Final = 3
_LAST_ROW: Final = 10
_Field = QComboBox | QLineEdit


class FieldGrid(QWidget):
    """Labelled fields in three columns.

    Signals:
        typed: (name of the field, text), when a field is left or a choice is made.
        tried: the same at each letter.
    """

    typed = Signal(str, str)
    tried = Signal(str, str)

    def __init__(self, labels: Mapping[str, str], *, wide: str, theme: Theme) -> None:
        super().__init__()
        self.fields: dict[str, _Field] = {}
        self._theme, self._labels = theme, dict(labels)
        self._names: dict[str, QuietLabel] = {}
        self._shown: dict[str, str] = {}
        self._wide = wide
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, GAP, 0)
        self._grid.setRowStretch(_LAST_ROW, 1)
        self._grid.setHorizontalSpacing(GAP)
        self._grid.setVerticalSpacing(STEP)

    def show_fields(self, fields: Sequence[RowField]) -> None:
        """Show what stands in the fields; a text that is being typed stays."""
        for place, one in enumerate(fields):
            if one.name not in self.fields:
                self._make(one, place)
            field, name = self.fields[one.name], self._names[one.name]
            field.setEnabled(not one.closed)
            name.setEnabled(not one.closed)
            field.setToolTip(one.closed)
            self._shown[one.name] = one.text
            if isinstance(field, QComboBox):
                field.setCurrentIndex(field.findData(one.text))
            elif not (field.hasFocus() and field.isModified()):
                field.setText(one.text)
                field.setCursorPosition(0)
                field.setModified(False)
                field.setPlaceholderText(one.closed)

    def name_field(self, name: str, words: str) -> None:
        """Call a field otherwise: its unit depends on the row."""
        self._names[name].setText(words)
        self.fields[name].setAccessibleName(words)

    def _make(self, one: RowField, place: int) -> None:
        label = QuietLabel("small", self._theme, self._labels[one.name])
        label.setWordWrap(False)
        field: _Field
        if one.choices:
            field = QComboBox()
            for code, words in one.choices:
                field.addItem(words, code)
            field.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
            field.setMinimumContentsLength(4)
            field.activated.connect(partial(self._choose, one.name))
        else:
            field = QLineEdit()
            field.setMinimumWidth(60)
            field.textEdited.connect(partial(self.tried.emit, one.name))
            field.editingFinished.connect(partial(self._take, one.name))
        field.setAccessibleName(self._labels[one.name])
        label.setBuddy(field)
        row, column = divmod(place, _COLUMNS)
        span = 2 * _COLUMNS - 2 * column - 1 if one.name == self._wide else 1
        self._grid.addWidget(label, row, 2 * column)
        self._grid.addWidget(field, row, 2 * column + 1, 1, span)
        self._grid.setColumnStretch(2 * column + 1, 1)
        self.fields[one.name], self._names[one.name] = field, label

    def _choose(self, name: str, place: int) -> None:
        field = self.fields[name]
        if isinstance(field, QComboBox):
            code = str(field.itemData(place))
            if code != self._shown[name]:
                self.typed.emit(name, code)

    def _take(self, name: str) -> None:
        field = self.fields[name]
        if isinstance(field, QLineEdit):
            field.setModified(False)
            if field.text().strip() != self._shown[name]:
                self.typed.emit(name, field.text())

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for label in self._names.values():
            label.apply_theme(theme)


class RowEditor(QWidget):
    """Edits the chosen row of a draft, a limit or an interval rule.

    Signals:
        limit_typed, interval_typed: (key of the row, name of the field, text).
        left: Esc was pressed: the table is wanted again.
    """

    limit_typed = Signal(int, str, str)
    interval_typed = Signal(int, str, str)
    left = Signal()

    def __init__(self, catalogue: Catalogue, *, theme: Theme) -> None:
        super().__init__()
        self._catalogue = catalogue
        self._row: DraftRow[Any] | None = None
        self.today = date.min
        self._title = QuietLabel("strong", theme)
        self.limit_grid = FieldGrid(self._limit_labels(), wide="note", theme=theme)
        self.interval_grid = FieldGrid(self._interval_labels(), wide="", theme=theme)
        self._said = QuietLabel("small", theme)
        self.problems = QuietLabel("body", theme)
        self.problems.setWordWrap(True)
        self._grids = QStackedWidget()
        for grid in (self.limit_grid, self.interval_grid):
            self._grids.addWidget(grid)
            grid.typed.connect(self._take)
            grid.tried.connect(self._try)
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, GAP, 0, 0)
        column.setSpacing(STEP)
        for part in (self._title, self._grids, self._said, self.problems):
            column.addWidget(part)
        column.addStretch(1)

    def _limit_labels(self) -> dict[str, str]:
        return {
            "boundary": self.tr("A value on the bound is"),
            "fluid_class": self.tr("Fluid class"),
            "companion": self.tr("Companion"),
            "least_change": self.tr("Least change"),
            "group": self.tr("Group"),
            "act_needs": self.tr("Analytes for Act"),
            "urgent_needs": self.tr("Analytes for Urgent"),
            "off_until": self.tr("Off until"),
            "source": self.tr("Source"),
            "note": self.tr("Note"),
        }

    def _interval_labels(self) -> dict[str, str]:
        return {
            "interval_hours": self.tr("Every, h"),
            "interval_days": self.tr("Or every, days"),
            "window_share": self.tr("Window, \N{PLUS-MINUS SIGN} % of the interval"),
            "convention": self.tr("Counted"),
            "source": self.tr("Source"),
            "note": self.tr("Note"),
        }

    @property
    def text(self) -> str:
        """What is said of the row: its title, what it comes to, what is wrong with it."""
        parts = (self._title.text(), self._said.text(), self.problems.text())
        return "\n".join(part for part in parts if part)

    def show_row(self, row: DraftRow[Any] | None, *, title: str, unit: str = "") -> None:
        """Show a row of the draft; ``None`` while no row can be edited."""
        self._row = row
        self._grids.setVisible(row is not None)
        if row is None:
            self._title.setText(self.tr("Choose a row of a draft to edit the rest of it."))
            self._say("", [])
            return
        self._title.setText(f"{title}, {unit}" if unit else title)
        is_limit = isinstance(row.rule, Limit)
        grid = self.limit_grid if is_limit else self.interval_grid
        grid.show_fields(limit_fields(row, self._catalogue) if is_limit else interval_fields(row))
        if is_limit:
            least = self.tr("Least change, {0}").format(unit or "1")
            grid.name_field("least_change", least)
        self._grids.setCurrentWidget(grid)
        self._tell(row)

    def _tell(self, row: DraftRow[Any]) -> None:
        said = interval_sentence(row.rule) if isinstance(row.rule, IntervalRule) else ""
        self._say(said, row_problems(row, self._catalogue, today=self.today))

    def _say(self, said: str, problems: Sequence[str]) -> None:
        self._said.setText(said)
        self._said.setVisible(bool(said))
        self.problems.setText("\n".join(problems))
        self.problems.setVisible(bool(problems))

    def _try(self, name: str, text: str) -> None:
        """Say at once what the row would come to, and what is wrong with it."""
        if self._row is not None:
            write: Callable[..., DraftRow[Any]] = (
                written if isinstance(self._row.rule, Limit) else written_interval
            )
            self._tell(write(self._row, name, text, who=self._row.rule.set_by))

    def _take(self, name: str, text: str) -> None:
        if self._row is not None:
            is_limit = isinstance(self._row.rule, Limit)
            signal = self.limit_typed if is_limit else self.interval_typed
            signal.emit(self._row.key, name, text)

    def lead_in(self) -> None:
        """Lead the keyboard to the first field."""
        grid = self._grids.currentWidget()
        if self._row is not None and isinstance(grid, FieldGrid):
            next(iter(grid.fields.values())).setFocus(Qt.FocusReason.OtherFocusReason)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        parts = (self._title, self._said, self.problems, self.limit_grid, self.interval_grid)
        for part in parts:
            part.apply_theme(theme)
