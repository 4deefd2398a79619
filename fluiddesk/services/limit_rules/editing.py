"""Edits of a draft's rows, each with the edit that takes it back."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit

_Row = TypeVar("_Row", Limit, IntervalRule)


def edited(limit_set: LimitSet, edits: Sequence[RowEdit]) -> tuple[LimitSet, tuple[RowEdit, ...]]:
    """Apply edits one after the other.

    Returns:
        The set with its new rows, and the edits that lead back to the old ones.

    Raises:
        OperatorError: when an edit names a row that is not there, or says nothing to put there.
    """
    limits, intervals = list(limit_set.limits), list(limit_set.intervals)
    back: list[RowEdit] = []
    settings = limit_set.settings
    for edit in edits:
        if edit.settings is not None:
            back.append(RowEdit(kind=EditKind.CHANGE, settings=settings))
            settings = edit.settings
        elif edit.is_interval or edit.interval is not None:
            place, old = _apply(intervals, edit, edit.interval)
            back.append(_inverse(edit, place, interval=old))
        else:
            place, found = _apply(limits, edit, edit.limit)
            back.append(_inverse(edit, place, limit=found))
    new = replace(limit_set, limits=tuple(limits), intervals=tuple(intervals), settings=settings)
    return new, tuple(reversed(back))


def _apply(rows: list[_Row], edit: RowEdit, row: _Row | None) -> tuple[int, _Row | None]:
    """Do one edit; the place it was done at and the row that stood there."""
    place = len(rows) if edit.place is None else edit.place
    last = len(rows) if edit.kind is EditKind.ADD else len(rows) - 1
    if not 0 <= place <= last:
        raise OperatorError(
            f"There is no row {place + 1} in the draft, which has {len(rows)} rows. "
            "Look at it again and repeat your change."
        )
    if edit.kind is EditKind.REMOVE:
        return place, rows.pop(place)
    if row is None:
        raise OperatorError(f"Row {place + 1} is to be written, but no row is given. Give one.")
    if edit.kind is EditKind.ADD:
        rows.insert(place, row)
        return place, None
    old = rows[place]
    rows[place] = row
    return place, old


def _inverse(
    edit: RowEdit,
    place: int,
    *,
    limit: Limit | None = None,
    interval: IntervalRule | None = None,
) -> RowEdit:
    turned = {
        EditKind.ADD: EditKind.REMOVE,
        EditKind.REMOVE: EditKind.ADD,
        EditKind.CHANGE: EditKind.CHANGE,
    }
    return RowEdit(
        kind=turned[edit.kind],
        place=place,
        limit=limit,
        interval=interval,
        is_interval=edit.is_interval or edit.interval is not None,
    )
