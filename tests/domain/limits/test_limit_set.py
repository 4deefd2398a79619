"""Which limits hold for which box and day, and which contradict themselves."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.limits.limit_set import (
    LimitError,
    LimitKind,
    LimitSetState,
    Scope,
    check_limit,
    limits_in_force,
    set_in_force,
)
from fluiddesk.domain.severity import Severity
from tests.makers import make_box, make_limit, make_set
from tests.strategies import BOX, BOXES, limits, scoped_limits

# From the least specific to the most; of two in one rank the later names more.
LADDER = [
    Scope(),
    Scope(fluid_class="engine_oil"),
    Scope(compartment_kind="engine"),
    Scope(compartment_kind="engine", fluid_class="engine_oil"),
    Scope(machine_kind="haul_truck"),
    Scope(machine_kind="haul_truck", compartment_kind="engine"),
    Scope(model="truck 40 t"),
    Scope(model="truck 40 t", compartment_kind="engine"),
    Scope(model="truck 40 t", compartment_kind="engine", fluid_class="engine_oil"),
    Scope(compartment=BOX.compartment),
]


@pytest.mark.parametrize("step", range(1, len(LADDER)))
def test_that_the_more_specific_scope_wins_wherever_it_stands(step):
    wide = make_limit(scope=LADDER[step - 1])
    narrow = make_limit(scope=LADDER[step], bounds=(1, 2, 3))
    assert limits_in_force([wide, narrow], BOX) == [narrow]
    assert limits_in_force([narrow, wide], BOX) == [narrow]


def test_that_of_two_equally_specific_limits_the_later_wins():
    first, second = make_limit(), make_limit(bounds=(1, 2, 3))
    assert limits_in_force([first, second], BOX) == [second]


def test_that_limits_of_other_analytes_kinds_and_directions_stand_beside_each_other():
    chosen = [
        make_limit("iron"),
        make_limit("copper"),
        make_limit("iron", kind=LimitKind.CHANGE),
        make_limit("iron", direction="down", bounds=(3, 2, 1)),
    ]
    assert limits_in_force(chosen, BOX) == chosen


@pytest.mark.parametrize("box", BOXES[1:])
def test_that_a_limit_of_a_single_box_holds_for_no_other(box):
    fleet, single = make_limit(), make_limit(scope=Scope(compartment=BOX.compartment))
    assert limits_in_force([fleet, single], box) == [fleet]
    assert limits_in_force([fleet, single], BOX) == [single]


@pytest.mark.parametrize(
    ("field", "other"),
    [
        ("machine_kind", "loader"),
        ("model", "truck 60 t"),
        ("compartment_kind", "hydraulic"),
        ("compartment", "0f" * 16),
        ("fluid_class", "gear_oil"),
    ],
)
def test_that_a_scope_covers_no_box_that_differs_in_what_it_names(field, other):
    assert Scope(**{field: getattr(BOX, field)}).covers(BOX)
    assert not Scope(**{field: other}).covers(BOX)


def test_that_an_off_row_takes_an_inherited_limit_away_where_it_holds():
    off = make_limit(scope=Scope(model="truck 40 t"), bounds=(None, None, None), is_off=True)
    chosen = [make_limit("iron"), make_limit("copper"), off]
    assert [limit.analyte for limit in limits_in_force(chosen, BOX)] == ["copper"]
    other = make_box(model="truck 60 t")
    assert [limit.analyte for limit in limits_in_force(chosen, other)] == ["iron", "copper"]


def test_that_a_more_specific_limit_outlives_an_off_row():
    off = make_limit(scope=Scope(model="truck 40 t"), is_off=True)
    single = make_limit(scope=Scope(compartment=BOX.compartment))
    assert limits_in_force([make_limit(), single, off], BOX) == [single]


@given(chosen=st.lists(scoped_limits(), max_size=8), more=scoped_limits())
def test_that_one_more_limit_changes_nothing_outside_its_scope_and_key(chosen, more):
    for box in BOXES:
        before = limits_in_force(chosen, box)
        after = limits_in_force([*chosen, more], box)
        if not more.scope.covers(box):
            assert after == before
        assert [one for one in after if one.key != more.key] == [
            one for one in before if one.key != more.key
        ]


@given(chosen=st.lists(scoped_limits(), max_size=8))
def test_that_every_limit_in_force_is_the_most_specific_of_its_key(chosen):
    for box in BOXES:
        for held in limits_in_force(chosen, box):
            rivals = [one for one in chosen if one.key == held.key and one.scope.covers(box)]
            assert held in rivals
            assert held.scope.specificity == max(one.scope.specificity for one in rivals)


@pytest.mark.parametrize(
    ("scope", "text"),
    [
        (Scope(), "whole fleet"),
        (Scope(compartment_kind="final_drive"), "final drive"),
        (
            Scope(machine_kind="haul_truck", model="truck 40 t", fluid_class="gear_oil"),
            "haul truck / truck 40 t / gear oil",
        ),
        (Scope(compartment="00" * 12 + "deadbeef"), "box deadbeef"),
    ],
)
def test_that_a_scope_is_told_in_words(scope, text):
    assert scope.text == text


def test_that_a_limit_tells_the_bound_of_each_band():
    limit = make_limit(bounds=(60, None, 150))
    assert [limit.bound(severity) for severity in Severity] == [None, None, 60, None, 150]


@given(limit=limits(), direction=st.sampled_from(["up", "down"]))
def test_that_bounds_turned_round_are_refused(limit, direction):
    check_limit(limit)
    turned = make_limit(bounds=limit.bounds(), direction=direction)
    if direction == limit.direction or sum(one is not None for one in limit.bounds()) < 2:
        check_limit(turned)
        return
    with pytest.raises(LimitError, match=f"further {direction} than the one before"):
        check_limit(turned)


def test_that_a_refusal_names_scope_analyte_and_bounds():
    limit = make_limit(bounds=(60, None, 50.5), scope=Scope(compartment_kind="engine"))
    with pytest.raises(LimitError, match=r"^engine, iron, level up: .* read 60 / - / 50\.5\."):
        check_limit(limit)


def test_that_two_bands_on_one_bound_are_refused():
    with pytest.raises(LimitError, match="read 60 / 60 / 100"):
        check_limit(make_limit(bounds=(60, 60, 100)))


def test_that_a_limit_without_a_bound_is_refused_unless_it_switches_off():
    with pytest.raises(LimitError, match="no bound is given"):
        check_limit(make_limit(bounds=(None, None, None)))
    check_limit(make_limit(bounds=(None, None, None), is_off=True))


DAY = date(2025, 1, 1)


def test_that_the_newest_set_in_force_by_a_day_holds():
    old = make_set([], 1, valid_until=DAY, state=LimitSetState.RETIRED)
    new = make_set([], 2, valid_from=DAY)
    assert set_in_force([new, old], DAY - timedelta(1)) == old
    assert set_in_force([new, old], DAY) == new
    assert set_in_force([new, old], date(2023, 12, 31)) is None


def test_that_a_draft_never_holds():
    draft = make_set([], 2, valid_from=DAY, state=LimitSetState.DRAFT)
    held = make_set([], 1)
    assert set_in_force([draft, held], DAY) == held
    assert set_in_force([draft], DAY) is None


def test_that_of_two_sets_of_one_day_the_higher_number_holds():
    sets = [make_set([], 2), make_set([], 1)]
    assert set_in_force(sets, DAY) == sets[0]
