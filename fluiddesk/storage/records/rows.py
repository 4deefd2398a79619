"""What the store hands out where the domain has no type of its own."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import NamedTuple

from fluiddesk.domain.fleet import Certainty, EventKind, Meter
from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId
from fluiddesk.domain.samples import Sign


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRecord:
    """A site. ``dust_shares`` maps an element's code to its share of the local dust (0 to 1)."""

    site: SiteId
    name: str
    time_zone: str
    dust_shares: Mapping[str, float] = field(default_factory=dict)
    version: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterRecord:
    """A meter with the identifier its readings name."""

    id: bytes
    machine: MachineId
    meter: Meter
    removed_on: date | None
    end_value: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MeterReadingRecord:
    """What a meter showed on a day.

    ``source``: sampler, telemetry, fuel_slip, estimate or desk.
    """

    site: SiteId
    machine: MachineId
    read_on: date
    value: float
    true_hours: float
    source: str
    meter: bytes | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EventRecord:
    """What happened to a compartment. ``id`` is given by the store when it is left empty."""

    site: SiteId
    compartment: CompartmentId
    kind: EventKind
    happened_on: date
    certainty: Certainty
    source: str
    true_hours: float | None = None
    litres: float | None = None
    fluid: str | None = None
    note: str = ""
    superseded_by: bytes | None = None
    id: bytes = b""


class ReferenceRecord(NamedTuple):
    """A new-fluid reference by its number; ``values`` maps an analyte's code to canonical units."""

    fluid_code: str
    valid_from: date
    values: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class UsageRecord:
    """How much a machine has run, and runs a day with the standard deviation of that."""

    site: SiteId
    machine: MachineId
    hours_now: float
    as_of: date
    hours_per_day: float
    hours_per_day_spread: float
    readings: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BottleRecord:
    """A labelled bottle."""

    site: SiteId
    code: str
    lot: str = ""
    sample: SampleId | None = None
    issued_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeRecord:
    """One taking-in of a laboratory's file."""

    site: SiteId
    id: bytes
    file_name: str
    sha256: str
    layout: str
    taken_in_at: datetime
    taken_in_by: str
    counts: Mapping[str, int]
    undone_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRowRecord:
    """A row of a laboratory's file that was put aside; ``cells`` maps heading to text."""

    site: SiteId
    intake: bytes
    row_number: int
    cells: Mapping[str, str]
    reason: str
    outcome: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRecord:
    """One issue of a report as kept, without its readings."""

    site: SiteId
    id: bytes
    sample: SampleId
    bottle_code: str
    laboratory: str
    report_number: str
    issue: int
    received_on: date | None
    tested_on: date | None
    issued_on: date | None
    remark: str
    intake: bytes | None
    is_current: bool
    superseded_by: bytes | None
    voided_reason: str | None
    created_at: datetime
    created_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingRecord:
    """One value of the sheet in force of one sample, canonical beside what was printed."""

    sample: SampleId
    sheet: bytes
    taken_on: date | None
    analyte: str
    sign: Sign
    value: float | None
    printed: str
    printed_unit: str
    decimals: int | None
    detection_limit: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class AssessmentRecord:
    """What the limits said about a sample. The store fills in ``id`` and ``made_at`` when empty."""

    site: SiteId
    sample: SampleId
    severity: int
    trust: int
    reasons: str
    inputs_digest: str
    program_version: str
    limit_set: int | None = None
    made_at: datetime | None = None
    superseded_by: bytes | None = None
    id: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConditionRecord:
    """How a compartment stands. ``direction``: -1 better, 0 steady, 1 worse.

    ``first_seen_on``: the day since when this severity has held. ``reasons``: JSON text.
    """

    site: SiteId
    compartment: CompartmentId
    sample: SampleId | None
    severity: int
    trust: int
    taken_on: date | None
    true_hours: float | None
    fluid_hours: float | None
    direction: int = 0
    previous_severity: int | None = None
    reasons: str = "[]"
    headline: str = ""
    assessed_at: datetime | None = None
    first_seen_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class AuditRecord:
    """One link of a site's trail of changes."""

    site: SiteId
    place: int
    at: datetime
    who: str
    what: str
    old: str | None
    new: str | None
    hash: str
