"""Papers and remarks of one sample: listed, opened, attached and written."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QAbstractItemModel
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import STEP, Theme
from fluiddesk.desktop.viewstate.record_trail import PaperCalls, TrailLine
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.file_asking import ask_paper
from fluiddesk.desktop.widgets.page_tools import PageTools
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.record_reading import open_file
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.papers.facts import PaperOwner


class PaperLines(Protocol):
    """The table of papers and remarks."""

    def show(self, lines: tuple[TrailLine, ...]) -> None:
        """Show these lines."""

    def line(self, row: int) -> TrailLine | None:
        """The line in a row."""


class SamplePapers(QWidget):
    """What is kept with one sample; hidden while none is shown."""

    def __init__(
        self,
        lines: PaperLines,
        model: QAbstractItemModel,
        *,
        calls: PaperCalls,
        tools: PageTools,
    ) -> None:
        super().__init__()
        self._lines, self._calls, self._tools = lines, calls, tools
        self._owner: PaperOwner | None = None
        self.caption = QuietLabel("caption", tools.theme)
        self.table = FactTable(model, name=self.tr("Papers and remarks"))
        self.table.set_widths({0: 136, 1: 72, 2: 56})
        self.table.share_room(3)
        self.remark = QLineEdit()
        self.remark.setPlaceholderText(self.tr("Write a remark, then Enter"))
        self.remark.setAccessibleName(self.tr("Remark"))
        self.attach_button = QPushButton(self.tr("Attach a paper…"))
        below = QHBoxLayout()
        below.setSpacing(STEP)
        below.addWidget(self.remark, 1)
        below.addWidget(self.attach_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self.caption)
        column.addWidget(self.table, 1)
        column.addLayout(below)
        self.table.row_opened.connect(self._open)
        self.remark.returnPressed.connect(self._write)
        self.attach_button.clicked.connect(
            lambda: ask_paper(self, then=self.attach, folders=self._tools.folders)
        )
        self.hide()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.caption.apply_theme(theme)

    def show_for(self, owner: PaperOwner | None) -> None:
        """Show what is kept with a sample; nothing for what keeps no papers."""
        if owner != self._owner:
            self.remark.clear()
            self._show(())
        self._owner = owner
        self.setVisible(owner is not None)
        if owner is not None:
            self._run(lambda: None, owner)

    def attach(self, path: str) -> None:
        """Keep a copy of a PDF or picture with the sample."""
        owner, moment = self._owner, self._tools.clock.moment()
        if owner is not None:
            self._run(lambda: self._calls.attach(owner, Path(path), moment=moment), owner)

    def _write(self) -> None:
        owner, words, moment = self._owner, self.remark.text(), self._tools.clock.moment()
        if owner is not None and words.strip():
            self.remark.clear()
            self._run(lambda: self._calls.remark(owner, words, moment=moment), owner)

    def _run(self, change: Callable[[], object], owner: PaperOwner) -> None:
        """Do something, then read what is kept."""

        def work() -> tuple[TrailLine, ...]:
            change()
            return self._calls.trail(owner)

        self._tools.background.run(
            lambda _: work(),
            done=lambda lines: self._read(owner, lines),
            failed=self._refuse,
            label=self.tr("Papers and remarks of the sample"),
        )

    def _read(self, owner: PaperOwner, lines: tuple[TrailLine, ...]) -> None:
        if owner == self._owner:
            self._show(lines)

    def _show(self, lines: tuple[TrailLine, ...]) -> None:
        self._lines.show(lines)
        self.table.setVisible(bool(lines))
        # Without lines the caption stands right above the field, not in the middle of nothing.
        tall = QSizePolicy.Policy.Preferred if lines else QSizePolicy.Policy.Maximum
        self.setSizePolicy(QSizePolicy.Policy.Preferred, tall)
        self.caption.setText(
            self.tr("Papers and remarks") if lines else self.tr("No paper or remark yet")
        )

    def _open(self, row: int) -> None:
        line = self._lines.line(row)
        paper = None if line is None else line.paper
        if paper is not None:
            self._tools.background.run(
                lambda _: self._calls.open_paper(paper),
                done=open_file,
                failed=self._refuse,
                label=self.tr("Opening a paper"),
            )

    def _refuse(self, error: Exception) -> None:
        title = self.tr("Nothing was kept")
        if isinstance(error, OperatorError):
            self._tools.notice.say(
                title, str(error), [(self.tr("Close"), self._tools.notice.clear)]
            )
        else:
            self._tools.background.failed.emit(title, error)
