"""What is asked of a simulation: how many machines, how long, which errors and scripted turns."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class SitePlan:
    """A place with its dust: mass shares of the elements in it, and how much of it there is.

    ``dustiness`` 1 is an ordinary quarry; ``season`` is the swing of dust over the year (0 to 1).
    """

    name: str
    dust: Mapping[str, float]
    dustiness: float = 1.0
    season: float = 0.3
    laboratory: str = "lab_a"


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinePlan:
    """One named machine; what is None or missing is drawn."""

    code: str
    kind: str
    site: int
    model: str = ""
    hours_at_start: float | None = None
    hours_per_year: float | None = None
    standby_from: date | None = None
    last_visit: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxName:
    """A box in words: machine number, compartment kind, position."""

    machine: str
    kind: str
    position: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScriptedFault:
    """A fault that begins on a day; left to grow to the end unless ``repaired_on`` is given."""

    box: BoxName
    mode: str
    started_on: date
    doubling_hours: float
    repaired_on: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LaboratoryShift:
    """All results of one analyte reported by one laboratory in a span of days, off by a factor."""

    laboratory: str
    analyte: str
    first_day: date
    last_day: date
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Script:
    """Turns of events that a story fixes; everything else is drawn."""

    machines: tuple[MachinePlan, ...] = ()
    faults: tuple[ScriptedFault, ...] = ()
    swaps: tuple[tuple[BoxName, BoxName, date], ...] = ()
    """Two boxes of one visit and a day: the bottles of the last visit up to it were exchanged."""
    unlogged_changes: tuple[tuple[BoxName, date], ...] = ()
    """A box and a day: at the first visit from then on its fluid was changed, unwritten."""
    skipped: tuple[tuple[BoxName, date], ...] = ()
    """A box and a day from which no sample was drawn any more."""
    unanswered: tuple[tuple[str, date], ...] = ()
    """A machine and a day: bottles drawn from then on are still at the laboratory at the end."""
    shifts: tuple[LaboratoryShift, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class ErrorRates:
    """How often things go wrong, as shares; common practice, no source, unless said otherwise."""

    missed_sample: float = 0.05
    drained: float = 0.01
    cold: float = 0.01
    unmixed: float = 0.02
    dirty_bottle: float = 0.005
    swapped_pair: float = 0.003
    """Per visit with two boxes of one family."""
    missing_meter: float = 0.05
    wrong_label_age: float = 0.05
    unlogged_change: float = 0.02
    unlogged_top_up: float = 0.10
    wrong_fluid: float = 0.003
    """Per fluid change: a tenth of another oil went in."""
    lost_bottle: float = 0.01
    revised_report: float = 0.01
    not_enough: float = 0.002
    """Per value: the bottle held too little for this test."""
    keyed_share: float = 0.02
    """Reports typed by hand instead of taken in from a file."""
    keying_error: float = 0.007
    """Per typed field; published studies of manual entry report mostly 0.55 to 3.6 %
    (Behavior Research Methods 2019, doi 10.3758/s13428-019-01207-3)."""
    finding_missing: float = 0.40
    finding_wrong: float = 0.05
    laboratory_shifts_per_year: float = 0.5
    faults_per_1000_h: float = 0.09
    """New faults per box."""
    notice: float = 0.55
    """Chance that a plainly visible fault is acted on after a sample."""


QUARRY_DUST: Mapping[str, float] = {
    "silicon": 0.30,
    "aluminium": 0.07,
    "iron": 0.035,
    "calcium": 0.05,
    "magnesium": 0.015,
}
"""Mass shares near the mean of the earth's crust (from memory: Si 28 %, Al 8 %, Fe 5 %)."""

DEFAULT_SITES = (
    SitePlan(name="North pit", dust=QUARRY_DUST),
    SitePlan(name="South pit", dust=QUARRY_DUST, dustiness=0.8, laboratory="lab_b"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulationPlan:
    """How large a fleet to play, for how long, from which seed.

    ``boxes_per_machine`` keeps the first so many boxes of each machine kind (0: all).
    ``script.machines``, when given, replaces the drawn machines.
    """

    machines: int
    years: float
    seed: int
    first_day: date
    sites: tuple[SitePlan, ...] = DEFAULT_SITES
    boxes_per_machine: int = 0
    rates: ErrorRates = field(default_factory=ErrorRates)
    script: Script = field(default_factory=Script)

    @property
    def days(self) -> int:
        """Days played."""
        return max(1, round(self.years * 365.25))

    @property
    def last_day(self) -> date:
        """The day the simulation ends on."""
        return date.fromordinal(self.first_day.toordinal() + self.days - 1)
