"""What is due made into the fewest visits, shared out over the crews' days; nothing is saved."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import SiteId
from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.domain.sampling.joining import join_kept_visits
from fluiddesk.domain.sampling.visits import DayWishes, plan_visits
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.due_bands import DueBands, due_bands, early_edge
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.visits.crew_time import crew_days_of, crews_for, levelled_days, work_of
from fluiddesk.services.visits.facts import CrewDay, LeftBehind, Visit, VisitPlan
from fluiddesk.services.visits.proposals import Proposals
from fluiddesk.services.visits.surroundings import Surroundings, surroundings
from fluiddesk.services.workplace import Workplace

USUAL_DAYS: Final = 14
_SUNDAY: Final = 6
_SATURDAY: Final = 5
_PLANNED: Final = (DueState.DUE, DueState.OVERDUE, DueState.NEVER_SAMPLED, DueState.NOT_YET)
_FUEL: Final = "fuel"
_NOT_HERE: Final = -1
"""The number of a machine that is not in the fleet's view."""


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


def propose_visits(place: Workplace, *, today: date, wishes: PlanWishes | None = None) -> VisitPlan:
    """Propose the fewest visits that meet every window that closes in the days ahead.

    A box that a kept visit to its machine can take along joins that visit; only the rest make new
    ones. Boxes that are on an open visit, wait for the laboratory's answer inside their interval,
    or owe no sample are left out. What is overdue or was never sampled is planned for the first
    working day. Critical boxes are planned on the early edge of the band of their due day. Kept
    visits whose day has passed are told as left behind.
    """
    wanted = wishes or PlanWishes()
    fleet = fleet_condition(place, today=today)
    with place.store.reading() as desk:
        around = surroundings(desk)
    bands = due_bands(place, fleet)
    return plan_of(fleet, around, place.catalogue, wishes=wanted, bands=bands)


def plan_of(
    fleet: FleetCondition,
    around: Surroundings,
    catalogue: Catalogue,
    *,
    wishes: PlanWishes,
    bands: DueBands | None = None,
) -> VisitPlan:
    """The plan for a fleet that was read before; without ``bands`` no box is planned early."""
    until = fleet.today + timedelta(days=wishes.days)
    rows = _planned_rows(fleet, around, catalogue, wishes)
    columns = _windows(fleet, rows, until=until, bands=bands)
    days_off = days_off_from(fleet.today, until, works_weekends=wishes.works_weekends)
    number = _machine_numbers(fleet)
    kept_machines = [number.get(one.machine_id, _NOT_HERE) for one in around.kept]
    joined = join_kept_visits(
        machine=columns["machine"],
        opens=columns["opens"],
        due=columns["due"],
        closes=columns["closes"],
        kept_machine=np.array(kept_machines, dtype=np.int64),
        kept_day=np.array([one.planned_on.toordinal() for one in around.kept], dtype=np.int64),
        today=fleet.today.toordinal(),
    )
    left = joined.kept < 0
    found = plan_visits(
        **{name: column[left] for name, column in columns.items()},
        today=fleet.today.toordinal(),
        until=until.toordinal(),
        wishes=_wishes(fleet, around, days_off),
    )
    made = Proposals(fleet, around, catalogue)
    joins = made.joins(rows, joined)
    new = made.new_visits(rows[left], found)
    visits, crew_days = _shared_out(new, joins, around, today=fleet.today, days_off=days_off)
    ordered = sorted(
        [*joins, *visits], key=lambda one: (one.site, one.planned_on, one.area, one.machine)
    )
    return VisitPlan(
        today=fleet.today,
        until=until,
        visits=tuple(ordered),
        crew_days=crew_days,
        left_behind=_left_behind(fleet, around, wishes),
    )


def _machine_numbers(fleet: FleetCondition) -> dict[bytes, int]:
    return {
        row.machine_id: int(machine)
        for row, machine in zip(fleet.rows, fleet.machine.tolist(), strict=True)
    }


def _left_behind(
    fleet: FleetCondition, around: Surroundings, wishes: PlanWishes
) -> tuple[LeftBehind, ...]:
    """Kept visits whose day has passed and that nobody recorded."""
    machines = {row.machine_id: row for row in fleet.rows}
    return tuple(
        LeftBehind(
            id=one.id,
            site=machines[one.machine_id].site,
            machine=machines[one.machine_id].machine,
            planned_on=one.planned_on,
            bottles=len(one.boxes),
            is_issued=one.is_issued,
        )
        for one in around.kept
        if one.planned_on < fleet.today
        and one.machine_id in machines
        and (not wishes.sites or one.site_id in wishes.sites)
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
    fleet: FleetCondition, rows: NDArray[np.intp], *, until: date, bands: DueBands | None
) -> dict[str, NDArray[np.int64]]:
    """Windows as the planner takes them: what was never sampled is due now, as is what is late.

    The window of a critical box ends as much sooner as its due day may come sooner.
    """
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
    if bands is not None:
        early = early_edge(fleet, bands)[rows].astype(np.int64)
        closes = np.where(early > 0, closes - (point - early), closes)
        point = np.where(early > 0, early, point)
    return {
        "machine": fleet.machine[rows].astype(np.int64),
        "opens": opens,
        "due": np.clip(point, opens, np.maximum(closes, opens)),
        "closes": np.maximum(closes, opens),
    }


def days_off_from(today: date, until: date, *, works_weekends: bool) -> NDArray[np.int64]:
    """The days of a plan on which nobody samples, as ordinals."""
    if works_weekends:
        return np.empty(0, dtype=np.int64)
    # A visit may lie after the end of the plan only by its window; a few weeks suffice.
    span = (until - today).days + 60
    days = [today + timedelta(days=one) for one in range(span)]
    off = [day.toordinal() for day in days if day.weekday() in (_SATURDAY, _SUNDAY)]
    return np.array(off, dtype=np.int64)


def _wishes(fleet: FleetCondition, around: Surroundings, days_off: NDArray[np.int64]) -> DayWishes:
    number = _machine_numbers(fleet)
    known = [row for row in around.services if row["machine_id"] in number]
    return DayWishes(
        service_machine=np.array([number[one["machine_id"]] for one in known], dtype=np.int64),
        service_day=np.array([one["planned_on"].toordinal() for one in known], dtype=np.int64),
        days_off=days_off,
    )


def _shared_out(
    visits: Sequence[Visit],
    joins: Sequence[Visit],
    around: Surroundings,
    *,
    today: date,
    days_off: NDArray[np.int64],
) -> tuple[list[Visit], tuple[CrewDay, ...]]:
    """Give each visit to its site's crew with the least to do, and level the crews' days.

    What is kept, and what joins it, stays on its day and takes its time of the crew's.
    """
    crewed = [
        visit if crew is None else replace(visit, crew_id=crew["id"], crew=crew["name"])
        for visit, crew in zip(visits, crews_for(visits, around.crews), strict=True)
    ]
    standing = [one.work for one in around.kept if one.planned_on >= today]
    standing += [work_of(one, is_fixed=True) for one in joins]
    work = [*standing, *map(work_of, crewed)]
    days = levelled_days(work, around.crews, days_off=days_off)
    answer = [
        replace(visit, planned_on=day)
        for visit, day in zip(crewed, days[len(standing) :], strict=True)
    ]
    return answer, crew_days_of([*standing, *map(work_of, answer)], around.crews)
