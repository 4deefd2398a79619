"""A laboratory's file on screen: its rows filtered and sorted, its problems, and what to say."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from enum import IntEnum, StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.desktop.viewstate.row_order import (
    Ranks,
    ordered,
    ranks_of_numbers,
    ranks_of_texts,
)
from fluiddesk.domain.severity import Severity
from fluiddesk.services.lab_intake.facts import (
    IntakePreview,
    IntakeResult,
    PastIntake,
    PreviewRow,
    ProblemFacts,
    RowFate,
)


class RowFilter(StrEnum):
    """Which rows of the file are shown."""

    ALL = "all"
    MOVES = "moves"
    HELD = "held"
    REVISIONS = "revisions"
    UNCHANGED = "unchanged"


class RowColumn(IntEnum):
    """The columns of the table of rows, in display order."""

    ROW = 0
    BOTTLE = 1
    MACHINE = 2
    COMPARTMENT = 3
    FATE = 4
    CONDITION = 5
    HEADLINE = 6
    SAMPLED_ON = 7
    REPORT = 8
    ISSUE = 9


FATE_WORDS: Final = {
    RowFate.NEW: "New",
    RowFate.REVISION: "Revision",
    RowFate.UNCHANGED: "Unchanged",
    RowFate.HELD: "Held",
}

_FATE_ORDER: Final = (RowFate.HELD, RowFate.REVISION, RowFate.NEW, RowFate.UNCHANGED)

_KEEPS: Final[dict[RowFilter, Callable[[PreviewRow], bool]]] = {
    RowFilter.ALL: lambda _: True,
    RowFilter.MOVES: lambda row: row.moves,
    RowFilter.HELD: lambda row: row.fate is RowFate.HELD,
    RowFilter.REVISIONS: lambda row: row.fate is RowFate.REVISION,
    RowFilter.UNCHANGED: lambda row: row.fate is RowFate.UNCHANGED,
}


@dataclass
class PreviewState:
    """The rows of one file under a filter and an order.

    Attributes:
        visible: indices into ``preview.rows`` in the order shown.
    """

    preview: IntakePreview
    row_filter: RowFilter = RowFilter.ALL
    sort_column: RowColumn = RowColumn.ROW
    descending: bool = False
    visible: NDArray[np.intp] = field(init=False)
    _ranks: dict[RowColumn, Ranks] = field(init=False, default_factory=dict)
    _first_problem: dict[int, ProblemFacts] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        for problem in self.preview.problems:
            if problem.row is not None:
                self._first_problem.setdefault(problem.row, problem)
        self._arrange()

    def __len__(self) -> int:
        return len(self.visible)

    def __getitem__(self, position: int) -> PreviewRow:
        return self.preview.rows[int(self.visible[position])]

    def show(self, row_filter: RowFilter) -> None:
        """Show the rows of one chip."""
        self.row_filter = row_filter
        self._arrange()

    def sort(self, column: RowColumn, *, descending: bool) -> None:
        """Order the rows by one column."""
        self.sort_column, self.descending = column, descending
        self._arrange()

    def count(self, row_filter: RowFilter) -> int:
        """How many rows a chip would show."""
        return sum(map(_KEEPS[row_filter], self.preview.rows))

    def position_of(self, file_row: int) -> int | None:
        """Where a row of the file stands in the table; ``None`` when the filter hides it."""
        for position, index in enumerate(self.visible.tolist()):
            if self.preview.rows[index].row == file_row:
                return position
        return None

    def row_of_file(self, file_row: int | None) -> PreviewRow | None:
        """A row by its number in the file; ``None`` where the file could not be read there."""
        return next((row for row in self.preview.rows if row.row == file_row), None)

    def text(self, row: PreviewRow, column: RowColumn) -> str:
        """What one cell says."""
        cells = {
            RowColumn.ROW: str(row.row),
            RowColumn.BOTTLE: row.bottle_code,
            RowColumn.MACHINE: row.machine,
            RowColumn.COMPARTMENT: row.compartment,
            RowColumn.REPORT: row.report,
            RowColumn.ISSUE: str(row.issue) if row.issue else "",
            RowColumn.SAMPLED_ON: row.sampled_on.isoformat() if row.sampled_on else "",
            RowColumn.FATE: FATE_WORDS[row.fate],
            RowColumn.CONDITION: condition_text(row),
            RowColumn.HEADLINE: self.headline(row),
        }
        return cells[column]

    def headline(self, row: PreviewRow) -> str:
        """What the sheet says of the box; for a held row the first reason it is held for."""
        problem = self._first_problem.get(row.row)
        return bare_text(problem) if row.fate is RowFate.HELD and problem else row.headline

    def _arrange(self) -> None:
        keeps = _KEEPS[self.row_filter]
        kept = np.array([keeps(row) for row in self.preview.rows], dtype=np.bool_)
        ranks = self._ranks.get(self.sort_column)
        if ranks is None:
            ranks = self._ranks[self.sort_column] = self._ranks_of(self.sort_column)
        self.visible = ordered(kept, ranks, descending=self.descending)

    def _ranks_of(self, column: RowColumn) -> Ranks:
        rows = self.preview.rows
        match column:
            case RowColumn.ROW:
                return ranks_of_numbers([row.row for row in rows])
            case RowColumn.ISSUE:
                return ranks_of_numbers([row.issue for row in rows])
            case RowColumn.FATE:
                return ranks_of_numbers([_FATE_ORDER.index(row.fate) for row in rows])
            case RowColumn.CONDITION:
                return ranks_of_numbers([_gravity(row) for row in rows])
            case _:
                return ranks_of_texts([self.text(row, column) for row in rows])


def _gravity(row: PreviewRow) -> float | None:
    """Worst first: what a box would become, and among equals those that move before the rest."""
    if not has_condition(row):
        return None
    return -(2 * int(row.severity_after) + int(row.moves))


def has_condition(row: PreviewRow) -> bool:
    """Whether there is a severity to show: a row that is held, or not judged anew, has none."""
    is_judged = row.fate in (RowFate.NEW, RowFate.REVISION)
    return is_judged or (row.fate is RowFate.UNCHANGED and row.severity_after >= Severity.NORMAL)


def condition_text(row: PreviewRow) -> str:
    """The severity before and after in words; empty where there is none to show."""
    if not has_condition(row):
        return ""
    if not row.moves:
        return row.severity_after.word
    return f"{row.severity_before.word} → {row.severity_after.word}"


def counted(number: int, one: str, many: str) -> str:
    """A number with its noun.

    >>> counted(1, "result", "results"), counted(0, "result", "results")
    ('1 result', '0 results')
    """
    return f"{number:,} {one if number == 1 else many}".replace(",", " ")


def preview_sentence(preview: IntakePreview) -> str:
    """What taking this file in would do, in one sentence."""
    if preview.already_taken_in:
        return "This very file was taken in before. Nothing will change."
    if not preview.rows:
        return "No rows with results were found in this file."
    told = [f"{counted(preview.to_take_in, 'result', 'results')} ready to take in"]
    held, unchanged = preview.count(RowFate.HELD), preview.count(RowFate.UNCHANGED)
    told += [f"{held} held"] if held else []
    told += [f"{unchanged} unchanged"] if unchanged else []
    first = ", ".join(told)
    if preview.to_put_aside:
        return f"{first}; put aside, they wait in the queue to be corrected."
    if not preview.to_take_in:
        return f"{first}."
    moving = boxes_that_move(preview)
    if not moving:
        return f"{first}; no box would change condition."
    return f"{first}; {counted(moving, 'box', 'boxes')} would change condition."


def boxes_that_move(preview: IntakePreview) -> int:
    """How many boxes would change severity; two results of one box count once."""
    return len({(row.site, row.machine, row.compartment) for row in preview.rows if row.moves})


def result_sentence(result: IntakeResult) -> str:
    """What taking in did, in one sentence."""
    told = [f"{counted(result.taken_in, 'result', 'results')} taken in"]
    told += [f"{result.held} held"] if result.held else []
    told += [f"{result.unchanged} unchanged"] if result.unchanged else []
    moved = len(result.moved)
    if not result.taken_in and result.intake_id is not None:
        return f"{counted(result.held, 'row', 'rows')} put aside; they wait in the queue."
    if not result.taken_in:
        return f"{', '.join(told)}; nothing was changed."
    boxes = counted(moved, "box", "boxes") if moved else "no box"
    return f"{', '.join(told)}; {boxes} changed condition."


def undone_sentence(result: IntakeResult) -> str:
    """What undoing an intake did, in one sentence."""
    boxes = counted(len(result.moved), "box", "boxes") if result.moved else "no box"
    return f"The intake of {result.file_name} is undone; {boxes} changed condition."


def take_in_label(preview: IntakePreview) -> str:
    """The words of the button that takes the file in, or puts its rows aside."""
    if preview.to_put_aside:
        return f"Put {counted(preview.to_put_aside, 'row', 'rows')} aside"
    return f"Take in {counted(preview.to_take_in, 'result', 'results')}"


def why_not_taken_in(preview: IntakePreview) -> str:
    """Why there is nothing to take in; empty when there is something."""
    if preview.already_taken_in:
        return "This very file was taken in before."
    if preview.to_take_in or preview.to_put_aside:
        return ""
    if not preview.rows:
        return "The file holds no result."
    if preview.count(RowFate.HELD) == len(preview.rows):
        return "Every row is held: correct what is listed under the rows, then open the file again."
    if preview.count(RowFate.HELD):
        return "Nothing new: every row that is not held is on record as it stands."
    return "Nothing new: every row is on record as it stands."


def already_line(preview: IntakePreview) -> str:
    """When and by whom the very same file was taken in; empty if never."""
    if not preview.already_taken_in:
        return ""
    return f"Taken in on {preview.already_taken_in.strip().rstrip('.')}."


def problems_heading(problems: Sequence[ProblemFacts]) -> str:
    """How many problems there are, and how many rows they hold back."""
    if not problems:
        return "No problems found"
    rows = {problem.row for problem in problems if problem.holds_row and problem.row is not None}
    told = counted(len(problems), "problem", "problems")
    return f"{told}, {counted(len(rows), 'row', 'rows')} held" if rows else told


def bare_text(problem: ProblemFacts) -> str:
    """What is wrong, without the place where the columns beside it tell that already."""
    row, column = problem.row, problem.column
    for place in (f'Row {row}, column "{column}": ', f"Row {row}: ", f'Column "{column}": '):
        if problem.text.startswith(place):
            rest = problem.text.removeprefix(place)
            return rest[:1].upper() + rest[1:]
    return problem.text


def problem_line(problem: ProblemFacts) -> str:
    """What is wrong and what to do, with its place where it belongs to no row."""
    if problem.row is None:
        return problem.line
    column = f"{problem.column}: " if problem.column else ""
    return f"{column}{bare_text(problem)} {problem.remedy}".strip()


def problem_cells(problem: ProblemFacts) -> tuple[str, str, str, str, str]:
    """Row, column, value, what is wrong and what to do, as shown."""
    where = "file" if problem.row is None else str(problem.row)
    return (where, problem.column, problem.value, bare_text(problem), problem.remedy)


def idle_sentence(past: Sequence[PastIntake]) -> str:
    """What the page says while no file is open."""
    held = [one for one in past if not one.is_undone]
    if not held:
        return "No file was taken in on this database yet. Open the first one."
    last = max(held, key=lambda one: one.taken_in_at)
    return (
        f"{counted(len(held), 'file', 'files')} taken in; the last on "
        f"{last.taken_in_at:%Y-%m-%d} with {counted(last.taken_in, 'result', 'results')}."
    )


def row_line(row: PreviewRow, told: str) -> str:
    """One row in one line: where it stands in the file, whose it is, and what it says."""
    whose = ", ".join(part for part in (row.site, row.machine, row.compartment) if part)
    report = f"report {row.report}" if row.report else ""
    issue = f"issue {row.issue}" if row.issue else ""
    sampled = f"sampled on {row.sampled_on}" if row.sampled_on else ""
    parts = (f"Row {row.row}", row.bottle_code, whose or "no box", report, issue, sampled)
    revised = "; ".join(one.line for one in row.revised)
    changed = f"Revised: {revised}. " if revised else ""
    return f"{', '.join(part for part in parts if part)}. {changed}{told}".rstrip()
