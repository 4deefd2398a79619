"""What is due, box by box, in the order of the due day or of what a bottle is worth."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, QPoint, Qt, Signal, SignalInstance
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QMenu, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.due_cells import DueColumn
from fluiddesk.desktop.viewstate.due_list import DueList, DueOrder, DuePart
from fluiddesk.desktop.widgets.due_bar import DueBarDelegate
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.special_panel import SpecialPanel
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.special_by_hand import Special

_WITHOUT_BAND: Final = (DuePart.MISSED, DuePart.LATE, DuePart.UNUSABLE, DuePart.EXCUSED)
_FILTER_WIDTH: Final = 144


class DueLines(Protocol):
    """The table of what is due."""

    def show(self, due: DueList) -> None:
        """Show a list, or the same one in another order."""


class DueView(QWidget):
    """Lists what is due.

    Signals:
        box_opened: the identifier of a box to open.
        visit_asked: the identifiers of boxes that a visit is to be planned for.
        special_asked: (box, its name) that is to be sampled sooner for a while.
        void_asked: (box, its name) of which a note is to be taken back.
    """

    box_opened = Signal(object)
    visit_asked = Signal(object)
    special_asked = Signal(object, str)
    void_asked = Signal(object, str)

    def __init__(
        self,
        lines: DueLines,
        model: QAbstractItemModel,
        panel: SpecialPanel,
        *,
        theme: Theme,
    ) -> None:
        super().__init__()
        self._lines = lines
        self.due: DueList | None = None
        self.panel = panel
        self._bars = DueBarDelegate(theme, self)
        self._make_choices()
        self._make_table(model)
        self.plan_button = QPushButton(self.tr("Plan a visit..."))
        self.plan_button.setToolTip(self.tr("For the chosen boxes, one visit a machine"))
        self.plan_button.setAutoDefault(True)
        self.plan_button.setEnabled(False)
        self.special_button = QPushButton(self.tr("&Sample sooner..."))
        self.special_button.setToolTip(self.tr("A special interval of the chosen box"))
        self.void_button = QPushButton(self.tr("Take a &note back..."))
        self.void_button.setToolTip(self.tr("A missed or excused reason noted by mistake"))
        self.list_button = QPushButton()
        self.list_button.setCheckable(True)
        for button in (self.special_button, self.void_button):
            button.setAutoDefault(True)
            button.setEnabled(False)
        self.panel.hide()
        self._none = QuietLabel("body", theme)
        self._line = QuietLabel("small", theme)
        self._note = QuietLabel("small", theme)
        self._lay_out()
        self._connect()

    def _make_choices(self) -> None:
        self.chips = FilterChips(
            (
                (DuePart.OPEN.value, self.tr("To sample")),
                (DuePart.MISSED.value, self.tr("Missed")),
                (DuePart.LATE.value, self.tr("Late")),
                (DuePart.DUE.value, self.tr("Due")),
                (DuePart.SOON.value, self.tr("Early")),
                (DuePart.NEVER.value, self.tr("Never sampled")),
                (DuePart.UNUSABLE.value, self.tr("Unusable")),
                (DuePart.EXCUSED.value, self.tr("Excused")),
                (DuePart.ALL.value, self.tr("All")),
            ),
            name=self.tr("Part of the list"),
        )
        self.order = FilterChips(
            (
                (DueOrder.DAY.value, self.tr("By due day")),
                (DueOrder.MACHINE.value, self.tr("By machine")),
                (DueOrder.WORTH.value, self.tr("By worth")),
            ),
            name=self.tr("Order of the list"),
        )
        self.filter_box = QLineEdit()
        self.filter_box.setPlaceholderText(self.tr("Machine or box"))
        self.filter_box.setAccessibleName(self.tr("Filter what is due"))
        self.filter_box.setClearButtonEnabled(True)
        self.filter_box.setFixedWidth(_FILTER_WIDTH)

    def _make_table(self, model: QAbstractItemModel) -> None:
        self.table = FactTable(model, name=self.tr("What is due"))
        self.table.set_widths(
            {
                DueColumn.STATE: 104,
                DueColumn.MACHINE: 76,
                DueColumn.BASIS: 140,
                DueColumn.DUE_ON: 96,
                DueColumn.BAR: 140,
                DueColumn.HOURS: 76,
                DueColumn.VISIT: 96,
            }
        )
        self.table.fit_columns(
            stretch=DueColumn.BOX,
            least=136,
            optional={
                DueColumn.BAND: 120,
                DueColumn.WORTH: 112,
                DueColumn.WHY: 128,
                DueColumn.SITE: 184,
                DueColumn.WINDOW: 192,
            },
            roomy={DueColumn.BASIS: 236, DueColumn.WHY: 220},
        )
        self.table.setItemDelegateForColumn(DueColumn.BAR, self._bars)
        self.table.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)

    def _connect(self) -> None:
        self.chips.chosen.connect(lambda key: self._show(part=DuePart(key)))
        self.order.chosen.connect(lambda key: self._show(order=DueOrder(key)))
        self.filter_box.textChanged.connect(lambda words: self._show(words=words))
        self.table.row_opened.connect(self._open)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._offer())
        self.table.row_chosen.connect(self._tell_line)
        self.table.customContextMenuRequested.connect(self._open_menu)
        self.plan_button.clicked.connect(lambda: self.visit_asked.emit(self.chosen))
        self.special_button.clicked.connect(lambda: self._ask(self.special_asked))
        self.void_button.clicked.connect(lambda: self._ask(self.void_asked))
        self.list_button.toggled.connect(self.panel.setVisible)
        self.panel.box_opened.connect(self.box_opened)

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.chips)
        top.addStretch(1)
        top.addWidget(self.filter_box)
        second = QHBoxLayout()
        second.setSpacing(GAP)
        second.addWidget(self.order)
        for button in (self.plan_button, self.special_button, self.void_button, self.list_button):
            second.addWidget(button)
        second.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addLayout(second)
        column.addWidget(self._note)
        column.addWidget(self.table, 1)
        column.addWidget(self._none)
        column.addWidget(self._line)
        column.addWidget(self.panel)
        column.addSpacing(STEP)
        self.table.make_sortable()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._bars.theme = theme
        self.panel.apply_theme(theme)
        self._line.apply_theme(theme)
        self._none.apply_theme(theme)
        self._note.apply_theme(theme)

    def show_list(self, due: DueList) -> None:
        """Show a list that was read anew, as the one before was shown."""
        if self.due is not None:
            due.show(self.due.shown)
        self.due = due
        self._fill()

    def show_specials(self, specials: Sequence[Special]) -> None:
        """Show which special intervals hold."""
        self.list_button.setText(self.tr("Special &intervals {0}").format(len(specials)))
        self.panel.show_specials(specials)

    def show_site(self, site: str) -> None:
        """Show one site alone; "" for all."""
        self._show(site=site)

    def show_part(self, part: DuePart) -> None:
        """Show another part, as if its button had been pressed."""
        self._show(part=part)

    def _show(self, **changed: object) -> None:
        if self.due is None:
            return
        if "order" in changed:
            changed["sort"] = None
        self.due.show(replace(self.due.shown, **changed))  # type: ignore[arg-type]
        self._fill()

    def _fill(self) -> None:
        due = self.due
        if due is None:
            return
        at = due.compartment(self.table.currentIndex().row())
        self._lines.show(due)
        for part in DuePart:
            self.chips.show_count(part.value, due.count(part))
        self.chips.press(due.shown.part.value)
        is_worth = due.shown.order is DueOrder.WORTH
        self.order.press(due.shown.order.value)
        self.table.want_column(DueColumn.SITE, is_wanted=not due.shown.site)
        self.table.want_column(DueColumn.WORTH, is_wanted=is_worth)
        # What is past, or not owed, has no band, but a reason.
        has_bands = due.shown.part not in _WITHOUT_BAND and not is_worth
        self.table.want_column(DueColumn.BAND, is_wanted=has_bands)
        if len(due):
            self.table.choose(max(0, due.place_of(at) if at is not None else 0))
        self._none.setVisible(not len(due))
        self._none.setText(self.tr("No box here."))
        self._tell_line(self.table.currentIndex().row())
        self._note.setVisible(is_worth)
        self._note.setText(
            self.tr("Boxes past half their interval: a ranking from starting figures, not money.")
            if is_worth
            else ""
        )

    @property
    def chosen(self) -> tuple[CompartmentId, ...]:
        """The chosen boxes that stand on no kept visit."""
        due = self.due
        if due is None:
            return ()
        rows = sorted(index.row() for index in self.table.selectionModel().selectedRows())
        free = [row for row in rows if (on := due.visit(row)) is None or not on.is_kept]
        found = [due.compartment(row) for row in free]
        return tuple(one for one in found if one is not None)

    def _offer(self) -> None:
        self.plan_button.setEnabled(bool(self.chosen))
        row = self.table.currentIndex().row()
        due = self.due
        is_one = due is not None and due.compartment(row) is not None
        self.special_button.setEnabled(is_one)
        self.void_button.setEnabled(due is not None and is_one and bool(due.notes(row)))

    def _tell_line(self, row: int) -> None:
        self._line.setText("" if self.due is None else self.due.line(row))

    def _ask(self, asked: SignalInstance) -> None:
        row = self.table.currentIndex().row()
        due = self.due
        box = None if due is None else due.compartment(row)
        if due is not None and box is not None:
            asked.emit(box, due.box_name(row))

    def _open_menu(self, at: QPoint) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for button in (self.plan_button, self.special_button, self.void_button):
            action = menu.addAction(button.text())
            action.setEnabled(button.isEnabled())
            action.triggered.connect(button.click)
        menu.popup(self.table.viewport().mapToGlobal(at))

    def _open(self, row: int) -> None:
        found = None if self.due is None else self.due.compartment(row)
        if found is not None:
            self.box_opened.emit(found)
