"""Labels of a page in the theme's fonts and inks."""

from typing import Literal

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QFont
from PySide6.QtWidgets import QLabel, QWidget

from fluiddesk.desktop.theme import Theme, give_look

Look = Literal["sentence", "strong", "body", "faint", "small", "caption"]


class QuietLabel(QLabel):
    """A text in one of the page's looks; ``faint``, ``small`` and ``caption`` are in faint ink."""

    def __init__(
        self, look: Look, theme: Theme, text: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(text, parent)
        self._look, self._theme = look, theme
        give_look(self, look)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(look in ("sentence", "small"))
        self.apply_theme(theme)

    def set_look(self, look: Look) -> None:
        """Write in another of the page's looks."""
        if look != self._look:
            self._look = look
            give_look(self, look)
            self.style().unpolish(self)
            self.style().polish(self)
            self.apply_theme(self._theme)

    def apply_theme(self, theme: Theme) -> None:
        """Write in another theme."""
        self._theme = theme
        fonts: dict[Look, QFont] = {
            "sentence": theme.sentence,
            "strong": theme.strong,
            "body": theme.body,
            "faint": theme.body,
            "small": theme.small,
            "caption": theme.small_strong,
        }
        self.setFont(fonts[self._look])
        is_faint = self._look in ("faint", "small", "caption")
        inks = self.palette()
        ink = theme.colors.faint_ink if is_faint else theme.colors.ink
        inks.setColor(self.foregroundRole(), QColor(ink))
        self.setPalette(inks)
