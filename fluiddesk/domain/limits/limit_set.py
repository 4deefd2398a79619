"""Limits, the scope each holds for, and versioned collections of them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING, Any, Literal

from fluiddesk.domain.analytes import AnalyteCode
from fluiddesk.domain.limits.scope import Box, LimitError, Scope
from fluiddesk.domain.severity import Severity

if TYPE_CHECKING:
    from fluiddesk.domain.limits.interval_rule import IntervalRule

__all__ = [
    "ACCEPTED",
    "COMPANION_KINDS",
    "JUDGED_KINDS",
    "RELATIVE_KINDS",
    "STATISTICAL_KINDS",
    "Box",
    "Limit",
    "LimitError",
    "LimitKind",
    "LimitSet",
    "LimitSetState",
    "Scope",
    "accepted_reason",
    "check_limit",
    "has_ended",
    "limits_in_force",
    "precedence",
    "set_in_force",
]


ACCEPTED = "Accepted:"
"""What stands behind this word in a row's note is why its bounds may lie within repeatability."""


class LimitKind(StrEnum):
    """What a limit looks at.

    ``level``: the value; ``change``: value minus new fluid; ``change_percent``: that in percent of
    the new fluid; ``rate_per_100h``: what the box made per 100 h of fluid use, by the mass balance;
    ``left_right_ratio``: the value over the other side's; ``companion_ratio``: the value over its
    companion's, as a multiple of the box's own median of that ratio; ``plain_ratio``: the value
    over its companion's as it stands; ``own_step``: how many spreads
    the value lies off what the box's own earlier samples predict; ``percentile``: the value against
    a percentile of like boxes, frozen to a number; ``off_grade``: percent past the edge of the
    fluid's viscosity grade; ``missing_test``: 1 where a test was ordered and not made.
    """

    LEVEL = "level"
    CHANGE = "change"
    CHANGE_PERCENT = "change_percent"
    RATE_PER_100H = "rate_per_100h"
    LEFT_RIGHT_RATIO = "left_right_ratio"
    COMPANION_RATIO = "companion_ratio"
    PLAIN_RATIO = "plain_ratio"
    OWN_STEP = "own_step"
    PERCENTILE = "percentile"
    OFF_GRADE = "off_grade"
    MISSING_TEST = "missing_test"


JUDGED_KINDS: frozenset[LimitKind] = frozenset(LimitKind)
"""The kinds an assessment computes; limits of other kinds are kept and shown, not judged."""

COMPANION_KINDS: frozenset[LimitKind] = frozenset(
    {LimitKind.COMPANION_RATIO, LimitKind.PLAIN_RATIO}
)
"""The kinds that need a companion analyte."""

RELATIVE_KINDS: frozenset[LimitKind] = frozenset(
    {
        LimitKind.LEFT_RIGHT_RATIO,
        LimitKind.COMPANION_RATIO,
        LimitKind.PLAIN_RATIO,
        LimitKind.OWN_STEP,
    }
)
"""The kinds that compare with another result, which may be missing."""

STATISTICAL_KINDS: frozenset[LimitKind] = frozenset({LimitKind.OWN_STEP, LimitKind.PERCENTILE})
"""The kinds that say "unusual", not "harmful": alone they stop at Watch."""


class LimitSetState(StrEnum):
    """A limit set is drafted, holds from a day on, then is retired. It is never edited in force."""

    DRAFT = "draft"
    IN_FORCE = "in_force"
    RETIRED = "retired"


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Up to three bounds on one analyte for one scope, in one direction.

    ``boundary`` "at": a value on the bound already belongs to the worse band; "beyond": only one
    past it does. ``act_needs`` and ``urgent_needs``: that band counts only where as many analytes
    of ``group`` reach it in the same sample. ``is_off`` switches an inherited limit off until
    ``off_until``, for the reason in ``note``. ``companion`` is the other analyte of a companion
    ratio; ``least_change`` the least absolute change of an own-history step. ``derivation`` tells
    in JSON how the bounds were derived from the fleet's own history; empty where they were not.
    """

    scope: Scope
    analyte: AnalyteCode
    kind: LimitKind
    direction: Literal["up", "down"]
    watch: float | None
    act: float | None
    urgent: float | None
    source: str
    set_by: str
    boundary: Literal["at", "beyond"] = "at"
    group: str = ""
    act_needs: int = 1
    urgent_needs: int = 1
    note: str = ""
    is_off: bool = False
    companion: AnalyteCode = ""
    least_change: float | None = None
    off_until: date | None = None
    derivation: str = ""

    def bounds(self) -> tuple[float | None, float | None, float | None]:
        """Watch, Act and Urgent."""
        return (self.watch, self.act, self.urgent)

    def bound(self, severity: Severity) -> float | None:
        """The bound that starts a band; ``None`` where the limit has no such band."""
        return self.bounds()[severity - Severity.WATCH] if severity >= Severity.WATCH else None

    @property
    def key(self) -> tuple[AnalyteCode, LimitKind, str]:
        """What makes two limits rivals: only one of them holds for a box."""
        return (self.analyte, self.kind, self.direction)


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitSet:
    """A dated, versioned collection of limits and interval rules.

    ``settings`` are numbers of the rules that combine limits, by name; what is left out is usual.
    ``based_on`` is the number of the set it was drafted from.
    """

    number: int
    name: str
    state: LimitSetState
    valid_from: date
    valid_until: date | None
    author: str
    note: str
    limits: tuple[Limit, ...]
    intervals: "tuple[IntervalRule, ...]" = ()
    settings: Mapping[str, Any] = field(default_factory=dict, hash=False)
    based_on: int | None = None


def check_limit(limit: Limit) -> None:
    """Refuse a limit whose bounds are out of order or all missing, or whose ratio has no companion.

    Raises:
        LimitError: with the limit's scope and analyte and the bounds as given.
    """
    known = [bound for bound in limit.bounds() if bound is not None]
    where = f"{limit.scope.text}, {limit.analyte}, {limit.kind.value} {limit.direction}"
    if not known and not limit.is_off:
        raise LimitError(f"{where}: no bound is given. Give at least one of Watch, Act, Urgent.")
    if limit.kind in COMPANION_KINDS and not limit.companion and not limit.is_off:
        raise LimitError(f"{where}: the companion analyte is missing. Name it.")
    in_order = sorted(known, reverse=limit.direction == "down")
    if known != in_order or len(set(known)) != len(known):
        shown = " / ".join("-" if bound is None else f"{bound:g}" for bound in limit.bounds())
        raise LimitError(
            f"{where}: Watch / Act / Urgent read {shown}. "
            f"Each must lie further {limit.direction} than the one before."
        )


def accepted_reason(note: str) -> str:
    """Why a row's bounds may lie closer than repeatability, as its note says; empty where not.

    >>> accepted_reason("New oil. Accepted: as the maker's manual has it.")
    "as the maker's manual has it."
    """
    place = note.casefold().find(ACCEPTED.casefold())
    return "" if place < 0 else note[place + len(ACCEPTED) :].strip()


def limits_in_force(limits: Iterable[Limit], box: Box, day: date | None = None) -> list[Limit]:
    """The limits that hold for one box: per analyte, kind and direction the most specific one.

    A limit that is switched off takes its key away until its last day; on the day after it the
    inherited limit holds again. The order of the collection never matters.

    Args:
        limits: a collection.
        box: what the limits must cover.
        day: the sample's day; without one every "off" counts as still holding.
    """
    winner: dict[tuple[AnalyteCode, LimitKind, str], Limit] = {}
    for limit in limits:
        if not limit.scope.covers(box) or (limit.is_off and has_ended(limit, day)):
            continue
        rival = winner.get(limit.key)
        if rival is None or precedence(limit) > precedence(rival):
            winner[limit.key] = limit
    return [limit for limit in winner.values() if not limit.is_off]


def has_ended(limit: Limit, day: date | None) -> bool:
    """Whether an "off" no longer holds on a day; its last day still counts."""
    return day is not None and limit.off_until is not None and day > limit.off_until


def precedence(limit: Limit) -> tuple[Any, ...]:
    """Sort key of rivals that cover one box: the highest holds.

    Two rivals of the very same scope contradict each other and are refused by the check of a set;
    where they stand all the same, an "off" holds, then the stricter bounds.
    """
    turn = -1.0 if limit.direction == "up" else 1.0
    strict = tuple(float("-inf") if one is None else turn * one for one in limit.bounds())
    # The rest decides between limits with the same bounds by what they say, never by their place.
    told = (limit.boundary, limit.source, limit.set_by, limit.note)
    return (limit.scope.specificity, limit.is_off, strict, told)


def set_in_force(sets: Sequence[LimitSet], day: date) -> LimitSet | None:
    """The limit set that held on a day: the newest one that was in force by then."""
    held = [
        one
        for one in sets
        if one.state is not LimitSetState.DRAFT
        and one.valid_from <= day
        and (one.valid_until is None or day < one.valid_until)
    ]
    return max(held, key=lambda one: (one.valid_from, one.number), default=None)
