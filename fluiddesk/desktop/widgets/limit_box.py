"""Which limits hold for one box, since when, and which rows they overrode."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QCompleter, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fluiddesk.desktop.models.limit_lists import HeldModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_calls import KnownBox
from fluiddesk.desktop.viewstate.limit_forms import find_box
from fluiddesk.desktop.viewstate.limit_versions import rule_text, scope_words
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.facts import BoxLimits

_FIELD_WIDTH: Final = 240
_SINCE, _SET_BY, _OVERRODE = 4, 5, 6


class BoxLimitsView(QWidget):
    """Asks for a box and shows what holds for it.

    Signals:
        box_chosen: the identifier of the box that is asked about.
    """

    box_chosen = Signal(object)

    def __init__(self, catalogue: Catalogue, *, theme: Theme) -> None:
        super().__init__()
        self._catalogue = catalogue
        self._boxes: Sequence[KnownBox] = ()
        self.field = QLineEdit()
        self.field.setPlaceholderText(self.tr("Machine and box, such as EX-105, Engine"))
        self.field.setAccessibleName(self.tr("Machine and box"))
        self.field.setFixedWidth(_FIELD_WIDTH)
        self._told = QuietLabel("body", theme)
        self._told.setWordWrap(True)
        self._held = HeldModel(catalogue, theme=theme, parent=self)
        self.table = FactTable(self._held, name=self.tr("Limits that hold for the box"))
        self.table.set_widths({1: 116, 2: 128, 3: 124})
        self.table.fit_columns(
            stretch=_OVERRODE,
            least=120,
            optional={0: 116, _SINCE: 98, _SET_BY: 104},
            roomy={1: 176, 2: 184},
        )
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.field)
        top.addWidget(self._told, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, STEP, 0, 0)
        column.setSpacing(STEP)
        column.addLayout(top)
        column.addWidget(self.table, 1)
        self.field.returnPressed.connect(self._ask)

    @property
    def text(self) -> str:
        """What is told beside the field."""
        return self._told.text()

    def offer(self, boxes: Sequence[KnownBox]) -> None:
        """Offer the boxes of the fleet while one types."""
        self._boxes = boxes
        completer = QCompleter([one.title for one in boxes], self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        completer.activated.connect(lambda _text: self._ask())
        self.field.setCompleter(completer)

    def show_limits(self, found: BoxLimits) -> None:
        """Show what holds for a box."""
        self._held.show(found.held)
        interval = self.tr("interval from the register")
        if found.interval is not None:
            scope = scope_words(found.interval.scope, self._catalogue)
            interval = self.tr("every {0} ({1})").format(rule_text(found.interval), scope)
        many = self.tr("1 limit") if len(found.held) == 1 else self.tr("{0} limits")
        words = self.tr("On {0} by limit set {1}: {2}; {3}.")
        count = many.format(len(found.held))
        self._told.setText(words.format(found.day.isoformat(), found.set_number, count, interval))

    def refuse(self, words: str) -> None:
        """Say why nothing can be shown; what was typed stays."""
        self._held.show(())
        self._told.setText(words)

    def _ask(self) -> None:
        try:
            box = find_box(self.field.text(), self._boxes)
        except OperatorError as wrong:
            self.refuse(str(wrong))
        else:
            self.box_chosen.emit(box.compartment)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._told.apply_theme(theme)
        self._held.apply_theme(theme)
