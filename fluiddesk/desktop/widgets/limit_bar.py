"""What can be done on the Rules page, in two lines: what is shown, and what to do with it."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtGui import QUndoStack
from PySide6.QtWidgets import (
    QButtonGroup,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_versions import choice_text
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.limit_rules.facts import SetFacts

_PICKER_WIDTH: Final = 280
_FILTER_WIDTH: Final = 240
_FACES: Final = ("limits", "intervals", "settings")
_DRAFT_ONLY: Final = ("undo", "redo", "add", "off", "out", "check", "discard", "force")


class LimitBar(QWidget):
    """Chooses a set and a list of rows, filters it, and says what is to be done.

    Signals:
        set_chosen: the number of another set.
        face_chosen: ``limits``, ``intervals`` or ``settings``.
        filtered: the words typed.
        asked: what a button stands for, such as ``force``.
    """

    set_chosen = Signal(int)
    face_chosen = Signal(str)
    filtered = Signal(str)
    asked = Signal(str)

    def __init__(self, theme: Theme, undo_stack: QUndoStack) -> None:
        super().__init__()
        self.picker = QComboBox()
        self.picker.setFixedWidth(_PICKER_WIDTH)
        self.picker.setAccessibleName(self.tr("Limit set shown"))
        self.filter_box = QLineEdit()
        self.filter_box.setPlaceholderText(self.tr("Filter by analyte, source or note"))
        self.filter_box.setAccessibleName(self.tr("Filter the limits"))
        self.filter_box.setClearButtonEnabled(True)
        self.filter_box.setFixedWidth(_FILTER_WIDTH)
        self.state = QuietLabel("small", theme)
        self.state.setWordWrap(False)
        self._buttons: dict[str, QPushButton] = {}
        self._faces = QButtonGroup(self)
        self._lay_out()
        self.picker.activated.connect(
            lambda place: self.set_chosen.emit(self.picker.itemData(place))
        )
        self.filter_box.textChanged.connect(self.filtered)
        undo_stack.canUndoChanged.connect(self.button("undo").setEnabled)
        undo_stack.canRedoChanged.connect(self.button("redo").setEnabled)
        for key in ("undo", "redo"):
            self.button(key).setEnabled(False)
        # All buttons at once would ask for a wider window than any mode needs.
        self.show_mode(is_draft=False, is_held=False, has_set=False)

    def _lay_out(self) -> None:
        upper, lower = QHBoxLayout(), QHBoxLayout()
        upper.setSpacing(GAP)
        lower.setSpacing(STEP)
        upper.addWidget(self.picker)
        told = (self.tr("Limits"), self.tr("Intervals and windows"), self.tr("Settings"))
        for number, (key, words) in enumerate(zip(_FACES, told, strict=True)):
            button = QPushButton(words)
            button.setCheckable(True)
            button.setChecked(number == 0)
            button.clicked.connect(lambda _=False, key=key: self.face_chosen.emit(key))
            self._faces.addButton(button, number)
            upper.addWidget(button)
        upper.addWidget(self.state, 1)
        upper.addWidget(self.filter_box)
        for key, words in self._acts():
            lower.addWidget(self._add(key, words))
        lower.addStretch(1)
        for key, words in (
            ("discard", self.tr("Discard draft")),
            ("force", self.tr("Put in force...")),
        ):
            lower.addWidget(self._add(key, words))
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(upper)
        column.addLayout(lower)

    def _acts(self) -> tuple[tuple[str, str], ...]:
        return (
            ("draft", self.tr("Make a draft...")),
            ("earlier", self.tr("Hold from an earlier day...")),
            ("undo", self.tr("Undo")),
            ("redo", self.tr("Redo")),
            ("add", self.tr("Add a row...")),
            ("off", self.tr("Switch off...")),
            ("out", self.tr("Take out")),
            ("derive", self.tr("Derive from history")),
            ("check", self.tr("Check")),
            ("file", self.tr("File")),
        )

    def _tips(self) -> dict[str, str]:
        return {
            "draft": self.tr("Copy the set shown, to be edited while it goes on judging"),
            "undo": self.tr("Take back the last step (Ctrl+Z)"),
            "redo": self.tr("Do it again (Ctrl+Y)"),
            "earlier": self.tr(
                "Judge samples drawn before its first day by it as well, with a note"
            ),
            "add": self.tr("A row like the chosen one, for fewer boxes or another test (Insert)"),
            "off": self.tr("With a reason and an end date, instead of taking the row out"),
            "out": self.tr("The boxes of the row then follow the next wider one"),
            "derive": self.tr("What the fleet's own history says of the chosen row's group"),
            "check": self.tr("Everything that is wrong or odd, row by row"),
            "force": self.tr("From a day on, with a note, by you"),
        }

    def _add(self, key: str, words: str) -> QPushButton:
        button = QPushButton(words)
        button.setAutoDefault(True)
        button.setToolTip(self._tips().get(key, ""))
        self._buttons[key] = button
        if key == "file":
            menu = QMenu(button)
            for act, told in (
                ("export", self.tr("Export the set shown...")),
                ("import", self.tr("Import a file as a draft...")),
            ):
                action = menu.addAction(told)
                action.triggered.connect(lambda _=False, act=act: self.asked.emit(act))
            button.setMenu(menu)
        else:
            button.clicked.connect(lambda: self.asked.emit(key))
        return button

    def button(self, key: str) -> QPushButton:
        """The button that asks for something."""
        return self._buttons[key]

    def show_sets(self, sets: Sequence[SetFacts], *, shown: int | None) -> None:
        """Offer the sets, with the one on the page chosen."""
        self.picker.clear()
        for one in sets:
            if not one.is_discarded or one.number == shown:
                self.picker.addItem(choice_text(one), one.number)
        self.picker.setCurrentIndex(self.picker.findData(shown))
        self.picker.setVisible(bool(sets))

    def show_mode(self, *, is_draft: bool, is_held: bool, has_set: bool) -> None:
        """Offer what can be done with the set shown."""
        wanted = dict.fromkeys(self._buttons, has_set) | dict.fromkeys(_DRAFT_ONLY, is_draft)
        wanted |= {"file": True, "draft": has_set and not is_draft}
        wanted["earlier"] = is_held and not is_draft
        # What goes makes room first: all at once would ask for a wider window.
        for is_shown in (False, True):
            for key, button in self._buttons.items():
                if wanted[key] is is_shown:
                    button.setVisible(is_shown)
        for face in self._faces.buttons():
            face.setVisible(has_set)
        self.filter_box.setVisible(has_set)

    def show_face(self, face: str) -> None:
        """Mark which list of rows is shown."""
        self._faces.button(_FACES.index(face)).setChecked(True)
        self.filter_box.setEnabled(face == "limits")

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.state.apply_theme(theme)
