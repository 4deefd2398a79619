"""Rows of a file and what is wrong with them: whichever is chosen leads to the other."""

from typing import Protocol

from PySide6.QtCore import QObject

from fluiddesk.desktop.viewstate.lab_intake import PreviewState, RowFilter, problem_line, row_line
from fluiddesk.desktop.widgets.intake_panels import PreviewPanel
from fluiddesk.services.lab_intake.facts import PreviewRow, ProblemFacts


class RowSource(Protocol):
    """The model of the rows."""

    @property
    def state(self) -> PreviewState | None: ...

    def row(self, position: int) -> PreviewRow: ...

    def show_rows(self, row_filter: RowFilter) -> None: ...


class ProblemSource(Protocol):
    """The model of the problems."""

    problems: tuple[ProblemFacts, ...]

    def first_of_row(self, file_row: int) -> int | None: ...


class ProblemLink(QObject):
    """Keeps the two tables of a preview and the line between them in step."""

    def __init__(
        self, panel: PreviewPanel, rows: RowSource, problems: ProblemSource, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._panel, self._rows, self._problems = panel, rows, problems
        panel.chips.chosen.connect(self._show_rows)
        panel.table.row_chosen.connect(self._row_chosen)
        panel.problems.table.row_chosen.connect(self._problem_chosen)

    def _show_rows(self, key: str) -> None:
        self._rows.show_rows(RowFilter(key))
        self._panel.table.choose(0)

    def _row_chosen(self, position: int) -> None:
        if position < 0 or self._rows.state is None:
            self._panel.chosen_row.setText("")
            return
        row = self._rows.row(position)
        problem = self._problems.first_of_row(row.row)
        self._tell_row(row.row, problem)
        current = self._panel.problems.table.currentIndex().row()
        is_there = current >= 0 and self._problems.problems[current].row == row.row
        if problem is not None and not is_there:
            self._panel.problems.table.choose(problem)

    def _problem_chosen(self, position: int) -> None:
        state = self._rows.state
        if position < 0 or state is None:
            return
        file_row = self._problems.problems[position].row
        self._tell_row(file_row, position)
        if file_row is None:
            return
        place = state.position_of(file_row)
        if place is None and state.row_of_file(file_row) is not None:
            self._panel.chips.press(RowFilter.ALL.value)
            self._rows.show_rows(RowFilter.ALL)
            place = state.position_of(file_row)
        if place is not None:
            self._panel.table.choose(place)

    def _tell_row(self, file_row: int | None, problem: int | None) -> None:
        """Write out one row, or one problem, in full: the table may have to shorten it."""
        told = "" if problem is None else problem_line(self._problems.problems[problem])
        state = self._rows.state
        row = None if state is None else state.row_of_file(file_row)
        if row is not None:
            told = row_line(row, told or row.headline)
        self._panel.chosen_row.setText(told)
