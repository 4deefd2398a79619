"""The crews' time: which crew goes where, and no more work in a day than it has hours."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.visits import share_out
from fluiddesk.services.visits.facts import CrewDay, Visit

Crews = Sequence[Mapping[str, Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A visit as a crew's time: on its day, and how far it may be moved from there."""

    crew_id: bytes | None
    day: date
    minutes: float
    first_day: date
    last_day: date
    is_fixed: bool = False


def work_of(visit: Visit, *, is_fixed: bool = False) -> Work:
    """The time of a visit."""
    return Work(
        crew_id=visit.crew_id,
        day=visit.planned_on,
        minutes=visit.minutes,
        first_day=visit.first_day,
        last_day=visit.last_day,
        is_fixed=is_fixed or visit.at_service,
    )


def levelled_days(
    work: Sequence[Work], crews: Crews, *, days_off: NDArray[np.int64]
) -> tuple[date, ...]:
    """The day of each piece of work, moved so that no crew has more in a day than its hours.

    Work without a crew stays on its day.
    """
    place = {one["id"]: at for at, one in enumerate(crews)}
    mine = [at for at, one in enumerate(work) if one.crew_id in place]
    answer = [one.day for one in work]
    if not mine:
        return tuple(answer)
    some = [work[at] for at in mine]
    days = share_out(
        crew=np.array([place[one.crew_id or b""] for one in some], dtype=np.int64),
        day=np.array([one.day.toordinal() for one in some], dtype=np.int64),
        first_day=np.array([one.first_day.toordinal() for one in some], dtype=np.int64),
        last_day=np.array([one.last_day.toordinal() for one in some], dtype=np.int64),
        minutes=np.array([one.minutes for one in some], dtype=np.float64),
        fixed=np.array([one.is_fixed for one in some], dtype=bool),
        crew_minutes=np.array([60.0 * one["hours_per_day"] for one in crews]),
        days_off=days_off,
    )
    for at, day in zip(mine, days.tolist(), strict=True):
        answer[at] = date.fromordinal(day)
    return tuple(answer)


def crews_for(visits: Sequence[Visit], crews: Crews) -> tuple[Mapping[str, Any] | None, ...]:
    """The crew of each visit: the crew that is the least full with it takes the next area.

    Machines without an area are shared out one by one.
    """

    def part(one: Visit) -> tuple[int, str]:
        return (int(one.site_id), f"area {one.area}" if one.area else f"machine {one.machine}")

    work: dict[tuple[int, str], float] = defaultdict(float)
    for one in visits:
        work[part(one)] += one.minutes
    load: dict[int, float] = dict.fromkeys(range(len(crews)), 0.0)
    owner: dict[tuple[int, str], Mapping[str, Any]] = {}
    for (site, name), minutes in sorted(work.items(), key=lambda one: (-one[1], one[0])):
        own = [place for place, crew in enumerate(crews) if crew["site_id"] == site]
        if own:
            hours = {one: max(float(crews[one]["hours_per_day"]), 1e-9) for one in own}
            idlest = min(own, key=lambda one: (load[one] + minutes) / hours[one])
            owner[(site, name)] = crews[idlest]
            load[idlest] += minutes
    return tuple(owner.get(part(one)) for one in visits)


def crew_days_of(work: Sequence[Work], crews: Crews) -> tuple[CrewDay, ...]:
    """How full each crew's days are, by crew and day."""
    known = {one["id"]: one for one in crews}
    used: dict[tuple[bytes, date], float] = defaultdict(float)
    for one in work:
        if one.crew_id is not None and one.crew_id in known:
            used[(one.crew_id, one.day)] += one.minutes
    days = [
        CrewDay(
            crew=known[crew]["name"],
            day=day,
            minutes=minutes,
            minutes_there_are=60.0 * known[crew]["hours_per_day"],
        )
        for (crew, day), minutes in used.items()
    ]
    return tuple(sorted(days, key=lambda one: (one.crew, one.day)))
