"""A message on the page itself, with what can be done about it; nothing is blocked meanwhile."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme

Action = tuple[str, Callable[[], None]]


class InlineNotice(QWidget):
    """A title, a text and buttons on a raised ground; hidden while there is nothing to say."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._title = QLabel()
        self._text = QLabel()
        self._text.setWordWrap(True)
        for label in (self._title, self._text):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        words = QVBoxLayout()
        words.setSpacing(STEP)
        words.addWidget(self._title)
        words.addWidget(self._text)
        self._shown: list[QPushButton] = []
        self._buttons = QHBoxLayout()
        self._buttons.setSpacing(GAP)
        row = QHBoxLayout(self)
        row.setContentsMargins(MARGIN, GAP + STEP, GAP + STEP, GAP + STEP)
        row.setSpacing(MARGIN)
        row.addLayout(words, 1)
        row.addLayout(self._buttons)
        self.apply_theme(theme)
        self.hide()

    @property
    def text(self) -> str:
        """What it says, title first; empty while hidden."""
        return "" if self.isHidden() else f"{self._title.text()} {self._text.text()}".strip()

    @property
    def actions_shown(self) -> list[QPushButton]:
        """The buttons, from left to right."""
        return list(self._shown)

    def say(self, title: str, text: str, actions: Sequence[Action] = ()) -> None:
        """Show a message; the last button, which leaves things as they are, gets the keyboard."""
        self.clear()
        self._title.setText(title)
        self._title.setVisible(bool(title))
        self._text.setText(text)
        self._text.setVisible(bool(text))
        for words, then in actions:
            button = QPushButton(words)
            # Only then does Enter press it outside a dialog.
            button.setAutoDefault(True)
            button.clicked.connect(lambda _=False, then=then: then())
            self._shown.append(button)
            self._buttons.addWidget(button, alignment=Qt.AlignmentFlag.AlignVCenter)
        self.setAccessibleName(f"{title} {text}".strip())
        self.show()
        if actions:
            self._shown[-1].setFocus(Qt.FocusReason.OtherFocusReason)

    def clear(self) -> None:
        """Say nothing any more."""
        for button in self._shown:
            self._buttons.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._shown = []
        self.hide()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self._title.setFont(theme.strong)
        self._text.setFont(theme.body)
        self.update()

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.colors.raised))
        painter.fillRect(0, 0, 3, self.height(), QColor(self._theme.colors.accent))
        painter.end()
