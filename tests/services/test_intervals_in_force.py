"""Intervals and windows of the set in force, over those of the register."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitSetState, Scope
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.intervals_in_force import interval_rules, under_rules
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.makers import make_set


def rule(scope=Scope(), hours=100.0, days=None, share=0.1):  # noqa: B008  # a fixed value
    return IntervalRule(
        scope=scope, interval_hours=hours, interval_days=days, source="manual", set_by="Kim",
        window_share=share,
    )  # fmt: skip


def in_force(fleet: Fleet, *rules, since=date(2026, 1, 1)):
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        held = max(desk.limits.limit_sets(), key=lambda one: one.number)
        desk.limits.save(
            replace(
                held, number=held.number + 1, state=LimitSetState.IN_FORCE, valid_from=since,
                intervals=rules,
            )
        )  # fmt: skip


def test_that_without_rules_the_register_holds(fleet: Fleet):
    rows = fleet_condition(fleet.place, today=LAST_DAY).rows
    same, share = under_rules(rows, ())
    assert same is rows
    assert (share == 0.1).all()


def test_that_the_most_specific_rule_holds_and_others_keep_the_register(fleet: Fleet):
    rows = fleet_condition(fleet.place, today=LAST_DAY).rows
    single = Scope(compartment=rows[0].compartment_id.hex())
    rules = (rule(Scope(compartment_kind="engine")), rule(single, hours=50.0, share=0.2))
    found, share = under_rules(rows, rules)
    assert (found[0].interval_hours, share[0]) == (50.0, 0.2)
    for before, after in zip(rows[1:], found[1:], strict=True):
        expected = 100.0 if before.kind == "engine" else before.interval_hours
        assert after.interval_hours == expected
    order_turned, _ = under_rules(rows, rules[::-1])
    assert [one.interval_hours for one in order_turned] == [one.interval_hours for one in found]


def test_that_rules_of_the_set_in_force_decide_what_is_due(fleet: Fleet):
    before = fleet_condition(fleet.place, today=LAST_DAY)
    in_force(fleet, rule(hours=None, days=10, share=0.5))
    after = fleet_condition(fleet.place, today=LAST_DAY)
    sampled = after.age_days >= 0
    drawn = LAST_DAY.toordinal() - after.age_days
    own = sampled & ~after.is_awaited & np.array([not one for one in after.special])
    assert (after.due.due_on[own] == (drawn + 10)[own]).all()
    assert (after.due.window_from[own] == (drawn + 5)[own]).all()
    assert not np.array_equal(before.due.due_on, after.due.due_on)
    assert {row.interval_days for row in after.rows} == {10}


@pytest.mark.parametrize(("day", "many"), [(date(2026, 1, 1), 1), (date(2025, 12, 31), 0)])
def test_that_rules_hold_from_the_day_of_their_set(fleet: Fleet, day, many):
    in_force(fleet, rule())
    with fleet.place.store.reading() as desk:
        assert len(interval_rules(desk, day)) == many


def test_that_a_draft_decides_nothing(fleet: Fleet):
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        draft = make_set([], 7, state=LimitSetState.DRAFT, intervals=(rule(hours=1.0),))
        desk.limits.save(draft)
    with fleet.place.store.reading() as desk:
        assert interval_rules(desk, LAST_DAY) == ()


def test_that_a_verdict_is_stale_after_two_missed_intervals(fleet: Fleet):
    in_force(fleet, rule(hours=None, days=30))
    found = fleet_condition(fleet.place, today=LAST_DAY + timedelta(1))
    own = (found.age_days >= 0) & ~found.is_awaited & (found.due.state != 0)
    assert (found.is_stale == (found.age_days > 60))[own].all()
