"""Everything one limit says: its bands with the bounds, and its source, maker and note in full."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_ruler import Ruler
from fluiddesk.desktop.widgets.limit_ruler import LimitRuler
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_LINES = 12
_WORD_WIDTH = 84


class LimitDetails(QWidget):
    """Shows one limit, or invites to choose one."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._title = QuietLabel("strong", theme)
        self._unit = QuietLabel("small", theme)
        self._unit.setWordWrap(False)
        self._figures = QuietLabel("small", theme)
        self._ruler = LimitRuler(theme)
        self._ruler.setFixedWidth(300)
        self._names = [QuietLabel("small", theme) for _ in range(_LINES)]
        self._texts = [QuietLabel("body", theme) for _ in range(_LINES)]
        left = QVBoxLayout()
        left.setSpacing(0)
        for part in (self._ruler, self._unit):
            left.addWidget(part)
        left.addStretch()
        right = QGridLayout()
        right.setHorizontalSpacing(GAP)
        right.setVerticalSpacing(STEP)
        right.setColumnMinimumWidth(0, _WORD_WIDTH)
        right.setColumnStretch(1, 1)
        top = Qt.AlignmentFlag.AlignTop
        for line, (name, text) in enumerate(zip(self._names, self._texts, strict=True)):
            text.setWordWrap(True)
            text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            name.setContentsMargins(0, 2, 0, 0)
            right.addWidget(name, line, 0, top)
            right.addWidget(text, line, 1, top)
        right.setRowStretch(_LINES, 1)
        body = QHBoxLayout()
        body.setSpacing(24)
        body.addLayout(left)
        body.addLayout(right, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, GAP, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self._title)
        column.addLayout(body, 1)
        column.addWidget(self._figures)
        self.setMinimumHeight(140)
        self.show_nothing(self.tr("Choose a limit to read where it comes from."))

    @property
    def text(self) -> str:
        """Everything shown, line by line."""
        lines = [self._title.text()]
        for name, text in zip(self._names, self._texts, strict=True):
            if text.text():
                lines.append(f"{name.text()}: {text.text()}")
        if self._figures.text():
            lines.append(self._figures.text())
        return "\n".join(lines)

    def show_limit(
        self, title: str, unit: str, told: Sequence[tuple[str, str]], drawn: Ruler
    ) -> None:
        """Show a limit."""
        self._title.setText(title)
        self._unit.setText(unit)
        self.show_ruler(drawn, "")
        self._ruler.setVisible(True)
        lines = [*told, *[("", "")] * (_LINES - len(told))]
        for name, text, (what, words) in zip(self._names, self._texts, lines, strict=True):
            name.setText(what)
            text.setText(words)
            name.setVisible(bool(words))
            text.setVisible(bool(words))

    def show_ruler(self, drawn: Ruler, figures: str) -> None:
        """Draw the bands anew, with words on the fleet's figures behind them."""
        self._ruler.show_ruler(drawn)
        self._figures.setText(figures)
        self._figures.setVisible(bool(figures))

    def show_nothing(self, invitation: str) -> None:
        """Show that no limit is chosen."""
        self.show_limit(invitation, "", (), Ruler((), ()))
        self._ruler.setVisible(False)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._ruler.apply_theme(theme)
        for label in (self._title, self._unit, self._figures, *self._names, *self._texts):
            label.apply_theme(theme)
