"""One short question to the clerk: was the fluid changed, though nobody noted it."""

from datetime import date

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QWidget

from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.event_questions import halfway, question_words, read_day
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.event_questions import EventAnswer, EventQuestion

_DAY_WIDTH = 104


class QuestionBar(QWidget):
    """Shows the oldest open question with its answers in one line.

    Signals:
        answered: question, ``EventAnswer`` and the day or ``None``.
    """

    answered = Signal(object, object, object)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._question: EventQuestion | None = None
        self._told = QuietLabel("body", theme)
        self._told.setWordWrap(True)
        self._fault = QuietLabel("small", theme)
        self.yes_button = QPushButton(self.tr("&Yes, on"))
        self.day = QLineEdit()
        self.day.setFixedWidth(_DAY_WIDTH)
        self.day.setAccessibleName(self.tr("Day of the fluid change"))
        self.no_button = QPushButton(self.tr("&No"))
        self.unknown_button = QPushButton(self.tr("Not &known"))
        self.yes_button.clicked.connect(self._yes)
        self.no_button.clicked.connect(lambda: self._give(EventAnswer.NO, None))
        self.unknown_button.clicked.connect(lambda: self._give(EventAnswer.UNKNOWN, None))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(self._told, 1)
        row.addWidget(self._fault)
        for part in (self.yes_button, self.day, self.no_button, self.unknown_button):
            row.addWidget(part, 0, Qt.AlignmentFlag.AlignTop)
        self.hide()

    @property
    def question(self) -> EventQuestion | None:
        """The question on show."""
        return self._question

    def show_questions(self, questions: tuple[EventQuestion, ...]) -> None:
        """Ask the first of these, or nothing."""
        before, self._question = self._question, questions[0] if questions else None
        self.setVisible(self._question is not None)
        if self._question is None or self._question == before:
            return
        self._told.setText(question_words(self._question, more=len(questions) - 1))
        self.day.setText(halfway(self._question).isoformat())
        self._fault.setText("")

    def _yes(self) -> None:
        question = self._question
        day = read_day(self.day.text())
        if day is None or question is None or not question.since <= day <= question.until:
            self._fault.setText(self.tr("A day between the samples"))
            return
        self._give(EventAnswer.YES, day)

    def _give(self, answer: EventAnswer, day: date | None) -> None:
        if self._question is not None:
            self.answered.emit(self._question, answer, day)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._told.apply_theme(theme)
        self._fault.apply_theme(theme)
