"""The interval and window that hold for each box: the most specific rule's, else the register's."""

from collections.abc import Sequence
from datetime import date
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.interval_rule import (
    USUAL_WINDOW_SHARE,
    IntervalRule,
    interval_in_force,
)
from fluiddesk.domain.limits.limit_set import Box, set_in_force
from fluiddesk.storage import Desk

Row = TypeVar("Row")


def interval_rules(desk: Desk, day: date) -> tuple[IntervalRule, ...]:
    """The interval rules of the set in force on a day; none where no set has any."""
    held = set_in_force(desk.intervals.sets(), day)
    return held.intervals if held else ()


def under_rules(
    rows: Sequence[Row], rules: Sequence[IntervalRule]
) -> tuple[Sequence[Row], NDArray[np.float64]]:
    """Rows with the interval that holds for each box, and the window of each.

    Args:
        rows: named tuples with ``compartment_id``, ``machine_kind``, ``model``, ``kind``,
            ``interval_hours`` and ``interval_days``, the last two as the register has them.
        rules: the interval rules in force.

    Returns:
        The rows, and the half width of each window as a share of its interval, shape (n,).
    """
    share = np.full(len(rows), USUAL_WINDOW_SHARE)
    if not rules:
        return rows, share
    finder = RuleFinder(rules)
    answer = list(rows)
    row: Any
    for place, row in enumerate(rows):
        rule = finder.rule(row)
        if rule is not None:
            answer[place] = row._replace(
                interval_hours=rule.interval_hours, interval_days=rule.interval_days
            )
            share[place] = rule.window_share
    return answer, share


def on_grid(rows: Sequence[Any], rules: Sequence[IntervalRule]) -> NDArray[np.bool_]:
    """Which boxes have their due points on a fixed grid, shape (n,)."""
    if all(rule.convention != "grid" for rule in rules):
        return np.zeros(len(rows), dtype=np.bool_)
    finder = RuleFinder(rules)
    found = (finder.rule(row) for row in rows)
    return np.array([rule is not None and rule.convention == "grid" for rule in found], np.bool_)


class RuleFinder:
    """Finds the rule that holds for a box; boxes of one kind are looked up once."""

    def __init__(self, rules: Sequence[IntervalRule]) -> None:
        self._rules = rules
        self._single = {rule.scope.compartment for rule in rules} - {""}
        self._known: dict[tuple[str, ...], IntervalRule | None] = {}

    def rule(self, row: Any) -> IntervalRule | None:
        """The rule of a box; ``None`` leaves the register's own interval.

        Args:
            row: a named tuple with ``compartment_id``, ``machine_kind``, ``model`` and ``kind``.
        """
        own = row.compartment_id.hex() if self._single else ""
        key = (row.machine_kind, row.model, row.kind, own if own in self._single else "")
        if key not in self._known:
            box = Box(
                machine_kind=row.machine_kind,
                model=row.model,
                compartment_kind=row.kind,
                compartment=own,
                fluid_class="",
            )
            self._known[key] = interval_in_force(self._rules, box)
        return self._known[key]
