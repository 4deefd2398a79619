"""Problem and IntakeReport: everything that is wrong in a file, found in one pass."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import OpenBottle, ResultSheet

KEPT_IN_DETAIL: Final = 2_000
"""So many held rows and problems are kept with their text; beyond it they are only counted, so
that a wrong file of a million rows cannot fill the memory."""


class LabFileError(OperatorError):
    """A laboratory file cannot be read at all; nothing of it was taken in."""


class ProblemSeverity(StrEnum):
    """What a problem does to its row or column."""

    WARNING = "warning"
    """The row is taken in; somebody should look."""
    HELD = "held"
    """The whole row is put aside."""
    REFUSED = "refused"
    """The column or the file is not used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """One thing that is wrong, where it stands, and what to do next.

    ``row`` counts the rows of the file from 1; ``column`` is the heading as printed; ``printed``
    the cell as the laboratory wrote it. A problem of a whole column has no row.
    """

    wrong: str
    remedy: str
    severity: ProblemSeverity = ProblemSeverity.HELD
    row: int | None = None
    column: str | None = None
    printed: str | None = None

    def text(self) -> str:
        """The problem as one line.

        >>> Problem(row=14, column="Fe", printed="12,4O", wrong="is not a number",
        ...         remedy="Correct the cell, or hold the row.").text()
        'Row 14, column "Fe": "12,4O" is not a number. Correct the cell, or hold the row.'
        """
        places = []
        if self.row is not None:
            places.append(f"Row {self.row}")
        if self.column is not None:
            places.append(f'column "{self.column}"')
        place = ", ".join(places)
        said = self.wrong if self.printed is None else f'"{self.printed}" {self.wrong}'
        line = f"{place[:1].upper()}{place[1:]}: {said}" if place else said
        return f"{line}. {self.remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class MatchedSheet:
    """A sound row: the sheet it holds and the bottle it belongs to."""

    sheet: ResultSheet
    bottle: OpenBottle
    row: int
    is_revision: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRow:
    """A row put aside, with its cells as printed and every reason."""

    row: int
    cells: tuple[str, ...]
    reasons: tuple[Problem, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnchangedRow:
    """A row whose sheet stands on the register already, with the same values."""

    row: int
    bottle_code: str
    issue: int


@dataclass(slots=True, kw_only=True)
class IntakeReport:
    """What reading one laboratory file came to. Reading changes nothing; the caller decides.

    ``held`` and ``problems`` keep the first ``KEPT_IN_DETAIL`` entries; ``held_count`` and
    ``problem_count`` count all.
    """

    file: str
    sha256: str
    layout: str
    laboratory: str
    headers: tuple[str, ...] = ()
    accepted: list[MatchedSheet] = field(default_factory=list)
    held: list[HeldRow] = field(default_factory=list)
    unchanged: list[UnchangedRow] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    rows_read: int = 0
    held_count: int = 0
    problem_count: int = 0

    def add_problems(self, problems: Iterable[Problem]) -> None:
        """Note problems, as far as there is room for their text."""
        for problem in problems:
            self.problem_count += 1
            if len(self.problems) < KEPT_IN_DETAIL:
                self.problems.append(problem)

    def hold(
        self, row: int, cells: Callable[[], tuple[str, ...]], reasons: Iterable[Problem]
    ) -> None:
        """Put a row aside, with all its problems; ``cells`` is asked while there is room."""
        reasons = tuple(reasons)
        self.held_count += 1
        if len(self.held) < KEPT_IN_DETAIL:
            self.held.append(HeldRow(row=row, cells=cells(), reasons=reasons))
        self.add_problems(reasons)

    def sentence(self) -> str:
        """The outcome in one sentence."""
        sheets = (
            f"{len(self.accepted)} {'sheet' if len(self.accepted) == 1 else 'sheets'} to take in"
        )
        held = f"{self.held_count} {'row' if self.held_count == 1 else 'rows'} held"
        known = f"{len(self.unchanged)} unchanged"
        return f"{self.file}: {sheets}, {held}, {known} (layout {self.layout})."
