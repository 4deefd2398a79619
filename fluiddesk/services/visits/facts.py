"""Visits, the boxes on them, crews and service days, as plain values."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from fluiddesk.domain.identity import CompartmentId, MachineId, SampleId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.domain.severity import Severity


class VisitState(StrEnum):
    """Where a visit stands: planned, its labels issued, done, or given up."""

    PLANNED = "planned"
    ISSUED = "issued"
    DONE = "done"
    DROPPED = "dropped"


class BoxOutcome(StrEnum):
    """What became of one bottle of a visit."""

    OPEN = "open"
    TAKEN = "taken"
    NOT_TAKEN = "not_taken"
    MOVED = "moved"


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew:
    """People who sample together; ``version`` 0 for a new one."""

    site: SiteId
    id: bytes = b""
    name: str
    hours_per_day: float
    retired: bool = False
    version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceDate:
    """A day on which a machine stands for service anyway."""

    site: SiteId
    id: bytes = b""
    machine: MachineId
    planned_on: date
    note: str = ""
    dropped: bool = False
    version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitBox:
    """One bottle of a visit, in its place in the working order.

    ``due_on`` and ``window`` are as known when the visit is read; ``why_not`` says why it was not
    taken. ``point_kind`` is the sampling point's kind, "" where the register has none.
    ``is_joining``: it is proposed for a visit that is kept already. ``before_change``: the planned
    fluid change that the sample is drawn before, in words, "" for none.
    """

    id: bytes
    compartment_id: CompartmentId
    compartment: str
    kind: str
    place: int
    reason: SampleReason
    outcome: BoxOutcome = BoxOutcome.OPEN
    why_not: str = ""
    sample_id: SampleId | None = None
    bottle_code: str = ""
    fluid: str = ""
    due_on: date | None = None
    window: tuple[date, date] | None = None
    state: DueState | None = None
    severity: Severity = Severity.NO_VERDICT
    point_kind: str = ""
    is_pulled_in: bool = False
    is_joining: bool = False
    before_change: str = ""
    version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """One visit to a machine. ``id`` is empty for a proposal that is not saved.

    ``first_day`` and ``last_day``: the days on which every window of its boxes is open; of a kept
    visit the first may lie after the last, when there is no such day.
    ``minutes``: the crew's time at the machine. ``joins``: the kept visit that the boxes of a
    proposal go along with; it is then no visit of its own, its state is that of the kept one, and
    its minutes are those that the kept one gets longer by.
    """

    id: bytes
    site_id: SiteId
    site: str
    machine_id: MachineId
    machine: str
    machine_kind: str
    area: str
    planned_on: date
    first_day: date
    last_day: date
    state: VisitState
    boxes: tuple[VisitBox, ...]
    minutes: float
    at_service: bool = False
    crew_id: bytes | None = None
    crew: str = ""
    done_on: date | None = None
    note: str = ""
    version: int = 0
    joins: bytes | None = None

    @property
    def open_boxes(self) -> tuple[VisitBox, ...]:
        """The bottles that are still to be filled."""
        return tuple(one for one in self.boxes if one.outcome is BoxOutcome.OPEN)


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewDay:
    """How full one crew's day is."""

    crew: str
    day: date
    minutes: float
    minutes_there_are: float

    @property
    def is_overfull(self) -> bool:
        """Whether there is more to do than time for it."""
        return self.minutes > self.minutes_there_are


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftBehind:
    """A kept visit whose day has passed and that nobody recorded."""

    id: bytes
    site: str
    machine: str
    planned_on: date
    bottles: int
    is_issued: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitPlan:
    """Proposed visits, by site, day, area and machine.

    ``left_behind``: kept visits whose day has passed; their boxes are on no other visit until
    they are recorded, moved or given up. ``waiting``: boxes that are due but can be put on no
    visit, with the reason in words.
    """

    today: date
    until: date
    visits: tuple[Visit, ...]
    crew_days: tuple[CrewDay, ...]
    left_behind: tuple[LeftBehind, ...] = ()
    waiting: tuple[tuple[str, str], ...] = ()

    @property
    def new_visits(self) -> tuple[Visit, ...]:
        """The proposals that are visits of their own."""
        return tuple(one for one in self.visits if one.joins is None)

    @property
    def joins(self) -> tuple[Visit, ...]:
        """The proposals whose boxes join a kept visit."""
        return tuple(one for one in self.visits if one.joins is not None)

    @property
    def sentence(self) -> str:
        """How many visits and bottles the plan comes to, in one line."""
        bottles = sum(len(one.boxes) for one in self.new_visits)
        joining = sum(len(one.boxes) for one in self.joins)
        overfull = sum(one.is_overfull for one in self.crew_days)
        told = (
            f"{_counted(len(self.new_visits), 'visit')} and {_counted(bottles, 'bottle')} "
            f"until {self.until.isoformat()}"
        )
        if joining:
            verb = "joins" if joining == 1 else "join"
            kept = _counted(len(self.joins), "kept visit")
            told += f"; {_counted(joining, 'bottle')} more {verb} {kept}"
        if overfull:
            told += f"; {_counted(overfull, 'crew day')} overfull"
        if self.left_behind:
            told += f"; {_counted(len(self.left_behind), 'kept visit')} passed undone"
        return f"{told}."


def _counted(number: int, one: str) -> str:
    return f"{number} {one if number == 1 else one + 's'}"
