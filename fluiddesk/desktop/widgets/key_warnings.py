"""What looks wrong in the report at hand: one warning with its answers, and how many more."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.keying import proposal_words
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.keyed_results.facts import Answer, KeyWarning


class KeyWarnings(QWidget):
    """Shows a warning beside the grid; it is answered by keys or buttons and blocks nothing.

    Signals:
        answered: the warning and the ``Answer``.
        asked: the warning whose place is to be shown.
    """

    answered = Signal(object, object)
    asked = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._warning: KeyWarning | None = None
        self._others = 0
        self._caption = QuietLabel("caption", theme)
        self._told = QuietLabel("strong", theme)
        self._told.setWordWrap(True)
        self._why = QuietLabel("faint", theme)
        self._why.setWordWrap(True)
        self.take_button = self._button(Answer.CORRECTED)
        self.confirm_button = self._button(Answer.CONFIRMED)
        self.park_button = self._button(Answer.PARKED)
        self.confirm_button.setText(self.tr("Laboratory confirms it  (F7)"))
        self.park_button.setText(self.tr("Park until it is known  (F8)"))
        self._more = QuietLabel("small", theme)
        self._labels = (self._caption, self._told, self._why, self._more)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        for label in self._labels[:3]:
            column.addWidget(label)
        column.addSpacing(STEP)
        for button in (self.take_button, self.confirm_button, self.park_button):
            column.addWidget(button)
        column.addSpacing(GAP)
        column.addWidget(self._more)
        self.show_warning(None, others=0)

    def _button(self, answer: Answer) -> QPushButton:
        button = QPushButton()
        # The keyboard stays in the grid: a press of the mouse must not take it away.
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        button.clicked.connect(lambda: self.give(answer))
        return button

    @property
    def warning(self) -> KeyWarning | None:
        """The warning on show."""
        return self._warning

    @property
    def text(self) -> str:
        """What it says, for those who read it aloud."""
        return f"{self._told.text()} {self._why.text()}".strip()

    def show_warning(self, warning: KeyWarning | None, *, others: int) -> None:
        """Show a warning, or that there is none; ``others`` are open besides it."""
        if warning is not None and (warning, others) == (self._warning, self._others):
            return
        self._warning, self._others = warning, others
        is_there = warning is not None
        self._caption.setText(self.tr("To look at") if is_there else self.tr("Nothing to look at"))
        for part in (self._told, self._why, self.confirm_button, self.park_button):
            part.setVisible(is_there)
        proposal = proposal_words(warning) if warning else ""
        self.take_button.setVisible(bool(proposal))
        self.take_button.setText(f"{proposal}  (F6)")
        if warning is not None:
            self._told.setText(warning.told)
            self._why.setText(warning.why)
            self.confirm_button.setVisible(not warning.is_hard)
            self.confirm_button.setEnabled(warning.answer is not Answer.CONFIRMED)
            self.park_button.setEnabled(warning.answer is not Answer.PARKED)
        self._more.setText(
            self.tr("{0} more open: F4 goes to the next").format(others) if others else ""
        )
        self._more.setVisible(others > 0)

    def give(self, answer: Answer) -> None:
        """Answer the warning on show, where it can be answered so."""
        warning = self._warning
        if warning is None:
            return
        if (answer is Answer.CONFIRMED and warning.is_hard) or (
            answer is Answer.CORRECTED and not proposal_words(warning)
        ):
            self.asked.emit(warning)
        else:
            self.answered.emit(warning, answer)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in self._labels:
            label.apply_theme(theme)
