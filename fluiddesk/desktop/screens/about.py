"""What the program is, what it is not, and whose libraries it stands on."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLabel, QVBoxLayout, QWidget

import fluiddesk
from fluiddesk.desktop.theme import GAP, MARGIN, give_look

_WIDTH = 460


class AboutDialog(QDialog):
    """Version, cautions and licences."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setWindowTitle(self.tr("About fluiddesk"))
        head = QLabel(self.tr("fluiddesk {0}").format(fluiddesk.__version__), self)
        give_look(head, "sentence")
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, MARGIN)
        column.setSpacing(GAP)
        column.addWidget(head)
        for text in self._paragraphs():
            label = QLabel(text, self)
            label.setWordWrap(True)
            label.setFixedWidth(_WIDTH)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            column.addWidget(label)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)

    def _paragraphs(self) -> tuple[str, ...]:
        return (
            self.tr(
                "An oil and coolant sampling programme for a fleet of mobile machines: "
                "from what is due to what was found."
            ),
            self.tr(
                "The program advises, a named person decides. The machine's manual, the site's "
                "rules and licensed practice come first. A sample that reads Normal does not show "
                "that a machine is safe to work on or to run."
            ),
            self.tr(
                "Limits that came with the program are starting points with their sources beside "
                "them. Have them confirmed for your machines and fluids before relying on them."
            ),
            self.tr(
                "fluiddesk: Apache-2.0. Qt and PySide6: LGPL-3.0. psycopg: LGPL-3.0. "
                "Inter typeface: SIL Open Font License 1.1. Their texts and the licences of the "
                "other libraries lie in the folder resources/licences."
            ),
        )
