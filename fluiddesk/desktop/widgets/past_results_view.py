"""Past results: a file looked over and taken in, and doubtful rows given to their boxes."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QAbstractItemModel, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.past_results import (
    PastCalls,
    PastLine,
    preview_lines,
    taken_sentence,
    waiting_lines,
    waiting_sentence,
)
from fluiddesk.desktop.viewstate.register_words import counted
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_past_results
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.units import percent_text
from fluiddesk.services.past_results.facts import PastFate, PastPreview, PastTaken, WaitingRow
from fluiddesk.services.register.facts import CompartmentFacts
from fluiddesk.wiring import Clock


class Lines(Protocol):
    """The table of rows."""

    def show(self, lines: tuple[PastLine, ...]) -> None:
        """Show these rows."""

    def line(self, row: int) -> PastLine | None:
        """The line in a row."""


class PastResultsView(QWidget):
    """Takes in past results and asks a person about the doubtful ones.

    Signals:
        told: the page's sentence.
        closed: back to the register.
        changed: what was altered, as ``Changes``.
    """

    told = Signal(str)
    closed = Signal()
    changed = Signal(object)

    def __init__(
        self,
        lines: Lines,
        table_model: QAbstractItemModel,
        *,
        calls: PastCalls,
        clock: Clock,
        theme: Theme,
        background: Background,
        notice: InlineNotice,
        folders: LastFolders,
    ) -> None:
        super().__init__()
        self._lines, self._calls, self._clock = lines, calls, clock
        self._folders = folders
        self._preview: PastPreview | None = None
        self._boxes: Sequence[CompartmentFacts] = ()
        self._strip = WorkStrip()
        self.work = PageWork(background, strip=self._strip, notice=notice, parent=self)
        self.table = FactTable(table_model, name=self.tr("Past results"))
        self.table.set_widths({0: 48, 1: 112, 2: 140, 3: 92, 4: 232, 5: 124})
        self.table.share_room(6)
        self.choose_button = QPushButton(self.tr("Choose a file…"))
        self.back_button = QPushButton(self.tr("Back to the register"))
        self.take_button = QPushButton()
        self.take_button.setDefault(True)
        self.box = QComboBox()
        self.box.setAccessibleName(self.tr("Whose result this is"))
        self.box.setMinimumWidth(400)
        self.confirm_button = QPushButton(self.tr("It is this one"))
        self.reason = QLineEdit()
        self.reason.setFixedWidth(184)
        self.reason.setPlaceholderText(self.tr("Why it is left out"))
        self.reason.setAccessibleName(self.tr("Reason for leaving the row out"))
        self.aside_button = QPushButton(self.tr("Leave it out"))
        self._why = QuietLabel("small", theme)
        self._choosing = QWidget()
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.choose_button)
        top.addStretch(1)
        top.addWidget(self.back_button)
        top.addWidget(self.take_button)
        below = QHBoxLayout(self._choosing)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(GAP)
        below.addWidget(self.box)
        below.addWidget(self.confirm_button)
        below.addStretch(1)
        below.addWidget(self.reason)
        below.addWidget(self.aside_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addWidget(self._strip)
        column.addWidget(self.table, 1)
        column.addWidget(self._why)
        column.addWidget(self._choosing)

    def _connect(self) -> None:
        self.choose_button.clicked.connect(self._choose_file)
        self.back_button.clicked.connect(self.closed)
        self.take_button.clicked.connect(self.take_in)
        self.confirm_button.clicked.connect(self.confirm)
        self.aside_button.clicked.connect(self.leave_out)
        self.box.currentIndexChanged.connect(lambda _place: self._tell_buttons())
        self.reason.textChanged.connect(lambda _text: self._tell_buttons())
        self.table.row_chosen.connect(self._row_chosen)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._why.apply_theme(theme)

    def offer_boxes(self, boxes: Sequence[CompartmentFacts]) -> None:
        """The compartments to choose from for a row that fits none."""
        self._boxes = boxes

    def refresh(self) -> None:
        """Read the rows that wait."""
        self._preview = None
        self.work.start(
            lambda _: self._calls.waiting(),
            done=self.show_waiting,
            refusal=self.tr("The past results were not read"),
            label=self.tr("Reading past results"),
        )

    def show_waiting(self, rows: tuple[WaitingRow, ...]) -> None:
        """Show the rows that wait for a person."""
        self._preview = None
        self._show(waiting_lines(rows))
        self.take_button.hide()
        self.told.emit(waiting_sentence(len(rows)))

    def show_preview(self, preview: PastPreview) -> None:
        """Show what taking a file in would do."""
        self._preview = preview
        self._show(preview_lines(preview))
        written = preview.count(PastFate.SURE) + preview.count(PastFate.DOUBTFUL)
        sure = counted(preview.count(PastFate.SURE), "result")
        self.take_button.setText(self.tr("Take in {0}").format(sure))
        self.take_button.setEnabled(written > 0)
        self.take_button.show()
        self.told.emit(preview.sentence)

    def _show(self, lines: tuple[PastLine, ...]) -> None:
        self._lines.show(lines)
        self.table.setVisible(bool(lines))
        self._row_chosen(-1)
        if lines:
            self.table.choose(0)

    def _choose_file(self) -> None:
        ask_past_results(self, then=self.open_file, folders=self._folders)

    def open_file(self, path: str | Path) -> None:
        """Read a file of past results and show whose each row is."""
        chosen, today = Path(path), self._clock.today()
        self.work.start(
            lambda progress: self._calls.preview(chosen, today=today, progress=progress),
            done=self.show_preview,
            refusal=self.tr("{0} was not read").format(chosen.name),
            label=self.tr("Reading {0}").format(chosen.name),
        )

    def take_in(self) -> None:
        """Save the sure rows of the file; the doubtful ones wait."""
        preview = self._preview
        if preview is not None:
            moment, today = self._clock.moment(), self._clock.today()
            self._save(
                lambda progress: self._calls.take_in(
                    preview, moment=moment, today=today, progress=progress
                )
            )

    def confirm(self) -> None:
        """Save the chosen row under the chosen box."""
        line, held = self._line(), self.box.currentData()
        if line is not None and line.key is not None and isinstance(held, bytes) and held:
            key, moment, today = line.key, self._clock.moment(), self._clock.today()
            box = CompartmentId(held)
            self._save(lambda _: self._calls.confirm(key, box, moment=moment, today=today))

    def leave_out(self) -> None:
        """Leave the chosen row out, with the reason written."""
        line, reason = self._line(), self.reason.text()
        if line is not None and line.key is not None:
            key, moment, today = line.key, self._clock.moment(), self._clock.today()
            self._save(
                lambda _: self._calls.set_aside(key, reason=reason, moment=moment, today=today)
            )

    def _save(self, work: Callable[[Progress], PastTaken]) -> None:
        self.work.start(
            work,
            done=self._saved,
            refusal=self.tr("Nothing was taken in"),
            label=self.tr("Saving past results"),
            saves=True,
        )

    def _saved(self, taken: PastTaken) -> None:
        self.reason.clear()
        self.show_waiting(self._calls.waiting())
        if taken.taken_in or taken.waiting:
            self.told.emit(taken_sentence(taken))
        self.changed.emit(taken.changes)

    def _line(self) -> PastLine | None:
        return self._lines.line(self.table.currentIndex().row())

    def _row_chosen(self, row: int) -> None:
        line = self._lines.line(row)
        self._why.setText(line.why if line is not None else "")
        waits = line is not None and line.key is not None
        self._choosing.setVisible(waits)
        self.box.clear()
        if line is not None and waits:
            for words, box in self._choices(line):
                self.box.addItem(words, box)
        self._tell_buttons()

    def _choices(self, line: PastLine) -> Sequence[tuple[str, bytes]]:
        """The boxes that may be meant; every box where nothing fits, none of them chosen."""
        if not line.candidates:
            in_use = (one for one in self._boxes if not one.retired)
            every = ((f"{one.machine_code}, {one.name}", bytes(one.id)) for one in in_use)
            return (("", b""), *every)
        return [
            (
                f"{one.machine}, {one.compartment} ({percent_text(one.score)}), {one.site}",
                bytes(one.compartment_id),
            )
            for one in line.candidates
        ]

    def _tell_buttons(self) -> None:
        self.confirm_button.setEnabled(bool(self.box.currentData()))
        self.aside_button.setEnabled(bool(self.reason.text().strip()))
