"""How often a box is sampled, how wide the window is, and how the next due event is laid."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from fluiddesk.domain.limits.scope import Box, LimitError, Scope

USUAL_WINDOW_SHARE = 0.1
"""A window reaches so far to both sides of the due point, as a share of the interval."""

LARGEST_WINDOW_SHARE = 0.5
"""Wider windows of neighbouring due events would meet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class IntervalRule:
    """The sampling interval of every box a scope covers.

    ``rolling``: the next due event is counted from the sample drawn; ``grid``: from the planned
    point, so that an early or late sample shifts nothing. Of hours and days whichever runs out
    first counts; at least one of them is given.
    """

    scope: Scope
    interval_hours: float | None
    interval_days: int | None
    source: str
    set_by: str
    window_share: float = USUAL_WINDOW_SHARE
    convention: Literal["rolling", "grid"] = "rolling"
    note: str = ""


def check_interval(rule: IntervalRule) -> None:
    """Refuse a rule without an interval, or with one or a window that makes no sense.

    Raises:
        LimitError: with the scope, the value and the remedy.

    >>> check_interval(IntervalRule(
    ...     scope=Scope(), interval_hours=250, interval_days=None, source="manual", set_by="Kim"))
    """
    where = f"{rule.scope.text}, interval"
    if rule.interval_hours is None and rule.interval_days is None:
        raise LimitError(f"{where}: neither hours nor days are given. Give at least one.")
    if rule.interval_hours is not None and not 0 < rule.interval_hours < float("inf"):
        raise LimitError(f"{where}: {rule.interval_hours:g} h. Give hours above zero.")
    if rule.interval_days is not None and rule.interval_days <= 0:
        raise LimitError(f"{where}: {rule.interval_days} days. Give days above zero.")
    if not 0 < rule.window_share <= LARGEST_WINDOW_SHARE:
        raise LimitError(
            f"{where}: a window of {rule.window_share:g} of the interval to each side. "
            f"Give a share above 0 and at most {LARGEST_WINDOW_SHARE:g}."
        )


def intervals_covering(rules: Iterable[IntervalRule], box: Box) -> list[IntervalRule]:
    """The rules that cover a box, the one that holds first; of equal rivals the later one holds."""
    covering = [(rule.scope.specificity, place, rule) for place, rule in enumerate(rules)]
    ranked = sorted(covering, key=lambda one: one[:2], reverse=True)
    return [rule for _, _, rule in ranked if rule.scope.covers(box)]


def interval_in_force(rules: Iterable[IntervalRule], box: Box) -> IntervalRule | None:
    """The most specific rule that covers a box; ``None`` leaves the register's own interval."""
    return next(iter(intervals_covering(rules, box)), None)
