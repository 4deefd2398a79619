"""The special intervals that hold or are to come, each with the act that ends it."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QAbstractItemModel, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.due_forms import special_cells
from fluiddesk.desktop.widgets.crews_view import KeyedLines
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.special_by_hand import Special

_HEIGHT: Final = 170


class SpecialPanel(QWidget):
    """Lists them.

    Signals:
        end_asked: the ``Special`` that is to be ended.
        box_opened: the identifier of a box to open.
    """

    end_asked = Signal(object)
    box_opened = Signal(object)

    def __init__(self, lines: KeyedLines, model: QAbstractItemModel, *, theme: Theme) -> None:
        super().__init__()
        self._lines = lines
        self._specials: tuple[Special, ...] = ()
        self._title = QuietLabel("strong", theme, self.tr("Special intervals"))
        self._none = QuietLabel("body", theme)
        self.end_button = QPushButton(self.tr("&End it..."))
        self.end_button.setAutoDefault(True)
        self.end_button.setEnabled(False)
        self.table = FactTable(model, name=self.tr("Special intervals"))
        self.table.set_widths({0: 104, 1: 76, 3: 168, 4: 136, 5: 96})
        self.table.fit_columns(stretch=2, least=168, optional={6: 220, 7: 200})
        self.table.row_chosen.connect(lambda row: self.end_button.setEnabled(row >= 0))
        self.table.row_opened.connect(self._open)
        self.end_button.clicked.connect(self._ask_end)
        top = QHBoxLayout()
        top.addWidget(self._title, 1)
        top.addWidget(self.end_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GAP, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addWidget(self.table, 1)
        column.addWidget(self._none)
        self.setMaximumHeight(_HEIGHT)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._title.apply_theme(theme)
        self._none.apply_theme(theme)

    def show_specials(self, specials: Sequence[Special]) -> None:
        """Show these."""
        self._specials = tuple(specials)
        self._lines.show(special_cells(self._specials))
        self.table.setVisible(bool(self._specials))
        self._none.setVisible(not self._specials)
        self._none.setText(self.tr("None is in force. Choose a box above and Sample sooner."))
        self.end_button.setEnabled(False)
        if self._specials:
            self.table.choose(0)

    @property
    def chosen(self) -> Special | None:
        """The one that is chosen."""
        row = self.table.currentIndex().row()
        return self._specials[row] if 0 <= row < len(self._specials) else None

    def _open(self, row: int) -> None:
        if 0 <= row < len(self._specials):
            self.box_opened.emit(self._specials[row].compartment_id)

    def _ask_end(self) -> None:
        if self.chosen is not None:
            self.end_asked.emit(self.chosen)
