"""The sections of a page by name in one line, with what can be done at its far end."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QSizePolicy, QWidget

from fluiddesk.charts.look import Look
from fluiddesk.charts.trend_switches import ChoiceButton
from fluiddesk.desktop.theme import MARGIN, Theme


def look_of(theme: Theme) -> Look:
    """What the names of sections are drawn with."""
    return Look(colors=theme.colors, body=theme.body, small=theme.small, strong=theme.strong)


class SectionBar(QWidget):
    """Alt and a figure choose a section too.

    Signals:
        chosen: the key of the section asked for.
    """

    chosen = Signal(str)

    def __init__(self, sections: Sequence[tuple[str, str]], look: Look, parent: QWidget) -> None:
        super().__init__(parent)
        self._buttons: dict[str, ChoiceButton] = {}
        self._group = QButtonGroup(self)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(MARGIN)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        for number, (key, words) in enumerate(sections, start=1):
            button = ChoiceButton(words, look, self, side=0)
            button.setToolTip(f"Alt+{number}")
            button.clicked.connect(lambda _=False, key=key: self.chosen.emit(key))
            self._buttons[key] = button
            self._group.addButton(button)
            self._row.addWidget(button)
            shortcut = QShortcut(QKeySequence(f"Alt+{number}"), parent)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(button.click)
        self._row.addStretch(1)

    def show_sections(self, *, shown: bool) -> None:
        """Show the names of the sections, or leave them out where there is nothing in them."""
        for button in self._buttons.values():
            button.setVisible(shown)

    def add_at_end(self, widget: QWidget) -> None:
        """Put something at the far end of the line."""
        self._row.addWidget(widget)

    def button(self, key: str) -> ChoiceButton:
        """The button of a section."""
        return self._buttons[key]

    def show_chosen(self, key: str) -> None:
        """Underline the section on screen."""
        self._buttons[key].setChecked(True)

    def apply_look(self, look: Look) -> None:
        """Draw with other colours and fonts."""
        for button in self._buttons.values():
            button.look = look
            button.update()
