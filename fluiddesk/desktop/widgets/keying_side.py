"""Beside the grid: what looks wrong, what is left to do, and the deeds that end the keying."""

from collections.abc import Callable
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.keying import KeyingState, to_do_words
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.key_warnings import KeyWarnings
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_WIDTH: Final = 292


class KeyingSide(QWidget):
    """The narrow column at the right of the grid."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.warnings = KeyWarnings(theme)
        self._to_do = QuietLabel("strong", theme)
        self._to_do.setWordWrap(True)
        self._kept = QuietLabel("small", theme)
        self._keys = QuietLabel("small", theme, self._key_words())
        self.save_button = QPushButton(self.tr("Save the report  (Ctrl+S)"))
        self.save_button.setDefault(True)
        self.second_button = QPushButton()
        self.aside_button = QPushButton(self.tr("Put aside  (Ctrl+W)"))
        self.park_button = QPushButton(self.tr("Park it"))
        self.drop_button = QPushButton(self.tr("Drop it"))
        self._lay_out()

    def _key_words(self) -> str:
        return self.tr(
            "Enter goes on, Shift+Enter back. Comma or point. <5 below, >5 above, n not tested, "
            "i not enough in the bottle, + present, - absent."
        )

    def _lay_out(self) -> None:
        self.setFixedWidth(_WIDTH)
        others = QHBoxLayout()
        others.setSpacing(GAP)
        for button in (self.aside_button, self.park_button, self.drop_button):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        others.addWidget(self.park_button, 1)
        others.addWidget(self.drop_button, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self.warnings)
        column.addStretch(1)
        column.addWidget(self._to_do)
        for button in (self.second_button, self.save_button, self.aside_button):
            column.addWidget(button)
        column.addLayout(others)
        column.addWidget(self._kept)
        column.addSpacing(GAP)
        column.addWidget(self._keys)

    @property
    def to_do(self) -> str:
        """What is left to do, as shown."""
        return self._to_do.text()

    def show_state(self, state: KeyingState, *, is_saving: bool) -> None:
        """Show what is left to do, and which deeds are open."""
        self._to_do.setText(to_do_words(state))
        self.second_button.setVisible(state.has_second)
        self.second_button.setText(
            self.tr("First entries  (F9)") if state.second_pass else self.tr("Enter again  (F9)")
        )
        is_ready = state.checked is not None and state.checked.can_save
        self.save_button.setEnabled(is_ready and not is_saving)

    def show_kept(self, *, is_kept: bool) -> None:
        """Show whether everything typed is in the database."""
        self._kept.setText(self.tr("Draft kept") if is_kept else self.tr("Keeping the draft"))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self.warnings, self._to_do, self._kept, self._keys):
            part.apply_theme(theme)


def ask_parking(notice: InlineNotice, then: Callable[[], None]) -> None:
    """Ask on the page itself whether the report is to be parked."""
    notice.say(
        notice.tr("Park the report?"),
        notice.tr("It waits under Warnings open until somebody knows more. Nothing is lost."),
        [(notice.tr("Park the report"), then), (notice.tr("Go on keying"), notice.clear)],
    )


def ask_dropping(notice: InlineNotice, then: Callable[[], None]) -> None:
    """Ask on the page itself whether what was typed is to be given up."""
    notice.say(
        notice.tr("Drop what was typed?"),
        notice.tr("The bottle stays at the laboratory and can be keyed anew."),
        [(notice.tr("Drop the draft"), then), (notice.tr("Go on keying"), notice.clear)],
    )
