"""Every problem of a limit set is told at once, with its row and remedy."""

from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitKind, Scope
from fluiddesk.services.limit_rules.check import check, problems_of
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit
from fluiddesk.services.limit_rules.row_checks import Known
from fluiddesk.services.limit_rules.versions import draft_from, edit_draft
from tests.fleets import LAST_DAY, NOW, Fleet, the_catalogue
from tests.makers import make_limit, make_set

TODAY = date(2026, 6, 30)
SOUND = make_limit()


def problems(*limits, intervals=(), base=None, known=None):
    known = known or Known(catalogue=the_catalogue())
    made = make_set(limits, intervals=tuple(intervals))
    return problems_of(made, known, today=TODAY, base=base)


def rule(**changes) -> IntervalRule:
    sound = IntervalRule(
        scope=Scope(), interval_hours=250, interval_days=None, source="manual", set_by="Kim"
    )
    return replace(sound, **changes)


def test_that_a_sound_limit_has_no_problem():
    assert problems(SOUND, intervals=[rule()]) == ()


@pytest.mark.parametrize(
    ("limit", "told"),
    [
        (make_limit(bounds=(100, 60, 150)), "Watch / Act / Urgent read 100 / 60 / 150"),
        (make_limit(bounds=(None, None, None)), "no bound is given"),
        (make_limit(bounds=(60, float("nan"), 150)), "a bound is no finite number"),
        (make_limit("unobtainium"), 'analyte "unobtainium" is not in the catalogue'),
        (make_limit(scope=Scope(machine_kind="boat")), 'machine kind "boat" is not known'),
        (make_limit(scope=Scope(compartment_kind="sail")), 'compartment kind "sail"'),
        (make_limit(scope=Scope(fluid_class="wine")), 'fluid class "wine" is not known'),
        (make_limit(source=" "), "no source is given"),
        (make_limit(set_by=""), "nobody is named who set it"),
        (make_limit(act_needs=2), "it needs 2 analytes of a group, but names no group"),
        (make_limit(urgent_needs=0), "fewer than 1 analyte"),
        (make_limit(is_off=True), "switched off without a reason"),
        (make_limit(is_off=True, note="x"), "switched off without an end date"),
        (make_limit(least_change=-1.0), "the least change reads -1"),
        (
            make_limit(kind=LimitKind.COMPANION_RATIO, companion="iron"),
            "an analyte is no companion of itself",
        ),
        (
            make_limit(kind=LimitKind.COMPANION_RATIO, companion="gold"),
            'the companion analyte "gold" is not in the catalogue',
        ),
        (make_limit(kind=LimitKind.COMPANION_RATIO), "companion analyte is missing"),
    ],
)  # fmt: skip
def test_that_each_fault_of_a_limit_stops_the_set_and_names_row_and_remedy(limit, told):
    found = problems(SOUND, replace(limit, direction="up"))
    mine = [one for one in found if told in one.text]
    assert mine, [one.text for one in found]
    assert mine[0].stops
    assert mine[0].place == 1
    assert mine[0].text.startswith("row 2, ")
    assert mine[0].remedy


def test_that_neighbouring_bounds_within_repeatability_are_refused_with_the_figure():
    # ASTM D5185, iron: repeatability 0.13 X^0.80, so 3.4 mg/kg between 60 and 61 (X = 60.5).
    [found] = problems(make_limit(bounds=(60, 61, 150)))
    assert "60 and 61 lie 1 mg/kg apart" in found.told
    assert "(repeatability)" in found.told
    assert found.stops


def test_that_a_row_kept_from_the_set_before_is_told_but_stops_nothing():
    close = make_limit(bounds=(60, 61, 150))
    [found] = problems(close, base=make_set([close]))
    assert not found.stops
    assert "kept from the set before" in found.told


def test_that_rivals_of_the_same_scope_are_told():
    [found] = problems(SOUND, make_limit("copper"), replace(SOUND, watch=50.0))
    assert found.place == 2
    assert "row 1 says the same thing for the same scope" in found.told


def test_that_an_off_row_that_has_run_out_is_told_but_stops_nothing():
    off = make_limit(is_off=True, note="run-in", off_until=date(2026, 6, 29))
    [found] = problems(off)
    assert "switched off until 2026-06-29, which has passed" in found.told
    assert not found.stops
    assert problems(replace(off, off_until=TODAY)) == ()


def test_that_a_bound_outside_what_is_plausible_is_told():
    [found] = problems(make_limit(bounds=(60, 100, 9e6)))
    assert "lies outside what is plausible" in found.told
    assert not found.stops


def test_that_a_derivation_older_than_a_year_asks_for_a_new_one():
    old = make_limit(derivation='{"until": "2025-01-01"}')
    [found] = problems(old)
    assert "derived from samples up to 2025-01-01, more than a year ago" in found.told
    assert problems(make_limit(derivation='{"until": "2026-01-01"}')) == ()
    [unread] = problems(make_limit(derivation="{}"))
    assert "cannot be read" in unread.told


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"interval_hours": None}, "neither hours nor days are given"),
        ({"interval_hours": -5.0}, "-5 h. Give hours above zero"),
        ({"interval_days": 0}, "0 days. Give days above zero"),
        ({"window_share": 0.7}, "a window of 0.7"),
        ({"scope": Scope(fluid_class="engine_oil")}, "does not depend on the fluid class"),
        ({"source": ""}, "no source is given"),
    ],
)
def test_that_each_fault_of_an_interval_rule_is_told(changes, told):
    [found] = problems(SOUND, intervals=[rule(**changes)])
    assert told in found.text
    assert found.stops
    assert found.is_interval


def test_that_two_interval_rules_of_one_scope_are_rivals():
    [found] = problems(SOUND, intervals=[rule(), rule(interval_days=30)])
    assert "row 1 says the same thing" in found.told


def test_that_a_set_without_limits_is_refused():
    [found] = problems()
    assert found.text == "The set holds no limits. Add some, or copy a set that has them."


def test_that_each_setting_out_of_its_span_is_told():
    made = make_set([SOUND], settings={"clears_at": 7, "speed": 1, "least_earlier": 5})
    found = problems_of(made, Known(catalogue=the_catalogue()), today=TODAY)
    assert [one.text.partition(".")[0] for one in found] == [
        "settings: clears_at is 7", 'settings: There is no setting "speed"',
    ]  # fmt: skip
    assert all(one.stops for one in found)


def test_that_everything_is_told_at_once_and_what_stops_comes_first():
    worn = make_limit(is_off=True, note="x", off_until=date(2020, 1, 1))
    found = problems(
        worn, make_limit("unobtainium", source=""), make_limit("copper", bounds=(9, 5, 1))
    )
    assert [one.stops for one in found] == [True, True, True, False]
    assert [one.place for one in found] == [1, 1, 2, 0]


def test_that_an_unknown_model_or_box_is_told_but_stops_nothing(fleet: Fleet):
    known = Known(catalogue=the_catalogue(), models=frozenset({"A"}), compartments=frozenset())
    found = problems(
        make_limit(scope=Scope(model="B")), make_limit(scope=Scope(compartment="0a")), known=known
    )
    assert [one.stops for one in found] == [False, False]
    assert 'model "B" is not known here' in found[0].told


def test_that_the_starter_set_may_take_force(fleet: Fleet):
    found = check(fleet.place, 1, today=LAST_DAY)
    assert (found.number, found.name) == (1, "Starter limits")
    assert found.may_take_force
    assert all("apart" in one.told for one in found.problems)


def test_that_a_copy_of_the_starter_set_may_take_force_and_a_changed_row_may_not(fleet: Fleet):
    copy = draft_from(fleet.place, 1, name="Copy", note="", moment=NOW)
    assert check(fleet.place, 2, today=LAST_DAY).may_take_force
    rows = copy.limit_set.limits
    place = next(
        place for place, row in enumerate(rows)
        if (row.analyte, row.scope.compartment_kind) == ("tin", "hydraulic")
    )  # fmt: skip
    closer = replace(rows[place], watch=5.0)
    edits = [RowEdit(kind=EditKind.CHANGE, place=place, limit=closer)]
    edit_draft(fleet.place, 2, edits, version=copy.version, moment=NOW)
    found = check(fleet.place, 2, today=LAST_DAY)
    assert not found.may_take_force
    assert [one.place for one in found.problems if one.stops] == [place]
