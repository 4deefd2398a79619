"""Whether a limit set may take force: every problem of every row, told at once."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitError, LimitSet, LimitSetState
from fluiddesk.domain.limits.settings import settings_of
from fluiddesk.services.limit_rules.differences import row_key, row_name
from fluiddesk.services.limit_rules.facts import Checked, RuleProblem
from fluiddesk.services.limit_rules.row_checks import (
    Complaint,
    Known,
    interval_complaints,
    limit_complaints,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk


def check(place: Workplace, number: int, *, today: date) -> Checked:
    """Check one limit set of any state; nothing stops one that holds or has held.

    Raises:
        NotFoundError: when there is none of this number.
    """
    with place.store.reading() as desk:
        own = desk.limits.one(number)
        base = None if own.based_on is None else desk.limits.one(own.based_on)
        known = known_names(desk, place)
    problems = problems_of(own, known, today=today, base=base)
    if own.state is not LimitSetState.DRAFT:
        problems = tuple(replace(one, stops=False) for one in problems)
    return Checked(number=number, name=own.name, problems=problems)


def known_names(desk: Desk, place: Workplace) -> Known:
    """The names that scopes may use, models and boxes as the register has them."""
    rows = desk.boxes.rows()
    return Known(
        catalogue=place.catalogue,
        models=frozenset(row[5] for row in rows),
        compartments=frozenset(row[1].hex() for row in rows),
    )


def problems_of(
    limit_set: LimitSet, known: Known, *, today: date, base: LimitSet | None = None
) -> tuple[RuleProblem, ...]:
    """Every problem of a set, those that stop it first, then by row.

    Args:
        limit_set: the set, or a draft as it is being typed.
        known: the names there are; ``Known(catalogue=...)`` looks up no models and boxes.
        today: the day that off rows are measured against.
        base: the set it is based on; what its unchanged rows get wrong by the method's precision
            stops nothing.
    """
    before = {row_key(one): one for one in base.limits} if base else {}
    found = [*_rows(limit_set, known, today, before), *_rivals(limit_set.limits)]
    found += _rivals(limit_set.intervals)
    found += _settings(limit_set)
    if not limit_set.limits:
        found.append(
            RuleProblem(
                place=-1,
                where="",
                told="The set holds no limits.",
                remedy="Add some, or copy a set that has them.",
            )
        )
    return tuple(sorted(found, key=_urgency))


def _urgency(problem: RuleProblem) -> tuple[bool, bool, bool, int]:
    """What stops comes first, what is accepted last; inside, by row."""
    return (not problem.stops, bool(problem.accepted), problem.is_interval, problem.place)


def _rows(
    limit_set: LimitSet, known: Known, today: date, before: Mapping[Hashable, Limit]
) -> Iterator[RuleProblem]:
    for place, limit in enumerate(limit_set.limits):
        told = limit_complaints(limit, known, today=today, was=before.get(row_key(limit)))
        yield from _problems(place, limit, told)
    for place, rule in enumerate(limit_set.intervals):
        yield from _problems(place, rule, interval_complaints(rule, known))


def _problems(
    place: int, row: Limit | IntervalRule, complaints: Iterable[Complaint]
) -> Iterator[RuleProblem]:
    for one in complaints:
        yield RuleProblem(
            place=place,
            where=row_name(row),
            told=one.told,
            remedy=one.remedy,
            stops=one.stops,
            accepted=one.accepted,
            is_interval=isinstance(row, IntervalRule),
        )


def _settings(limit_set: LimitSet) -> Iterator[RuleProblem]:
    """Settings that are not known or out of their span, each by itself."""
    for name, value in limit_set.settings.items():
        try:
            settings_of({name: value})
        except LimitError as fault:
            told, _, remedy = str(fault).partition(". ")
            yield RuleProblem(place=-1, where="settings", told=f"{told}.", remedy=remedy)


def _rivals(rows: Sequence[Limit | IntervalRule]) -> Iterator[RuleProblem]:
    """Rows of the same scope and key: only one of them can hold."""
    same: dict[Hashable, list[int]] = defaultdict(list)
    for place, row in enumerate(rows):
        same[row_key(row)].append(place)
    for places in same.values():
        for place in places[1:]:
            yield RuleProblem(
                place=place,
                where=row_name(rows[place]),
                told=f"row {places[0] + 1} says the same thing for the same scope.",
                remedy="Keep one of them.",
                is_interval=isinstance(rows[place], IntervalRule),
            )
