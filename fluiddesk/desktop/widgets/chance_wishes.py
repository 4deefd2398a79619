"""What if: another interval, another time to the answer; told at once as one types."""

from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QPushButton, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.catch_chances import AnswerWish, IntervalWish, wish_of
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.errors import UsageError
from fluiddesk.services.catch_chances.asking import DAYS_SOONER
from fluiddesk.services.catch_chances.facts import AS_NOW, Wish

_FIGURE_WIDTH: Final = 64
_USUAL_HOURS: Final = "250"


class ChanceWishes(QWidget):
    """Two choices with a figure each, and the way back to what holds.

    Signals:
        wished: the ``Wish``.
        refused: why a figure cannot be, in words; "" once it can.
    """

    wished = Signal(object)
    refused = Signal(str)

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.interval, self.answer = QComboBox(), QComboBox()
        for choice in IntervalWish:
            self.interval.addItem(choice.words, choice)
        for wish in AnswerWish:
            self.answer.addItem(wish.words, wish)
        self.interval.setAccessibleName(self.tr("Interval asked about"))
        self.answer.setAccessibleName(self.tr("Time to the answer asked about"))
        self.hours, self.days = QLineEdit(_USUAL_HOURS), QLineEdit(f"{DAYS_SOONER:g}")
        for field, name in (
            (self.hours, self.tr("Hours of the interval asked about")),
            (self.days, self.tr("Days asked about")),
        ):
            field.setAccessibleName(name)
            field.setFixedWidth(_FIGURE_WIDTH)
        self.back = QPushButton(self.tr("As now"))
        self.back.setAutoDefault(True)
        self._labels = tuple(
            QuietLabel("body", theme, words)
            for words in (self.tr("What if intervals were"), self.tr("and answers came"))
        )
        self._lay_out()
        self.interval.activated.connect(lambda _: self._ask())
        self.answer.activated.connect(lambda _: self._ask())
        self.hours.textChanged.connect(lambda _: self._ask())
        self.days.textChanged.connect(lambda _: self._ask())
        self.back.clicked.connect(self.forget)
        self._offer()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(self._labels[0])
        row.addWidget(self.interval)
        row.addWidget(self.hours)
        row.addSpacing(STEP)
        row.addWidget(self._labels[1])
        row.addWidget(self.answer)
        row.addWidget(self.days)
        row.addSpacing(MARGIN - GAP)
        row.addWidget(self.back)
        row.addStretch(1)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in self._labels:
            label.apply_theme(theme)

    @property
    def choices(self) -> tuple[IntervalWish, AnswerWish]:
        """What is chosen. Qt gives back plain texts."""
        return IntervalWish(self.interval.currentData()), AnswerWish(self.answer.currentData())

    def wish(self, interval: IntervalWish, answer: AnswerWish) -> None:
        """Make both choices, as if a person had."""
        self.interval.setCurrentIndex(list(IntervalWish).index(interval))
        self.answer.setCurrentIndex(list(AnswerWish).index(answer))
        self._ask()

    def forget(self) -> None:
        """Ask for nothing else than what holds."""
        self.wish(IntervalWish.AS_NOW, AnswerWish.AS_NOW)

    def _offer(self, wish: Wish = AS_NOW) -> None:
        interval, answer = self.choices
        self.hours.setVisible(interval is IntervalWish.HOURS)
        self.days.setVisible(answer is not AnswerWish.AS_NOW)
        self.back.setEnabled(not wish.is_as_now)

    def _ask(self) -> None:
        self._offer()
        interval, answer = self.choices
        try:
            wish = wish_of(interval, self.hours.text(), answer, self.days.text())
        except UsageError as wrong:
            self.back.setEnabled(True)
            self.refused.emit(str(wrong))
            return
        self._offer(wish)
        self.refused.emit("")
        self.wished.emit(wish)
