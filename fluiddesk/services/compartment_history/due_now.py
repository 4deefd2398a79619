"""When the next sample of one compartment is due, and its next planned fluid change."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from fluiddesk.domain.sampling.due import NEVER, DueState
from fluiddesk.services.compartment_history.facts import ChangeFacts, DueFacts
from fluiddesk.services.fleet_condition import FleetCondition


def _interval_words(spans: Sequence[str], special: str) -> str:
    usual = " or ".join(span for span in spans if span)
    return f"{usual}; {special}" if special else usual


def due_facts(fleet: FleetCondition) -> DueFacts:
    """When the sample of the only box of these columns is due."""
    due, row = fleet.due, fleet.rows[0]
    has_day = int(due.due_on[0]) != NEVER
    left = float(due.hours_left[0])
    spans: Sequence[str] = [
        f"{row.interval_hours:g} h" if row.interval_hours else "",
        f"{row.interval_days} days" if row.interval_days else "",
    ]
    return DueFacts(
        state=DueState(int(due.state[0])),
        due_on=date.fromordinal(int(due.due_on[0])) if has_day else None,
        window=(
            date.fromordinal(int(due.window_from[0])),
            date.fromordinal(int(due.window_to[0])),
        )
        if has_day
        else None,
        hours_left=None if np.isnan(left) else left,
        by_hours=bool(due.by_hours[0]),
        interval=_interval_words(spans, fleet.special[0]),
        awaited_on=date.fromisoformat(str(row.awaited_on)) if fleet.is_awaited[0] else None,
        next_change=_change_facts(fleet),
    )


def _change_facts(fleet: FleetCondition) -> ChangeFacts | None:
    changes = fleet.changes
    if changes is None or int(changes.due.due_on[0]) == NEVER:
        return None
    day, left = int(changes.due.due_on[0]), float(changes.due.hours_left[0])
    by_hours = bool(changes.due.by_hours[0])
    return ChangeFacts(
        planned_on=date.fromordinal(day),
        at_hours=float(changes.at_hours[0]) if by_hours else None,
        hours_left=left if by_hours and not np.isnan(left) else None,
        when=changes.when(0),
        window_from=date.fromordinal(day - int(changes.opens_days[0])),
        is_sampled=bool(changes.is_sampled[0]),
        sets_due=bool(fleet.special[0]) and fleet.special[0] == fleet.before_change(0),
    )
