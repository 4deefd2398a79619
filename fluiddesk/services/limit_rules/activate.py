"""Put a draft in force from a day on: the set before is retired, the fleet is judged anew."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.limit_set import LimitSet, LimitSetState
from fluiddesk.services.limit_rules.check import known_names, problems_of
from fluiddesk.services.limit_rules.facts import Activated, RulesRefusedError
from fluiddesk.services.limit_rules.versions import add_draft, refuse_unless_draft
from fluiddesk.services.reassess.fleet import Reassessed, reassess_boxes
from fluiddesk.services.reassess.judging import Progress
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk


def activate(
    place: Workplace,
    number: int,
    *,
    valid_from: date,
    note: str,
    version: int,
    today: date,
    moment: datetime,
    progress: Progress | None = None,
) -> Activated:
    """Put a draft in force, retire what held, and judge the whole fleet, in one transaction.

    Samples drawn before ``valid_from`` are judged by the sets that held then; an assessment whose
    verdict stays the same is not written anew and keeps the number of the set that made it.

    Args:
        place: where to work; the desk user answers for the step.
        number: the draft.
        valid_from: the first day it holds. A past day judges the samples since then anew.
        note: why it takes force; stands with the set from then on.
        version: the version of the draft that was read.
        today: the day that off rows are measured against.
        moment: now.
        progress: told the samples judged so far.

    Raises:
        RulesRefusedError: naming every problem that stops the set.
        StaleEditError: when somebody else has changed the draft since.
        OperatorError: when the set is no draft, or without a name or note.
        CancelledError: when ``progress`` says to stop; nothing is changed then.
    """
    _refuse_nameless(place, note)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        draft = desk.limits.one(number)
        refuse_unless_draft(draft)
        _refuse_problems(desk, place, draft, today=today)
        retired = _retire(desk, valid_from=valid_from)
        held = replace(
            draft, state=LimitSetState.IN_FORCE, valid_from=valid_from, note=note.strip()
        )
        desk.limits.set_held(held, version=version)
        outcome = reassess_boxes(desk, place.catalogue, moment=moment, progress=progress)
    return _activated(held, retired, outcome)


def hold_earlier(
    place: Workplace,
    number: int,
    *,
    valid_from: date,
    note: str,
    today: date,
    moment: datetime,
    progress: Progress | None = None,
) -> Activated:
    """Let the set in force hold from an earlier day: samples drawn since then are judged anew.

    A set is never edited in force: a copy of it, with a number of its own, takes force from the
    earlier day and retires it. The verdicts made until now stay readable with their set.

    Args:
        place: where to work; the desk user answers for the step.
        number: the set in force.
        valid_from: the earlier day.
        note: why; stands with the copy from then on.
        today: the day that off rows are measured against.
        moment: now.
        progress: told the samples judged so far.

    Raises:
        OperatorError: when the set is not in force, the day is not earlier, or nobody or no reason
            is named.
        RulesRefusedError: naming every problem that stops the copy.
        CancelledError: when ``progress`` says to stop; nothing is changed then.
    """
    _refuse_nameless(place, note)
    with place.store.transaction(who=place.who, moment=moment) as desk:
        old = desk.limits.one(number)
        _refuse_unless_earlier(old, valid_from)
        copy = add_draft(desk, place, replace(old, note=note, based_on=number)).limit_set
        _refuse_problems(desk, place, copy, today=today)
        retired = _retire(desk, valid_from=valid_from)
        held = replace(copy, state=LimitSetState.IN_FORCE, valid_from=valid_from)
        desk.limits.set_held(held)
        outcome = reassess_boxes(desk, place.catalogue, moment=moment, progress=progress)
    return _activated(held, retired, outcome)


def _refuse_unless_earlier(held: LimitSet, valid_from: date) -> None:
    if held.state is not LimitSetState.IN_FORCE:
        raise OperatorError(
            f"Limit set {held.number} is {held.state.value.replace('_', ' ')}. Only a set in force "
            "can be made to hold from an earlier day."
        )
    if valid_from >= held.valid_from:
        raise OperatorError(
            f"Limit set {held.number} holds from {held.valid_from} already, which is not after "
            f"{valid_from}. Give an earlier day."
        )


def _activated(held: LimitSet, retired: tuple[int, ...], outcome: Reassessed) -> Activated:
    return Activated(
        number=held.number,
        valid_from=held.valid_from,
        retired=retired,
        samples=outcome.samples,
        changed=outcome.changed,
        moved=outcome.moved,
    )


def _refuse_nameless(place: Workplace, note: str) -> None:
    if not place.who.strip():
        raise OperatorError("A set takes force by a named person. Give your name at this desk.")
    if not note.strip():
        raise OperatorError("Why the set takes force is not said. Give a note.")


def _refuse_problems(desk: Desk, place: Workplace, draft: LimitSet, *, today: date) -> None:
    base = None if draft.based_on is None else desk.limits.one(draft.based_on)
    found = problems_of(draft, known_names(desk, place), today=today, base=base)
    stopping = tuple(one for one in found if one.stops)
    if stopping:
        raise RulesRefusedError(f"limit set {draft.number}", stopping)


def _retire(desk: Desk, *, valid_from: date) -> tuple[int, ...]:
    """End whatever would hold from the day on; the numbers of the sets retired."""
    ended = list(_ended(desk.limits.limit_sets(), valid_from))
    for one in ended:
        desk.limits.set_held(one)
    return tuple(one.number for one in ended)


def _ended(sets: Sequence[LimitSet], valid_from: date) -> list[LimitSet]:
    holding = [
        one
        for one in sets
        if one.state is not LimitSetState.DRAFT
        and (one.valid_until is None or one.valid_until > max(valid_from, one.valid_from))
    ]
    return [
        replace(one, state=LimitSetState.RETIRED, valid_until=max(valid_from, one.valid_from))
        for one in holding
    ]
