"""The first hour as a list of steps: what each is, what is still missing, and what to do now."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.first_hour import Step
from fluiddesk.desktop.widgets.quiet_label import Look, QuietLabel

_TITLE_WIDTH = 152
_STATE_WIDTH = 64
_TOLD_WIDTH = 440


class FirstHourPanel(QWidget):
    """Leads through the set-up of a fleet.

    Signals:
        action_pressed: the key of a step's action.
    """

    action_pressed = Signal(str)

    def __init__(self, *, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._labels: list[QuietLabel] = []
        self._buttons: dict[str, QPushButton] = {}
        self._steps: Sequence[Step] = ()
        self._first: QPushButton | None = None
        self.note = QuietLabel("small", theme)
        self.register_button = QPushButton(self.tr("Show the register"))
        self._grid_holder = QWidget()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, GAP, 0, 0)
        self._column.setSpacing(MARGIN)
        self._column.addWidget(self._grid_holder, alignment=Qt.AlignmentFlag.AlignLeft)
        row = QHBoxLayout()
        row.addWidget(self.register_button)
        row.addStretch(1)
        self._column.addLayout(row)
        self._column.addWidget(self.note)
        self._column.addStretch(1)
        self.register_button.clicked.connect(lambda: self.action_pressed.emit("register"))

    @property
    def texts(self) -> tuple[str, ...]:
        """Everything that is said, step by step."""
        return tuple(label.text() for label in self._labels)

    def button(self, key: str) -> QPushButton:
        """The button of an action."""
        return self._buttons[key]

    def show_steps(self, steps: Sequence[Step]) -> None:
        """Show the steps as they stand."""
        self._steps = steps
        self._labels, self._buttons = [], {}
        fresh = QWidget()
        grid = QGridLayout(fresh)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(MARGIN)
        grid.setVerticalSpacing(GAP)
        grid.setColumnMinimumWidth(1, _TITLE_WIDTH)
        grid.setColumnMinimumWidth(2, _TOLD_WIDTH)
        grid.setColumnMinimumWidth(3, _STATE_WIDTH)
        for row, step in enumerate(steps):
            self._add(grid, row, step)
        self._column.replaceWidget(self._grid_holder, fresh)
        self._grid_holder.hide()
        self._grid_holder.deleteLater()
        self._grid_holder = fresh
        self.register_button.setVisible(any(step.is_done for step in steps))
        self._make_default(steps)

    @override
    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._first is not None:
            self._first.setFocus(Qt.FocusReason.OtherFocusReason)

    def _make_default(self, steps: Sequence[Step]) -> None:
        """Mark the first thing to do: that of the first open step.

        Out of sight it must not take the keyboard from the page somebody works on.
        """
        self._first = None
        for step in steps:
            if not step.is_done and step.actions:
                first = self._buttons[step.actions[0][0]]
                first.setDefault(True)
                self._first = first
                if self.isVisible():
                    first.setFocus(Qt.FocusReason.OtherFocusReason)
                return

    def _add(self, grid: QGridLayout, row: int, step: Step) -> None:
        done, missing = self.tr("Done"), self.tr("Missing")
        state = "" if not step.is_done and not step.actions else done if step.is_done else missing
        if step.title == self.tr("First labels"):
            state = ""
        looks: tuple[tuple[str, Look], ...] = (
            (str(row + 1), "small"),
            (step.title, "strong"),
            (step.told, "body"),
            (state, "small" if step.is_done else "body"),
        )
        for column, (text, look) in enumerate(looks):
            label = QuietLabel(look, self._theme, text)
            label.setWordWrap(column == 2)  # noqa: PLR2004 - what is missing may be long
            label.setMinimumHeight(28)
            self._labels.append(label)
            grid.addWidget(label, row, column)
        buttons = QHBoxLayout()
        buttons.setSpacing(STEP)
        for key, words in step.actions:
            button = QPushButton(words)
            button.setAccessibleName(f"{words}: {step.title}")
            button.clicked.connect(lambda _=False, key=key: self.action_pressed.emit(key))
            self._buttons[key] = button
            buttons.addWidget(button)
        buttons.addStretch(1)
        grid.addLayout(buttons, row, 4)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for label in (*self._labels, self.note):
            label.apply_theme(theme)
