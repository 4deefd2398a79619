from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.desktop.viewstate.limit_reading import limit_details, set_line, set_sentence
from fluiddesk.desktop.viewstate.limit_rules import (
    ALL_SCOPES,
    NOT_JUDGED,
    FamilyHeading,
    LimitColumn,
    LimitsState,
    cell_text,
    limit_title,
    scope_label,
    unit_text,
)
from fluiddesk.domain.limits.limit_set import LimitKind, Scope
from fluiddesk.services.limit_rules import LimitLine, LimitsShown
from tests.desktop.makers_limits import facts_of, starter_set
from tests.desktop.makers_results import make_limit, make_limits_shown, starter_limits_shown

STARTER = starter_limits_shown()


def state_at(label: str) -> LimitsState:
    state = LimitsState(STARTER)
    state.choose(state.labels.index(label))
    return state


def limits_of(state: LimitsState) -> list[LimitLine]:
    return [row for row in state.rows if not isinstance(row, FamilyHeading)]


def headings_of(state: LimitsState) -> list[str]:
    return [row.text for row in state.rows if isinstance(row, FamilyHeading)]


def with_one_only_kept() -> LimitsShown:
    """The starter limits, of which this version cannot compute the first one of engines."""
    at = next(at for at, one in enumerate(STARTER.lines) if one.limit.scope.text == "engine")
    lines = list(STARTER.lines)
    lines[at] = replace(lines[at], is_judged=False)
    return replace(STARTER, lines=tuple(lines))


def test_that_scopes_stand_in_order_of_the_power_path_before_narrower_ones() -> None:
    entries = LimitsState(STARTER).scope_entries()
    labels = [entry.label for entry in entries]
    assert labels[:3] == ["All scopes", "Compartment kinds", "Engine"]
    order = [
        "Engine",
        "Engine cooling system",
        "Final drive",
        "Fuel tank",
        "Machine kinds",
        "Excavator, engine",
        "Single boxes",
    ]
    assert [label for label in labels if label in order] == order


def test_that_the_counts_of_the_scopes_add_up_to_all() -> None:
    entries = LimitsState(STARTER).scope_entries()
    assert entries[0].count == len(STARTER.lines)
    assert sum(entry.count for entry in entries[1:]) == len(STARTER.lines)


def test_that_a_scope_shows_its_own_limits_only() -> None:
    found = limits_of(state_at("Engine"))
    assert found
    assert {scope_label(line) for line in found} == {"Engine"}


def test_that_every_limit_is_shown_once_under_all_scopes() -> None:
    found = limits_of(LimitsState(STARTER))
    assert sorted(map(id, found)) == sorted(map(id, STARTER.lines))


def test_that_families_head_their_limits_and_kept_ones_come_last() -> None:
    families = ["Fluid condition", "Contamination", "Wear", "Additive"]
    assert headings_of(state_at("Engine")) == families
    state = LimitsState(with_one_only_kept())
    state.choose(state.labels.index("Engine"))
    assert headings_of(state) == [*families, NOT_JUDGED.capitalize()]


def test_that_limits_for_one_fluid_only_stand_under_its_name() -> None:
    headings = headings_of(state_at("Engine cooling system"))
    assert "Coolant (fluid: coolant conventional)" in headings
    assert "Coolant" in headings


def test_that_under_all_scopes_a_heading_names_the_scope() -> None:
    assert headings_of(LimitsState(STARTER))[0] == "Engine: fluid condition"


def test_that_a_filter_keeps_what_holds_every_word_and_counts_follow() -> None:
    state = LimitsState(STARTER)
    state.filter("iron RATE")
    found = limits_of(state)
    assert found
    assert {line.analyte for line in found} == {"Iron"}
    assert all(line.kind == "Rate per 100 h" for line in found)
    assert state.scope_entries()[0].count == len(found)


def test_that_a_filter_finds_limits_that_are_only_kept() -> None:
    state = LimitsState(with_one_only_kept())
    state.filter("not yet used")
    assert limits_of(state)
    assert not any(line.is_judged for line in limits_of(state))


def test_that_a_filter_that_nothing_holds_leaves_no_heading() -> None:
    state = LimitsState(STARTER)
    state.filter("no such word anywhere")
    assert state.rows == []


def test_that_sorting_orders_limits_by_value_inside_each_family() -> None:
    state = state_at("Engine")
    before = headings_of(state)
    state.sort(LimitColumn.URGENT, descending=True)
    assert headings_of(state) == before
    wear = [
        line.limit.urgent for line in limits_of(state) if line.family == "Wear" and line.is_judged
    ]
    assert wear == sorted(wear, key=lambda bound: -(bound or 0.0))
    state.sort(None, descending=False)
    assert state.rows == state_at("Engine").rows


def test_that_missing_bounds_sort_last_when_rising() -> None:
    state = LimitsState(
        make_limits_shown(
            make_limit(analyte="iron", urgent=None),
            make_limit(analyte="copper", urgent=300.0),
        )
    )
    state.sort(LimitColumn.URGENT, descending=False)
    assert [line.analyte for line in limits_of(state)] == ["Copper", "Iron"]


def test_that_the_decimals_shown_are_those_of_the_scope() -> None:
    state = LimitsState(
        make_limits_shown(
            make_limit(watch=0.05), make_limit(scope=Scope(compartment_kind="hydraulic"), watch=2.0)
        )
    )
    assert state.decimals[LimitColumn.WATCH] == 2
    state.choose(1)
    assert state.decimals[LimitColumn.WATCH] == 0


@pytest.mark.parametrize(
    ("scope", "label"),
    [
        (Scope(), "Every box"),
        (Scope(compartment_kind="final_drive"), "Final drive"),
        (Scope(machine_kind="excavator"), "Excavator"),
        (Scope(machine_kind="excavator", compartment_kind="engine"), "Excavator, engine"),
        (Scope(model="M1", compartment_kind="engine"), "M1, engine"),
        (Scope(compartment="0123456789abcdef" * 2), "Box 89abcdef"),
    ],
)
def test_that_a_scope_is_named_by_what_it_holds_for(scope: Scope, label: str) -> None:
    assert scope_label(make_limits_shown(make_limit(scope=scope)).lines[0]) == label


def test_that_details_tell_boundary_source_maker_and_note() -> None:
    line = make_limits_shown(make_limit(boundary="beyond", note="Between two services.")).lines[0]
    told = dict(limit_details(line))
    assert told["On the limit"] == "Only a value beyond the limit counts as the worse band."
    assert told["Source"] == "common practice, no source"
    assert told["Set by"] == "starter set"
    assert told["Note"] == "Between two services."
    assert told["Fluid class"] == "Any"
    assert "In use" not in told


def test_that_details_of_a_limit_that_is_only_kept_say_so() -> None:
    line = replace(make_limits_shown(make_limit()).lines[0], is_judged=False)
    assert dict(limit_details(line))["In use"] == "Kept, not yet used in verdicts."
    assert dict(limit_details(make_limits_shown(make_limit()).lines[0]))["On the limit"] == (
        "A value on the limit counts as the worse band."
    )


def test_that_a_title_says_which_way_is_worse() -> None:
    line = make_limits_shown(make_limit()).lines[0]
    assert limit_title(line) == "Iron (Fe): level, worse when it rises"
    assert limit_title(replace(line, direction="down")).endswith("worse when it falls")


def test_that_units_and_minus_signs_are_written_as_people_do() -> None:
    assert unit_text("mm2/s per 100 h") == "mm²/s per 100 h"
    falling = make_limits_shown(
        make_limit(kind=LimitKind.CHANGE, direction="down", watch=-5.0, act=-8.0, urgent=None)
    ).lines[0]
    assert cell_text(falling, LimitColumn.WATCH) == "\N{MINUS SIGN}5"
    assert cell_text(falling, LimitColumn.URGENT) == ""


def test_that_the_set_tells_its_author_and_note() -> None:
    assert set_line(replace(STARTER, author="A. Engineer", note="To begin with.")) == (
        "By A. Engineer. To begin with."
    )


def test_that_an_empty_set_shows_no_scope_but_all() -> None:
    state = LimitsState(make_limits_shown())
    assert [entry.number for entry in state.scope_entries()] == [ALL_SCOPES]
    assert state.rows == []


def test_that_a_limit_tells_what_it_overrides_and_what_it_gives_way_to() -> None:
    wide = make_limit()
    narrow = make_limit(
        scope=Scope(machine_kind="excavator", compartment_kind="engine"), watch=40.0, urgent=None
    )
    other = make_limit(analyte="copper")
    limits = (wide, narrow, other)
    lines = {line.limit.scope.rank: line for line in make_limits_shown(wide, narrow).lines}
    assert dict(limit_details(lines[1], limits))["Overrides"] == "engine (60 / 100 / 150)"
    assert dict(limit_details(lines[0], limits))["Gives way to"] == (
        "excavator / engine (40 / 100 / -)"
    )
    assert "Overrides" not in dict(limit_details(lines[0], limits))


def test_that_a_row_that_is_off_says_so_and_until_when() -> None:
    off = make_limit(is_off=True, off_until=date(2027, 3, 1), note="Running in")
    told = dict(limit_details(make_limits_shown(off).lines[0]))
    assert told["Switched off"] == "Nothing is judged by it here until 2027-03-01."


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"holds_today": True}, "in force since 2026-01-01"),
        ({"holds_today": False}, "takes force on 2026-01-01."),
        ({"holds_today": False, "is_discarded": True}, "a draft that was discarded."),
    ],
)
def test_that_the_sentence_tells_how_a_set_stands(changed: dict[str, bool], words: str) -> None:
    one = replace(facts_of(starter_set()), **changed)
    assert words in set_sentence(STARTER, one)
