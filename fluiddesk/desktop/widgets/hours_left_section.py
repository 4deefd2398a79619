"""The Hours left section: every analyte's clock, the base number, and how past forecasts fared."""

from datetime import date

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QScrollArea, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.hours_left import (
    base_number_line,
    clock_rows,
    due_mark,
    no_clock_lines,
    score_lines,
)
from fluiddesk.desktop.widgets.clock_list import ClockList
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.compartment_history.facts import CompartmentHistory


class HoursLeftSection(QScrollArea):
    """Widgets are kept from box to box."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.sentence = QuietLabel("body", theme)
        self.clocks = ClockList(theme)
        self.without = QuietLabel("faint", theme)
        self._base_head = QuietLabel("caption", theme, self.tr("Base number"))
        self.base_number = QuietLabel("body", theme)
        self._score_head = QuietLabel("caption", theme, self.tr("Past forecasts"))
        self.score = QuietLabel("body", theme)
        self._labels = (
            self.sentence,
            self.without,
            self._base_head,
            self.base_number,
            self._score_head,
            self.score,
        )
        for label in self._labels:
            label.setWordWrap(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(self.tr("Hours left by analyte"))
        content = QWidget()
        column = QVBoxLayout(content)
        column.setContentsMargins(0, GAP, GAP, GAP)
        column.setSpacing(STEP)
        column.addWidget(self.sentence)
        column.addSpacing(GAP)
        column.addWidget(self.clocks)
        column.addSpacing(STEP)
        column.addWidget(self.without)
        for head, label in (
            (self._base_head, self.base_number),
            (self._score_head, self.score),
        ):
            column.addSpacing(MARGIN)
            column.addWidget(head)
            column.addWidget(label)
        column.addStretch(1)
        self.setWidget(content)

    def show_history(self, history: CompartmentHistory, *, today: date) -> None:
        """Show another box."""
        left = history.hours_left
        told = left.sentence or left.why
        self.sentence.setText(told if history.is_in_full else self.tr("Being worked out."))
        self.clocks.show_rows(clock_rows(left), due_mark(history, today=today))
        lines = no_clock_lines(left)
        self.without.setText("\n".join(lines))
        self.without.setVisible(bool(lines))
        line = base_number_line(history)
        self.base_number.setText(line)
        for part in (self._base_head, self.base_number):
            part.setVisible(bool(line))
        self.score.setText("\n".join(score_lines(left.score)))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in self._labels:
            label.apply_theme(theme)
        self.clocks.apply_theme(theme)
