"""What previewing and importing register files tells, as plain values."""

from dataclasses import dataclass

from fluiddesk.services.changes import Changes
from fluiddesk.services.reassess.fleet import Moved


@dataclass(frozen=True, slots=True, kw_only=True)
class FileProblem:
    """One thing wrong in a register file: where, what it says, and what to do.

    ``row`` counts the lines of the table from 1, headings included; ``None`` for the whole column
    or file. ``refuses``: nothing can be imported before it is put right; else it is a warning.
    """

    file: str
    row: int | None
    column: str
    value: str
    text: str
    remedy: str
    refuses: bool

    @property
    def line(self) -> str:
        """File, place, problem and remedy in one line."""
        return f"{self.file}: {self.text} {self.remedy}".strip()


@dataclass(frozen=True, slots=True, kw_only=True)
class FileOutcome:
    """What importing one file adds, changes and finds unchanged.

    ``kind`` is which list of the register the file is: "machines", "compartments", ...
    """

    file: str
    kind: str
    sha256: str
    rows: int
    added: int
    changed: int
    unchanged: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterPreview:
    """Register files as read and tried on the register; nothing has been changed.

    ``moved`` are the compartments whose condition would change.
    """

    files: tuple[FileOutcome, ...]
    problems: tuple[FileProblem, ...]
    problem_count: int
    moved: tuple[Moved, ...] = ()

    @property
    def can_import(self) -> bool:
        """Whether no problem stands in the way."""
        return not any(problem.refuses for problem in self.problems)

    @property
    def will_change(self) -> bool:
        """Whether importing would add or change anything."""
        return any(file.added or file.changed for file in self.files)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        added = sum(file.added for file in self.files)
        changed = sum(file.changed for file in self.files)
        unchanged = sum(file.unchanged for file in self.files)
        if not self.can_import:
            refusing = sum(problem.refuses for problem in self.problems)
            thing = "problem stands" if refusing == 1 else "problems stand"
            return f"{refusing} {thing} in the way; nothing is imported before they are put right."
        return f"{added} to add, {changed} to change, {unchanged} unchanged."


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterImported:
    """What importing register files did; ``problems`` are warnings."""

    files: tuple[FileOutcome, ...]
    problems: tuple[FileProblem, ...]
    moved: tuple[Moved, ...]
    changes: Changes


@dataclass(frozen=True, slots=True, kw_only=True)
class ExportedFile:
    """One file written."""

    path: str
    kind: str
    rows: int
