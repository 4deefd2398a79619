"""Due events with their outcomes, and compliance by group, as plain values."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.compliance import Compliance
from fluiddesk.domain.sampling.outcome import Outcome, OutcomeColumns
from fluiddesk.services.due_counting.intervals_held import HeldColumns


class GroupBy(StrEnum):
    """What compliance is told by."""

    SITE = "site"
    MACHINE_KIND = "machine_kind"
    COMPARTMENT_KIND = "compartment_kind"
    MONTH = "month"
    SAMPLER = "sampler"
    MACHINE = "machine"


@dataclass(frozen=True, slots=True, kw_only=True)
class EventBox:
    """What of a box its due events are told with."""

    compartment_id: bytes
    site: str
    machine: str
    machine_kind: str
    compartment: str
    compartment_kind: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EventColumns:
    """Every due event of the fleet; n events, columns of shape (n,).

    Attributes:
        boxes: the boxes that ``box`` indexes.
        box: index of the box.
        due_on: day ordinal on which the box reaches the due point.
        opens_on: first day of the window.
        closes_on: last day of the window.
        by_hours: whether the meter sets the due point.
        due_hours: the due point on the meter, NaN where the calendar sets it.
        due_day: the due point on the calendar, NaN where the meter sets it.
        is_owed: the first event since the last sample of its box: what the due list asks for.
        sampled_on: day ordinal of the sample that answers it, 0 where there is none.
        outcome: values of ``Outcome``, with the lateness beside.
        sampler: index into ``samplers``; 0 (nobody named) where there is no sample.
        samplers: names; the first is empty.
        early: shape (s,), routine samples: their box, day, sampler and whether before a window.
        reasons: by (compartment, due day), why it was missed or excused, in words.
        held: intervals as they held.
        held_row: row of ``held`` that each event is held to.
    """

    boxes: Sequence[EventBox]
    box: NDArray[np.int64]
    due_on: NDArray[np.int64]
    opens_on: NDArray[np.int64]
    closes_on: NDArray[np.int64]
    by_hours: NDArray[np.bool_]
    due_hours: NDArray[np.float64]
    due_day: NDArray[np.float64]
    is_owed: NDArray[np.bool_]
    sampled_on: NDArray[np.int64]
    outcome: OutcomeColumns
    sampler: NDArray[np.int64]
    samplers: tuple[str, ...]
    sample_box: NDArray[np.int64]
    sample_day: NDArray[np.int64]
    sample_sampler: NDArray[np.int64]
    sample_is_early: NDArray[np.bool_]
    reasons: dict[tuple[bytes, int], str]
    held: HeldColumns
    held_row: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.box)


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplianceLine:
    """One group and its measures."""

    group: str
    measures: Compliance


@dataclass(frozen=True, slots=True, kw_only=True)
class ComplianceTable:
    """Compliance of a period, by group, worst on time first, and of the whole."""

    first_day: date
    last_day: date
    by: GroupBy
    lines: tuple[ComplianceLine, ...]
    total: Compliance

    @property
    def sentence(self) -> str:
        """The programme in one line."""
        whole = self.total
        period = f"{self.first_day.isoformat()} to {self.last_day.isoformat()}"
        if not whole.due:
            return (
                f"{period}: no sample was owed. A box owes samples from its first one on, once it "
                "has an interval."
            )
        return (
            f"{period}: "
            f"{whole.on_time_share.words} on time, {whole.taken_share.words} taken, "
            f"{whole.usable_share.words} usable; {whole.missed} missed, {whole.excused} excused."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class EventLine:
    """One due event, to be opened from a share: what was owed when, and what became of it.

    ``interval``: the interval that held, in words.
    """

    site: str
    machine: str
    compartment: str
    compartment_id: bytes
    due_on: date
    window: tuple[date, date]
    due_hours: float | None
    sampled_on: date | None
    sampler: str
    outcome: Outcome
    late_by_percent: float | None
    reason: str
    interval: str = ""
