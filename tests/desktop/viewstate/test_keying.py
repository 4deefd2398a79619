from dataclasses import replace

import pytest

from fluiddesk.desktop.viewstate.bottle_box import code_fault, where_drawn, whose
from fluiddesk.desktop.viewstate.keying import (
    HIDDEN_TEXT,
    KeyingState,
    Part,
    Stop,
    expected_range,
    new_warning,
    proposal_words,
    row_note,
    to_do_words,
    warning_to_show,
)
from fluiddesk.services.keyed_results.facts import Answer, Expected, WarningKind
from tests.desktop.makers_keying import (
    make_cell,
    make_checked,
    make_draft,
    make_report,
    make_warning,
)


def state_of(*cells, **texts: str) -> KeyingState:
    return KeyingState(make_report(*cells), make_draft(cells=texts))


def test_that_the_grid_keeps_the_order_of_the_report_with_the_remark_last() -> None:
    state = state_of()
    titles = [row.title for row in state.rows]
    assert titles == ["Report", "Report number", "Meter", "Values", "Fe", "Cu", "Si", "Remark"]
    assert [row.part for row in state.rows].count(Part.HEADING) == 2


def test_that_enter_skips_headings_and_ends_after_the_last_field() -> None:
    state = state_of()
    seen, at = [], state.next_stop(-1, step=1)
    while at is not None:
        seen.append(state.rows[at.row].title)
        at = state.next_stop(at.row, step=1)
    assert seen == ["Report number", "Meter", "Fe", "Cu", "Si", "Remark"]
    assert state.next_stop(4, step=-1) == Stop(row=2)


def test_that_typing_begins_at_the_first_field_still_wanted() -> None:
    state = state_of(Fe="20")
    state.draft = replace(state.draft, heads={"report_number": "A-1"})
    assert state.first_stop() == Stop(row=5)


def test_that_a_changed_value_forgets_its_second_entry() -> None:
    state = state_of(make_cell("Fe", decides=True), Fe="20")
    state.draft = replace(state.draft, second={"Fe": "20"})
    row = state.row_of("Fe")
    assert row is not None
    state.set_text(row, "21")
    assert state.draft.second == {}
    assert state.text(row) == "21"


def test_that_the_second_pass_hides_the_first_entry_and_visits_deciding_values_only() -> None:
    state = state_of(make_cell("Fe", decides=True), make_cell("Cu"), Fe="20", Cu="3")
    iron, copper = state.row_of("Fe"), state.row_of("Cu")
    assert iron is not None
    assert copper is not None
    state.second_pass = True
    assert state.shown(iron) == HIDDEN_TEXT
    assert state.shown(copper) == "3"
    assert list(state.stops()) == [Stop(row=iron, again=True)]


def test_that_obstacles_come_as_warnings_then_empty_fields_then_second_entries() -> None:
    state = state_of(make_cell("Fe", decides=True), make_cell("Cu"), Fe="220")
    iron, copper = state.row_of("Fe"), state.row_of("Cu")
    slip = make_warning()
    state.checked = make_checked(slip, missing=("Cu",), second_wanted=("Fe",))
    assert state.obstacle() == slip
    state.checked = make_checked(missing=("Cu",), second_wanted=("Fe",))
    assert state.obstacle() == Stop(row=copper or 0)
    state.checked = make_checked(second_wanted=("Fe",))
    assert state.obstacle() == Stop(row=iron or 0, again=True)
    state.checked = make_checked()
    assert state.obstacle() is None


@pytest.mark.parametrize(
    ("checked", "words"),
    [
        (make_checked(missing=("Fe", "Cu")), "2 values still empty"),
        (make_checked(make_warning(), missing=("Cu",)), "1 value still empty, 1 warning open"),
        (make_checked(second_wanted=("Fe",)), "1 value to enter a second time"),
        (make_checked(replace(make_warning(), answer=Answer.CONFIRMED)), "Ready to save"),
        (make_checked(replace(make_warning(), answer=Answer.PARKED)), "1 warning open"),
    ],
)
def test_that_what_is_left_to_do_is_said_in_one_line(checked, words: str) -> None:
    state = state_of()
    state.checked = checked
    assert to_do_words(state) == words


def test_that_a_row_says_what_was_found_and_how_it_was_answered() -> None:
    state = state_of()
    row = state.row_of("Fe") or 0
    slip = make_warning()
    state.checked = make_checked(slip)
    assert row_note(state, row) == "Decimal slip: 22.0?"
    state.checked = make_checked(replace(slip, answer=Answer.CONFIRMED))
    assert row_note(state, row) == "Laboratory confirms: Decimal slip"
    state.checked = make_checked(slip, make_warning(kind=WarningKind.PAIR))
    assert row_note(state, row).endswith("(+1)")


def test_that_the_warning_beside_the_grid_is_the_row_s_own_else_the_newest() -> None:
    state = state_of()
    iron, copper, whole = make_warning(), make_warning("Cu"), make_warning("")
    state.checked = make_checked(iron, copper, whole)
    row = state.row_of("Cu") or 0
    assert warning_to_show(state, row, newest=iron) == copper
    elsewhere = state.row_of("Si") or 0
    assert warning_to_show(state, elsewhere, newest=iron) == iron
    assert warning_to_show(state, elsewhere, newest=None) == whole
    assert new_warning(make_checked(iron), make_checked(iron, copper)) == copper
    assert new_warning(make_checked(iron), make_checked(iron)) is None


def test_that_a_proposal_names_what_its_button_does() -> None:
    assert proposal_words(make_warning()) == "Take 22.0"
    moved = make_warning("", moved={"Fe": "1", "Cu": "2"}, proposed="")
    assert proposal_words(moved) == "Move 2 values to their fields"
    assert proposal_words(make_warning(proposed="")) == ""


def test_that_an_expectation_without_a_band_is_shown_as_its_text() -> None:
    assert expected_range(None) == ""
    assert expected_range(Expected(text="-", low="", high="", last="-", last_on=None)) == "-"


def test_that_a_slip_in_a_code_is_told_once_the_code_is_long_enough() -> None:
    assert code_fault("26K-0103", is_whole=False) == ""
    assert "check character" in code_fault("26K-01032-7", is_whole=False)
    assert "check character" in code_fault("26K", is_whole=True)
    assert code_fault("26k010328", is_whole=True) == ""


def test_that_whose_bottle_it_is_comes_with_day_and_meter() -> None:
    report = make_report()
    assert whose(report) == "EX-01  Engine"
    assert where_drawn(report) == (
        "Pit North  \u00b7  drawn on 2026-06-08  \u00b7  meter 12\u202f884  \u00b7  "
        "242 h on the fluid"
    )
