"""The settings of a limit set as a small form: figure, unit, usual value, meaning."""

from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.limit_draft import RuleDraft
from fluiddesk.desktop.viewstate.limit_settings import SettingRow, SettingRows, written_setting
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.limits.limit_set import LimitSet
from fluiddesk.services.limit_rules.settings_told import SETTINGS

_FIELD_WIDTH = 84


@dataclass(frozen=True, kw_only=True)
class _Line:
    """The parts of one setting on screen."""

    title: QuietLabel
    field: QLineEdit
    unit: QuietLabel
    usual: QuietLabel
    reset: QPushButton
    meaning: QuietLabel


class SettingsPanel(QWidget):
    """Shows how the limits of a set are combined; typed into while the set is a draft.

    Signals:
        typed: (key of the setting, text); an empty text means the usual value.
    """

    typed = Signal(int, str)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._about = QuietLabel("small", theme)
        self._about.setWordWrap(True)
        self._rows: tuple[SettingRow, ...] = ()
        self._is_draft = False
        self._lines: list[_Line] = []
        self._heads = [QuietLabel("small", theme) for _ in range(3)]
        body = QWidget()
        grid = QGridLayout(body)
        grid.setContentsMargins(0, 0, MARGIN, 0)
        grid.setHorizontalSpacing(GAP)
        grid.setVerticalSpacing(STEP)
        grid.setColumnStretch(5, 1)
        words = (self.tr("Setting"), self.tr("Usual"), self.tr("What it does"))
        for label, text, column in zip(self._heads, words, (0, 3, 5), strict=True):
            label.setText(text)
            grid.addWidget(label, 0, column)
        for key in range(len(SETTINGS)):
            self._lines.append(self._line(key, theme))
            self._lay(grid, key)
        grid.setRowStretch(len(SETTINGS) + 1, 1)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(body)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        lines = QVBoxLayout(self)
        lines.setContentsMargins(GAP, 0, 0, GAP)
        lines.setSpacing(GAP)
        lines.addWidget(self._about)
        lines.addWidget(scroll, 1)

    def _line(self, key: int, theme: Theme) -> _Line:
        told = SETTINGS[key]
        field = QLineEdit()
        field.setFixedWidth(_FIELD_WIDTH)
        field.setAlignment(Qt.AlignmentFlag.AlignRight)
        field.setAccessibleName(f"{told.title}, {told.unit}")
        field.setAccessibleDescription(told.meaning)
        field.textEdited.connect(partial(self._try, key))
        field.editingFinished.connect(partial(self._take, key))
        reset = QPushButton(self.tr("Reset"))
        reset.setAutoDefault(True)
        reset.setAccessibleName(self.tr("Reset {0} to its usual value").format(told.title))
        reset.clicked.connect(lambda: self.typed.emit(key, ""))
        return _Line(
            title=QuietLabel("body", theme, told.title),
            field=field,
            unit=QuietLabel("small", theme, told.unit),
            usual=QuietLabel("small", theme, told.words(told.usual)),
            reset=reset,
            meaning=QuietLabel("small", theme, told.meaning),
        )

    def _lay(self, grid: QGridLayout, key: int) -> None:
        line = self._lines[key]
        line.title.setWordWrap(True)
        line.meaning.setWordWrap(True)
        for label in (line.unit, line.usual):
            label.setWordWrap(False)
        parts = (line.title, line.field, line.unit, line.usual, line.reset, line.meaning)
        for column, part in enumerate(parts):
            grid.addWidget(part, key + 1, column)
        kept = line.reset.sizePolicy()
        # A reset that comes and goes must not move the columns.
        kept.setRetainSizeWhenHidden(True)
        line.reset.setSizePolicy(kept)

    def show_set(self, limit_set: LimitSet, draft: RuleDraft | None) -> None:
        """Show the settings of a set, or those of a draft."""
        rows = SettingRows(limit_set.settings, {}) if draft is None else draft.settings
        self._rows, self._is_draft = rows.rows, draft is not None
        changed = sum(not row.is_usual for row in self._rows)
        told = self.tr("How the limits are put together, for the whole set.")
        if changed:
            told += " " + self.tr("{0} of {1} are not at their usual value.").format(
                changed, len(self._rows)
            )
        if draft is None:
            told += " " + self.tr("Make a draft to change them.")
        self._about.setText(told + " " + self.tr("Usual values: common practice, no source."))
        for row, line in zip(self._rows, self._lines, strict=True):
            if not (line.field.hasFocus() and line.field.isModified()):
                line.field.setText(row.text)
                line.field.setModified(False)
            line.field.setReadOnly(draft is None)
            line.reset.setVisible(draft is not None and not row.is_usual)
            line.title.set_look("strong" if draft is not None and row.is_changed else "body")
            self._tell(line, row)

    def lead_to(self, key: int) -> None:
        """Lead the keyboard to a setting."""
        field = self._lines[max(key, 0)].field
        if not field.hasFocus():
            field.setFocus()
            field.selectAll()

    @property
    def about(self) -> str:
        """What is told above the form."""
        return self._about.text()

    def reset(self, name: str) -> None:
        """Bring a setting back to its usual value."""
        self._lines[[one.name for one in SETTINGS].index(name)].reset.click()

    def field(self, name: str) -> QLineEdit:
        """The field of a setting."""
        return self._lines[[one.name for one in SETTINGS].index(name)].field

    def told(self, name: str) -> str:
        """What is said beside a setting: its meaning, or what is wrong with what is typed."""
        return self._lines[[one.name for one in SETTINGS].index(name)].meaning.text()

    def _tell(self, line: _Line, row: SettingRow) -> None:
        line.meaning.setText(row.problem or row.told.meaning)
        line.meaning.set_look("strong" if row.problem else "small")

    def _try(self, key: int, text: str) -> None:
        """Say at once what is wrong with what is being typed."""
        if self._is_draft:
            self._tell(self._lines[key], written_setting(self._rows[key], text))

    def _take(self, key: int) -> None:
        line, row = self._lines[key], self._rows[key]
        line.field.setModified(False)
        if not self._is_draft:
            return
        if line.field.text().strip() != row.text:
            self.typed.emit(key, line.field.text())
        else:
            line.field.setText(row.text)
            self._tell(line, row)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        labels = [
            part for one in self._lines for part in (one.title, one.unit, one.usual, one.meaning)
        ]
        for label in (self._about, *self._heads, *labels):
            label.apply_theme(theme)
