"""What is due made into the fewest visits, shared out over the crews' days; nothing is saved."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.sampling.visits import DayWishes, VisitColumns, plan_visits, share_out
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition, fleet_condition
from fluiddesk.services.visits.facts import CrewDay, Visit, VisitBox, VisitPlan, VisitState
from fluiddesk.services.visits.working_order import (
    PointFacts,
    default_points,
    minutes_at,
    working_place,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKind

USUAL_DAYS: Final = 14
_SUNDAY: Final = 6
_SATURDAY: Final = 5
_PLANNED: Final = (DueState.DUE, DueState.OVERDUE, DueState.NEVER_SAMPLED, DueState.NOT_YET)
_FUEL: Final = "fuel"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWishes:
    """How the planner wants the visits laid.

    Attributes:
        days: how far ahead the plan reaches.
        sites: only these; all where empty.
        works_weekends: whether samples are drawn on Saturdays and Sundays.
    """

    days: int = USUAL_DAYS
    sites: frozenset[SiteId] = frozenset()
    works_weekends: bool = False


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a plan takes from the register beside the boxes themselves."""

    points: Mapping[bytes, PointFacts]
    areas: Mapping[bytes, str]
    crews: Sequence[Mapping[str, Any]]
    services: Sequence[Mapping[str, Any]]
    on_visits: Collection[bytes]


def surroundings(desk: Desk) -> Surroundings:
    """Read sampling points, areas, crews, service days and what is on open visits already."""
    visits = {
        (row["site_id"], row["id"])
        for row in desk.register.all(RecordKind.VISIT)
        if row["state"] in (VisitState.PLANNED, VisitState.ISSUED)
    }
    return Surroundings(
        default_points(desk.register.all(RecordKind.POINT)),
        {row["id"]: row["area"] for row in desk.register.all(RecordKind.MACHINE)},
        [row for row in desk.register.all(RecordKind.CREW) if not row["retired"]],
        [row for row in desk.register.all(RecordKind.SERVICE_DATE) if not row["dropped"]],
        frozenset(
            row["compartment_id"]
            for row in desk.register.all(RecordKind.VISIT_BOX)
            if row["outcome"] == "open" and (row["site_id"], row["visit_id"]) in visits
        ),
    )


def propose_visits(place: Workplace, *, today: date, wishes: PlanWishes | None = None) -> VisitPlan:
    """Propose the fewest visits that meet every window that closes in the days ahead.

    Boxes that are on an open visit, wait for the laboratory's answer inside their interval, or
    owe no sample are left out. What is overdue or was never sampled is planned for the first
    working day.
    """
    wanted = wishes or PlanWishes()
    fleet = fleet_condition(place, today=today)
    with place.store.reading() as desk:
        around = surroundings(desk)
    return plan_of(fleet, around, place.catalogue, wishes=wanted)


def plan_of(
    fleet: FleetCondition, around: Surroundings, catalogue: Catalogue, *, wishes: PlanWishes
) -> VisitPlan:
    """The plan for a fleet that was read before."""
    until = fleet.today + timedelta(days=wishes.days)
    rows = _planned_rows(fleet, around, catalogue, wishes)
    columns = _windows(fleet, rows, until=until)
    days_off = _days_off(fleet.today, until, works_weekends=wishes.works_weekends)
    found = plan_visits(
        **columns,
        today=fleet.today.toordinal(),
        until=until.toordinal(),
        wishes=_wishes(fleet, around, days_off),
    )
    made = _Maker(fleet, around, catalogue, rows, found)
    visits, crew_days = _shared_out(made.visits(), around, days_off)
    ordered = sorted(visits, key=lambda one: (one.site, one.planned_on, one.area, one.machine))
    return VisitPlan(
        today=fleet.today, until=until, visits=tuple(ordered), crew_days=tuple(crew_days)
    )


def _planned_rows(
    fleet: FleetCondition, around: Surroundings, catalogue: Catalogue, wishes: PlanWishes
) -> NDArray[np.intp]:
    kinds = catalogue.compartment_kinds
    owes = np.isin(fleet.due.state, [int(one) for one in _PLANNED])
    ours = np.fromiter(
        (
            (not wishes.sites or row.site_id in wishes.sites)
            and row.compartment_id not in around.on_visits
            and not (row.kind in kinds and kinds[row.kind].group == _FUEL)
            for row in fleet.rows
        ),
        dtype=bool,
        count=len(fleet.rows),
    )
    never_but_drawn = (fleet.due.state == DueState.NEVER_SAMPLED) & fleet.is_awaited
    return np.flatnonzero(owes & ours & ~never_but_drawn)


def _windows(
    fleet: FleetCondition, rows: NDArray[np.intp], *, until: date
) -> dict[str, NDArray[np.int64]]:
    """Windows as the planner takes them: what was never sampled is due now, as is what is late."""
    due = fleet.due
    today, last = fleet.today.toordinal(), until.toordinal()
    has_day = due.due_on[rows] != NEVER
    never = due.state[rows] == DueState.NEVER_SAMPLED
    late = due.state[rows] == DueState.OVERDUE
    beyond = last + 1
    opens = np.where(has_day, due.window_from[rows], beyond).astype(np.int64)
    closes = np.where(has_day, due.window_to[rows], beyond).astype(np.int64)
    point = np.where(has_day, due.due_on[rows], beyond).astype(np.int64)
    opens = np.where(never | late, today, opens)
    # A few days of room, so that a Sunday or a service day can be met.
    closes = np.where(never | late, np.minimum(today + 3, last), closes)
    point = np.where(never | late, today, point)
    return {
        "machine": fleet.machine[rows].astype(np.int64),
        "opens": opens,
        "due": np.clip(point, opens, np.maximum(closes, opens)),
        "closes": np.maximum(closes, opens),
    }


def _days_off(today: date, until: date, *, works_weekends: bool) -> NDArray[np.int64]:
    if works_weekends:
        return np.empty(0, dtype=np.int64)
    # A visit may lie after the end of the plan only by its window; a few weeks suffice.
    span = (until - today).days + 60
    days = [today + timedelta(days=one) for one in range(span)]
    off = [day.toordinal() for day in days if day.weekday() in (_SATURDAY, _SUNDAY)]
    return np.array(off, dtype=np.int64)


def _wishes(fleet: FleetCondition, around: Surroundings, days_off: NDArray[np.int64]) -> DayWishes:
    number = {
        row.machine_id: int(machine)
        for row, machine in zip(fleet.rows, fleet.machine.tolist(), strict=True)
    }
    known = [row for row in around.services if row["machine_id"] in number]
    return DayWishes(
        service_machine=np.array([number[one["machine_id"]] for one in known], dtype=np.int64),
        service_day=np.array([one["planned_on"].toordinal() for one in known], dtype=np.int64),
        days_off=days_off,
    )


class _Maker:
    """Makes visits of the planner's columns."""

    def __init__(
        self,
        fleet: FleetCondition,
        around: Surroundings,
        catalogue: Catalogue,
        rows: NDArray[np.intp],
        found: VisitColumns,
    ) -> None:
        self._fleet, self._around, self._catalogue = fleet, around, catalogue
        self._rows, self._found = rows, found

    def visits(self) -> list[Visit]:
        """The visits as facts, in the order of the columns."""
        members: dict[int, list[int]] = defaultdict(list)
        for place in np.flatnonzero(self._found.visit >= 0).tolist():
            members[int(self._found.visit[place])].append(place)
        return [self._visit(number, members[number]) for number in range(len(self._found.day))]

    def _visit(self, number: int, places: list[int]) -> Visit:
        found, rows = self._found, self._fleet.rows
        first = rows[int(self._rows[places[0]])]
        ordered = sorted(places, key=lambda one: self._key(rows[int(self._rows[one])]))
        boxes = tuple(self._box(one, place) for place, one in enumerate(ordered, start=1))
        points = [self._point(rows[int(self._rows[one])]) for one in ordered]
        day = date.fromordinal(int(found.day[number]))
        return Visit(
            id=b"",
            site_id=SiteId(first.site_id),
            site=first.site,
            machine_id=MachineId(first.machine_id),
            machine=first.machine,
            machine_kind=first.machine_kind,
            area=self._around.areas.get(first.machine_id, ""),
            planned_on=day,
            first_day=min(day, date.fromordinal(int(found.first_day[number]))),
            last_day=max(day, date.fromordinal(int(found.last_day[number]))),
            state=VisitState.PLANNED,
            boxes=boxes,
            minutes=minutes_at(points),
            at_service=bool(found.at_service[number]),
        )

    def _point(self, row: BoxRow) -> PointFacts:
        return point_of(row.compartment_id, row.kind, self._around.points, self._catalogue)

    def _key(self, row: BoxRow) -> tuple[int, int, str]:
        return (*working_place(row.kind, self._point(row), self._catalogue), row.position)

    def _box(self, place: int, number: int) -> VisitBox:
        index = int(self._rows[place])
        row, due = self._fleet.rows[index], self._fleet.due
        has_day = int(due.due_on[index]) != NEVER
        return VisitBox(
            id=b"",
            compartment_id=CompartmentId(row.compartment_id),
            compartment=self._catalogue.box_name(row.kind, row.position),
            kind=row.kind,
            place=number,
            reason=SampleReason.ROUTINE,
            fluid=row.fluid_code,
            due_on=date.fromordinal(int(due.due_on[index])) if has_day else None,
            window=(
                date.fromordinal(int(due.window_from[index])),
                date.fromordinal(int(due.window_to[index])),
            )
            if has_day
            else None,
            state=DueState(int(due.state[index])),
            severity=Severity(int(self._fleet.severity[index])),
            point_kind=self._point(row).kind,
            is_pulled_in=bool(self._found.is_pulled_in[place]),
        )


def point_of(
    compartment: bytes, kind: str, points: Mapping[bytes, PointFacts], catalogue: Catalogue
) -> PointFacts:
    """The box's own sampling point, else the one usual for its kind."""
    if compartment in points:
        return points[compartment]
    known = catalogue.compartment_kinds.get(kind)
    usual = known.sampling_point if known else ""
    is_live = usual in ("live valve", "line probe")
    return PointFacts(kind=usual, run_state="running_idle" if is_live else "shut_down")


def _shared_out(
    visits: Sequence[Visit], around: Surroundings, days_off: NDArray[np.int64]
) -> tuple[list[Visit], list[CrewDay]]:
    """Give each visit to its site's crew with the least to do, and level the crews' days."""
    crews = list(around.crews)
    if not crews or not visits:
        return list(visits), []
    chosen = _crews_of(visits, crews)
    has_crew = np.flatnonzero(chosen >= 0)
    mine = [visits[index] for index in has_crew.tolist()]
    days = share_out(
        crew=chosen[has_crew],
        day=np.array([one.planned_on.toordinal() for one in mine], dtype=np.int64),
        first_day=np.array([one.first_day.toordinal() for one in mine], dtype=np.int64),
        last_day=np.array([one.last_day.toordinal() for one in mine], dtype=np.int64),
        minutes=np.array([one.minutes for one in mine]),
        fixed=np.array([one.at_service for one in mine], dtype=bool),
        crew_minutes=np.array([60.0 * one["hours_per_day"] for one in crews]),
        days_off=days_off,
    )
    answer = list(visits)
    for index, day in zip(has_crew.tolist(), days.tolist(), strict=True):
        crew = crews[int(chosen[index])]
        answer[index] = replace(
            visits[index],
            planned_on=date.fromordinal(day),
            crew_id=crew["id"],
            crew=crew["name"],
        )
    return answer, crew_days_of(answer, {one["id"]: one for one in crews})


def _crews_of(visits: Sequence[Visit], crews: Sequence[Mapping[str, Any]]) -> NDArray[np.int64]:
    """The crew of each visit: one area of a site stays with one crew, the idlest takes the next."""
    work: dict[tuple[int, str], float] = defaultdict(float)
    for one in visits:
        work[(int(one.site_id), one.area)] += one.minutes
    load: dict[int, float] = dict.fromkeys(range(len(crews)), 0.0)
    owner: dict[tuple[int, str], int] = {}
    for (site, area), minutes in sorted(work.items(), key=lambda one: (-one[1], one[0])):
        own = [place for place, crew in enumerate(crews) if crew["site_id"] == site]
        if own:
            idlest = min(own, key=lambda one: load[one] / max(crews[one]["hours_per_day"], 1e-9))
            owner[(site, area)] = idlest
            load[idlest] += minutes
    return np.array([owner.get((int(one.site_id), one.area), -1) for one in visits], dtype=np.int64)


def crew_days_of(
    visits: Sequence[Visit], crews: Mapping[bytes, Mapping[str, Any]]
) -> list[CrewDay]:
    """How full each crew's days are, by crew and day."""
    used: dict[tuple[bytes, date], float] = defaultdict(float)
    for one in visits:
        if one.crew_id is not None:
            used[(one.crew_id, one.planned_on)] += one.minutes
    days = [
        CrewDay(
            crew=crews[crew]["name"],
            day=day,
            minutes=minutes,
            minutes_there_are=60.0 * crews[crew]["hours_per_day"],
        )
        for (crew, day), minutes in used.items()
        if crew in crews
    ]
    return sorted(days, key=lambda one: (one.crew, one.day))
