"""Picks the layout a laboratory's file is read by."""

from collections.abc import Mapping

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QWidget

from fluiddesk.desktop.theme import GAP


class LayoutPicker(QWidget):
    """A list of layout names.

    Signals:
        picked: the name a person picked; ``None`` lets the program choose.
    """

    picked = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        word = QLabel(self.tr("&Layout"))
        self.box = QComboBox()
        self.box.setFixedWidth(240)
        word.setBuddy(self.box)
        self.box.activated.connect(lambda place: self.picked.emit(self.box.itemData(place)))
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(word)
        row.addWidget(self.box)

    def offer(self, titles: Mapping[str, str], *, current: str | None) -> None:
        """Show the layouts, name to title; without a current one the program chooses."""
        self.box.clear()
        if current is None:
            self.box.addItem(self.tr("Chosen by itself"), None)
        for name, title in titles.items():
            self.box.addItem(title, name)
        self.box.setCurrentIndex(max(0, self.box.findData(current)))
        self.show()
