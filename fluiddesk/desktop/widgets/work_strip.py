"""Shows one piece of work under way: what it is, how far it is, and a way to stop it."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

from fluiddesk.desktop.theme import GAP


class WorkStrip(QWidget):
    """Hidden while nothing is under way.

    Signals:
        cancel_pressed: the person wants the work to stop.
    """

    cancel_pressed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._label = QLabel()
        self._bar = QProgressBar()
        self._bar.setTextVisible(False)
        self._bar.setAccessibleName(self.tr("Progress"))
        self.cancel_button = QPushButton(self.tr("Cancel"))
        self.cancel_button.clicked.connect(self.cancel_pressed)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(self._label)
        row.addWidget(self._bar, 1)
        row.addWidget(self.cancel_button)
        self.hide()

    def begin(self, label: str) -> None:
        """Show that work has begun; how much there is, is not known yet."""
        self._label.setText(label)
        self._bar.setRange(0, 0)
        self.cancel_button.setEnabled(True)
        self.show()

    def tell(self, done: int, total: int | None) -> None:
        """Show how far the work is."""
        self._bar.setRange(0, total or 0)
        if total:
            self._bar.setValue(min(done, total))

    def stopping(self) -> None:
        """Show that the work was asked to stop."""
        self._label.setText(self.tr("Stopping; nothing will have been changed."))
        self.cancel_button.setEnabled(False)

    def end(self) -> None:
        """Show nothing any more."""
        self.hide()
