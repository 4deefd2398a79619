"""The Samples section: the table side by side, and below it the sheets of the sample chosen."""

from PySide6.QtCore import QModelIndex
from PySide6.QtWidgets import QVBoxLayout, QWidget

from fluiddesk.desktop.models.compartment_history import SampleTableModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.compartment_history import sheet_lines
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.sample_table import SampleTableView
from fluiddesk.services.compartment_history.facts import CompartmentHistory


class SampleSection(QWidget):
    """Widgets are kept from box to box."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model = SampleTableModel(self)
        self.table = SampleTableView(self.model, self.model, theme)
        self.sheets = QuietLabel("body", theme)
        self.sheets.setWordWrap(True)
        self._head = QuietLabel("caption", theme)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self.table, 1)
        column.addSpacing(STEP)
        column.addWidget(self._head)
        column.addWidget(self.sheets)
        column.addSpacing(GAP)
        self.table.selectionModel().currentChanged.connect(self._follow)
        self.table.horizontalHeader().sectionClicked.connect(self._tell)

    def show_history(self, history: CompartmentHistory) -> None:
        """Show another box; the newest sample's sheets are told first."""
        self.model.show_history(history)
        self._tell(None)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self.table, self.sheets, self._head):
            part.apply_theme(theme)

    def _follow(self, current: QModelIndex, _before: QModelIndex) -> None:
        self._tell(current.column() if current.isValid() else None)

    def _tell(self, column: int | None) -> None:
        head, lines = sheet_lines(self.model.table, column)
        self._head.setText(head)
        self.sheets.setText("\n".join(lines))
        for part in (self._head, self.sheets):
            part.setVisible(bool(head))
