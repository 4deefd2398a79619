"""Chooses the groups of like boxes that limits are to be derived for."""

from collections.abc import Sequence

from PySide6.QtCore import QItemSelectionModel, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.models.limit_derive import GroupModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.services.limit_rules.derive_readiness import GroupReadiness

_WIDTHS = {0: 240, 1: 64, 2: 76, 3: 76, 4: 200}


class GroupPanel(QWidget):
    """Lists the groups, each with what is behind it.

    Signals:
        chosen: the scopes of the groups to derive for.
        closed: the limits are to be shown again.
    """

    chosen = Signal(object)
    closed = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._title = QuietLabel("strong", theme, self.tr("Derive from the fleet's own history"))
        self._sentence = QuietLabel("small", theme)
        self.groups = GroupModel(theme=theme, parent=self)
        self.table = FactTable(self.groups, name=self.tr("Groups of like boxes"))
        self.table.set_widths(_WIDTHS)
        self.derive_button = QPushButton(self.tr("Derive"))
        self.all_button = QPushButton(self.tr("Choose all with enough"))
        self.close_button = QPushButton(self.tr("Back to the limits"))
        buttons = QHBoxLayout()
        buttons.setSpacing(GAP)
        for button in (self.derive_button, self.all_button, self.close_button):
            button.setAutoDefault(True)
            buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, 0, 0, GAP)
        column.setSpacing(STEP)
        for part in (self._title, self._sentence):
            column.addWidget(part)
        column.addWidget(self.table, 1)
        column.addLayout(buttons)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._arm())
        self.table.row_opened.connect(lambda _row: self._derive())
        self.derive_button.clicked.connect(self._derive)
        self.all_button.clicked.connect(self.choose_all)
        self.close_button.clicked.connect(self.closed)
        self._arm()

    def show_groups(self, groups: Sequence[GroupReadiness]) -> None:
        """Show the groups of the fleet."""
        self.groups.show(groups)
        ready = sum(one.is_ready for one in groups)
        self._sentence.setText(
            self.tr(
                "{0} of {1} groups have enough for a Watch limit. Choose several with Shift or "
                "Ctrl and the arrows; Enter derives."
            ).format(ready, len(groups))
        )
        self.table.choose(next((at for at, one in enumerate(groups) if one.is_ready), 0))
        self.table.setFocus()
        self._arm()

    @property
    def scopes(self) -> list[Scope]:
        """The groups chosen that have enough behind them."""
        rows = sorted(one.row() for one in self.table.selectionModel().selectedRows())
        return [self.groups.rows[row].scope for row in rows if self.groups.rows[row].is_ready]

    def choose_all(self) -> None:
        """Choose every group that has enough behind it."""
        selection = self.table.selectionModel()
        flags = QItemSelectionModel.SelectionFlag
        selection.clearSelection()
        for row, one in enumerate(self.groups.rows):
            if one.is_ready:
                selection.select(self.groups.index(row, 0), flags.Select | flags.Rows)
        self.table.setFocus()

    def _arm(self) -> None:
        count = len(self.scopes)
        self.derive_button.setEnabled(bool(count))
        self.derive_button.setText(
            self.tr("Derive for {0} groups").format(count)
            if count > 1
            else self.tr("Derive for the group")
        )

    def _derive(self) -> None:
        if self.scopes:
            self.chosen.emit(self.scopes)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._title, self._sentence, self.groups):
            part.apply_theme(theme)
