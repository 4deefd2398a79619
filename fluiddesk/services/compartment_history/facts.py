"""What the compartment page shows, as plain values in canonical units."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.assessment import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity, Trust


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
    """

    analyte: Analyte
    values: NDArray[np.float64]
    signs: NDArray[np.uint8]
    severity: NDArray[np.int8]
    printed: tuple[str, ...]
    bands: tuple[LimitBand, ...]
    reference: float | None
    weight: float

    def shown(self, index: int) -> str:
        """The value of one sample in canonical units, with its sign, without the unit."""
        return shown_value(self.analyte, Sign(int(self.signs[index])), float(self.values[index]))


@dataclass(frozen=True, slots=True, kw_only=True)
class EventFacts:
    """Something that happened to the box."""

    kind: EventKind
    happened_on: date
    hours: float | None
    litres: float | None
    fluid: str
    certainty: Certainty
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonFacts:
    """Why the last sample is judged as it is: the rule that fired and its words."""

    rule: FiredRule
    title: str
    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DueFacts:
    """When the next sample is due; days are ``None`` where no day can be given.

    ``awaited_on`` is the day of a newer sample that was drawn and whose report has not come.
    """

    state: DueState
    due_on: date | None
    window: tuple[date, date] | None
    hours_left: float | None
    by_hours: bool
    interval: str
    awaited_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompartmentHistory:
    """Everything the compartment page shows of one box."""

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
