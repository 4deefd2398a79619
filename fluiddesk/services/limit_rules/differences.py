"""How one limit set differs from another, row by row, and in words."""

from collections import defaultdict
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import asdict, fields
from datetime import date
from enum import Enum
from typing import Any

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.facts import ChangeKind, RowChange
from fluiddesk.services.limit_rules.settings_told import setting_changes

_Row = Limit | IntervalRule


def differences(
    old: LimitSet, new: LimitSet, catalogue: Catalogue | None = None
) -> tuple[RowChange, ...]:
    """The rows of two sets that differ, limits first, in the order of the later set; then settings.

    Rows are the same one where they share scope, analyte, kind and direction. Names are those of
    the catalogue, else the codes.
    """
    pairs = ((old.limits, new.limits), (old.intervals, new.intervals))
    rows = tuple(
        change
        for before, after in pairs
        for change in _changes(list(before), list(after), catalogue)
    )
    return (*rows, *_settings(old, new))


def _settings(old: LimitSet, new: LimitSet) -> Iterator[RowChange]:
    for one in setting_changes(old.settings, new.settings):
        title, before, after = one
        told = f"setting, {title}: {before} -> {after}"
        kind = ChangeKind.CHANGED
        yield RowChange(kind=kind, place=-1, before=None, after=None, told=told, setting=one)


def _changes(
    before: Sequence[_Row], after: Sequence[_Row], catalogue: Catalogue | None
) -> Iterator[RowChange]:
    known: dict[Hashable, list[int]] = defaultdict(list)
    for place, row in enumerate(before):
        known[row_key(row)].append(place)
    for place, row in enumerate(after):
        same = known[row_key(row)]
        old = before[same.pop(0)] if same else None
        if old != row:
            yield _change(place, old, row, catalogue)
    for place in sorted(place for left in known.values() for place in left):
        yield _removed(place, before[place], catalogue)


def row_key(row: _Row) -> Hashable:
    """What makes two rows of two sets the same one, and two rows of one set rivals."""
    return (row.scope, *row.key) if isinstance(row, Limit) else row.scope


def _change(place: int, before: _Row | None, after: _Row, catalogue: Catalogue | None) -> RowChange:
    kind = ChangeKind.ADDED if before is None else ChangeKind.CHANGED
    told = f"added, {_content(after)}" if before is None else _moved(before, after)
    name = row_name(after, catalogue)
    return RowChange(kind=kind, place=place, before=before, after=after, told=f"{name}: {told}")


def _removed(place: int, row: _Row, catalogue: Catalogue | None) -> RowChange:
    told = f"{row_name(row, catalogue)}: removed, was {_content(row)}"
    return RowChange(kind=ChangeKind.REMOVED, place=place, before=row, after=None, told=told)


def row_name(row: _Row, catalogue: Catalogue | None = None) -> str:
    """What a row is about: "engine, Iron level up", or "engine, interval"."""
    if isinstance(row, IntervalRule):
        return f"{row.scope.text}, interval"
    known = catalogue.analytes.get(row.analyte) if catalogue else None
    name = known.name if known else row.analyte
    return f"{row.scope.text}, {name} {row.kind.value.replace('_', ' ')} {row.direction}"


def _content(row: _Row) -> str:
    if isinstance(row, IntervalRule):
        return interval_text(row)
    if row.is_off:
        return f"off until {row.off_until}"
    return bounds_text(row)


def bounds_text(limit: Limit) -> str:
    """Watch / Act / Urgent in one word each: "60 / 100 / -"."""
    return " / ".join("-" if bound is None else f"{bound:g}" for bound in limit.bounds())


def interval_text(rule: IntervalRule) -> str:
    """The interval in words: "250 h or 90 days, window 10 %, rolling"."""
    parts = [
        f"{rule.interval_hours:g} h" if rule.interval_hours is not None else "",
        f"{rule.interval_days} days" if rule.interval_days is not None else "",
    ]
    told = " or ".join(part for part in parts if part)
    return f"{told}, window {rule.window_share * 100:g} %, {rule.convention}"


def _moved(before: _Row, after: _Row) -> str:
    """The fields that changed, old to new."""
    if isinstance(before, Limit) and isinstance(after, Limit) and not after.is_off:
        if not before.is_off and before.bounds() != after.bounds():
            return f"{bounds_text(before)} -> {bounds_text(after)}"
    elif isinstance(after, Limit):
        return f"{_content(before)} -> {_content(after)}"
    changed = [
        f"{field.name.replace('_', ' ')} {_word(getattr(before, field.name))} -> "
        f"{_word(getattr(after, field.name))}"
        for field in fields(after)
        if getattr(before, field.name) != getattr(after, field.name) and field.name != "derivation"
    ]
    return ", ".join(changed) or "derived anew"


def _word(value: object) -> str:
    return "-" if value is None or value == "" else str(value)


def row_value(row: _Row | None) -> dict[str, Any] | None:
    """A row as the audit trail keeps it; empty fields are left out."""
    if row is None:
        return None
    plain = asdict(row)
    plain.update(plain.pop("scope"))
    return {name: _plain(value) for name, value in plain.items() if value not in ("", None, False)}


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return value.value if isinstance(value, Enum) else value
