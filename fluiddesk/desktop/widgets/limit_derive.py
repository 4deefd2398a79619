"""Limits derived from the fleet's own history beside the present ones, taken row by row."""

from PySide6.QtCore import QItemSelection, QItemSelectionModel, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.models.limit_derive import DerivedModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_derive import derived_details, derived_sentence
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.limits.limit_set import Limit
from fluiddesk.services.limit_rules.facts import Derived

_ANALYTE, _MACHINES, _BAND, _STARTER, _UNIT, _FLAGS, _FOR = 0, 3, 6, 7, 8, 9, 10


class DerivePanel(QWidget):
    """Shows what was derived for a group.

    Signals:
        taken: limits of the rows that are chosen, to go into the draft.
        closed: the limits are to be shown again.
        groups_asked: the list of groups is wanted.
    """

    taken = Signal(object)
    closed = Signal()
    groups_asked = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._title = QuietLabel("strong", theme)
        self._sentence = QuietLabel("small", theme)
        self._rows = DerivedModel(theme=theme, parent=self)
        self.table = FactTable(self._rows, name=self.tr("Derived from the fleet's history"))
        self.table.set_widths({_ANALYTE: 124, 1: 46, 2: 64, 4: 112, 5: 124})
        self.table.fit_columns(
            stretch=_FOR,
            least=112,
            optional={_BAND: 96, _FLAGS: 76, _UNIT: 76, _MACHINES: 72, _STARTER: 112},
            roomy={_ANALYTE: 216},
        )
        self._details = QuietLabel("body", theme)
        self._details.setWordWrap(True)
        self._details.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.take_button = QPushButton(self.tr("Take the chosen rows into the draft"))
        self.all_button = QPushButton(self.tr("Choose all with enough"))
        self.groups_button = QPushButton(self.tr("Other groups..."))
        self.close_button = QPushButton(self.tr("Back to the limits"))
        self._hint = QuietLabel("small", theme)
        self._can_take = False
        self._lay_out()
        self.table.row_chosen.connect(self._chosen)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._arm())
        self.take_button.clicked.connect(self._take)
        self.close_button.clicked.connect(self.closed)
        self.groups_button.clicked.connect(self.groups_asked)
        self.all_button.clicked.connect(self.choose_all)

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.setSpacing(GAP)
        for button in (self.take_button, self.close_button):
            button.setAutoDefault(True)
            buttons.addWidget(button)
        top = QHBoxLayout()
        top.setContentsMargins(0, 0, GAP, 0)
        top.setSpacing(STEP)
        top.addWidget(self._title, 1)
        for button in (self.all_button, self.groups_button):
            button.setAutoDefault(True)
            top.addWidget(button)
        buttons.addWidget(self._hint, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, 0, 0, GAP)
        column.setSpacing(STEP)
        column.addLayout(top)
        column.addWidget(self._sentence)
        column.addWidget(self.table, 1)
        column.addWidget(self._details)
        column.addLayout(buttons)

    def show_derived(self, derived: Derived, *, group: str, can_take: bool) -> None:
        """Show another answer."""
        self._title.setText(group)
        self._sentence.setText(derived_sentence(derived))
        # What can be taken comes first; inside, the order of the groups.
        self._rows.show(sorted(derived.rows, key=lambda row: not row.may_be_taken))
        self._can_take = can_take
        self._hint.setText("" if can_take else self.tr("Make a draft to take rows into it."))
        self.table.choose(0)
        self.table.setFocus()
        self._arm()

    @property
    def chosen(self) -> list[Limit]:
        """The limits of the rows that are chosen and have enough behind them."""
        rows = sorted(one.row() for one in self.table.selectionModel().selectedRows())
        found = (self._rows.rows[row].limit for row in rows)
        return [limit for limit in found if limit is not None]

    def choose_all(self) -> None:
        """Choose every row that has enough behind it."""
        ready = sum(row.may_be_taken for row in self._rows.rows)
        if not ready:
            return
        # What can be taken stands first.
        first, last = self._rows.index(0, 0), self._rows.index(ready - 1, 0)
        flags = QItemSelectionModel.SelectionFlag
        self.table.selectionModel().select(
            QItemSelection(first, last), flags.ClearAndSelect | flags.Rows
        )
        self.table.setFocus()

    def _chosen(self, row: int) -> None:
        self._details.setText(derived_details(self._rows.rows[row]) if row >= 0 else "")

    def _arm(self) -> None:
        chosen = self.chosen
        self.take_button.setEnabled(self._can_take and bool(chosen))
        if len(chosen) > 1:
            words = self.tr("Take {0} rows into the draft").format(len(chosen))
        else:
            words = self.tr("Take the row into the draft")
        self.take_button.setText(words)

    def _take(self) -> None:
        self.taken.emit(self.chosen)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._title, self._sentence, self._details, self._hint, self._rows):
            part.apply_theme(theme)
