"""What the clerk's desk shows of a report that is being keyed, as plain values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.samples import Reading
from fluiddesk.domain.severity import Severity
from fluiddesk.services.changes import Changes
from fluiddesk.services.event_questions import EventQuestion
from fluiddesk.services.keyed_results.basis import CheckBasis
from fluiddesk.services.lab_intake.revised import ValueChange


class WarningKind(StrEnum):
    """What a check found; the value is what is stored."""

    UNREADABLE = "unreadable"
    IMPOSSIBLE = "impossible"
    MISSING = "missing"
    UNUSUAL = "unusual"
    DECIMAL_SLIP = "decimal_slip"
    DECIMALS = "decimals"
    TRANSPOSED = "transposed"
    UNIT = "unit"
    EXCHANGED = "exchanged"
    COLUMN_SHIFT = "column_shift"
    REPEATED = "repeated"
    PAIR = "pair"
    DATES = "dates"
    HOURS = "hours"
    OTHER_BOTTLE = "other_bottle"
    REPORT = "report"
    SECOND_ENTRY = "second_entry"


class Answer(StrEnum):
    """What the clerk says to a warning."""

    CORRECTED = "corrected"
    CONFIRMED = "confirmed"
    PARKED = "parked"


class HeadField(StrEnum):
    """What of a report is keyed above its values."""

    REPORT_NUMBER = "report_number"
    ISSUE = "issue"
    SAMPLED_ON = "sampled_on"
    RECEIVED_ON = "received_on"
    TESTED_ON = "tested_on"
    ISSUED_ON = "issued_on"
    METER = "meter"
    FLUID_HOURS = "fluid_hours"
    REMARK = "remark"

    @property
    def word(self) -> str:
        """The label in front of the field."""
        return self.value.replace("_", " ").capitalize()


@dataclass(frozen=True, slots=True, kw_only=True)
class QueueLine:
    """One line of a list of the clerk's queue.

    ``days``: since the sample was drawn, ``None`` where that day is unknown. ``note``: why it is in
    this list. ``draft_id``, ``intake_id`` and ``row`` name what to open, where there is such a
    thing.
    """

    bottle_code: str
    site: str
    machine: str
    compartment: str
    taken_on: date | None
    days: int | None
    note: str = ""
    laboratory: str = ""
    draft_id: bytes = b""
    intake_id: bytes = b""
    row: int = 0
    last_severity: Severity = Severity.NO_VERDICT


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultsQueue:
    """The clerk's day: what to key, what to answer, what is put aside, what is awaited."""

    to_key: tuple[QueueLine, ...]
    """Drafts begun and not finished, newest first."""
    warnings_open: tuple[QueueLine, ...]
    """Parked reports."""
    held_back: tuple[QueueLine, ...]
    """Rows of files that were put aside and not settled."""
    waiting: tuple[QueueLine, ...]
    """Bottles at the laboratory, oldest first."""
    questions: tuple[EventQuestion, ...]
    """Fluid changes nobody recorded, still to be answered."""

    @property
    def sentence(self) -> str:
        """The queue in one line."""
        return (
            f"{len(self.to_key)} begun, {len(self.warnings_open)} with warnings open, "
            f"{len(self.held_back)} rows held back, {len(self.waiting)} bottles at the laboratory"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutChoice:
    """A laboratory's report form: its name as chosen, and what to show for it."""

    name: str
    laboratory: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What the box's history foretells of one value, in the unit of the report.

    ``low`` to ``high`` holds 95 of 100 sound values. ``text`` is the ghost in the empty cell;
    ``last`` what the report before said, as printed.
    """

    text: str
    low: str
    high: str
    last: str
    last_on: date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GridCell:
    """One field of the grid, in the order of the laboratory's report.

    ``key`` names it in ``Draft.cells``. ``analytes``: three for a contamination code in one cell.
    ``signs`` are the words that may be typed in place of a number. ``is_expected``: earlier reports
    of the box have it, so that an empty cell is asked about.
    """

    key: str
    heading: str
    name: str
    unit: str
    analytes: tuple[str, ...]
    is_presence_test: bool
    is_expected: bool
    expected: Expected | None
    decides: bool = False
    """Whether it is one of the values that are to be entered twice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenReport:
    """A bottle that is being keyed: whose it is, three values to confirm, and the grid."""

    bottle_code: str
    sample: SampleId
    site_id: SiteId
    site: str
    machine: str
    compartment: str
    compartment_id: CompartmentId
    taken_on: date | None
    meter: float | None
    fluid_hours: float | None
    layout: str
    laboratory: str
    layouts: tuple[LayoutChoice, ...]
    heads: tuple[HeadField, ...]
    cells: tuple[GridCell, ...]
    to_confirm: tuple[tuple[str, str], ...]
    """Name and expected value of up to three values that tell this box from others."""
    severity: Severity
    newest_issue: int
    newest_report: str
    note: str
    """What the clerk should know first: "issue 1 is in already: key the revised issue"."""
    basis: CheckBasis = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """What was typed so far; saved at each change, so that nothing is lost.

    ``cells`` by ``GridCell.key``, ``heads`` by ``HeadField`` value, as typed. ``second`` is the
    second entry of deciding values. ``answers``: by ``KeyWarning.key``.
    """

    bottle_code: str
    layout: str
    heads: Mapping[str, str] = field(default_factory=dict)
    cells: Mapping[str, str] = field(default_factory=dict)
    second: Mapping[str, str] = field(default_factory=dict)
    second_by: str = ""
    answers: Mapping[str, Answer] = field(default_factory=dict)
    note: str = ""
    id: bytes = b""
    version: int = 0
    state: str = "open"
    begun_by: str = ""
    changed_at: datetime | None = None
    changed_by: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellRead:
    """What a cell's text means: its readings (canonical), or why it has none.

    ``shown`` is the text as it will stand in the grid: sign, number and decimals as typed.
    """

    key: str
    text: str
    shown: str
    readings: tuple[Reading, ...] = ()
    raw: tuple[float | None, ...] = ()
    """The numbers as typed, in the unit of the form; also of values that cannot be."""
    is_impossible: bool = False
    fault: str = ""
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyWarning:
    """One thing that looks wrong while a report is typed.

    ``is_hard``: cannot be confirmed, only corrected. ``cell``: key of the cell, of the head field,
    or empty for the whole report. ``proposed``: the text that would put it right, empty where
    nobody can say; for ``COLUMN_SHIFT`` see ``moved``. ``key`` stays the same while kind, place and
    text do, so that an answer holds until the value is changed.
    """

    key: str
    kind: WarningKind
    cell: str
    name: str
    text: str
    told: str
    why: str
    proposed: str = ""
    moved: Mapping[str, str] = field(default_factory=dict)
    """Texts by cell key, for a proposal that concerns several cells."""
    other_bottle: str = ""
    analyte: str = ""
    is_hard: bool = False
    answer: Answer | None = None

    @property
    def is_open(self) -> bool:
        """Whether it keeps the report from being saved."""
        return self.is_hard or self.answer is not Answer.CONFIRMED


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A draft as it stands: every cell read, every warning, and whether it can be saved."""

    cells: Mapping[str, CellRead]
    warnings: tuple[KeyWarning, ...]
    filled: int
    missing: tuple[str, ...]
    """Keys of expected cells that are still empty."""
    second_wanted: tuple[str, ...]
    """Keys of cells still to be entered a second time."""

    @property
    def can_save(self) -> bool:
        """Whether nothing keeps the report from being saved."""
        return (
            not self.missing
            and not self.second_wanted
            and not any(one.is_open for one in self.warnings)
        )

    def of(self, cell: str) -> tuple[KeyWarning, ...]:
        """The warnings at one place."""
        return tuple(one for one in self.warnings if one.cell == cell)


@dataclass(frozen=True, slots=True, kw_only=True)
class SavedReport:
    """What saving came to: the verdict at once, and what it was before."""

    bottle_code: str
    intake_id: bytes
    before: Severity
    after: Severity
    headline: str
    sentence: str
    """What changed, in words: "Engine of EX-01: Normal to Act. Iron 112 mg/kg, limit 100"."""
    revised: tuple[ValueChange, ...]
    question: EventQuestion | None
    changes: Changes
