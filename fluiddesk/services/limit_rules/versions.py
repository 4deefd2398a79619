"""Limit sets from Draft to In force to Retired: listed, drafted, edited, compared, discarded."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from fluiddesk import __version__
from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.limits.limit_set import LimitSet, LimitSetState, set_in_force
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules.differences import differences, row_value
from fluiddesk.services.limit_rules.editing import edited
from fluiddesk.services.limit_rules.facts import (
    DraftFacts,
    Edited,
    RowChange,
    RowEdit,
    SetFacts,
)
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk

LIMITS_CHANGED = Changes(subjects=frozenset({Subject.LIMITS}))
"""What screens read again after a draft was made, edited or discarded."""


def limit_sets(place: Workplace, *, today: date) -> tuple[SetFacts, ...]:
    """Every limit set, newest first."""
    with place.store.reading() as desk:
        sets, versions = desk.limits.limit_sets(), desk.limits.versions()
    held = set_in_force(sets, today)
    return tuple(
        _facts(one, version=versions[one.number], holds=held is not None and held == one)
        for one in reversed(sets)
    )


def _facts(limit_set: LimitSet, *, version: int, holds: bool) -> SetFacts:
    return SetFacts(
        number=limit_set.number,
        name=limit_set.name,
        state=limit_set.state,
        valid_from=limit_set.valid_from,
        valid_until=limit_set.valid_until,
        author=limit_set.author,
        note=limit_set.note,
        based_on=limit_set.based_on,
        limits=len(limit_set.limits),
        intervals=len(limit_set.intervals),
        version=version,
        holds_today=holds,
        is_discarded=is_discarded(limit_set),
    )


def is_discarded(limit_set: LimitSet) -> bool:
    """Whether a set is a draft that was put away: it ends before it begins, so it never holds."""
    return limit_set.valid_until is not None and limit_set.valid_until < limit_set.valid_from


def set_held(place: Workplace, *, today: date) -> int:
    """The number of the set in force.

    Raises:
        NotFoundError: when none is.
    """
    with place.store.reading() as desk:
        held = set_in_force(desk.limits.limit_sets(), today)
    if held is None:
        raise NotFoundError(f"No limit set is in force on {today}. Put a limit set in force first.")
    return held.number


def read_set(place: Workplace, number: int) -> DraftFacts:
    """One limit set with its version, and how it differs from the set it is based on.

    Raises:
        NotFoundError: when there is none of this number.
    """
    with place.store.reading() as desk:
        return _read(desk, place, number)


def _read(desk: Desk, place: Workplace, number: int) -> DraftFacts:
    own = desk.limits.one(number)
    before = None if own.based_on is None else desk.limits.one(own.based_on)
    changes = () if before is None else differences(before, own, place.catalogue)
    return DraftFacts(limit_set=own, version=desk.limits.version(number), changes=changes)


def draft_from(
    place: Workplace, number: int, *, name: str, note: str, moment: datetime
) -> DraftFacts:
    """Copy a limit set of any state into a new draft.

    Args:
        place: where to work; the desk user becomes the draft's author.
        number: the set to begin with.
        name: what the draft is called.
        note: what it is for.
        moment: now.

    Raises:
        OperatorError: without a name of the author or of the draft.
        NotFoundError: when there is no such set.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        old = desk.limits.one(number)
        return add_draft(desk, place, replace(old, name=name, note=note, based_on=number))


def add_draft(desk: Desk, place: Workplace, limit_set: LimitSet) -> DraftFacts:
    """Save a set as a new draft of the desk user, within a transaction that is open."""
    author = _named_author(place)
    if not limit_set.name.strip():
        raise OperatorError("The draft has no name. Give it one that says what it is for.")
    made = replace(
        limit_set,
        number=max((one.number for one in desk.limits.limit_sets()), default=0) + 1,
        name=limit_set.name.strip(),
        note=limit_set.note.strip(),
        state=LimitSetState.DRAFT,
        valid_from=desk.moment.date(),
        valid_until=None,
        author=author,
    )
    desk.limits.save(made, program=__version__)
    return _read(desk, place, made.number)


def _named_author(place: Workplace) -> str:
    if not place.who.strip():
        raise OperatorError(
            "A draft needs a named author. Give your name at this desk, then draft again."
        )
    return place.who.strip()


def refuse_unless_draft(limit_set: LimitSet) -> None:
    """Refuse to change a set that holds or has held.

    Raises:
        OperatorError: naming the set, its state and the way on.
    """
    if limit_set.state is not LimitSetState.DRAFT:
        raise OperatorError(
            f"Limit set {limit_set.number} is {limit_set.state.value.replace('_', ' ')} and is not "
            "edited any more. Copy it into a new draft."
        )


def edit_draft(
    place: Workplace,
    number: int,
    edits: Sequence[RowEdit],
    *,
    version: int,
    moment: datetime,
) -> Edited:
    """Change rows of a draft, all or none; each edit stands in the audit trail.

    Args:
        place: where to work.
        number: the draft.
        edits: what to do, one after the other; places count in the draft as it stands by then.
        version: the version that was read.
        moment: now.

    Raises:
        StaleEditError: when somebody else has changed the draft since.
        OperatorError: when the set is no draft, or an edit names a row that is not there.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        _named_author(place)
        old = desk.limits.one(number)
        refuse_unless_draft(old)
        new, undo = edited(old, edits)
        desk.limits.save(new, program=__version__, version=version)
        for change in differences(old, new, place.catalogue):
            before, after = row_value(change.before), row_value(change.after)
            if change.setting is not None:
                before, after = ({change.setting[0]: figure} for figure in change.setting[1:])
            desk.limits.note_row(number, change.told, before, after)
        return Edited(draft=_read(desk, place, number), undo=undo)


def rename_draft(
    place: Workplace, number: int, *, name: str, note: str, version: int, moment: datetime
) -> DraftFacts:
    """Give a draft another name and note.

    Raises:
        StaleEditError: when somebody else has changed the draft since.
        OperatorError: when the set is no draft, or without a name.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        old = desk.limits.one(number)
        refuse_unless_draft(old)
        if not name.strip():
            raise OperatorError("The draft has no name. Give it one that says what it is for.")
        new = replace(old, name=name.strip(), note=note.strip())
        desk.limits.save(new, program=__version__, version=version)
        desk.limits.note_row(number, "name and note", [old.name, old.note], [new.name, new.note])
        return _read(desk, place, number)


def discard_draft(place: Workplace, number: int, *, version: int, moment: datetime) -> Changes:
    """Put a draft away. It stays readable in the history and never takes force.

    Raises:
        StaleEditError: when somebody else has changed the draft since.
        OperatorError: when the set is no draft.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        old = desk.limits.one(number)
        refuse_unless_draft(old)
        gone = replace(
            old, state=LimitSetState.RETIRED, valid_until=old.valid_from - timedelta(days=1)
        )
        desk.limits.set_held(gone, version=version)
    return LIMITS_CHANGED


def compare(place: Workplace, first: int, second: int) -> tuple[RowChange, ...]:
    """How the second set differs from the first, row by row.

    Raises:
        NotFoundError: when one of them is not there.
    """
    with place.store.reading() as desk:
        old, new = desk.limits.one(first), desk.limits.one(second)
    return differences(old, new, place.catalogue)
