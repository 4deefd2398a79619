"""What a preview and a finished intake tell, as plain values."""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from fluiddesk.domain.severity import Severity
from fluiddesk.intake.problems import IntakeReport
from fluiddesk.services.changes import Changes
from fluiddesk.services.lab_intake.revised import ValueChange


class RowFate(StrEnum):
    """What happens to one row of a laboratory's file."""

    NEW = "new"
    REVISION = "revision"
    UNCHANGED = "unchanged"
    HELD = "held"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemFacts:
    """One thing wrong in a file: where, what it says, and what to do."""

    row: int | None
    column: str
    value: str
    text: str
    remedy: str
    holds_row: bool

    @property
    def line(self) -> str:
        """The problem and its remedy in one line."""
        return f"{self.text} {self.remedy}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class PreviewRow:
    """One row of the file and what taking it in would do."""

    row: int
    bottle_code: str
    site: str
    machine: str
    compartment: str
    report: str
    issue: int
    sampled_on: date | None
    fate: RowFate
    severity_before: Severity
    severity_after: Severity
    headline: str
    revised: tuple[ValueChange, ...] = ()
    """What a revision says otherwise than the issue before."""

    @property
    def moves(self) -> bool:
        """Whether the compartment's severity would change."""
        return self.fate in (RowFate.NEW, RowFate.REVISION) and (
            self.severity_before != self.severity_after
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakePreview:
    """A laboratory's file as read; nothing has been changed."""

    file_name: str
    file_path: str
    sha256: str
    layout: str
    laboratory: str
    rows: tuple[PreviewRow, ...]
    problems: tuple[ProblemFacts, ...]
    already_taken_in: str
    """When and by whom the very same file was taken in before; empty if never."""
    report: IntakeReport = field(repr=False)
    """What was read, for taking it in; screens look at the rows instead."""

    def count(self, fate: RowFate) -> int:
        """How many rows have this fate."""
        return sum(row.fate is fate for row in self.rows)

    @property
    def to_take_in(self) -> int:
        """How many result sheets taking in would save."""
        return self.count(RowFate.NEW) + self.count(RowFate.REVISION)

    @property
    def to_put_aside(self) -> int:
        """How many rows a file that has nothing else to take in would leave waiting.

        None of a file with more than are kept in detail: that is no case of a few slips.
        """
        nothing_else = not self.to_take_in and not self.already_taken_in
        is_whole = self.report.held_count == len(self.report.held)
        return len(self.report.held) if nothing_else and is_whole else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A compartment whose severity changed."""

    site: str
    machine: str
    compartment: str
    before: Severity
    after: Severity
    headline: str


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeResult:
    """What taking in a file did."""

    intake_id: bytes | None
    file_name: str
    layout: str
    taken_in: int
    held: int
    unchanged: int
    problems: tuple[ProblemFacts, ...]
    moved: tuple[Moved, ...]
    changes: Changes
    already_taken_in: str = ""
    """When and by whom the very same file was taken in before; then nothing was changed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PastIntake:
    """A file that was taken in before."""

    intake_id: bytes
    file_name: str
    layout: str
    taken_in_at: datetime
    who: str
    taken_in: int
    held: int
    is_undone: bool
