"""One record of the register beside the list: what it lacks, its form, and a machine's parts."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.record_form import RecordForm
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.record_below import RecordBelow
from fluiddesk.desktop.widgets.record_editor import RecordEditor

_FORM_HEIGHT: Final = 372


class RecordPanel(QWidget):
    """Shows a record and edits it in place.

    Signals:
        back_pressed: from a part or a step back to the record it belongs to.
        action_pressed: the key of a button above the form.
        part_chosen: the row of a part of the machine.
    """

    back_pressed = Signal()
    action_pressed = Signal(str)
    part_chosen = Signal(int)

    def __init__(
        self,
        parts: QAbstractItemModel,
        history: QAbstractItemModel,
        trail: QAbstractItemModel,
        *,
        theme: Theme,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.back_button = QPushButton()
        self.title = QuietLabel("strong", theme)
        self._about = QuietLabel("small", theme)
        self._about.setWordWrap(False)
        self.lacks = QuietLabel("body", theme)
        self.lacks.setWordWrap(True)
        self.editor = RecordEditor(theme)
        self._actions: list[QPushButton] = []
        self._action_row = QHBoxLayout()
        self.below = RecordBelow(parts, history, trail, theme=theme)
        self._lay_out()
        self.back_button.clicked.connect(self.back_pressed)
        self.below.part_chosen.connect(self.part_chosen)
        self.below.action_pressed.connect(self.action_pressed)
        self.below.hide()

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.setSpacing(GAP)
        head.addWidget(self.back_button)
        head.addWidget(self.title)
        head.addWidget(self._about, 1)
        self._action_row.setSpacing(STEP)
        self._action_row.addStretch(1)
        form = QWidget()
        column = QVBoxLayout(form)
        column.setContentsMargins(0, STEP, GAP, GAP)
        column.setSpacing(GAP)
        column.addWidget(self.editor)
        column.addStretch(1)
        self._scroll = QScrollArea()
        self._scroll.setWidget(form)
        self._scroll.setWidgetResizable(True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._split = QSplitter(Qt.Orientation.Vertical)
        self._split.addWidget(self._scroll)
        self._split.addWidget(self.below)
        self._split.setHandleWidth(1)
        self._split.setChildrenCollapsible(False)
        self._split.setStretchFactor(1, 1)
        self._split.setSizes([_FORM_HEIGHT, _FORM_HEIGHT])
        page = QVBoxLayout(self)
        page.setContentsMargins(MARGIN, 0, 0, 0)
        page.setSpacing(GAP)
        page.addLayout(head)
        page.addWidget(self.lacks)
        page.addLayout(self._action_row)
        page.addWidget(self._split, 1)

    def show_record(
        self, form: RecordForm, *, about: str = "", lacks: str = "", back: str = ""
    ) -> None:
        """Show the form of a record, what it is, what it lacks, and the way back."""
        self.title.setText(form.title)
        self._about.setText(about)
        self.lacks.setText(lacks)
        self.lacks.setVisible(bool(lacks))
        self.back_button.setText(back)
        self.back_button.setVisible(bool(back))
        self.editor.show_form(form)
        self._scroll.verticalScrollBar().setValue(0)

    def show_actions(self, actions: Sequence[tuple[str, str]]) -> None:
        """Offer these, by key and words."""
        for button in self._actions:
            self._action_row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._actions = []
        for place, (key, words) in enumerate(actions):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, key=key: self.action_pressed.emit(key))
            self._action_row.insertWidget(place, button)
            self._actions.append(button)

    def action(self, words: str) -> QPushButton:
        """The button that says this."""
        return next(one for one in self._actions if one.text() == words)

    @property
    def action_words(self) -> tuple[str, ...]:
        """What the buttons say."""
        return tuple(one.text() for one in self._actions)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self.title, self._about, self.lacks, self.editor, self.below):
            part.apply_theme(theme)
