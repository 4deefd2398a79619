"""How often a box is sampled: the most specific rule holds, whatever the order of the rows."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.limits.interval_rule import (
    IntervalRule,
    check_interval,
    interval_in_force,
    intervals_covering,
)
from fluiddesk.domain.limits.limit_set import LimitError, Scope
from tests.makers import make_box

BOX = make_box()


def rule(scope: Scope | None = None, **changes) -> IntervalRule:
    plain = IntervalRule(
        scope=scope or Scope(), interval_hours=250.0, interval_days=None, source="manual",
        set_by="Kim",
    )  # fmt: skip
    return replace(plain, **changes)


FLEET = rule()
KIND = rule(Scope(machine_kind="haul_truck"), interval_hours=300.0)
MODEL = rule(Scope(model="truck 40 t"), interval_hours=350.0)
ENGINE = rule(Scope(model="truck 40 t", compartment_kind="engine"), interval_hours=400.0)
OWN = rule(Scope(compartment=BOX.compartment), interval_hours=450.0)
ELSEWHERE = rule(Scope(machine_kind="excavator"), interval_hours=10.0)
LADDER = (FLEET, KIND, MODEL, ENGINE, OWN)


@given(st.permutations([*LADDER, ELSEWHERE]))
def test_that_the_most_specific_rule_holds_whatever_the_order(rows):
    assert interval_in_force(rows, BOX) == OWN
    assert intervals_covering(rows, BOX) == list(reversed(LADDER))


@given(st.integers(0, len(LADDER)))
def test_that_a_more_specific_rule_changes_only_its_scope(known):
    other = make_box(machine_kind="excavator", model="", compartment="0b" * 16)
    before = interval_in_force(LADDER[:known], other)
    after = interval_in_force([*LADDER[:known], OWN, ENGINE], other)
    assert before == after


def test_that_without_a_covering_rule_the_registers_interval_is_left():
    assert interval_in_force([ELSEWHERE], BOX) is None
    assert interval_in_force([], BOX) is None


def test_that_of_equal_rivals_the_later_one_holds():
    later = replace(KIND, interval_hours=301.0)
    assert interval_in_force([KIND, later, FLEET], BOX) == later


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"interval_hours": None}, "neither hours nor days are given"),
        ({"interval_hours": 0.0}, "0 h. Give hours above zero"),
        ({"interval_hours": math.nan}, "nan h"),
        ({"interval_hours": math.inf}, "inf h"),
        ({"interval_days": -3}, "-3 days. Give days above zero"),
        ({"window_share": 0.0}, "a window of 0 of the interval"),
        ({"window_share": 0.51}, "Give a share above 0 and at most 0.5"),
    ],
)
def test_that_an_interval_that_makes_no_sense_is_refused_with_its_value(changes, told):
    with pytest.raises(LimitError, match=f"whole fleet, interval: .*{told}"):
        check_interval(rule(**changes))


@pytest.mark.parametrize(
    "changes", [{}, {"interval_days": 90}, {"interval_hours": None, "interval_days": 1}]
)
def test_that_hours_or_days_or_both_are_enough(changes):
    check_interval(rule(**changes, window_share=0.5, convention="grid"))
