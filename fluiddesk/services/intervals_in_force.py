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
    single = {rule.scope.compartment for rule in rules} - {""}
    known: dict[tuple[str, ...], IntervalRule | None] = {}
    answer = list(rows)
    row: Any
    for place, row in enumerate(rows):
        own = row.compartment_id.hex()
        key = (row.machine_kind, row.model, row.kind, own if own in single else "")
        if key not in known:
            box = Box(
                machine_kind=row.machine_kind,
                model=row.model,
                compartment_kind=row.kind,
                compartment=own,
                fluid_class="",
            )
            known[key] = interval_in_force(rules, box)
        rule = known[key]
        if rule is not None:
            answer[place] = row._replace(
                interval_hours=rule.interval_hours, interval_days=rule.interval_days
            )
            share[place] = rule.window_share
    return answer, share
