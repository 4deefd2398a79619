"""The lists of the register: sections as chips, a filter, the records, and what can be added."""

from collections.abc import Mapping
from typing import Final

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.register import RecordColumn, RegisterState, Section
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_LIST_WIDTH: Final = 448
_PANEL_LEAST: Final = 440
_NUMBERED: Final = {Section.MACHINES: 80, Section.STORES: 136}
"""The lists whose records have short numbers and long kinds, and the room for the numbers."""
_DAY_WIDTH: Final = 96
_WIDTHS: Final[Mapping[int, int]] = {
    RecordColumn.ABOUT: 132,
    RecordColumn.STATE: 84,
    RecordColumn.LACKS: 108,
}


class RegisterList(QWidget):
    """One section of the register with room for a record beside it.

    Signals:
        section_chosen: a ``Section``.
        filtered: other words, or other wishes for incomplete records.
        record_chosen: the row chosen by a person.
        action_pressed: the key of a button.
    """

    section_chosen = Signal(object)
    filtered = Signal()
    record_chosen = Signal(int)
    action_pressed = Signal(str)

    def __init__(
        self, records: QAbstractItemModel, *, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._is_pointing = False
        self._add_words = {
            Section.MACHINES: ("new_machine", self.tr("Add a machine")),
            Section.SITES: ("new_site", self.tr("Add a site")),
            Section.FLUIDS: ("new_fluid", self.tr("Add a fluid")),
            Section.STORES: ("new_tank", self.tr("Add a tank")),
            Section.LABORATORIES: ("new_laboratory", self.tr("Add a laboratory")),
            Section.TEST_LISTS: ("new_test_list", self.tr("Add a test list")),
            Section.USERS: ("new_user", self.tr("Add a desk user")),
        }
        self.chips = FilterChips(
            (
                (Section.MACHINES.value, self.tr("Machines")),
                (Section.SITES.value, self.tr("Sites")),
                (Section.FLUIDS.value, self.tr("Fluids")),
                (Section.STORES.value, self.tr("Tanks, deliveries")),
                (Section.LABORATORIES.value, self.tr("Laboratories")),
                (Section.TEST_LISTS.value, self.tr("Test lists")),
                (Section.USERS.value, self.tr("Desk users")),
            ),
            name=self.tr("Lists of the register"),
        )
        self.filter_box = QLineEdit()
        self.filter_box.setPlaceholderText(self.tr("Filter by number, kind or what is missing"))
        self.filter_box.setAccessibleName(self.tr("Filter the list"))
        self.filter_box.setClearButtonEnabled(True)
        self.incomplete = QCheckBox(self.tr("Incomplete only"))
        self.table = FactTable(records, name=self.tr("Records"))
        self.table.setSelectionMode(FactTable.SelectionMode.SingleSelection)
        self.table.horizontalHeader().setStretchLastSection(False)
        self._none = QuietLabel("small", theme)
        self.add_button = QPushButton()
        self.files_button = QPushButton(self.tr("From files…"))
        self.export_button = QPushButton(self.tr("Export…"))
        self.past_button = QPushButton(self.tr("Past results…"))
        self.outside_button = QPushButton(self.tr("Outside the plan…"))
        self.steps_button = QPushButton(self.tr("First steps"))
        self._split = QSplitter(Qt.Orientation.Horizontal)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.chips)
        top.addStretch(1)
        top.addWidget(self.outside_button)
        top.addWidget(self.steps_button)
        filters = QHBoxLayout()
        filters.setSpacing(GAP)
        filters.addWidget(self.filter_box, 1)
        filters.addWidget(self.incomplete)
        buttons = QHBoxLayout()
        buttons.setSpacing(STEP)
        buttons.addWidget(self.add_button)
        buttons.addWidget(self.files_button)
        buttons.addWidget(self.export_button)
        buttons.addWidget(self.past_button)
        buttons.addStretch(1)
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, GAP, 0)
        column.setSpacing(GAP)
        column.addLayout(filters)
        column.addWidget(self.table, 1)
        column.addWidget(self._none, 1, Qt.AlignmentFlag.AlignTop)
        column.addLayout(buttons)
        self._split.addWidget(left)
        self._split.setHandleWidth(1)
        self._split.setChildrenCollapsible(False)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(GAP + STEP)
        page.addLayout(top)
        page.addWidget(self._split, 1)

    def _connect(self) -> None:
        self.chips.chosen.connect(lambda key: self.section_chosen.emit(Section(key)))
        self.filter_box.textChanged.connect(self.filtered)
        self.incomplete.toggled.connect(self.filtered)
        self.table.row_chosen.connect(self._chosen)
        self.add_button.clicked.connect(
            lambda: self.action_pressed.emit(str(self.add_button.property("key")))
        )
        self.files_button.clicked.connect(lambda: self.action_pressed.emit("files"))
        self.export_button.clicked.connect(lambda: self.action_pressed.emit("export"))
        self.past_button.clicked.connect(lambda: self.action_pressed.emit("past"))
        self.outside_button.clicked.connect(lambda: self.action_pressed.emit("outside"))
        self.steps_button.clicked.connect(lambda: self.action_pressed.emit("first_hour"))

    def set_beside(self, panel: QWidget) -> None:
        """Put the panel of the record beside the list."""
        panel.setMinimumWidth(_PANEL_LEAST)
        self._split.addWidget(panel)
        self._split.setStretchFactor(1, 1)
        self._split.setSizes([_LIST_WIDTH, 2 * _LIST_WIDTH])

    def show_state(self, state: RegisterState, *, is_first_hour: bool) -> None:
        """Show counts, headings and what can be added."""
        for section in Section:
            self.chips.show_count(section.value, state.count(section))
            # An empty list can be looked at too: that is where its first record is added.
            self.chips.button(section.value).setEnabled(True)
        self.chips.press(state.section.value)
        self._fit_columns(state)
        headings = [place for place, row in enumerate(state.rows) if row.record is None]
        self.table.span_headings(headings)
        self.table.setVisible(bool(state.rows))
        self._none.setVisible(not state.rows)
        is_filtered = bool(state.wanted) or state.only_incomplete
        self._none.setText(
            self.tr("No record holds these words.") if is_filtered else self.tr("None yet.")
        )
        key, words = self._add_words[state.section]
        self.add_button.setProperty("key", key)
        self.add_button.setText(words)
        needs_site = state.section in (Section.MACHINES, Section.STORES)
        self.add_button.setEnabled(not needs_site or bool(state.facts.sites))
        self.export_button.setEnabled(bool(state.facts.sites))
        self.past_button.setEnabled(bool(state.facts.compartments))
        self.steps_button.setVisible(is_first_hour)

    def _fit_columns(self, state: RegisterState) -> None:
        """Machines have short numbers and long kinds; other records have long names."""
        across = self.table.horizontalHeader()
        grows, slim = RecordColumn.NAME, RecordColumn.ABOUT
        if state.section in _NUMBERED:
            grows, slim = slim, grows
        widths = {**_WIDTHS, RecordColumn.NAME: _NUMBERED.get(state.section, 0)}
        if state.section is Section.STORES:
            widths[RecordColumn.STATE] = _DAY_WIDTH
        self.table.set_widths(widths)
        across.setSectionResizeMode(slim, QHeaderView.ResizeMode.Interactive)
        across.setSectionResizeMode(grows, QHeaderView.ResizeMode.Stretch)
        # A column with nothing to say leaves its room to the names.
        has_state = any(row.state for row in state.rows)
        self.table.setColumnHidden(RecordColumn.STATE, not has_state)
        has_lacks = any(row.lacks for row in state.rows)
        self.table.setColumnHidden(RecordColumn.LACKS, not has_lacks)

    def point_to(self, row: int) -> None:
        """Show a row as the current one, without this counting as a choice."""
        self._is_pointing = True
        try:
            if row >= 0:
                self.table.choose(row)
            else:
                self.table.clearSelection()
        finally:
            self._is_pointing = False

    def _chosen(self, row: int) -> None:
        if row >= 0 and not self._is_pointing:
            self.record_chosen.emit(row)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._none.apply_theme(theme)
