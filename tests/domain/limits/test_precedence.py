"""Which limit holds here, since when, and which ones it overrode (common practice, no source)."""

from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.domain.limits.limit_set import (
    LimitKind,
    LimitSetState,
    Scope,
    limits_in_force,
)
from fluiddesk.domain.limits.precedence import limit_answer, limit_answers
from tests.makers import make_box, make_limit, make_set

BOX = make_box()
DAY = date(2026, 3, 1)
FLEET = make_limit(bounds=(60, 100, 150))
KIND = make_limit(bounds=(50, 90, 140), scope=Scope(machine_kind="haul_truck"))
MODEL = make_limit(bounds=(45, 80, 130), scope=Scope(model="truck 40 t"))
ENGINE = make_limit(
    bounds=(40, 75, 120), scope=Scope(model="truck 40 t", compartment_kind="engine")
)
SINGLE = make_limit(bounds=(30, 60, 90), scope=Scope(compartment=BOX.compartment))
CHAIN = [FLEET, KIND, MODEL, ENGINE, SINGLE]
OFF = replace(
    SINGLE, is_off=True, off_until=date(2026, 3, 31), note="new bearing, runs in", act=None
)


def asked(*limits, day=DAY, sets=None):
    held = sets or [make_set(limits)]
    return limit_answer(held, BOX, "iron", LimitKind.LEVEL, "up", day)


@pytest.mark.parametrize("size", range(1, 6))
def test_that_the_most_specific_row_holds_and_names_those_it_overrode(size):
    found = asked(*reversed(CHAIN[:size]))
    assert found.holds.limit == CHAIN[size - 1]
    assert [one.limit for one in found.overrode] == CHAIN[: size - 1][::-1]


def test_that_a_row_of_another_box_is_no_part_of_the_chain():
    other = replace(SINGLE, scope=Scope(compartment="0b" * 16))
    assert asked(FLEET, other).overrode == ()


def test_that_nothing_holds_where_no_row_covers_the_box_or_no_set_is_in_force():
    assert asked(make_limit("copper")) is None
    assert asked(FLEET, day=date(2023, 1, 1)) is None


@pytest.mark.parametrize(
    ("day", "is_off"), [(DAY, True), (date(2026, 3, 31), True), (date(2026, 4, 1), False)]
)
def test_that_an_off_holds_through_its_last_day_and_the_inherited_row_returns(day, is_off):
    found = asked(FLEET, OFF, day=day)
    assert found.is_off == is_off
    assert [one.limit for one in found.overrode] == ([FLEET] if is_off else [])
    assert found.returns_on == (date(2026, 4, 1) if is_off else None)
    assert limits_in_force([FLEET, OFF], BOX, day) == ([] if is_off else [FLEET])


def test_that_an_off_without_a_day_holds_until_it_is_taken_away():
    assert asked(FLEET, replace(OFF, off_until=None), day=date(2099, 1, 1)).is_off


def test_that_a_row_holds_since_the_first_set_that_said_the_same():
    retired = {"state": LimitSetState.RETIRED}
    sets = [
        make_set([KIND], 1, valid_from=date(2024, 1, 1), **retired),
        make_set([FLEET], 2, valid_from=date(2024, 6, 1), **retired),
        make_set([FLEET, KIND], 3, valid_from=date(2025, 1, 1), **retired),
        make_set([replace(FLEET, note="said again"), KIND], 4, valid_from=date(2025, 6, 1)),
        make_set([SINGLE], 5, valid_from=date(2025, 9, 1), state=LimitSetState.DRAFT),
    ]
    found = asked(sets=sets)
    assert (found.limit_set.number, found.holds.since) == (4, date(2025, 1, 1))
    assert found.overrode[0].since == date(2024, 6, 1)


def test_that_each_analyte_kind_and_direction_has_an_answer_of_its_own():
    falling = make_limit(bounds=(4, 2, 1), direction="down")
    change = make_limit(kind=LimitKind.CHANGE)
    found = limit_answers([make_set([FLEET, falling, change, make_limit("copper")])], BOX, DAY)
    assert len(found) == len({one.holds.limit.key for one in found}) == 4
