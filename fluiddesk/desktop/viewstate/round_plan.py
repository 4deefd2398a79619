"""The visits of a round as the planner lays them: proposed and kept, each on its day."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum
from typing import Final

from fluiddesk.desktop.viewstate.sampling_calls import SamplingFacts
from fluiddesk.domain.identity import SiteId
from fluiddesk.domain.sampling.due import DueState
from fluiddesk.services.visits.facts import Crew, Visit, VisitBox, VisitState

_MINUTES: Final = 60.0
_LONGEST_LOOK_BACK: Final = 7


class Standing(StrEnum):
    """How firm a visit is."""

    PROPOSED = "proposed"
    KEPT = "kept"
    ISSUED = "bottles issued"
    DONE = "done"


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One visit on the time bar. ``key`` names it while the page is open.

    ``joining``: the proposal whose bottles join this kept visit when the plan is kept.
    ``is_left_behind``: its day has passed, and nobody recorded it.
    """

    key: bytes
    visit: Visit
    standing: Standing
    joining: Visit | None = None
    is_left_behind: bool = False

    @property
    def is_kept(self) -> bool:
        """Whether the visit is saved."""
        return self.standing is not Standing.PROPOSED

    @property
    def proposals(self) -> tuple[Visit, ...]:
        """What of it a planner can keep: the visit itself, or the bottles that join it."""
        if not self.is_kept:
            return (self.visit,)
        return () if self.joining is None else (self.joining,)

    @property
    def boxes(self) -> tuple[VisitBox, ...]:
        """The bottles still to be filled, with those that join it."""
        return (*self.visit.open_boxes, *self.joining_boxes)

    @property
    def joining_boxes(self) -> tuple[VisitBox, ...]:
        """The bottles that join it when the plan is kept."""
        return () if self.joining is None else self.joining.boxes

    @property
    def bottles(self) -> int:
        """How many bottles are still to be filled, with those that join it."""
        return len(self.boxes)

    @property
    def minutes(self) -> float:
        """The crew's time at the machine, with what joins it."""
        return self.visit.minutes + (0.0 if self.joining is None else self.joining.minutes)

    @property
    def overdue(self) -> int:
        """How many of its boxes are past their window."""
        return sum(one.state is DueState.OVERDUE for one in self.boxes)

    @property
    def first_day(self) -> date:
        """The first day on which every window is open."""
        return max(one.first_day for one in self._parts)

    @property
    def last_day(self) -> date:
        """The last day on which every window is open."""
        return min(one.last_day for one in self._parts)

    @property
    def _parts(self) -> tuple[Visit, ...]:
        return (self.visit,) if self.joining is None else (self.visit, self.joining)

    @property
    def is_early(self) -> bool:
        """Whether it lies before the windows of its boxes."""
        return self.visit.planned_on < self.first_day

    @property
    def is_late(self) -> bool:
        """Whether it lies after the window of one of its boxes."""
        return self.visit.planned_on > self.last_day


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLoad:
    """The work of a crew (or of a site's visits without one) on one day."""

    minutes: float
    minutes_there_are: float | None

    @property
    def hours(self) -> float:
        """The work in hours."""
        return self.minutes / _MINUTES

    @property
    def is_overfull(self) -> bool:
        """Whether there is more to do than time for it."""
        return self.minutes_there_are is not None and self.minutes > self.minutes_there_are + 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One crew of a site with its days; ``hours_per_day`` is ``None`` for visits without a crew."""

    site: str
    crew: str
    hours_per_day: float | None
    days: Mapping[date, DayLoad]


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineRow:
    """One machine with its visits, earliest first."""

    site: str
    area: str
    machine: str
    machine_kind: str
    visits: tuple[Planned, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRow:
    """The heading of a site, or of an area of one."""

    words: str


BoardRow = SiteRow | LoadRow | MachineRow


class RoundPlan:
    """Holds proposals and kept visits; moves are local until whoever saves them did so."""

    def __init__(self, facts: SamplingFacts) -> None:
        self.today, self.until = facts.plan.today, facts.plan.until
        self.crews: tuple[Crew, ...] = facts.crews
        self._site = ""
        self._visits: dict[bytes, Planned] = {}
        self._in_order: tuple[Planned, ...] | None = None
        self._rows: tuple[BoardRow, ...] | None = None
        self._joins = {one.joins: one for one in facts.plan.joins if one.joins is not None}
        for visit in facts.plan.new_visits:
            one = Planned(key=_proposal_key(visit), visit=visit, standing=Standing.PROPOSED)
            self._visits[one.key] = one
        self.show_kept(facts.kept)

    # --- what there is ----------------------------------------------------------------------

    @property
    def visits(self) -> tuple[Planned, ...]:
        """Every visit of the sites shown, by site, area, machine and day."""
        if self._in_order is None:
            shown = [one for one in self._visits.values() if self._site in ("", one.visit.site)]
            self._in_order = tuple(sorted(shown, key=_place))
        return self._in_order

    @property
    def every(self) -> Mapping[bytes, Planned]:
        """Every visit by its key, of all sites."""
        return self._visits

    @property
    def proposed(self) -> tuple[Planned, ...]:
        """The visits that are not saved."""
        return tuple(one for one in self.visits if not one.is_kept)

    @property
    def growing(self) -> tuple[Planned, ...]:
        """The kept visits that proposed bottles join."""
        return tuple(one for one in self.visits if one.joining is not None)

    @property
    def left_behind(self) -> tuple[Planned, ...]:
        """The kept visits whose day has passed undone, the oldest first."""
        late = [one for one in self.visits if one.is_left_behind]
        return tuple(sorted(late, key=lambda one: (one.visit.planned_on, one.visit.machine)))

    def visit(self, key: bytes) -> Planned | None:
        """A visit by its key."""
        return self._visits.get(key)

    def chosen(self, keys: Iterable[bytes]) -> tuple[Planned, ...]:
        """The visits of some keys, in the order of the board."""
        wanted = set(keys)
        return tuple(one for one in self.visits if one.key in wanted)

    @property
    def days(self) -> tuple[date, ...]:
        """The days of the time bar: from today, or a few before where a visit was left behind."""
        planned = [one.visit.planned_on for one in self.visits]
        earliest = self.today - timedelta(days=_LONGEST_LOOK_BACK)
        first = max(min([self.today, *planned]), earliest)
        last = max([self.until, *planned])
        return tuple(first + timedelta(days=n) for n in range((last - first).days + 1))

    def kept_visit_to(self, one: Planned) -> Planned | None:
        """The kept visit to a proposal's machine that lies nearest; ``None`` without one."""
        day = one.visit.planned_on
        kept = [
            other
            for other in self._visits.values()
            if other.standing in (Standing.KEPT, Standing.ISSUED)
            and other.visit.machine_id == one.visit.machine_id
        ]
        near = sorted(kept, key=lambda other: abs((other.visit.planned_on - day).days))
        return near[0] if near and not one.is_kept else None

    # --- changing it ------------------------------------------------------------------------

    def show_site(self, site: str) -> None:
        """Show one site alone; "" for all."""
        self._site = site
        self._forget_order()

    def show_kept(self, kept: Sequence[Visit]) -> None:
        """Take over the saved visits as they were read anew."""
        held = {key: one for key, one in self._visits.items() if not one.is_kept}
        on_visits = {box.compartment_id for visit in kept for box in visit.open_boxes}
        held = {
            key: one
            for key, one in held.items()
            if not any(box.compartment_id in on_visits for box in one.visit.boxes)
        }
        self._joins = {
            key: join
            for key, join in self._joins.items()
            if not any(box.compartment_id in on_visits for box in join.boxes)
        }
        standings = {VisitState.PLANNED: Standing.KEPT, VisitState.ISSUED: Standing.ISSUED}
        for visit in kept:
            standing = standings.get(visit.state, Standing.DONE)
            is_open = standing is not Standing.DONE
            held[visit.id] = Planned(
                key=visit.id,
                visit=visit,
                standing=standing,
                joining=self._joins.get(visit.id) if is_open else None,
                is_left_behind=is_open and visit.planned_on < self.today,
            )
        self._visits = held
        self._forget_order()

    def move(self, key: bytes, to: date) -> bool:
        """Put a visit on another day; no day before today. Whether it moved."""
        one = self._visits.get(key)
        if one is None or to < self.today or to == one.visit.planned_on:
            return False
        self._visits[key] = replace(
            one, visit=replace(one.visit, planned_on=to), is_left_behind=False
        )
        self._forget_order()
        return True

    def leave_out(self, keys: Iterable[bytes]) -> None:
        """Take proposals off the board; a kept visit stays without what was to join it."""
        for key in keys:
            one = self._visits.get(key)
            if one is None:
                continue
            if one.is_kept:
                self._joins.pop(key, None)
                self._visits[key] = replace(one, joining=None)
            else:
                del self._visits[key]
        self._forget_order()

    def take_days(self, before: "RoundPlan") -> None:
        """Lay proposals where they had been moved, as far as the same bottles are proposed."""
        for key, one in before.every.items():
            mine = self._visits.get(key)
            is_same = mine is not None and _boxes(mine.visit) == _boxes(one.visit)
            if is_same and not one.is_kept:
                self.move(key, one.visit.planned_on)

    # --- as a board -------------------------------------------------------------------------

    @property
    def rows(self) -> tuple[BoardRow, ...]:
        """The rows of the time bar: each site with its crews' days, then its machines."""
        if self._rows is None:
            self._rows = self._laid_out()
        return self._rows

    def _forget_order(self) -> None:
        self._in_order = self._rows = None

    def _laid_out(self) -> tuple[BoardRow, ...]:
        by_site: dict[str, list[Planned]] = defaultdict(list)
        for one in self.visits:
            by_site[one.visit.site].append(one)
        rows: list[BoardRow] = []
        for site, visits in by_site.items():
            rows.append(SiteRow(words=site))
            rows += self._loads(site, visits)
            area = ""
            for machine in _machines(visits):
                if machine.area != area:
                    area = machine.area
                    rows.append(SiteRow(words=f"{site}, {area}" if area else site))
                rows.append(machine)
        return tuple(rows)

    def _loads(self, site: str, visits: Sequence[Planned]) -> list[LoadRow]:
        site_id = visits[0].visit.site_id
        mine = [one for one in self.crews if one.site == site_id and not one.retired]
        rows = [
            LoadRow(
                site=site,
                crew=crew.name,
                hours_per_day=crew.hours_per_day,
                days=_days(
                    [one for one in visits if one.visit.crew_id == crew.id],
                    _MINUTES * crew.hours_per_day,
                ),
            )
            for crew in mine
        ]
        known = {crew.id for crew in mine}
        rest = [one for one in visits if one.visit.crew_id not in known]
        if rest:
            rows.append(LoadRow(site=site, crew="", hours_per_day=None, days=_days(rest, None)))
        return rows

    @property
    def overfull(self) -> int:
        """How many crew days hold more work than hours."""
        return sum(
            load.is_overfull
            for row in self.rows
            if isinstance(row, LoadRow)
            for load in row.days.values()
        )

    def sites(self) -> dict[SiteId, str]:
        """The sites that have visits."""
        return {one.visit.site_id: one.visit.site for one in self._visits.values()}


def _proposal_key(visit: Visit) -> bytes:
    return b"".join((b"proposed ", visit.machine_id, *sorted(_boxes(visit))[:1]))


def _boxes(visit: Visit) -> frozenset[bytes]:
    return frozenset(box.compartment_id for box in visit.boxes)


def _place(one: Planned) -> tuple[str, str, str, date, bytes]:
    visit = one.visit
    return (visit.site, visit.area, visit.machine, visit.planned_on, one.key)


def _machines(visits: Sequence[Planned]) -> list[MachineRow]:
    """Visits as they come by area and machine."""
    rows: dict[bytes, list[Planned]] = defaultdict(list)
    for one in visits:
        rows[one.visit.machine_id].append(one)
    return [
        MachineRow(
            site=some[0].visit.site,
            area=some[0].visit.area,
            machine=some[0].visit.machine,
            machine_kind=some[0].visit.machine_kind,
            visits=tuple(some),
        )
        for some in rows.values()
    ]


def _days(visits: Sequence[Planned], minutes_there_are: float | None) -> dict[date, DayLoad]:
    used: dict[date, float] = defaultdict(float)
    for one in visits:
        if one.standing is not Standing.DONE:
            used[one.visit.planned_on] += one.minutes
    return {
        day: DayLoad(minutes=minutes, minutes_there_are=minutes_there_are)
        for day, minutes in used.items()
    }
