"""Bottle, sample, result sheet and reading: what was drawn and what the laboratory says of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.identity import CompartmentId, SampleId, SiteId
from fluiddesk.domain.severity import Trust


class Sign(IntEnum):
    """What stands before a value. A value below detection is never 0 and never missing."""

    PLAIN = 0
    BELOW = 1
    ABOVE = 2
    ABSENT = 3
    PRESENT = 4
    NOT_TESTED = 5
    NOT_ENOUGH = 6

    @property
    def has_number(self) -> bool:
        """Whether a number stands behind this sign."""
        return self <= Sign.ABOVE


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One analyte's value on one result sheet.

    ``value`` is in the analyte's canonical unit: the number for plain, the bound for below and
    above, 0 for absent, 1 for present, ``None`` for not tested and not enough. ``printed`` and
    ``printed_unit`` are exactly what the laboratory wrote.
    """

    analyte: AnalyteCode
    sign: Sign
    value: float | None
    printed: str
    printed_unit: str
    decimals: int | None = None
    detection_limit: float | None = None


class SampleReason(StrEnum):
    """Why a sample was drawn. Only routine samples count in compliance."""

    ROUTINE = "routine"
    RESAMPLE = "resample"
    POST_CHANGE = "post_change"
    SPECIAL = "special"
    DUPLICATE = "duplicate"
    REFERENCE = "reference"
    STORAGE = "storage"


class DrawMethod(StrEnum):
    """How the fluid got into the bottle. The drain stream is recorded, never planned."""

    VALVE_PROBE = "valve_probe"
    VACUUM_TUBE = "vacuum_tube"
    DRAIN_STREAM = "drain_stream"
    UNKNOWN = "unknown"


class SampleState(StrEnum):
    """Where a sample stands on its way from the plan to the verdict."""

    PLANNED = "planned"
    ISSUED = "issued"
    TAKEN = "taken"
    SHIPPED = "shipped"
    RECEIVED = "received"
    REPORTED = "reported"
    NOT_TAKEN = "not_taken"
    LOST = "lost"
    VOID = "void"


class SampleOrigin(StrEnum):
    """How a sample came to be on the register. Only what the plan asked for counts in compliance.

    A walk-up was drawn without a plan; a spare label is a blank bottle registered when it came
    back; a past sample was drawn before this register was kept.
    """

    PLAN = "plan"
    WALK_UP = "walk_up"
    SPARE_LABEL = "spare_label"
    PAST = "past"

    @property
    def counts_in_compliance(self) -> bool:
        """Whether it answers a due event of the plan."""
        return self is SampleOrigin.PLAN


AWAITED = (SampleState.TAKEN, SampleState.SHIPPED, SampleState.RECEIVED)
"""Drawn, and no report has come yet: the box owes no further sample until its interval has run."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """What was drawn, when and how.

    ``meter_value`` is what the meter showed (hours or km); ``true_hours`` is the machine's age in
    hours over all its meters; ``fluid_hours`` the hours since the last full change.
    """

    site: SiteId
    id: SampleId
    compartment: CompartmentId
    bottle_code: str
    reason: SampleReason
    state: SampleState
    taken_on: date | None = None
    meter_value: float | None = None
    true_hours: float | None = None
    fluid_hours: float | None = None
    fill_number: int = 0
    draw_method: DrawMethod = DrawMethod.UNKNOWN
    trust: Trust = Trust.GOOD
    trust_reason: str = ""
    origin: SampleOrigin = SampleOrigin.PLAN
    duplicate_of: SampleId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultSheet:
    """What one laboratory report says of one sample.

    ``issue`` counts the laboratory's issues of the same report; a higher issue replaces the lower.
    """

    bottle_code: str
    laboratory: str
    report_number: str
    issue: int
    readings: Mapping[AnalyteCode, Reading]
    received_on: date | None = None
    tested_on: date | None = None
    issued_on: date | None = None
    remark: str = ""
    sampled_on_printed: date | None = None
    meter_printed: float | None = None

    @property
    def has_results(self) -> bool:
        """Whether anything was measured; a rejected bottle comes back without."""
        return any(reading.sign <= Sign.PRESENT for reading in self.readings.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenBottle:
    """A bottle on the register that a laboratory's row may belong to."""

    bottle_code: str
    sample: SampleId
    site_name: str
    machine: str
    compartment: str
    taken_on: date | None
    meter_value: float | None = None
    newest_issue: int = 0
    """The newest issue already taken in; 0 when the laboratory has not answered yet."""
    newest_report: str = ""
    newest_readings: Mapping[AnalyteCode, Reading] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleColumns:
    """Samples side by side that were tested for the same analytes; n samples, m analytes.

    Attributes:
        analytes: analyte numbers, one a column of ``values`` and ``signs``, rising.
        compartment: shape (n,), index into the caller's list of compartments.
        sample_id: shape (n, 16), the row identifier's bytes.
        taken_on: shape (n,), proleptic day ordinals; 0 where unknown.
        hours: shape (n,), the machine's true hours; NaN where unknown.
        fluid_hours: shape (n,), hours since the last full change; NaN where unknown.
        fill: shape (n,), number of the fill, 0 for the first known one.
        trust: shape (n,), values of ``Trust``.
        severity: shape (n,), the severity of the assessment in force, as stored.
        digest: shape (n,), fingerprint of the reasons of the assessment in force, as stored.
        reference: shape (n,), number of the new-fluid reference in force; -1 where there is none.
        values: shape (n, m), canonical units; the bound for below and above, NaN where no number.
        signs: shape (n, m), values of ``Sign``.
    """

    analytes: tuple[int, ...]
    compartment: NDArray[np.int32]
    sample_id: NDArray[np.uint8]
    taken_on: NDArray[np.int32]
    hours: NDArray[np.float64]
    fluid_hours: NDArray[np.float64]
    fill: NDArray[np.int32]
    trust: NDArray[np.int8]
    severity: NDArray[np.int8]
    digest: NDArray[np.uint64]
    reference: NDArray[np.int16]
    values: NDArray[np.float64]
    signs: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.compartment)
