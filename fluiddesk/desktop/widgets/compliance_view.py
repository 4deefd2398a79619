"""Compliance by group, its trend by month, and the due events behind a line."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QMenu,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.charts.compliance_months import ComplianceMonths, MonthShares
from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.interval_compliance import (
    ComplianceShown,
    EventPart,
    Period,
    Wanted,
    compliance_shown,
    counts_of,
    event_cells,
    events_of,
    table_cells,
    write_csv,
)
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.desktop.widgets.crews_view import KeyedLines
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.file_asking import FileKind, LastFolders, ask_new_file
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.interval_compliance.facts import EventColumns, EventLine, GroupBy
from fluiddesk.wiring import Clock

_CHART_WIDTH: Final = 372
_GROUPS: Final = {
    GroupBy.SITE: "Site",
    GroupBy.MACHINE_KIND: "Machine kind",
    GroupBy.COMPARTMENT_KIND: "Box kind",
    GroupBy.MONTH: "Month",
    GroupBy.SAMPLER: "Sampler",
    GroupBy.MACHINE: "Machine",
}


class EventLines(Protocol):
    """The table of due events."""

    def show(self, lines: Sequence[EventLine]) -> None:
        """Show these events."""


class ComplianceView(QWidget):
    """Measures what was owed against what was done.

    Signals:
        box_opened: the identifier of a box to open.
        told: (title, text) of what was done.
        reason_asked: the ``EventLine`` that a reason is to be written beside.
        void_asked: the ``EventLine`` whose reason is to be taken back.
    """

    box_opened = Signal(object)
    told = Signal(str, str)
    reason_asked = Signal(object)
    void_asked = Signal(object)

    def __init__(
        self,
        groups: tuple[KeyedLines, QAbstractItemModel],
        events: tuple[EventLines, QAbstractItemModel],
        calls: SamplingCalls,
        *,
        work: PageWork,
        background: Background,
        clock: Clock,
        theme: Theme,
        folders: LastFolders,
    ) -> None:
        super().__init__()
        self._groups, self._event_lines = groups[0], events[0]
        self._calls, self._work, self._background = calls, work, background
        self._clock, self._folders = clock, folders
        self._events: EventColumns | None = None
        self._wanted = Wanted()
        self.shown: ComplianceShown | None = None
        self._listed: tuple[EventLine, ...] = ()
        self._group, self._part = "", EventPart.NOT_ON_TIME
        self.period = QComboBox()
        self.period.setAccessibleName(self.tr("Period"))
        for one in Period:
            self.period.addItem(one.words, one)
        self.period.setCurrentIndex(list(Period).index(self._wanted.period))
        self.by = FilterChips(
            [(key.value, words) for key, words in _GROUPS.items()], name=self.tr("Told by")
        )
        self.by.press(self._wanted.by.value)
        self.export_button = QPushButton(self.tr("Export"))
        self._sentence = QuietLabel("body", theme)
        self._sentence.setWordWrap(True)
        self.table = FactTable(groups[1], name=self.tr("Compliance by group"))
        self.table.set_widths({1: 52, 2: 64, 3: 72, 4: 64, 5: 66, 6: 62, 7: 60, 8: 50, 9: 74})
        self.table.fit_columns(stretch=0, least=150, optional={2: 64, 8: 50, 9: 84})
        self.chart = ComplianceMonths(theme.colors, font=theme.small)
        self._title = QuietLabel("strong", theme)
        self._make_parts()
        self.event_table = FactTable(events[1], name=self.tr("Due events"))
        self.event_table.set_widths({0: 80, 1: 96, 2: 84, 5: 96, 6: 76, 7: 124})
        optional = {3: 176, 4: 208, 10: 168, 9: 204}
        self.event_table.fit_columns(stretch=8, least=96, optional=optional)
        self._lay_out()
        self._connect()

    def _make_parts(self) -> None:
        self.reason_button = QPushButton(self.tr("Say why..."))
        self.reason_button.setAutoDefault(True)
        self.void_button = QPushButton(self.tr("Take back..."))
        self.void_button.setToolTip(self.tr("A reason that was noted by mistake"))
        self.void_button.setAutoDefault(True)
        self.void_button.setEnabled(False)
        self.parts = FilterChips(
            (
                (EventPart.NOT_ON_TIME.value, self.tr("Not on time")),
                (EventPart.MISSED.value, self.tr("Missed")),
                (EventPart.LATE.value, self.tr("Late")),
                (EventPart.UNUSABLE.value, self.tr("Unusable")),
                (EventPart.EXCUSED.value, self.tr("Excused")),
                (EventPart.ALL.value, self.tr("All")),
            ),
            name=self.tr("Due events listed"),
        )

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.period)
        top.addWidget(self.by)
        top.addStretch(1)
        top.addWidget(self.export_button)
        upper = QWidget()
        above = QHBoxLayout(upper)
        above.setContentsMargins(0, 0, 0, GAP)
        above.setSpacing(MARGIN)
        above.addWidget(self.table, 5)
        self.chart.setMinimumWidth(_CHART_WIDTH)
        above.addWidget(self.chart, 3)
        lower = QWidget()
        below = QVBoxLayout(lower)
        below.setContentsMargins(0, GAP, 0, 0)
        below.setSpacing(GAP)
        line = QHBoxLayout()
        line.setSpacing(GAP)
        line.addWidget(self._title, 1)
        line.addWidget(self.parts)
        line.addWidget(self.reason_button)
        line.addWidget(self.void_button)
        below.addLayout(line)
        below.addWidget(self.event_table, 1)
        split = QSplitter(Qt.Orientation.Vertical)
        split.addWidget(upper)
        split.addWidget(lower)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.setSizes([230, 300])
        split.setStretchFactor(1, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addWidget(self._sentence)
        column.addSpacing(STEP)
        column.addWidget(split, 1)

    def _make_menu(self) -> None:
        menu = QMenu(self.export_button)
        for key, words in (
            ("pdf", self.tr("The table as &PDF...")),
            ("xlsx", self.tr("The table as &workbook...")),
            ("csv", self.tr("The &table as CSV...")),
            ("events", self.tr("The &due events listed as CSV...")),
        ):
            action = menu.addAction(words)
            action.triggered.connect(lambda _=False, key=key: self.ask_export(key))
        self.export_button.setMenu(menu)

    def _connect(self) -> None:
        self._make_menu()
        self.period.activated.connect(
            lambda _: self._want(replace(self._wanted, period=self.period.currentData()))
        )
        self.by.chosen.connect(lambda key: self._want(replace(self._wanted, by=GroupBy(key))))
        self.parts.chosen.connect(lambda key: self._list(part=EventPart(key)))
        self.table.row_chosen.connect(self._group_chosen)
        self.event_table.row_opened.connect(self._open)
        self.event_table.row_chosen.connect(self._offer)
        self.void_button.clicked.connect(self._ask_void)
        self.reason_button.clicked.connect(self._ask_reason)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._sentence.apply_theme(theme)
        self._title.apply_theme(theme)
        self.chart.apply_colors(theme.colors)

    # --- reading ----------------------------------------------------------------------------

    def forget(self) -> None:
        """Read the due events anew when they are next looked at."""
        self._events = None
        if self.isVisible():
            self.begin()

    def begin(self) -> None:
        """Read the due events if they are not known yet."""
        if self._events is not None:
            return
        today = self._clock.today()
        self._sentence.setText(self.tr("Working out every due event..."))
        self._background.run(
            lambda _: self._calls.events(today=today),
            done=self._read,
            failed=lambda error: self._work.tell_failure(
                error,
                refusal=self.tr("Compliance was not read"),
                label=self.tr("Working out due events"),
            ),
            label=self.tr("Working out due events"),
            slot="due events",
        )

    def _read(self, events: EventColumns) -> None:
        self._events = events
        self._want(self._wanted)

    def _want(self, wanted: Wanted) -> None:
        self._wanted = wanted
        events, today, catalogue = self._events, self._clock.today(), self._calls.place.catalogue
        if events is None:
            self.begin()
            return
        self._background.run(
            lambda _: compliance_shown(events, catalogue, wanted, today=today),
            done=self.show_facts,
            label=self.tr("Measuring compliance"),
            slot="compliance",
        )

    # --- showing ----------------------------------------------------------------------------

    def show_facts(self, shown: ComplianceShown) -> None:
        """Show a table, its trend and the due events behind it."""
        group, self.shown = self._group, shown
        table = shown.table
        self.by.press(shown.wanted.by.value)
        self._sentence.setText(table.sentence)
        self._groups.show(table_cells(table))
        self.chart.show_months(
            [
                MonthShares(
                    month=one.month,
                    on_time=one.on_time,
                    taken=one.taken,
                    early=one.early,
                    due=one.due,
                )
                for one in shown.months
            ]
        )
        # The line looked at stays, as far as there still is one.
        groups = ["", *(line.group for line in table.lines)]
        at = groups.index(group) if group in groups else 0
        self._group = groups[at]
        self.table.choose(at)
        self._list()

    def _group_chosen(self, row: int) -> None:
        key = self._groups.key(row)
        if key is not None and self.shown is not None:
            self._group = key.decode()
            self._list()

    def _list(self, part: EventPart | None = None) -> None:
        shown = self.shown
        if shown is None:
            return
        self._part = part or self._part
        for one, count in counts_of(shown, self._group).items():
            self.parts.show_count(one.value, count)
        self.parts.press(self._part.value)
        self._listed = events_of(shown, self._group, self._part)
        self._event_lines.show(self._listed)
        name = self._group or self.tr("All")
        self._title.setText(f"{name}: {counted(len(self._listed), 'due event')}")

    def _open(self, row: int) -> None:
        if 0 <= row < len(self._listed):
            self.box_opened.emit(CompartmentId(self._listed[row].compartment_id))

    def _offer(self, row: int) -> None:
        is_one = 0 <= row < len(self._listed)
        self.reason_button.setEnabled(is_one)
        self.void_button.setEnabled(is_one and bool(self._listed[row].reason))

    def _ask_void(self) -> None:
        row = self.event_table.currentIndex().row()
        if 0 <= row < len(self._listed):
            self.void_asked.emit(self._listed[row])

    def _ask_reason(self) -> None:
        row = self.event_table.currentIndex().row()
        if 0 <= row < len(self._listed):
            self.reason_asked.emit(self._listed[row])

    # --- files ------------------------------------------------------------------------------

    def ask_export(self, key: str) -> None:
        """Ask where the table or the list is written to."""
        if self.shown is None:
            return
        suffix = "csv" if key == "events" else key
        name = "due_events" if key == "events" else "compliance"
        kinds = {"pdf": "PDF files", "xlsx": "Workbooks", "csv": "CSV files"}
        ask_new_file(
            self,
            self.tr("Export compliance"),
            then=lambda path: self.export(key, Path(path)),
            name=f"{name}_{self.shown.table.last_day.isoformat()}.{suffix}",
            filters=(f"{kinds[suffix]} (*.{suffix})",),
            folders=self._folders,
            kind=FileKind.PRINT,
        )

    def export(self, key: str, path: Path) -> None:
        """Write the table (``pdf``, ``xlsx``, ``csv``) or the ``events`` listed."""
        shown, today, listed = self.shown, self._clock.today(), self._listed
        if shown is None:
            return
        rows = _heads(self.table), [cells for _, cells in table_cells(shown.table)]
        if key == "events":
            rows = _heads(self.event_table), [event_cells(line) for line in listed]
        self._work.start(
            lambda _: _write(key, shown, rows, path, today=today),
            done=lambda _: self.told.emit("", self.tr("Written: {0}.").format(path)),
            refusal=self.tr("Nothing was exported"),
            label=self.tr("Writing {0}").format(path.name),
        )


def _heads(table: FactTable) -> list[str]:
    model, flat = table.model(), Qt.Orientation.Horizontal
    return [str(model.headerData(column, flat)) for column in range(model.columnCount())]


def _write(
    key: str,
    shown: ComplianceShown,
    rows: tuple[Sequence[str], Sequence[Sequence[str]]],
    path: Path,
    *,
    today: date,
) -> None:
    if key == "pdf":
        from fluiddesk.printing.compliance_report import write_compliance

        write_compliance(shown.table, path, printed_on=today)
    elif key == "xlsx":
        from fluiddesk.services.interval_compliance.workbook import write_compliance_workbook

        write_compliance_workbook(shown.table, path)
    else:
        write_csv(*rows, path)
