"""What matching past results found, as plain values for screens and scripts."""

from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.intake.past_reading import PastReport
from fluiddesk.services.changes import Changes
from fluiddesk.services.lab_intake.facts import Moved, ProblemFacts


class PastFate(StrEnum):
    """What taking in would do with one row."""

    SURE = "sure"
    """It is saved under its box."""
    DOUBTFUL = "doubtful"
    """It waits until a person says whose it is."""
    KNOWN = "known"
    """The register has it already."""
    HELD = "held"
    """It cannot be read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PastCandidate:
    """A box a row may belong to. ``score`` runs from 0 to 1; ``doubts`` say what speaks against."""

    compartment_id: CompartmentId
    site: str
    machine: str
    compartment: str
    score: float
    doubts: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """The box in words."""
        return f"{self.site}, {self.machine}, {self.compartment}"


@dataclass(frozen=True, slots=True, kw_only=True)
class PastRowFacts:
    """One row of a file: what it printed, the boxes it may be of, and why it is not sure."""

    row: int
    machine_printed: str
    compartment_printed: str
    report: str
    issue: int
    sampled_on: date | None
    fate: PastFate
    candidates: tuple[PastCandidate, ...] = ()
    why: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PastPreview:
    """A file of past results as read and matched; nothing has been changed."""

    file_name: str
    file_path: str
    sha256: str
    layout: str
    laboratory: str
    rows: tuple[PastRowFacts, ...]
    problems: tuple[ProblemFacts, ...]
    already_taken_in: str
    """When and by whom the very same file was taken in before; empty if never."""
    report: PastReport = field(repr=False)
    """What was read, for taking it in; screens look at the rows instead."""

    def count(self, fate: PastFate) -> int:
        """How many rows have this fate."""
        return sum(row.fate is fate for row in self.rows)

    @property
    def sentence(self) -> str:
        """The outcome in one sentence."""
        told = (
            (PastFate.SURE, "to take in"),
            (PastFate.DOUBTFUL, "to be confirmed"),
            (PastFate.KNOWN, "known already"),
            (PastFate.HELD, "held"),
        )
        parts = ", ".join(f"{self.count(fate)} {words}" for fate, words in told)
        return f"{self.file_name}: {parts} (layout {self.layout})."


@dataclass(frozen=True, slots=True, kw_only=True)
class PastTaken:
    """What taking in, or confirming rows, did. Counts are of rows."""

    taken_in: int = 0
    waiting: int = 0
    known: int = 0
    held: int = 0
    problems: tuple[ProblemFacts, ...] = ()
    moved: tuple[Moved, ...] = ()
    changes: Changes = field(default_factory=lambda: Changes(subjects=frozenset()))
    intake_id: bytes | None = None
    already_taken_in: str = ""


RowKey = tuple[int, bytes, int]
"""A row that waits: its site, its intake and its number in the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingRow:
    """A row that waits until a person says whose it is."""

    site_id: SiteId
    intake_id: bytes
    row: int
    file_name: str
    machine_printed: str
    compartment_printed: str
    report: str
    sampled_on: date
    candidates: tuple[PastCandidate, ...]

    @property
    def key(self) -> RowKey:
        """What names this row when it is confirmed or set aside."""
        return (int(self.site_id), self.intake_id, self.row)
