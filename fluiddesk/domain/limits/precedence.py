"""Which limit holds for a box on a day, and which ones it overrode.

Fleet, machine kind, model, model and compartment kind, single compartment: the most specific row of
the set in force holds, for each analyte, kind and direction; the others are inherited (common
practice, no source). An "off" holds through its last day; on the next day the row it covered holds
again.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.limits.limit_set import (
    Box,
    Limit,
    LimitKind,
    LimitSet,
    LimitSetState,
    has_ended,
    precedence,
    set_in_force,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldRow:
    """A row of a set, and the day since which a row that says the same has held its place."""

    limit: Limit
    since: date


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitAnswer:
    """The row that holds for a box on a day, and those it overrode, the most specific first."""

    limit_set: LimitSet
    holds: HeldRow
    overrode: tuple[HeldRow, ...]

    @property
    def is_off(self) -> bool:
        """Whether the row that holds switches the limit off."""
        return self.holds.limit.is_off

    @property
    def returns_on(self) -> date | None:
        """The day on which what an "off" covers holds again; ``None`` where nothing is off."""
        until = self.holds.limit.off_until if self.is_off else None
        return None if until is None else until + timedelta(days=1)


def limit_answer(
    sets: Sequence[LimitSet],
    box: Box,
    analyte: AnalyteCode,
    kind: LimitKind,
    direction: str,
    day: date,
) -> LimitAnswer | None:
    """Which limit holds for one box, and the chain it overrode; ``None`` where none does.

    Args:
        sets: every set of the desk.
        box: the box asked about.
        analyte: the analyte's code.
        kind: the kind of limit.
        direction: "up" or "down".
        day: the sample's day.
    """
    key = (analyte, kind, direction)
    found = limit_answers(sets, box, day)
    return next((one for one in found if one.holds.limit.key == key), None)


def limit_answers(sets: Sequence[LimitSet], box: Box, day: date) -> tuple[LimitAnswer, ...]:
    """Every limit that holds for one box on a day, each with the chain it overrode."""
    held = set_in_force(sets, day)
    if held is None:
        return ()
    chains: dict[tuple[AnalyteCode, LimitKind, str], list[Limit]] = {}
    for limit in held.limits:
        if limit.scope.covers(box) and not (limit.is_off and has_ended(limit, day)):
            chains.setdefault(limit.key, []).append(limit)
    earlier = _sets_before(sets, held)
    answers = []
    for chain in chains.values():
        first, *others = sorted(chain, key=precedence, reverse=True)
        answers.append(
            LimitAnswer(
                limit_set=held,
                holds=_row(first, held, earlier),
                overrode=tuple(_row(one, held, earlier) for one in others),
            )
        )
    return tuple(answers)


def _sets_before(sets: Sequence[LimitSet], held: LimitSet) -> list[LimitSet]:
    """The sets that held before one, the newest first."""
    known = [
        one
        for one in sets
        if one.state is not LimitSetState.DRAFT
        and (one.valid_from, one.number) < (held.valid_from, held.number)
    ]
    return sorted(known, key=lambda one: (one.valid_from, one.number), reverse=True)


def _row(limit: Limit, held: LimitSet, earlier: Sequence[LimitSet]) -> HeldRow:
    since = held.valid_from
    for one in earlier:
        if not any(_says_the_same(limit, other) for other in one.limits):
            break
        since = one.valid_from
    return HeldRow(limit=limit, since=since)


def _says_the_same(one: Limit, other: Limit) -> bool:
    """Whether two rows judge alike; who set them and why may differ."""
    return one.scope == other.scope and one.key == other.key and _numbers(one) == _numbers(other)


def _numbers(limit: Limit) -> tuple[object, ...]:
    return (
        limit.bounds(),
        limit.boundary,
        limit.group,
        limit.act_needs,
        limit.urgent_needs,
        limit.is_off,
        limit.companion,
        limit.least_change,
    )
