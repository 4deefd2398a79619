"""Which boxes a draft can judge otherwise than the set in force; only those are judged again.

The limits that differ are held against the samples of the boxes they cover, by themselves. Where
they put the samples asked about into the same bands, and what stands over from earlier samples is
the same, the verdicts on those are the same: limits are combined sample by sample.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.alone import Part
from fluiddesk.domain.limits.assessment import Judged, assess_history
from fluiddesk.domain.limits.combining import Key
from fluiddesk.domain.limits.limit_set import Box, Limit, LimitSet, limits_in_force
from fluiddesk.domain.limits.limit_table import limit_table
from fluiddesk.domain.limits.settings import JudgingSettings, settings_of
from fluiddesk.services.limit_rules.differences import differences
from fluiddesk.services.reassess.fleet_columns import FleetColumns
from fluiddesk.services.reassess.judging import Judge, runs_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Kinds:
    """Boxes numbered so that those alike share a number, but for limits of single boxes."""

    number: NDArray[np.int32]
    boxes: tuple[Box, ...]


def kinds_of(columns: FleetColumns) -> Kinds:
    """Number the boxes of a fleet; the box that stands for a number has no identifier."""
    seen: dict[tuple[str, str, str, str], int] = {}
    numbers = np.empty(len(columns.boxes), dtype=np.int32)
    kinds: list[Box] = []
    for place, facts in enumerate(columns.boxes):
        key = (facts.machine_kind, facts.model, facts.kind, facts.fluid_class)
        number = seen.setdefault(key, len(kinds))
        if number == len(kinds):
            kinds.append(replace(facts.box, compartment=""))
        numbers[place] = number
    return Kinds(number=numbers, boxes=tuple(kinds))


def judging_part(limit: Limit) -> Limit:
    """A limit without the words that change no verdict."""
    return replace(limit, source="", set_by="", note="", derivation="")


def changed_limits(held: LimitSet, draft: LimitSet) -> list[Limit]:
    """The limits of both sets that differ in more than words."""
    return [
        row
        for change in differences(held, draft)
        for row in (change.before, change.after)
        if isinstance(row, Limit)
        and not (
            isinstance(change.before, Limit)
            and isinstance(change.after, Limit)
            and judging_part(change.before) == judging_part(change.after)
        )
    ]


def differing_boxes(
    columns: FleetColumns,
    kinds: Kinds,
    held: LimitSet,
    draft: LimitSet,
    *,
    judge: Judge,
    asked: Sequence[NDArray[np.bool_]],
) -> NDArray[np.bool_]:
    """Which boxes a draft can judge otherwise than the set in force, on the samples asked about.

    Args:
        columns: the fleet.
        kinds: its boxes by kind.
        held: the set in force.
        draft: the draft.
        judge: a judge by the fleet's rulebook, for figures that are not there yet.
        asked: rows asked about, one mask a group.
    """
    found = np.zeros(len(columns.boxes), dtype=bool)
    if dict(held.settings) != dict(draft.settings):
        return ~found
    changed = changed_limits(held, draft)
    single = {row.scope.compartment for row in changed} - {""}
    if single:
        found |= np.array(
            [facts.compartment_id.hex() in single for facts in columns.boxes], dtype=bool
        )
    wide = [row for row in changed if not row.scope.compartment]
    pairs, all_of = _by_kind(kinds, wide, held, draft)
    if all_of:
        found |= np.isin(kinds.number, all_of)
    if pairs:
        pieces = _boxes_that_differ(columns, kinds, pairs, settings_of(held.settings), judge)
        for place, rows, other in pieces:
            hit = other & asked[place][rows]
            found[columns.groups[place].compartment[rows][hit]] = True
    return found


_Pair = tuple[Sequence[Limit], Sequence[Limit]]


def _by_kind(
    kinds: Kinds, changed: Sequence[Limit], held: LimitSet, draft: LimitSet
) -> tuple[dict[int, _Pair], list[int]]:
    """For each kind that the changes touch: the limits before and after; or that all boxes differ.

    All do where a limit comes or goes, and where one is switched off for a time.
    """
    keys = {row.key for row in changed}
    groups = {row.group for row in changed} - {""}
    about = [
        [row for row in one.limits if row.key in keys or row.group in groups]
        for one in (held, draft)
    ]
    has_off = any(row.is_off for rows in about for row in rows)
    pairs: dict[int, _Pair] = {}
    all_of: list[int] = []
    for number, box in enumerate(kinds.boxes):
        if not any(row.scope.covers(box) for row in changed):
            continue
        before, after = (_in_order(limits_in_force(rows, box)) for rows in about)
        if has_off or [row.key for row in before] != [row.key for row in after]:
            all_of.append(number)
        elif [judging_part(row) for row in before] != [judging_part(row) for row in after]:
            pairs[number] = _without_same(before, after)
    return pairs, all_of


def _in_order(limits: list[Limit]) -> list[Limit]:
    def key(limit: Limit) -> Key:
        return limit.key

    return sorted(limits, key=key)


def _without_same(before: Sequence[Limit], after: Sequence[Limit]) -> _Pair:
    """Only pairs of limits that differ, and all that share a group with one of them."""
    differ = [
        judging_part(old) != judging_part(new) for old, new in zip(before, after, strict=True)
    ]
    pairs = list(zip(before, after, differ, strict=True))
    groups = {row.group for old, new, other in pairs if other for row in (old, new)} - {""}
    kept = [
        (old, new)
        for old, new, other in pairs
        if other or old.group in groups or new.group in groups
    ]
    return [old for old, _ in kept], [new for _, new in kept]


def _boxes_that_differ(
    columns: FleetColumns,
    kinds: Kinds,
    pairs: dict[int, _Pair],
    settings: JudgingSettings,
    judge: Judge,
) -> Iterator[tuple[int, slice, NDArray[np.bool_]]]:
    """Group, rows, and whether the pair of limits puts each row into another band."""
    for place, group in enumerate(columns.groups):
        kept = columns.kept[place]
        for rows in runs_of(group, kinds.number):
            number = int(kinds.number[group.compartment[rows.start]])
            if number not in pairs:
                continue
            if settings not in kept:
                kept[settings] = judge.figures(group, columns.contexts[place], settings)
            tables = [
                limit_table(
                    limits,
                    analytes=judge.rulebook.analytes,
                    numbers=group.analytes,
                    settings=settings,
                )
                for limits in pairs[number]
            ]
            size = slice(0, rows.stop - rows.start)
            before, after = (
                assess_history(kept[settings], rows, [Part(at=size, table=table)])
                for table in tables
            )
            yield place, rows, _other(before, after)


def _other(before: Judged, after: Judged) -> NDArray[np.bool_]:
    other = (before.own != after.own) | (before.bands != after.bands)
    rows: NDArray[np.bool_] = np.any(other, axis=1)
    return rows
