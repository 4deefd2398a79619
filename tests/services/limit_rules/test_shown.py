"""The limits in force as a person reads them."""

from datetime import date

import pytest

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.limits.limit_set import JUDGED_KINDS, LimitKind, Scope
from fluiddesk.services.limit_rules import limits_shown, shown
from tests.fleets import LAST_DAY, Fleet, the_catalogue
from tests.makers import make_limit, make_set


def lines(*limits):
    return shown(make_set(limits), the_catalogue()).lines


def test_that_every_limit_in_force_is_shown_with_its_source_and_who_set_it(fleet: Fleet):
    told = limits_shown(fleet.place, today=LAST_DAY)
    assert len(told.lines) == len(the_catalogue().starter_limits)
    assert all(line.source and line.set_by and line.unit is not None for line in told.lines)
    judged = sum(limit.kind in JUDGED_KINDS for limit in the_catalogue().starter_limits)
    assert told.sentence == (
        f'Limit set 1 "Starter limits" in force since 2000-01-01: {judged} limits judge samples.'
    )


def test_that_an_off_row_says_until_when_and_is_counted():
    off = make_limit(is_off=True, off_until=date(2026, 9, 30), note="run-in")
    told = shown(make_set([make_limit(), off]), the_catalogue())
    assert told.sentence.endswith(": 2 limits judge samples, 1 of them switched off.")
    assert [line.needs for line in told.lines] == ["", "off until 2026-09-30"]


def test_that_no_set_in_force_is_told_with_the_remedy(fleet: Fleet):
    with pytest.raises(NotFoundError, match="No limit set is in force on 1999-12-31"):
        limits_shown(fleet.place, today=date(1999, 12, 31))


def test_that_a_level_shows_its_bounds_plain_and_a_change_with_its_sign():
    change, level = lines(
        make_limit(bounds=(60, 100, 150)),
        make_limit(bounds=(10, None, 20), kind=LimitKind.CHANGE),
    )
    assert (level.kind, level.watch, level.act, level.urgent) == ("Level", "60", "100", "150")
    assert (change.kind, change.watch, change.act) == ("Change from new", "+10", "")
    assert change.urgent == "+20"


@pytest.mark.parametrize(
    ("kind", "unit"),
    [
        (LimitKind.LEVEL, "mg/kg"),
        (LimitKind.CHANGE, "mg/kg"),
        (LimitKind.CHANGE_PERCENT, "% of new"),
        (LimitKind.RATE_PER_100H, "mg/kg per 100 h"),
        (LimitKind.LEFT_RIGHT_RATIO, "ratio"),
        (LimitKind.COMPANION_RATIO, "of own median"),
        (LimitKind.OWN_STEP, "spreads"),
        (LimitKind.PERCENTILE, "mg/kg"),
        (LimitKind.OFF_GRADE, "% past the grade"),
        (LimitKind.MISSING_TEST, ""),
    ],
)
def test_that_each_kind_of_limit_shows_its_unit(kind, unit):
    [line] = lines(make_limit(kind=kind))
    assert (line.unit, line.is_judged) == (unit, kind in JUDGED_KINDS)


def test_that_lines_follow_the_power_path():
    kinds = ["final_drive", "engine", "hydraulic", ""]
    made = [make_limit(scope=Scope(compartment_kind=kind)) for kind in kinds]
    assert [line.compartment_kind for line in lines(*made)] == [
        "Any", "Engine", "Hydraulic system", "Final drive",
    ]  # fmt: skip


def test_that_a_limit_that_needs_company_says_so():
    [line] = lines(make_limit(group="additives", act_needs=2, urgent_needs=3))
    assert line.needs == "Act with 2 of the additives; Urgent with 3 of the additives"
    [alone] = lines(make_limit())
    assert alone.needs == ""
