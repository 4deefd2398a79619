"""The interval rules of a set under a filter by scope: kinds, model, or a single box."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtWidgets import QComboBox, QCompleter, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from fluiddesk.desktop.models.limit_lists import IntervalModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_calls import KnownBox
from fluiddesk.desktop.viewstate.limit_draft import RuleDraft
from fluiddesk.desktop.viewstate.limit_forms import find_box
from fluiddesk.desktop.viewstate.limit_interval_filter import (
    Choices,
    IntervalFilter,
    filter_choices,
)
from fluiddesk.desktop.widgets.limit_table import RuleTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.services.catalogue import Catalogue

_WIDTHS: Final = {0: 176, 1: 56, 2: 56, 3: 76, 4: 64, 5: 152}
_BOX_WIDTH: Final = 120


class IntervalPanel(QWidget):
    """Shows the interval rules that concern the boxes asked about.

    Attributes:
        model, table: the rules let through; typed into while the set is a draft.
    """

    def __init__(self, catalogue: Catalogue, *, theme: Theme) -> None:
        super().__init__()
        self._catalogue = catalogue
        self._rules: Sequence[IntervalRule] = ()
        self._draft: RuleDraft | None = None
        self._boxes: Sequence[KnownBox] = ()
        self.model = IntervalModel(catalogue, theme=theme, parent=self)
        self.table = RuleTable(self.model, name=self.tr("Intervals"), theme=theme)
        self.table.set_widths(_WIDTHS)
        names = (self.tr("Any compartment"), self.tr("Any machine kind"), self.tr("Any model"))
        self.combos = [_combo(name) for name in names]
        self._any = names
        self.box_field = QLineEdit()
        self.box_field.setPlaceholderText(self.tr("One box: EX-105, Engine"))
        self.box_field.setAccessibleName(self.tr("Intervals of one box"))
        self.box_field.setClearButtonEnabled(True)
        self.box_field.setMinimumWidth(_BOX_WIDTH)
        self._told = QuietLabel("small", theme)
        self._told.setWordWrap(True)
        top = QHBoxLayout()
        top.setContentsMargins(GAP, 0, GAP, 0)
        top.setSpacing(STEP)
        for part in (*self.combos, self.box_field):
            top.addWidget(part, 1)
        self._told.setContentsMargins(GAP, 0, GAP, 0)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addLayout(top)
        column.addWidget(self._told)
        column.addWidget(self.table, 1)
        for combo in self.combos:
            combo.currentIndexChanged.connect(self._filter)
        self.box_field.textChanged.connect(self._filter)

    @property
    def text(self) -> str:
        """What is told of the rules let through."""
        return self._told.text()

    @property
    def wanted(self) -> IntervalFilter:
        """The boxes asked about; a box that is still being typed asks about none."""
        kind, machine, model = (str(one.currentData() or "") for one in self.combos)
        box = None
        if self.box_field.text().strip():
            try:
                box = find_box(self.box_field.text(), self._boxes)
            except OperatorError:
                box = None
        return IntervalFilter(compartment_kind=kind, machine_kind=machine, model=model, box=box)

    def offer(self, boxes: Sequence[KnownBox]) -> None:
        """Offer the boxes of the fleet, their kinds and models."""
        self._boxes = boxes
        completer = QCompleter([one.title for one in boxes], self)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        self.box_field.setCompleter(completer)
        self._fill()
        if not self.wanted.is_open:
            self._filter()

    def show_rules(self, rules: Sequence[IntervalRule], draft: RuleDraft | None) -> None:
        """Show the rules of a set, or those of a draft, under the filter as it is."""
        self._rules, self._draft = rules, draft
        self._fill()
        self._filter()

    def clear_filter(self) -> None:
        """Let every rule through."""
        self.box_field.clear()
        for combo in self.combos:
            combo.setCurrentIndex(0)

    def _fill(self) -> None:
        offered = filter_choices(self._rules, self._boxes, self._catalogue)
        for combo, name, choices in zip(self.combos, self._any, offered, strict=True):
            _fill(combo, (("", name), *choices))

    def _filter(self, *_: object) -> None:
        wanted = self.wanted
        self.model.show_rules(self._rules, self._draft, places=wanted.places(self._rules))
        told = wanted.told(self._rules, self._catalogue)
        if self.box_field.text().strip() and wanted.box is None:
            told = self.tr('"{0}" is no box of this fleet. Choose one of the list.').format(
                self.box_field.text().strip()
            )
        self._told.setText(told)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._told, self.model, self.table):
            part.apply_theme(theme)


def _combo(name: str) -> QComboBox:
    combo = QComboBox()
    combo.setAccessibleName(name)
    combo.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
    combo.setMinimumContentsLength(4)
    return combo


def _fill(combo: QComboBox, choices: Choices) -> None:
    """Offer choices, keeping the one that is made."""
    known = [(combo.itemData(place), combo.itemText(place)) for place in range(combo.count())]
    if known == list(choices):
        return
    chosen = combo.currentData()
    blocker = QSignalBlocker(combo)
    combo.clear()
    for code, words in choices:
        combo.addItem(words, code)
    combo.setCurrentIndex(max(combo.findData(chosen), 0))
    blocker.unblock()
