"""A row of small buttons of which one is pressed: each shows a part of a list, with its count."""

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QWidget

from fluiddesk.desktop.theme import STEP


class FilterChips(QWidget):
    """Chooses one filter of several.

    Signals:
        chosen: the key of the filter a person pressed.
    """

    chosen = Signal(str)

    def __init__(
        self, words: Sequence[tuple[str, str]], *, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self._words = dict(words)
        self._buttons: dict[str, QPushButton] = {}
        self._group = QButtonGroup(self)
        self._group.setExclusive(True)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(STEP)
        for key, word in words:
            button = QPushButton(word)
            button.setCheckable(True)
            button.clicked.connect(lambda _=False, key=key: self.chosen.emit(key))
            self._buttons[key] = button
            self._group.addButton(button)
            row.addWidget(button)

    def show_count(self, key: str, count: int) -> None:
        """Write a filter's count beside its word; an empty one cannot be pressed."""
        button = self._buttons[key]
        button.setText(f"{self._words[key]} {count}")
        button.setEnabled(count > 0 or button.isChecked())

    def press(self, key: str) -> None:
        """Show a filter as the one in use."""
        self._buttons[key].setEnabled(True)
        self._buttons[key].setChecked(True)

    def button(self, key: str) -> QPushButton:
        """The button of a filter."""
        return self._buttons[key]
