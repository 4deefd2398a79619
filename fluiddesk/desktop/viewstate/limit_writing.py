"""What typing into a cell makes of a row of a draft."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import Any, Final

from fluiddesk.desktop.viewstate.limit_draft import DraftRow, Rule
from fluiddesk.desktop.viewstate.typed_number import read_number
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit

OWN_DECISION: Final = "own decision"
"""The source of a row that a person has changed and said nothing else about."""

BOUNDS: Final = ("watch", "act", "urgent")
_NUMBERS: Final[Mapping[str, str]] = {
    "watch": "Watch",
    "act": "Act",
    "urgent": "Urgent",
    "interval_hours": "Hours",
    "interval_days": "Days",
    "window_share": "Window",
    "least_change": "Least change",
    "act_needs": "Analytes for Act",
    "urgent_needs": "Analytes for Urgent",
}
_CONVENTIONS: Final = ("rolling", "grid")


def written(row: DraftRow[Limit], name: str, text: str, *, who: str) -> DraftRow[Limit]:
    """The limit's row after a text was typed into one of its cells.

    A changed bound is set by the person who changed it; its source becomes their own decision
    until they write another.

    Args:
        row: the row before.
        name: ``watch``, ``act``, ``urgent``, or another field of the rule; ``fluid_class`` is
            that of its scope.
        text: what was typed.
        who: the person at the desk.
    """
    if name not in BOUNDS:
        return _written_detail(row, name, text, who=who)
    try:
        bound = read_number(text, name=_NUMBERS[name])
    except OperatorError as wrong:
        return refused(row, name, text, str(wrong))
    if getattr(row.rule, name) == bound:
        return _taken(row, row.rule, name)
    changed: dict[str, Any] = {name: bound, "set_by": who, "derivation": ""}
    if row.was is None or row.rule.source == row.was.source:
        changed["source"] = OWN_DECISION
    limit = replace(row.rule, **changed)
    if row.was is not None and limit.bounds() == row.was.bounds() and _is_own(limit):
        limit = row.was
    return _taken(row, limit, name)


def _written_detail(row: DraftRow[Limit], name: str, text: str, *, who: str) -> DraftRow[Limit]:
    """The row after a field besides its bounds was typed or chosen."""
    try:
        value = _detail(row.rule, name, text.strip())
    except OperatorError as wrong:
        return refused(row, name, text, str(wrong))
    if name == "fluid_class":
        if row.rule.scope.fluid_class == value:
            return _taken(row, row.rule, name)
        scope = replace(row.rule.scope, fluid_class=str(value))
        return _taken(row, replace(row.rule, scope=scope, set_by=who), name)
    if getattr(row.rule, name) == value:
        return _taken(row, row.rule, name)
    changed: dict[str, Any] = {name: value, "set_by": who}
    return _taken(row, replace(row.rule, **changed), name)


def _detail(limit: Limit, name: str, said: str) -> float | str | date | None:
    if name == "source":
        return said or limit.source
    if name == "off_until":
        return _day(said)
    if name == "least_change":
        change = read_number(said, name=_NUMBERS[name])
        if change is not None and change < 0:
            raise OperatorError(f"Least change: {change:g} is below zero. Give 0 or more.")
        return change
    if name in ("act_needs", "urgent_needs"):
        count = read_number(said, name=_NUMBERS[name])
        if count is None:
            return 1
        if count < 1 or count != int(count):
            raise OperatorError(
                f"{_NUMBERS[name]}: {said} is no whole number from 1. "
                "Give 1 for itself alone, or more."
            )
        return int(count)
    return said


def _day(said: str) -> date:
    try:
        return date.fromisoformat(said)
    except ValueError as wrong:
        raise OperatorError(
            f'Off until: "{said}" is no day. Write year-month-day, such as 2027-03-31.'
        ) from wrong


def _is_own(limit: Limit) -> bool:
    return limit.source == OWN_DECISION


def written_interval(
    row: DraftRow[IntervalRule], name: str, text: str, *, who: str
) -> DraftRow[IntervalRule]:
    """The interval rule's row after a text was typed; the window is typed in percent."""
    try:
        value = _interval_value(name, text, row.rule)
    except OperatorError as wrong:
        return refused(row, name, text, str(wrong))
    if getattr(row.rule, name) == value:
        return _taken(row, row.rule, name)
    changed: dict[str, Any] = {name: value, "set_by": who}
    if name not in ("source", "note") and (row.was is None or row.rule.source == row.was.source):
        changed["source"] = OWN_DECISION
    return _taken(row, replace(row.rule, **changed), name)


def _interval_value(name: str, text: str, rule: IntervalRule) -> float | int | str | None:
    if name == "source":
        return text.strip() or rule.source
    if name == "note":
        return text.strip()
    if name == "convention":
        said = text.strip().casefold()
        if said not in _CONVENTIONS:
            raise OperatorError(f'Counted: "{text.strip()}" is not known. Write rolling or grid.')
        return said
    number = read_number(text.replace("%", ""), name=_NUMBERS[name])
    if name == "window_share":
        if number is None:
            raise OperatorError("Window: nothing is written. Write percent, such as 10.")
        return number / 100
    if name == "interval_days" and number is not None:
        if number != int(number):
            raise OperatorError(f'Days: "{text.strip()}" is not a whole number. Write whole days.')
        return int(number)
    return number


def _taken(row: DraftRow[Rule], rule: Rule, name: str) -> DraftRow[Rule]:
    typed = {one: kept for one, kept in row.typed.items() if one != name}
    told = {one: kept for one, kept in row.told.items() if one != name}
    return replace(row, rule=rule, typed=typed, told=told, last_sound=row.counts)


def refused(row: DraftRow[Rule], name: str, text: str, wrong: str) -> DraftRow[Rule]:
    """The row with a text that cannot be taken, kept as it was typed, and why."""
    typed = {**row.typed, name: text.strip()}
    told = {**row.told, name: wrong}
    return replace(row, typed=typed, told=told, last_sound=row.counts)


def switched_off(row: DraftRow[Limit], *, reason: str, until: date, who: str) -> DraftRow[Limit]:
    """The row switched off for its scope, with the reason and the day it ends."""
    limit = replace(row.rule, is_off=True, note=reason.strip(), off_until=until, set_by=who)
    return replace(row, rule=limit, last_sound=row.counts)


def switched_on(row: DraftRow[Limit], *, who: str) -> DraftRow[Limit]:
    """The row in use again."""
    if row.was is not None and not row.was.is_off:
        note, by = row.was.note, row.was.set_by
    else:
        note, by = "", who
    limit = replace(row.rule, is_off=False, note=note, off_until=None, set_by=by)
    return replace(row, rule=limit, last_sound=row.counts)
