"""The head of the compartment page: where, the verdict in one sentence, next due, what changed."""

from datetime import date
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.compartment_history import due_text, place_text, trust_text
from fluiddesk.desktop.viewstate.hours_left import strip_words
from fluiddesk.desktop.viewstate.planned_change import change_text
from fluiddesk.desktop.widgets.box_facts import SeverityMark
from fluiddesk.desktop.widgets.hours_left_strip import HoursLeftStrip
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.compartment_history.facts import CompartmentHistory

_MARK: Final = 18


class VerdictHead(QWidget):
    """What the planner reads in the first ten seconds. Widgets are kept from box to box."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._where = QuietLabel("small", theme)
        self._where.setWordWrap(False)
        self._mark = SeverityMark(theme, _MARK)
        self.sentence = QuietLabel("sentence", theme)
        self._due = QuietLabel("body", theme)
        self._changed = QuietLabel("faint", theme)
        for label in (self._due, self._changed):
            label.setWordWrap(True)
        self.strip = HoursLeftStrip(theme)
        verdict = QHBoxLayout()
        verdict.setSpacing(GAP)
        verdict.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignTop)
        verdict.addWidget(self.sentence, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self._where)
        column.addLayout(verdict)
        column.addWidget(self._due)
        column.addWidget(self._changed)
        column.addSpacing(STEP)
        column.addWidget(self.strip)
        # However little room there is, a sentence of two lines keeps both.
        kept = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        kept.setHeightForWidth(True)
        self.setSizePolicy(kept)
        self.show_nothing("")

    def show_nothing(self, sentence: str) -> None:
        """No box is chosen yet."""
        for part in (self._mark, self._due, self._changed, self.strip):
            part.hide()
        self._where.setText("")
        self.sentence.setText(sentence)

    def show_history(self, history: CompartmentHistory, *, today: date) -> None:
        """Show another box."""
        self._where.setText(place_text(history))
        self._mark.show_severity(history.severity, history.trust)
        self._mark.show()
        self.sentence.setText(history.sentence)
        due = history.due
        lines = [trust_text(history), due_text(due, today=today), change_text(due, today=today)]
        self._due.setText("   \u00b7   ".join(line for line in lines if line))
        self._changed.setText(history.changed_since)
        self._due.show()
        self._changed.setVisible(bool(history.changed_since))
        self.strip.show_words(strip_words(history, today=today))
        self.strip.setVisible(bool(history.samples))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in (self._where, self.sentence, self._due, self._changed):
            label.apply_theme(theme)
        self._mark.apply_theme(theme)
        self.strip.apply_theme(theme)
