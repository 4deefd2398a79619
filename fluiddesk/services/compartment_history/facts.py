"""What the compartment page shows, as plain values in canonical units."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.forecast_facts import HoursLeft
from fluiddesk.services.compartment_history.wear_facts import FillFacts, TrueWear


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleFacts:
    """One sample of the box, in the order taken."""

    sample_id: bytes
    bottle_code: str
    taken_on: date
    hours: float
    fluid_hours: float
    fill: int
    severity: Severity
    trust: Trust
    trust_reason: str
    laboratory: str
    report_number: str
    issue: int
    draw_method: str
    revisions: tuple["SheetFacts", ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetFacts:
    """One issue of the laboratory's report on a sample; the one that counts is current.

    ``changed`` tells what an issue says otherwise than the one before it ("Iron 32 to 23").
    """

    sheet_id: bytes
    laboratory: str
    report_number: str
    issue: int
    received_on: date | None
    is_current: bool
    entered_by: str = ""
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitBand:
    """One limit in force, as bounds on the analyte's own scale.

    ``watch``, ``act``, ``urgent`` are absolute values: a change-from-new limit is added to the new
    fluid's value. ``text`` tells the limit as it was set, with its source.
    """

    direction: str
    watch: float | None
    act: float | None
    urgent: float | None
    kind: LimitKind
    text: str
    source: str
    set_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSpan:
    """Limits as they held over a run of samples: drawn from the first to the last of them.

    ``first`` and ``last`` are places of samples, both included; spans follow each other without a
    gap, and the last one reaches on to today. ``bands`` may be empty.
    """

    first: int
    last: int
    limit_set: str
    bands: tuple[LimitBand, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartPoint:
    """Where a curve starts anew after a change of fluid: what the old fluid left, and fresh fluid.

    ``value`` is NaN where the new fluid or the level before is not known; the line then starts at
    the first sample of the fill. ``hours`` is ``None`` where the change has no hours.
    """

    fill: int
    on: date | None
    hours: float | None
    value: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SisterBand:
    """The middle 80 % of the same kind of box on like machines, by hours on the fluid.

    Columns of k points: ``fluid_hours`` rising, ``low`` (10 %), ``middle`` and ``high`` (90 %) in
    the analyte's unit. A single point holds for all hours. ``boxes`` and ``samples`` stand behind
    it; ``scope`` says which machines.
    """

    fluid_hours: NDArray[np.float64]
    low: NDArray[np.float64]
    middle: NDArray[np.float64]
    high: NDArray[np.float64]
    boxes: int
    samples: int
    scope: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherSide:
    """The same analyte of the box on the other side of the machine; columns of its own samples."""

    name: str
    hours: NDArray[np.float64]
    fluid_hours: NDArray[np.float64]
    taken_on: NDArray[np.int32]
    fill: NDArray[np.int32]
    values: NDArray[np.float64]
    signs: NDArray[np.uint8]
    trust: NDArray[np.int8]


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyteSeries:
    """One analyte over the life of the box; n samples, the same for every series of a box.

    Attributes:
        values: shape (n,), canonical unit; the bound for below and above, NaN where no number.
        signs: shape (n,), values of ``Sign``.
        severity: shape (n,), the worst band any limit on this analyte gave; -1 where not judged.
        printed: the text on the laboratory's paper, with its unit; "" where not tested.
        bands: limits in force on the day of the last sample.
        reference: the new fluid's value, or ``None``.
        weight: how much this curve matters now; the page shows the highest first.
        spans: the limits as in force at each sample, oldest first.
        references: shape (n,), the new fluid's value that held at each sample; NaN where unknown.
        starts: one point for each fill after a known change.
        changes: shape (n,), the change since the believed sample before; NaN where there is none.
        is_large_change: shape (n,), whether it is more than the method explains.
        other_side: the box on the other side, ``None`` where there is none.
        sisters: like machines, ``None`` with too few.
    """

    analyte: Analyte
    values: NDArray[np.float64]
    signs: NDArray[np.uint8]
    severity: NDArray[np.int8]
    printed: tuple[str, ...]
    bands: tuple[LimitBand, ...]
    reference: float | None
    weight: float
    spans: tuple[LimitSpan, ...] = ()
    references: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    starts: tuple[StartPoint, ...] = ()
    changes: NDArray[np.float64] = field(default_factory=lambda: np.zeros(0))
    is_large_change: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, dtype=bool))
    other_side: OtherSide | None = None
    sisters: SisterBand | None = None

    def bands_at(self, index: int) -> tuple[LimitBand, ...]:
        """The limits as they held on the day of a sample."""
        held = [one.bands for one in self.spans if one.first <= index <= one.last]
        return held[0] if held else self.bands

    def shown(self, index: int) -> str:
        """The value of one sample in canonical units, with its sign, without the unit."""
        return shown_value(self.analyte, Sign(int(self.signs[index])), float(self.values[index]))


@dataclass(frozen=True, slots=True, kw_only=True)
class EventFacts:
    """Something that happened to the box.

    ``hours`` are as recorded; ``place_hours`` is where it stands on the hours axis: as recorded,
    or between the samples and meter readings around it, ``None`` where neither helps.
    ``fluid_hours`` counts from the change before it.
    """

    kind: EventKind
    happened_on: date
    hours: float | None
    litres: float | None
    fluid: str
    certainty: Certainty
    note: str
    event_id: bytes = b""
    place_hours: float | None = None
    fluid_hours: float | None = None
    until_on: date | None = None
    """End of a stand-down, where known."""

    @property
    def is_inferred(self) -> bool:
        """Whether it was worked out from the results: nobody recorded it."""
        return self.certainty is Certainty.INFERRED


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingFacts:
    """What a person saw when they looked into this box."""

    found_on: date
    result: str
    part: str
    note: str
    sample_id: bytes | None = None
    place_hours: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonFacts:
    """Why the last sample is judged as it is: the rule that fired and its words."""

    rule: FiredRule
    title: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Argument:
    """One reason for or against the verdict, in plain words, the weightiest first."""

    is_for: bool
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeFacts:
    """The next planned fluid change: the day it comes at the machine's pace, and what sets it.

    ``at_hours``: true hours of the machine at it, ``None`` where a day is set. ``when``: "at
    12,500 h" or "on 2026-03-01". ``is_sampled``: the sample before it has been drawn.
    ``sets_due``: it says when the next sample is due, which the interval then tells.
    """

    planned_on: date
    at_hours: float | None
    hours_left: float | None
    when: str
    window_from: date
    is_sampled: bool
    sets_due: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DueFacts:
    """When the next sample is due; days are ``None`` where no day can be given.

    ``awaited_on`` is the day of a newer sample that was drawn and whose report has not come.
    ``next_change``: the next planned fluid change, ``None`` where none is planned.
    """

    state: DueState
    due_on: date | None
    window: tuple[date, date] | None
    hours_left: float | None
    by_hours: bool
    interval: str
    awaited_on: date | None = None
    next_change: ChangeFacts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentHistory:
    """Everything the compartment page shows of one box.

    ``earlier_sites``: the sites that owned the machine before, oldest first; samples and events
    of theirs are part of the history.
    """

    compartment: CompartmentId
    site: str
    machine: str
    machine_kind: str
    model: str
    box: str
    fluid: str
    capacity_l: float
    severity: Severity
    trust: Trust
    sentence: str
    changed_since: str
    due: DueFacts
    samples: tuple[SampleFacts, ...]
    series: tuple[AnalyteSeries, ...]
    events: tuple[EventFacts, ...]
    reasons: tuple[ReasonFacts, ...]
    limit_set: str
    earlier_sites: tuple[str, ...] = ()
    fill_facts: tuple[FillFacts, ...] = ()
    findings: tuple[FindingFacts, ...] = ()
    arguments: tuple[Argument, ...] = ()
    wear: TrueWear = field(default_factory=TrueWear)
    hours_left: HoursLeft = field(default_factory=HoursLeft)
    hours_now: float | None = None
    """True machine hours today, by the meter readings; ``None`` without one."""
    hours_per_day: float | None = None
    is_in_full: bool = True
    """``False`` while true wear, hours left and like machines are still to be worked out."""

    @property
    def hours(self) -> NDArray[np.float64]:
        """True machine hours of the samples, shape (n,)."""
        return np.array([sample.hours for sample in self.samples])

    @property
    def fills(self) -> NDArray[np.int32]:
        """The fill each sample belongs to, shape (n,)."""
        return np.array([sample.fill for sample in self.samples], dtype=np.int32)


def shown_value(analyte: Analyte, sign: Sign, value: float) -> str:
    """A value as people read it: "12", "<2", ">100", "absent", "not tested"."""
    if sign is Sign.PLAIN and not np.isnan(value):
        return analyte.text(value)
    if sign in (Sign.BELOW, Sign.ABOVE):
        return ("<" if sign is Sign.BELOW else ">") + analyte.text(value)
    words = {Sign.ABSENT: "absent", Sign.PRESENT: "present", Sign.NOT_ENOUGH: "not enough"}
    return words.get(sign, "")


def worst_first(series: Sequence[AnalyteSeries]) -> tuple[AnalyteSeries, ...]:
    """The series by how much they matter now, then in catalogue order."""
    return tuple(sorted(series, key=lambda one: (-one.weight, one.analyte.number)))
