"""Visits made of the planner's columns: new ones, and bottles that join a kept visit."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.sampling.joining import JoinColumns
from fluiddesk.domain.sampling.visits import VisitColumns
from fluiddesk.domain.severity import Severity
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import BoxRow, FleetCondition
from fluiddesk.services.visits.facts import Visit, VisitBox, VisitState
from fluiddesk.services.visits.surroundings import KeptVisit, Surroundings
from fluiddesk.services.visits.working_order import (
    PointFacts,
    minutes_at,
    point_of,
    working_place,
)


@dataclass(frozen=True, slots=True)
class _Member:
    """A box of a proposal by its row in the fleet."""

    index: int
    is_pulled_in: bool


class Proposals:
    """Makes visits of boxes of a fleet that was read before."""

    def __init__(self, fleet: FleetCondition, around: Surroundings, catalogue: Catalogue) -> None:
        self._fleet, self._around, self._catalogue = fleet, around, catalogue
        self._rows = {row.compartment_id: row for row in fleet.rows}
        self._crews: Mapping[bytes, str] = {one["id"]: one["name"] for one in around.crews}

    def new_visits(self, rows: NDArray[np.intp], found: VisitColumns) -> list[Visit]:
        """The visits of a plan, in the order of its columns; ``rows`` are its boxes."""
        members: dict[int, list[_Member]] = defaultdict(list)
        for place in np.flatnonzero(found.visit >= 0).tolist():
            one = _Member(int(rows[place]), bool(found.is_pulled_in[place]))
            members[int(found.visit[place])].append(one)
        return [self._new(number, members[number], found) for number in range(len(found.day))]

    def joins(self, rows: NDArray[np.intp], found: JoinColumns) -> list[Visit]:
        """What joins each kept visit, as a visit of those boxes alone on its day."""
        members: dict[int, list[_Member]] = defaultdict(list)
        for place in np.flatnonzero(found.kept >= 0).tolist():
            one = _Member(int(rows[place]), bool(found.is_pulled_in[place]))
            members[int(found.kept[place])].append(one)
        return [self._join(self._around.kept[place], members[place]) for place in sorted(members)]

    def _new(self, number: int, members: Sequence[_Member], found: VisitColumns) -> Visit:
        day = date.fromordinal(int(found.day[number]))
        ordered = self._ordered(members)
        first = self._fleet.rows[ordered[0].index]
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
            boxes=self._boxes(ordered),
            minutes=self._minutes(ordered),
            at_service=bool(found.at_service[number]),
        )

    def _join(self, kept: KeptVisit, members: Sequence[_Member]) -> Visit:
        ordered = self._ordered(members)
        first = self._fleet.rows[ordered[0].index]
        boxes = tuple(replace(one, is_joining=True) for one in self._boxes(ordered))
        windows = [one.window for one in boxes if one.window is not None]
        opens = max((one[0] for one in windows), default=kept.planned_on)
        closes = min((one[1] for one in windows), default=kept.planned_on)
        return Visit(
            id=b"",
            site_id=kept.site_id,
            site=first.site,
            machine_id=MachineId(first.machine_id),
            machine=first.machine,
            machine_kind=first.machine_kind,
            area=self._around.areas.get(first.machine_id, ""),
            planned_on=kept.planned_on,
            first_day=min(opens, kept.planned_on),
            last_day=max(closes, kept.planned_on),
            state=VisitState.ISSUED if kept.is_issued else VisitState.PLANNED,
            boxes=boxes,
            minutes=self._extra_minutes(kept, ordered),
            crew_id=kept.crew_id,
            crew=self._crews.get(kept.crew_id or b"", ""),
            joins=kept.id,
        )

    def _ordered(self, members: Sequence[_Member]) -> list[_Member]:
        """Some boxes of one machine in working order."""
        return sorted(members, key=lambda one: self._key(self._fleet.rows[one.index]))

    def _key(self, row: BoxRow) -> tuple[int, int, str]:
        return (*working_place(row.kind, self._point(row), self._catalogue), row.position)

    def _point(self, row: BoxRow) -> PointFacts:
        return point_of(row.compartment_id, row.kind, self._around.points, self._catalogue)

    def _minutes(self, members: Sequence[_Member]) -> float:
        return minutes_at([self._point(self._fleet.rows[one.index]) for one in members])

    def _extra_minutes(self, kept: KeptVisit, members: Sequence[_Member]) -> float:
        """What boxes add to a visit: their points, and the warm-up if it had none to do."""
        known = [self._rows[box] for box in kept.boxes if box in self._rows]
        before = [self._point(row) for row in known]
        points = [self._point(self._fleet.rows[one.index]) for one in members]
        return minutes_at([*before, *points]) - minutes_at(before)

    def _boxes(self, members: Sequence[_Member]) -> tuple[VisitBox, ...]:
        return tuple(self._box(one, place) for place, one in enumerate(members, start=1))

    def _box(self, one: _Member, place: int) -> VisitBox:
        row, due = self._fleet.rows[one.index], self._fleet.due
        has_day = int(due.due_on[one.index]) != NEVER
        return VisitBox(
            id=b"",
            compartment_id=CompartmentId(row.compartment_id),
            compartment=self._catalogue.box_name(row.kind, row.position),
            kind=row.kind,
            place=place,
            reason=SampleReason.ROUTINE,
            fluid=row.fluid_code,
            due_on=date.fromordinal(int(due.due_on[one.index])) if has_day else None,
            window=(
                date.fromordinal(int(due.window_from[one.index])),
                date.fromordinal(int(due.window_to[one.index])),
            )
            if has_day
            else None,
            state=DueState(int(due.state[one.index])),
            severity=Severity(int(self._fleet.severity[one.index])),
            point_kind=self._point(row).kind,
            is_pulled_in=one.is_pulled_in,
            before_change=self._fleet.before_change(one.index),
        )
