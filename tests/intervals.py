"""Interval rules put in force, for tests of what is due and of compliance."""

from dataclasses import replace
from datetime import date
from typing import Literal

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitSetState, Scope
from fluiddesk.services.workplace import Workplace
from tests.fleets import NOW


def interval_rule(
    box: bytes | None = None,
    *,
    hours: float | None = None,
    days: int | None = None,
    convention: Literal["rolling", "grid"] = "rolling",
    share: float = 0.1,
) -> IntervalRule:
    """A rule for one box, or for all."""
    return IntervalRule(
        scope=Scope(compartment=box.hex() if box else ""),
        interval_hours=hours,
        interval_days=days,
        source="manual",
        set_by="Kim",
        window_share=share,
        convention=convention,
    )


def put_in_force(place: Workplace, *rules: IntervalRule, since: date) -> None:
    """Put a new set with these rules in force from a day."""
    with place.store.transaction(who="Kim", moment=NOW) as desk:
        held = max(desk.limits.limit_sets(), key=lambda one: one.number)
        desk.limits.save(
            replace(
                held,
                number=held.number + 1,
                state=LimitSetState.IN_FORCE,
                valid_from=since,
                valid_until=None,
                intervals=rules,
            )
        )
