"""Kept visits whose day has passed undone: moved to the next days the crews have time for."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.changes import Changes
from fluiddesk.services.register.saving import write_record
from fluiddesk.services.visits.book import CHANGED, visit_name, visit_row
from fluiddesk.services.visits.crew_time import Work, levelled_days
from fluiddesk.services.visits.plan import days_off_from
from fluiddesk.services.visits.surroundings import KeptVisit, kept_visits
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

DAYS_OF_ROOM: Final = 7
"""How far ahead a crew's free day is looked for (own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedVisit:
    """A visit that was left behind, from one day to another."""

    id: bytes
    machine: str
    before: date
    after: date
    is_issued: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedOn:
    """The visits that were moved on."""

    visits: tuple[MovedVisit, ...]
    changes: Changes = CHANGED


def move_left_behind(
    place: Workplace,
    *,
    today: date,
    moment: datetime,
    ids: Collection[bytes] | None = None,
    works_weekends: bool = False,
) -> MovedOn:
    """Move visits that were left behind to the next working days; their bottles go along.

    Each goes to the first working day on which its crew has time for it, the oldest first; where
    there is none within a week it goes to the first working day, which is overfull then.

    Args:
        place: where, and who moves them.
        today: no visit is moved to a day before it.
        moment: when.
        ids: these alone; every visit that was left behind where ``None``.
        works_weekends: whether samples are drawn on Saturdays and Sundays.

    Raises:
        OperatorError: when no such visit was left behind.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        kept = kept_visits(desk)
        late = [one for one in kept if one.planned_on < today and (ids is None or one.id in ids)]
        if not late:
            raise OperatorError(
                "No kept visit lies in the past, so none was moved. Read the plan again."
            )
        days = _next_days(desk, late, kept, today=today, works_weekends=works_weekends)
        moved = tuple(_move(desk, one, day) for one, day in zip(late, days, strict=True))
    return MovedOn(visits=moved)


def _next_days(
    desk: Desk,
    late: list[KeptVisit],
    kept: Collection[KeptVisit],
    *,
    today: date,
    works_weekends: bool,
) -> tuple[date, ...]:
    off = days_off_from(today, today, works_weekends=works_weekends)
    closed = frozenset(off.tolist())
    to_come = (today + timedelta(days=one) for one in range(DAYS_OF_ROOM))
    first = next((one for one in to_come if one.toordinal() not in closed), today)
    last = today + timedelta(days=DAYS_OF_ROOM)
    standing = [one.work for one in kept if one.planned_on >= today]
    wanted = [
        Work(crew_id=one.crew_id, day=first, minutes=one.minutes, first_day=first, last_day=last)
        for one in late
    ]
    crews = [row for row in desk.register.all(RecordKind.CREW) if not row["retired"]]
    return levelled_days([*standing, *wanted], crews, days_off=off)[len(standing) :]


def _move(desk: Desk, one: KeptVisit, to: date) -> MovedVisit:
    row = visit_row(desk, one.id)
    name = visit_name(desk, row)
    key = RecordKey(RecordKind.VISIT, one.site_id, one.id)
    write_record(desk, key, {"planned_on": to}, version=row["version"], name=name)
    machine = RecordKey(RecordKind.MACHINE, one.site_id, one.machine_id)
    return MovedVisit(
        id=one.id,
        machine=desk.register.row(machine, name="machine")["code"],
        before=one.planned_on,
        after=to,
        is_issued=one.is_issued,
    )
