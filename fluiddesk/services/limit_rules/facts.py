"""What the use cases of limit sets answer with; plain values, nothing of the store."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSet, LimitSetState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules.derive_facts import Derived, DerivedBound, DerivedRow
from fluiddesk.services.reassess.fleet import Moved

__all__ = [
    "Activated", "BoxLimits", "Budget", "ChangeKind", "Checked", "Derived", "DerivedBound",
    "DerivedRow", "DraftFacts", "EditKind", "Edited", "FindingScore", "HeldLimit", "Imported",
    "LastYear", "Latest", "MonthAlarms", "RowChange", "RowEdit", "RowEffect", "RuleProblem",
    "RulesRefusedError", "SetFacts", "Spread", "WhatIfMove",
]  # fmt: skip

# -- the list of sets, and a draft -----------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class SetFacts:
    """One limit set as the history lists it; ``version`` is given back with a change."""

    number: int
    name: str
    state: LimitSetState
    valid_from: date
    valid_until: date | None
    author: str
    note: str
    based_on: int | None
    limits: int
    intervals: int
    version: int
    holds_today: bool
    is_discarded: bool

    @property
    def state_words(self) -> str:
        """The state for people: Draft, In force, Retired, Discarded."""
        if self.is_discarded:
            return "Discarded"
        return self.state.value.replace("_", " ").capitalize()


class EditKind(StrEnum):
    """What one edit does to a row of a draft."""

    ADD = "add"
    CHANGE = "change"
    REMOVE = "remove"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowEdit:
    """One edit of a draft: put a row in at a place, change the row there, or take it out.

    ``place`` counts from 0; ``None`` for ADD puts the row at the end. ``limit`` (or ``interval``)
    is what is to stand there; the other one is ``None``, both are for REMOVE, where ``is_interval``
    says which list is meant. ``settings`` in their stead are the set's settings from now on.
    """

    kind: EditKind
    place: int | None = None
    limit: Limit | None = None
    interval: IntervalRule | None = None
    is_interval: bool = False
    settings: Mapping[str, Any] | None = None


class ChangeKind(StrEnum):
    """How a row differs between two sets."""

    ADDED = "added"
    CHANGED = "changed"
    REMOVED = "removed"


@dataclass(frozen=True, slots=True, kw_only=True)
class RowChange:
    """One row that differs between two sets; ``before`` or ``after`` is ``None`` where missing.

    ``place`` is the row's place in the later set, or in the earlier one where it was removed.
    ``setting`` is, for a setting of the set, what it is called and its figure before and after;
    there is no row then.
    """

    kind: ChangeKind
    place: int
    before: Limit | IntervalRule | None
    after: Limit | IntervalRule | None
    told: str
    setting: tuple[str, str, str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DraftFacts:
    """A draft as it stands: the set, its version, and how it differs from what it is based on."""

    limit_set: LimitSet
    version: int
    changes: tuple[RowChange, ...]

    @property
    def number(self) -> int:
        """The draft's number."""
        return self.limit_set.number


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """What an edit came to: the draft now, and the edits that take it back (for Undo)."""

    draft: DraftFacts
    undo: tuple[RowEdit, ...]


# -- checks ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleProblem:
    """One thing wrong with a set. ``stops`` keeps the set from being put in force.

    ``place`` is the row's place in its list (-1: the set as a whole), ``is_interval`` which list.
    ``accepted`` is the reason why it may stand as it is, from the row's note.
    """

    place: int
    where: str
    told: str
    remedy: str
    stops: bool = True
    is_interval: bool = False
    accepted: str = ""

    @property
    def text(self) -> str:
        """Row, what is wrong, what to do."""
        row = f"row {self.place + 1}" if self.place >= 0 else ""
        where = ", ".join(part for part in (row, self.where) if part)
        return f"{where}: {self.told} {self.remedy}" if where else f"{self.told} {self.remedy}"


class RulesRefusedError(OperatorError):
    """A limit set or limit file cannot be taken as it stands; ``problems`` names everything."""

    def __init__(self, what: str, problems: tuple[RuleProblem, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(f"{what}: {one.text}" for one in problems))


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A set's problems, those that stop it first."""

    number: int
    name: str
    problems: tuple[RuleProblem, ...]

    @property
    def may_take_force(self) -> bool:
        """Whether nothing stops it."""
        return not any(one.stops for one in self.problems)

    @property
    def open(self) -> tuple[RuleProblem, ...]:
        """The problems that nobody has accepted with a reason."""
        return tuple(one for one in self.problems if not one.accepted)


@dataclass(frozen=True, slots=True, kw_only=True)
class Activated:
    """What putting a set in force came to: samples judged, verdicts changed, who moved."""

    number: int
    valid_from: date
    retired: tuple[int, ...]
    samples: int
    changed: int
    moved: tuple[Moved, ...]


# -- which limit holds here ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldLimit:
    """The limit that holds for one box, and those it overrode, most specific first.

    ``is_off``: an off row holds, so that nothing is judged. ``since`` is the day on which a set
    with exactly this limit first took force without a break.
    """

    limit: Limit
    overrode: tuple[Limit, ...]
    since: date
    set_number: int
    set_name: str
    unit: str
    analyte: str

    @property
    def is_off(self) -> bool:
        """Whether the row switches the limit off."""
        return self.limit.is_off


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxLimits:
    """Every limit that holds for one box on a day, and its interval rule, if any."""

    site: str
    machine: str
    compartment: str
    day: date
    set_number: int
    set_name: str
    held: tuple[HeldLimit, ...]
    interval: IntervalRule | None
    interval_overrode: tuple[IntervalRule, ...]


# -- what if ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class WhatIfMove:
    """A compartment whose latest verdict would be another one."""

    compartment_id: CompartmentId
    site: str
    machine: str
    compartment: str
    sampled_on: date
    before: Severity
    after: Severity
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Latest:
    """The latest believed sample of every compartment, by the set in force and by the draft.

    ``before`` and ``after`` count compartments by severity, No verdict among them.
    """

    before: Mapping[Severity, int]
    after: Mapping[Severity, int]
    moves: tuple[WhatIfMove, ...]
    seconds: float

    @property
    def sentence(self) -> str:
        """How many would move, and which way."""
        if not self.moves:
            return "No compartment would move."
        up = sum(one.after > one.before for one in self.moves)
        down = len(self.moves) - up
        parts = [f"{up} up" if up else "", f"{down} down" if down else ""]
        many = len(self.moves)
        noun = "compartment" if many == 1 else "compartments"
        return f"{many} {noun} would move: {', '.join(part for part in parts if part)}."


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthAlarms:
    """Samples at Act or Urgent in one month (``month`` is its first day), and samples in all."""

    month: date
    samples: int
    before: int
    after: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingScore:
    """Confirmed faults caught and missed, and alarms on which nothing was found, of one set."""

    caught: int
    missed: int
    false_alarms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """The expected share of healthy samples that a set flags (Watch or worse).

    ``measured`` is the share of healthy samples of the year that it flags, with its interval (95 %,
    Wilson); ``None`` without a healthy sample. ``computed`` puts together the flag rate of each
    limit as if they were independent: 1 - product of (1 - rate). ``per_month`` is the number of
    healthy samples flagged in a month at the fleet's present pace.
    """

    healthy: int
    flagged: int
    measured: float | None
    low: float | None
    high: float | None
    computed: float | None
    per_month: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RowEffect:
    """What one limit does to the year's samples: how many it puts in each band, healthy or not.

    ``place`` is the row's place in the draft. Only rows of the scopes that the draft touches.
    """

    place: int
    judged: int
    watch: int
    act: int
    urgent: int
    healthy_flagged: int
    healthy: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LastYear:
    """The last year's samples, by the set in force and by the draft."""

    since: date
    until: date
    samples: int
    months: tuple[MonthAlarms, ...]
    findings_before: FindingScore
    findings_after: FindingScore
    budget_before: Budget
    budget_after: Budget
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How the fleet's figures lie for one row: what the ruler draws behind its bands.

    ``edges`` (n + 1) and ``counts`` (n) are a histogram of the compared figures of believed
    samples; ``below`` of them are "less than" results, counted at their limit. ``percentiles`` maps
    50, 90, 98, 99.5 to the figure there. Empty arrays where there is no figure.
    """

    unit: str
    samples: int
    machines: int
    below: int
    edges: NDArray[np.float64]
    counts: NDArray[np.int64]
    percentiles: Mapping[float, float]


# -- files -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """A limit file taken in: the new draft's number, what it holds, and what is to be looked at.

    ``problems`` that stop keep the draft from taking force, not from being taken in.
    """

    number: int
    name: str
    limits: int
    intervals: int
    problems: tuple[RuleProblem, ...] = ()
