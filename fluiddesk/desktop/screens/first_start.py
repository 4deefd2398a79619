"""The first start: no database is known yet, and two next steps are offered."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, MARGIN, Theme, give_look
from fluiddesk.desktop.widgets.inline_notice import InlineNotice

_MARGIN = 2 * MARGIN + GAP


class FirstStartScreen(QWidget):
    """Offers the sample fleet, a database of one's own, or one that exists.

    Signals:
        sample_asked: the sample fleet is wanted.
        new_asked: an empty database is wanted.
        database_asked: a database that exists is wanted.
        reckoner_asked: the reckoner is wanted, which needs no database.
    """

    sample_asked = Signal()
    new_asked = Signal()
    database_asked = Signal()
    reckoner_asked = Signal()

    def __init__(self, theme: Theme, *, notice: str = "", parent: QWidget | None = None) -> None:
        """Lay out the offers.

        Args:
            theme: colours and fonts.
            notice: why the database opened last could not be opened, and what to do.
            parent: the window.
        """
        super().__init__(parent)
        self.notice = InlineNotice(theme, self)
        self.title = self.tr("Start")
        head = QLabel(self.tr("Where do you want to begin?"), self)
        give_look(head, "sentence")
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(_MARGIN, _MARGIN, _MARGIN, MARGIN)
        self._column.setSpacing(GAP)
        self._column.addWidget(self.notice)
        if notice:
            self._column.addSpacing(MARGIN)
        self._column.addWidget(head)
        self._column.addSpacing(GAP)
        sample = self._offer(
            self.tr("Open the sample fleet"),
            self.tr("Invented machines with three years of samples, in a copy you may change."),
        )
        new = self._offer(
            self.tr("Start an empty database..."),
            self.tr("With the catalogues and the starter limits, ready for your own machines."),
        )
        other = self._offer(
            self.tr("Open a database..."), self.tr("One that your site works with already.")
        )
        reckoner = self._offer(
            self.tr("Reckoner..."),
            self.tr("Codes, viscosities, freeze points and rates, without a database."),
        )
        self._column.addStretch(1)
        sample.clicked.connect(self.sample_asked)
        new.clicked.connect(self.new_asked)
        other.clicked.connect(self.database_asked)
        reckoner.clicked.connect(self.reckoner_asked)
        sample.setDefault(True)
        if notice:
            self.notice.say(self.tr("The database opened last could not be opened"), notice)

    def _offer(self, text: str, note: str) -> QPushButton:
        button, label = QPushButton(text, self), QLabel(note, self)
        button.setFixedWidth(220)
        give_look(label, "faint")
        row = QHBoxLayout()
        row.setSpacing(MARGIN)
        row.addWidget(button)
        row.addWidget(label)
        row.addStretch(1)
        self._column.addLayout(row)
        return button
