"""The fields of one reckoning: label, field and unit in three columns."""

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QLineEdit, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.reckoner import unit_shown
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.reckoner.facts import Field

_FIELD_WIDTH = 120
_LABEL_WIDTH = 176
_UNIT_WIDTH = 44


class FieldForm(QWidget):
    """Asks for the figures of a reckoning.

    Signals:
        typed: the name of a field and its text, with every letter.
    """

    typed = Signal(str, str)

    def __init__(
        self, fields: tuple[Field, ...], theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._edits: dict[str, QLineEdit | QComboBox] = {}
        self._labels: list[QuietLabel] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(GAP)
        self._grid.setVerticalSpacing(STEP)
        self._grid.setColumnMinimumWidth(0, _LABEL_WIDTH)
        self._grid.setColumnMinimumWidth(2, _UNIT_WIDTH)
        self._grid.setColumnStretch(0, 1)
        for field in fields:
            self._add(field, theme)
        self._grid.setRowStretch(self._grid.rowCount(), 1)

    def _add(self, field: Field, theme: Theme) -> None:
        row = self._grid.rowCount()
        label = QuietLabel("body", theme, field.label)
        label.setWordWrap(True)
        edit = self._choice(field) if field.choices else self._line(field)
        edit.setAccessibleName(
            f"{field.label}, {unit_shown(field.unit)}" if field.unit else field.label
        )
        label.setBuddy(edit)
        self._labels.append(label)
        self._edits[field.name] = edit
        if field.is_long:
            self._grid.addWidget(label, row, 0, 1, 3)
            self._grid.addWidget(edit, row + 1, 0, 1, 3)
            return
        edit.setFixedWidth(_FIELD_WIDTH)
        self._grid.addWidget(label, row, 0)
        self._grid.addWidget(edit, row, 1)
        unit = QuietLabel("small", theme, unit_shown(field.unit))
        self._labels.append(unit)
        self._grid.addWidget(unit, row, 2)

    def _line(self, field: Field) -> QLineEdit:
        edit = QLineEdit()
        hint = field.default or field.example
        edit.setPlaceholderText(hint if field.default else self.tr("e.g. {0}").format(hint))
        if not hint:
            edit.setPlaceholderText("")
        if field.unit:
            edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        edit.textChanged.connect(lambda text, name=field.name: self.typed.emit(name, text))
        return edit

    def _choice(self, field: Field) -> QComboBox:
        edit = QComboBox()
        edit.setPlaceholderText(self.tr("Choose"))
        edit.addItems(list(field.choices))
        edit.setCurrentIndex(-1)
        edit.currentTextChanged.connect(lambda text, name=field.name: self.typed.emit(name, text))
        return edit

    def edit(self, name: str) -> QLineEdit | QComboBox:
        """The field of a name."""
        return self._edits[name]

    def show_typed(self, typed: Mapping[str, str]) -> None:
        """Put texts into the fields; those without one are emptied."""
        for name, edit in self._edits.items():
            text = typed.get(name, "")
            if isinstance(edit, QComboBox):
                edit.setCurrentIndex(edit.findText(text))
            else:
                edit.setText(text)
                edit.setCursorPosition(0)

    def focus_first(self) -> None:
        """Lead the keyboard to the first field."""
        first = next(iter(self._edits.values()))
        first.setFocus(Qt.FocusReason.TabFocusReason)

    def apply_theme(self, theme: Theme) -> None:
        """Write in another theme."""
        for label in self._labels:
            label.apply_theme(theme)
