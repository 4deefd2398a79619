"""Reads what stands below a record's form: parts, what happened, papers, remarks and pictures."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

from PySide6.QtCore import QObject, QUrl, Signal
from PySide6.QtGui import QDesktopServices

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.record_history import HistoryLine, deed_for, keeps_history
from fluiddesk.desktop.viewstate.record_trail import TrailLine, owner_of
from fluiddesk.desktop.viewstate.register import PartRow, RegisterState
from fluiddesk.desktop.viewstate.register_calls import RegisterCalls
from fluiddesk.desktop.viewstate.register_words import Record
from fluiddesk.desktop.widgets.picture_strip import SmallPicture, small_picture
from fluiddesk.desktop.widgets.record_below import RecordBelow
from fluiddesk.services.register.facts import MachineFacts
from fluiddesk.wiring import Clock

_MOST_PICTURES: Final = 6


class Parts(Protocol):
    """The table of a machine's parts."""

    def show(self, rows: tuple[PartRow, ...]) -> None:
        """Show these parts."""

    def record(self, row: int) -> Record | None:
        """The part in a row."""


class Trail(Protocol):
    """The table of a record's papers, remarks and changes."""

    def show(self, lines: tuple[TrailLine, ...]) -> None:
        """Show these lines."""

    def line(self, row: int) -> TrailLine | None:
        """The line in a row."""


class History(Protocol):
    """The table of what happened to a record."""

    def show(self, lines: tuple[HistoryLine, ...]) -> None:
        """Show these lines."""

    def line(self, row: int) -> HistoryLine | None:
        """The line in a row."""


@dataclass(frozen=True)
class RecordTables:
    """The tables below a record's form."""

    parts: Parts
    history: History
    trail: Trail


class RecordReading(QObject):
    """Fills the tables below a record.

    Signals:
        deed_begun: the ``HistoryLine`` that something is to be done with.
        failed: the error, and what was not done, in words.
    """

    deed_begun = Signal(object)
    failed = Signal(object, str)

    def __init__(
        self,
        below: RecordBelow,
        tables: RecordTables,
        *,
        calls: RegisterCalls,
        clock: Clock,
        background: Background,
    ) -> None:
        super().__init__(below)
        self._below, self._tables = below, tables
        self._calls, self._clock, self._background = calls, clock, background
        self._record: Record | None = None
        below.line_opened.connect(self._open_line)
        below.paper_opened.connect(self._open_paper)
        below.history.row_chosen.connect(self._offer_deed)
        below.deed_pressed.connect(self._begin_deed)

    def part(self, row: int) -> Record | None:
        """The part of the machine in a row."""
        return self._tables.parts.record(row)

    def _begin_deed(self, row: int) -> None:
        line = self._tables.history.line(row)
        if line is not None:
            self.deed_begun.emit(line)

    def show(self, record: Record, state: RegisterState, machine: MachineFacts | None) -> None:
        """Show the machine's parts, and read what else belongs to the record."""
        self._record = record
        self._below.setVisible(bool(record.version))
        if not record.version:
            return
        parts = () if machine is None else state.part_rows(machine.id)
        self._tables.parts.show(parts)
        has_history = keeps_history(record)
        self._below.show_for(
            parts=len(parts),
            keeps_papers=owner_of(record) is not None,
            keeps_history=has_history,
        )
        if has_history:
            self._read_history(record, state)
        self._background.run(
            lambda _: self._calls.trail(record),
            done=lambda lines: self._show_trail(record, lines),
            failed=lambda error: self.failed.emit(error, self.tr("Not everything was read")),
            label=self.tr("Reading the record's papers and changes"),
            slot="trail",
        )

    def _read_history(self, record: Record, state: RegisterState) -> None:
        fluids = {one.code: one.name for one in state.facts.fluids}
        today = self._clock.today()
        self._background.run(
            lambda _: self._calls.history(record, fluids=fluids, today=today),
            done=lambda lines: self._show_history(record, lines),
            failed=lambda error: self.failed.emit(error, self.tr("Not everything was read")),
            label=self.tr("Reading what happened"),
            slot="history",
        )

    def _show_history(self, record: Record, lines: tuple[HistoryLine, ...]) -> None:
        if record is not self._record:
            return
        self._tables.history.show(lines)
        self._below.show_history(len(lines))

    def _offer_deed(self, row: int) -> None:
        _key, words = deed_for(self._tables.history.line(row))
        self._below.offer_deed(words)

    def _show_trail(self, record: Record, lines: tuple[TrailLine, ...]) -> None:
        if record is not self._record:
            return
        self._tables.trail.show(lines)
        self._below.show_trail(len(lines))
        pictures = [one.paper for one in lines if one.is_picture and one.paper is not None]
        if pictures:
            self._background.run(
                lambda _: self._small_pictures(pictures[:_MOST_PICTURES]),
                done=lambda made: self._show_pictures(record, made),
                failed=lambda error: self.failed.emit(error, self.tr("A picture was not read")),
                label=self.tr("Reading pictures"),
                slot="pictures",
            )

    def _show_pictures(self, record: Record, made: Sequence[SmallPicture]) -> None:
        if record is self._record:
            self._below.show_pictures(made)

    def _small_pictures(self, papers: Sequence[bytes]) -> list[SmallPicture]:
        made = (small_picture(one, self._calls.open_paper(one)) for one in papers)
        return [one for one in made if one is not None]

    def _open_line(self, row: int) -> None:
        line = self._tables.trail.line(row)
        if line is not None and line.paper is not None:
            self._open_paper(line.paper)

    def _open_paper(self, paper: bytes) -> None:
        self._background.run(
            lambda _: self._calls.open_paper(paper),
            done=open_file,
            failed=lambda error: self.failed.emit(error, self.tr("The paper was not opened")),
            label=self.tr("Opening a paper"),
        )


def open_file(path: Path) -> None:
    """Have the desktop's own program show a file."""
    QDesktopServices.openUrl(QUrl.fromLocalFile(str(path)))
