"""What is due, box by box, in the order of the due day or of what a bottle is worth."""

from dataclasses import replace
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, Signal
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.due_list import DueColumn, DueList, DuePart
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.identity import CompartmentId

_FILTER_WIDTH: Final = 200


class DueLines(Protocol):
    """The table of what is due."""

    def show(self, due: DueList) -> None:
        """Show a list, or the same one in another order."""


class DueView(QWidget):
    """Lists what is due.

    Signals:
        box_opened: the identifier of a box to open.
        visit_asked: the identifiers of boxes that a visit is to be planned for.
    """

    box_opened = Signal(object)
    visit_asked = Signal(object)

    def __init__(self, lines: DueLines, model: QAbstractItemModel, *, theme: Theme) -> None:
        super().__init__()
        self._lines = lines
        self.due: DueList | None = None
        self._make_choices()
        self._make_table(model)
        self.plan_button = QPushButton(self.tr("Plan a visit..."))
        self.plan_button.setToolTip(self.tr("For the chosen boxes, one visit a machine"))
        self.plan_button.setAutoDefault(True)
        self.plan_button.setEnabled(False)
        self._none = QuietLabel("body", theme)
        self._note = QuietLabel("small", theme)
        self._lay_out()
        self._connect()

    def _make_choices(self) -> None:
        self.chips = FilterChips(
            (
                (DuePart.OPEN.value, self.tr("To sample")),
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
            (("due", self.tr("By due day")), ("worth", self.tr("By worth"))),
            name=self.tr("Order of the list"),
        )
        self.filter_box = QLineEdit()
        self.filter_box.setPlaceholderText(self.tr("Filter by machine or box"))
        self.filter_box.setAccessibleName(self.tr("Filter what is due"))
        self.filter_box.setClearButtonEnabled(True)
        self.filter_box.setFixedWidth(_FILTER_WIDTH)

    def _make_table(self, model: QAbstractItemModel) -> None:
        self.table = FactTable(model, name=self.tr("What is due"))
        self.table.set_widths(
            {
                DueColumn.STATE: 104,
                DueColumn.MACHINE: 84,
                DueColumn.BASIS: 136,
                DueColumn.DUE_ON: 96,
                DueColumn.HOURS: 84,
                DueColumn.VISIT: 96,
            }
        )
        self.table.fit_columns(
            stretch=DueColumn.BOX,
            least=168,
            optional={DueColumn.WINDOW: 208, DueColumn.SITE: 200, DueColumn.WORTH: 112},
        )

    def _connect(self) -> None:
        self.chips.chosen.connect(lambda key: self._show(part=DuePart(key)))
        self.order.chosen.connect(lambda key: self._show(by_worth=key == "worth"))
        self.filter_box.textChanged.connect(lambda words: self._show(words=words))
        self.table.row_opened.connect(self._open)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._offer())
        self.plan_button.clicked.connect(lambda: self.visit_asked.emit(self.chosen))

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.chips)
        top.addStretch(1)
        second = QHBoxLayout()
        second.setSpacing(GAP)
        second.addWidget(self.order)
        second.addWidget(self.plan_button)
        second.addWidget(self._note, 1)
        second.addWidget(self.filter_box)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addLayout(second)
        column.addWidget(self.table, 1)
        column.addWidget(self._none)
        column.addSpacing(STEP)
        self.table.make_sortable()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._none.apply_theme(theme)
        self._note.apply_theme(theme)

    def show_list(self, due: DueList) -> None:
        """Show a list that was read anew, as the one before was shown."""
        if self.due is not None:
            due.show(self.due.shown)
        self.due = due
        self._fill()

    def show_site(self, site: str) -> None:
        """Show one site alone; "" for all."""
        self._show(site=site)

    def show_part(self, part: DuePart) -> None:
        """Show another part, as if its button had been pressed."""
        self._show(part=part)

    def _show(self, **changed: object) -> None:
        if self.due is None:
            return
        if "by_worth" in changed:
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
        self.order.press("worth" if due.shown.by_worth else "due")
        self.table.want_column(DueColumn.SITE, is_wanted=not due.shown.site)
        self.table.setColumnHidden(DueColumn.WORTH, not due.shown.by_worth)
        if len(due):
            self.table.choose(max(0, due.place_of(at) if at is not None else 0))
        self._none.setVisible(not len(due))
        self._none.setText(self.tr("No box here."))
        self._note.setText(
            self.tr("Boxes past half their interval: a ranking from starting figures, not money.")
            if due.shown.by_worth
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

    def _open(self, row: int) -> None:
        found = None if self.due is None else self.due.compartment(row)
        if found is not None:
            self.box_opened.emit(found)
