"""Samples outside the plan on the Register page: listed, looked at, and registered."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSplitter, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.outside_forms import OutsideCalls, OutsideDone, outside_form
from fluiddesk.desktop.viewstate.outside_plan import (
    OutsideLine,
    OutsideList,
    facts_told,
    label_texts,
    lines_of,
    offers_for,
    owner_of_papers,
    sentence,
    title_of,
    value_cells,
)
from fluiddesk.desktop.viewstate.record_form import FormDraft
from fluiddesk.desktop.viewstate.record_trail import PaperCalls
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.outside_panel import OutsidePanel
from fluiddesk.desktop.widgets.page_tools import PageTools
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.sample_papers import PaperLines, SamplePapers
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.outside_plan.fluid_samples import FluidSampleFacts
from fluiddesk.services.outside_plan.overview import BoxSampleFacts, FluidValue, OutsideFacts

_LIST_WIDTH: Final = 520
_PANEL_WIDTH: Final = 492
_PANEL_LEAST: Final = 424
_NOT_OF_LABELS: Final = (1, 3, 4)
_LIST_OF: Final = {
    "walk_up": OutsideList.BOXES,
    "duplicate": OutsideList.BOXES,
    "reject": OutsideList.BOXES,
    "void": OutsideList.BOXES,
    "fluid": OutsideList.FLUIDS,
    "check": OutsideList.FLUIDS,
    "reference": OutsideList.FLUIDS,
    "labels": OutsideList.LABELS,
}


class Lines(Protocol):
    """The table of samples and labels."""

    def show(self, lines: tuple[OutsideLine, ...]) -> None:
        """Show these lines."""

    def line(self, row: int) -> OutsideLine | None:
        """The line in a row."""

    def row_of(self, bottle: str) -> int:
        """The row of a bottle; -1 where it is not shown."""


class Values(Protocol):
    """The table of what was measured."""

    def show(self, rows: tuple[tuple[str, str, str, str], ...]) -> None:
        """Show these values."""


@dataclass(frozen=True)
class OutsideTables:
    """The tables, each as what is shown in it and as the model of its view."""

    lines: Lines
    line_model: QAbstractItemModel
    values: Values
    value_model: QAbstractItemModel
    papers: PaperLines
    paper_model: QAbstractItemModel


class OutsideView(QWidget):
    """Lists what stands outside the plan and registers more of it.

    Signals:
        told: the page's sentence.
        closed: back to the register.
        changed: what was altered, as ``Changes``.
        compartment_opened: the identifier of a box to open.
    """

    told = Signal(str)
    closed = Signal()
    changed = Signal(object)
    compartment_opened = Signal(object)

    def __init__(
        self,
        tables: OutsideTables,
        *,
        calls: OutsideCalls,
        papers: PaperCalls,
        tools: PageTools,
    ) -> None:
        super().__init__()
        theme, background = tools.theme, tools.background
        self.papers = SamplePapers(tables.papers, tables.paper_model, calls=papers, tools=tools)
        self._lines, self._values = tables.lines, tables.values
        self._calls, self._clock, self._notice = calls, tools.clock, tools.notice
        self._background = background
        self._offers: Offers | None = None
        self._facts: OutsideFacts | None = None
        self._list = OutsideList.BOXES
        self._bottle = ""
        self._wanted = b""
        self._is_filling = False
        self._waiting: Callable[[], None] | None = None
        self._strip = WorkStrip()
        self.work = PageWork(background, strip=self._strip, notice=tools.notice, parent=self)
        self.chips = FilterChips(
            (
                (OutsideList.BOXES.value, self.tr("Compartments")),
                (OutsideList.FLUIDS.value, self.tr("Fluids")),
                (OutsideList.LABELS.value, self.tr("Spare labels")),
            ),
            name=self.tr("Lists of samples outside the plan"),
        )
        self.table = FactTable(tables.line_model, name=self.tr("Samples outside the plan"))
        self.table.setSelectionMode(FactTable.SelectionMode.SingleSelection)
        self.table.set_widths({0: 104, 1: 92, 3: 92, 4: 84})
        self.table.share_room(2)
        self._none = QuietLabel("small", theme)
        self.panel = OutsidePanel(tables.value_model, self.papers, theme=theme)
        self.back_button = QPushButton(self.tr("Back to the register"))
        self.buttons: Mapping[str, QPushButton] = {
            "walk_up": QPushButton(self.tr("Walk-up…")),
            "duplicate": QPushButton(self.tr("Duplicate…")),
            "fluid": QPushButton(self.tr("Drum, tank, new fluid…")),
            "check": QPushButton(self.tr("Check sample…")),
            "reject": QPushButton(self.tr("Rejected…")),
            "void": QPushButton(self.tr("Void…")),
            "labels": QPushButton(self.tr("Spare labels…")),
        }
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(STEP)
        for button in self.buttons.values():
            top.addWidget(button)
        top.addStretch(1)
        top.addWidget(self.back_button)
        left = QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, GAP, 0)
        column.setSpacing(GAP)
        column.addWidget(self.chips, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.table, 1)
        column.addWidget(self._none, 1, Qt.AlignmentFlag.AlignTop)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(left)
        split.addWidget(self.panel)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        self.panel.setMinimumWidth(_PANEL_LEAST)
        split.setStretchFactor(1, 1)
        split.setSizes([_LIST_WIDTH, _PANEL_WIDTH])
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(GAP + STEP)
        page.addLayout(top)
        page.addWidget(self._strip)
        page.addWidget(split, 1)

    def _connect(self) -> None:
        for key, button in self.buttons.items():
            button.clicked.connect(lambda _=False, key=key: self.begin(key))
        self.back_button.clicked.connect(lambda: self.leave(self.closed.emit))
        self.chips.chosen.connect(lambda key: self.leave(lambda: self._turn(OutsideList(key))))
        self.table.row_chosen.connect(self._row_chosen)
        self.table.row_opened.connect(lambda _row: self._do("open"))
        self.panel.action_pressed.connect(self._do)
        self.panel.closed.connect(lambda: self.leave(self._show_line))
        self.panel.editor.save_pressed.connect(self._save)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.panel.apply_theme(theme)
        self.papers.apply_theme(theme)
        self._none.apply_theme(theme)

    # --- reading ----------------------------------------------------------------------------

    def offer(self, offers: Offers) -> None:
        """What the choices of the forms are made of; a form that waited for it is shown."""
        self._offers = offers
        waiting, self._waiting = self._waiting, None
        if waiting is not None:
            waiting()

    def refresh(self) -> None:
        """Read what stands outside the plan."""
        self._background.run(
            lambda _: self._calls.facts(),
            done=self.show_facts,
            failed=lambda error: self.work.tell_failure(
                error,
                refusal=self.tr("The samples outside the plan were not read"),
                label=self.tr("Reading samples outside the plan"),
            ),
            label=self.tr("Reading samples outside the plan"),
            slot="outside",
        )

    def show_facts(self, facts: OutsideFacts) -> None:
        """Show what stands outside the plan, keeping list and bottle."""
        self._facts = facts
        for one in facts.fluid_samples:
            if one.id == self._wanted:
                self._list, self._bottle = OutsideList.FLUIDS, one.bottle_code
                self._wanted = b""
        for which in OutsideList:
            self.chips.show_count(which.value, len(lines_of(facts, which)))
            self.chips.button(which.value).setEnabled(True)
        if self.isVisible():
            self.told.emit(sentence(facts))
        self._fill()
        if not self.panel.is_entering:
            self._show_line()

    def want(self, fluid_sample: bytes) -> None:
        """Show this sample of a fluid as soon as it is read."""
        self._wanted = fluid_sample
        self.leave(self.panel.show_nothing)

    def _turn(self, which: OutsideList) -> None:
        self._list = which
        self._fill()
        self._show_line()

    def _fill(self) -> None:
        """Fill the list, with the bottle that was looked at still chosen."""
        self.chips.press(self._list.value)
        if self._facts is None:
            return
        found = lines_of(self._facts, self._list)
        self._is_filling = True
        try:
            self._lines.show(found)
            if found:
                self.table.choose(max(self._lines.row_of(self._bottle), 0))
        finally:
            self._is_filling = False
        for column in _NOT_OF_LABELS:
            self.table.setColumnHidden(column, self._list is OutsideList.LABELS)
        self.table.setVisible(bool(found))
        self._none.setVisible(not found)
        self._none.setText(_NONE[self._list])

    def _row_chosen(self, row: int) -> None:
        line = self._lines.line(row)
        if line is not None and not self._is_filling:
            self._bottle = line.bottle
            self.leave(self._show_line)

    def _show_line(self) -> None:
        line = self._lines.line(self.table.currentIndex().row()) if self._has_lines else None
        if line is None:
            self.panel.show_nothing()
            return
        self._bottle, subject = line.bottle, line.subject
        self.panel.show_facts(title_of(subject), facts_told(subject), offers_for(subject))
        self.papers.show_for(owner_of_papers(subject))
        if isinstance(subject, FluidSampleFacts):
            self._read_values(subject)

    @property
    def _has_lines(self) -> bool:
        return not self.table.isHidden()

    def _read_values(self, subject: FluidSampleFacts) -> None:
        if not subject.report_number:
            self.panel.show_values(self.tr("No report has come yet."), has_values=False)
            return
        self._background.run(
            lambda _: self._calls.values(subject.bottle_code),
            done=lambda values: self._show_values(subject.bottle_code, values),
            failed=lambda error: self.work.tell_failure(
                error,
                refusal=self.tr("The values were not read"),
                label=self.tr("Reading values"),
            ),
            label=self.tr("Reading what was measured"),
            slot="fluid values",
        )

    def _show_values(self, bottle: str, values: tuple[FluidValue, ...]) -> None:
        if bottle != self._bottle or self.panel.is_entering:
            return
        self._values.show(value_cells(values))
        caption = self.tr("What was measured") if values else self.tr("Nothing was measured.")
        self.panel.show_values(caption, has_values=bool(values))

    # --- doing ------------------------------------------------------------------------------

    def begin(self, key: str, prefill: Mapping[str, str] | None = None) -> None:
        """Show a form, once it is known what its choices are made of."""
        if self._offers is None:
            self._waiting = lambda: self.begin(key, prefill)
            return
        form = outside_form(key, self._offers, today=self._clock.today(), prefill=prefill)
        self.leave(lambda: self.panel.show_form(form))

    def leave(self, then: Callable[[], None]) -> None:
        """Go on if nothing is unsaved; else ask on the page, and stay meanwhile."""
        draft = self.panel.editor.draft
        if not self.panel.is_entering or draft is None or not draft.is_changed:
            self.panel.editor.forget()
            self._notice.clear()
            then()
            return

        def discard() -> None:
            self.panel.editor.forget()
            self._notice.clear()
            then()

        self._notice.say(
            self.tr("{0} is not saved").format(draft.form.title),
            self.tr("Written: {0}.").format(", ".join(draft.changed)),
            [(self.tr("Discard and go on"), discard), (self.tr("Keep writing"), self._keep)],
        )

    def _keep(self) -> None:
        self._notice.clear()
        self.panel.editor.focus_first()

    def _do(self, key: str) -> None:
        """Do what a button beside a line says."""
        line = self._lines.line(self.table.currentIndex().row())
        if line is None or self._facts is None:
            return
        subject = line.subject
        match key:
            case "open" if isinstance(subject, BoxSampleFacts):
                self.compartment_opened.emit(subject.compartment_id)
            case "copy_labels":
                texts = label_texts(self._facts.spare_labels)
                QGuiApplication.clipboard().setText(texts)
                self.told.emit(self.tr("The labels are on the clipboard."))
            case "duplicate":
                self.begin(key, {"first": line.bottle})
            case "walk_up" | "fluid" | "reject" | "void" | "reference":
                self.begin(key, {"bottle_code": line.bottle})
            case _:
                pass

    def _save(self, draft: FormDraft) -> None:
        offers = self._offers
        if offers is None or self.work.is_under_way:
            return
        try:
            values = draft.values()
        except OperatorError as wrong:
            self._notice.say("", str(wrong), [(self.tr("Close"), self._notice.clear)])
            return
        key, moment, today = draft.form.key, self._clock.moment(), self._clock.today()
        self.work.start(
            lambda _: self._calls.act(key, values, offers, moment=moment, today=today),
            done=lambda done: self._saved(key, done),
            refusal=self.tr("Nothing was saved"),
            label=self.tr("Saving"),
            saves=True,
        )

    def _saved(self, key: str, done: OutsideDone) -> None:
        self.panel.editor.forget()
        self.panel.show_nothing()
        is_of_fluid = key in ("reject", "void") and not done.changes.compartments
        self._list = OutsideList.FLUIDS if is_of_fluid else _LIST_OF[key]
        self._bottle = done.bottle
        self.refresh()
        self._notice.say("", done.told, [(self.tr("Close"), self._notice.clear)])
        self.changed.emit(done.changes)


_NONE: Final = {
    OutsideList.BOXES: "No walk-up, duplicate or rejected bottle yet.",
    OutsideList.FLUIDS: "No sample of a drum, tank or new fluid yet.",
    OutsideList.LABELS: "No spare label. Make some before the next round.",
}
