from dataclasses import replace

import pytest

from fluiddesk.desktop.viewstate.lab_intake import (
    PreviewState,
    RowColumn,
    RowFilter,
    already_line,
    boxes_that_move,
    condition_text,
    idle_sentence,
    preview_sentence,
    problem_cells,
    problem_line,
    problems_heading,
    result_sentence,
    row_line,
    take_in_label,
    undone_sentence,
    why_not_taken_in,
)
from fluiddesk.domain.severity import Severity
from fluiddesk.intake.problems import IntakeReport
from fluiddesk.services.lab_intake.facts import RowFate
from fluiddesk.services.lab_intake.revised import ValueChange
from tests.desktop.makers_results import (
    full_preview,
    make_past,
    make_preview,
    make_problem,
    make_result,
    make_row,
)


def rows_shown(state: PreviewState) -> list[int]:
    return [state[position].row for position in range(len(state))]


def test_that_the_sentence_counts_what_is_ready_held_unchanged_and_moving() -> None:
    assert preview_sentence(full_preview()) == (
        "22 results ready to take in, 2 held, 1 unchanged; 3 boxes would change condition."
    )


def test_that_a_file_that_moves_nothing_says_so() -> None:
    told = preview_sentence(make_preview([make_row(2)]))
    assert told == "1 result ready to take in; no box would change condition."


def test_that_a_file_with_nothing_to_take_in_speaks_of_no_boxes() -> None:
    told = preview_sentence(make_preview([make_row(2, fate=RowFate.HELD)]))
    assert told == "0 results ready to take in, 1 held."


def test_that_the_very_same_file_is_named_as_such_with_when_and_by_whom() -> None:
    preview = make_preview(already_taken_in="2026-06-08 07:42 by First clerk.")
    assert preview_sentence(preview) == "This very file was taken in before. Nothing will change."
    assert already_line(preview) == "Taken in on 2026-06-08 07:42 by First clerk."
    assert why_not_taken_in(preview) == "This very file was taken in before."


def test_that_two_results_of_one_box_move_one_box() -> None:
    moving = {"machine": "EX-1", "severity_after": Severity.ACT}
    assert boxes_that_move(make_preview([make_row(2, **moving), make_row(3, **moving)])) == 1


@pytest.mark.parametrize(
    ("fates", "why"),
    [
        ([], "The file holds no result."),
        ([RowFate.HELD], "Every row is held"),
        ([RowFate.UNCHANGED], "every row is on record as it stands"),
        ([RowFate.HELD, RowFate.UNCHANGED], "every row that is not held is on record"),
    ],
)
def test_that_nothing_to_take_in_has_a_reason(fates: list[RowFate], why: str) -> None:
    rows = [make_row(2 + n, fate=fate) for n, fate in enumerate(fates)]
    assert why in why_not_taken_in(make_preview(rows))


def test_that_something_to_take_in_needs_no_reason_and_is_counted_on_the_button() -> None:
    assert why_not_taken_in(full_preview()) == ""
    assert take_in_label(full_preview()) == "Take in 22 results"
    assert take_in_label(make_preview([make_row(2)])) == "Take in 1 result"


@pytest.mark.parametrize(
    ("row_filter", "rows"),
    [
        (RowFilter.MOVES, [5, 10, 13]),
        (RowFilter.HELD, [17, 22]),
        (RowFilter.REVISIONS, [13]),
        (RowFilter.UNCHANGED, [16]),
    ],
)
def test_that_a_chip_shows_its_rows_and_counts_them(row_filter: RowFilter, rows: list[int]) -> None:
    state = PreviewState(full_preview())
    state.show(row_filter)
    assert rows_shown(state) == rows
    assert state.count(row_filter) == len(rows)


def test_that_a_filter_keeps_the_order_and_an_order_keeps_the_filter() -> None:
    state = PreviewState(full_preview())
    state.sort(RowColumn.ROW, descending=True)
    state.show(RowFilter.HELD)
    assert rows_shown(state) == [22, 17]
    state.sort(RowColumn.ROW, descending=False)
    assert rows_shown(state) == [17, 22]


def test_that_sorting_by_condition_puts_the_worst_first_and_held_rows_last() -> None:
    state = PreviewState(full_preview())
    state.sort(RowColumn.CONDITION, descending=False)
    assert rows_shown(state)[:2] == [5, 10]
    assert rows_shown(state)[-2:] == [17, 22]


@pytest.mark.parametrize("column", list(RowColumn))
def test_that_every_column_sorts_every_row(column: RowColumn) -> None:
    state = PreviewState(full_preview())
    state.sort(column, descending=True)
    assert sorted(rows_shown(state)) == list(range(2, 27))


def test_that_a_row_is_found_where_it_stands_and_not_where_it_is_filtered_away() -> None:
    state = PreviewState(full_preview())
    state.sort(RowColumn.ROW, descending=True)
    assert state.position_of(26) == 0
    state.show(RowFilter.HELD)
    assert state.position_of(26) is None


def test_that_a_held_row_says_why_it_is_held_and_judges_nothing() -> None:
    state = PreviewState(full_preview())
    held = state.row_of_file(17)
    assert held is not None
    assert state.headline(held) == '"12,4O" is not a number.'
    assert condition_text(held) == ""


def test_that_a_moving_row_tells_both_severities_and_a_resting_one_its_own() -> None:
    assert condition_text(make_row(2, severity_after=Severity.ACT)) == "Normal → Act"
    assert condition_text(make_row(2)) == "Normal"


def test_that_problems_are_counted_with_the_rows_they_hold() -> None:
    assert problems_heading(full_preview().problems) == "3 problems, 2 rows held"
    assert problems_heading([make_problem(None)]) == "1 problem"
    assert problems_heading([]) == "No problems found"


def test_that_two_problems_of_one_row_hold_one_row() -> None:
    assert problems_heading([make_problem(4), make_problem(4)]) == "2 problems, 1 row held"


def test_that_a_problem_of_the_whole_file_says_file_instead_of_a_row() -> None:
    assert problem_cells(make_problem(None))[0] == "file"
    assert problem_cells(make_problem(7))[0] == "7"


def test_that_a_finished_intake_tells_what_it_did() -> None:
    assert result_sentence(make_result()) == (
        "22 results taken in, 2 held, 1 unchanged; 3 boxes changed condition."
    )
    nothing = replace(make_result(), taken_in=0, moved=(), intake_id=None)
    assert result_sentence(nothing).endswith("nothing was changed.")


def test_that_an_undone_intake_names_its_file() -> None:
    told = undone_sentence(replace(make_result(), moved=make_result().moved[:1]))
    assert told == "The intake of results_2026-06-08.csv is undone; 1 box changed condition."


def test_that_the_empty_page_tells_of_the_last_file_still_in_force() -> None:
    past = [make_past(1), make_past(9, is_undone=True)]
    assert idle_sentence(past) == "1 file taken in; the last on 2026-05-01 with 31 results."
    assert idle_sentence([]).startswith("No file was taken in on this database yet.")


def test_that_a_row_in_one_line_names_box_report_and_day() -> None:
    assert row_line(make_row(2, machine="EX-1"), "All well") == (
        "Row 2, 26K-0002-X, North pit, EX-1, Engine, report R26-1002, issue 1, "
        "sampled on 2026-06-01. All well"
    )


def test_that_a_row_without_a_box_says_so() -> None:
    row = make_row(2, site="", machine="", compartment="", report="", sampled_on=None)
    assert row_line(row, "") == "Row 2, 26K-0002-X, no box, issue 1."


def test_that_a_problem_does_not_repeat_the_place_that_stands_beside_it() -> None:
    told = 'Row 5, column "Visc 100": "12,4O" is not a number.'
    problem = make_problem(5, column="Visc 100", text=told)
    assert problem_cells(problem)[3] == '"12,4O" is not a number.'
    assert problem_line(problem).startswith('Visc 100: "12,4O" is not a number. Correct')
    whole = make_problem(None, column="Smell", text='Column "Smell": this is unknown.')
    assert problem_cells(whole)[3] == "This is unknown."
    assert problem_line(whole).startswith('Column "Smell": this is unknown.')


def test_that_an_unchanged_row_that_is_not_judged_shows_no_verdict_at_all() -> None:
    row = make_row(2, fate=RowFate.UNCHANGED, severity_after=Severity.NO_VERDICT)
    assert condition_text(row) == ""
    assert condition_text(make_row(2, severity_after=Severity.NO_VERDICT)) == (
        "Normal → No verdict"
    )


def test_that_a_row_without_an_issue_number_shows_none() -> None:
    state = PreviewState(make_preview([make_row(2, issue=0)]))
    assert state.text(state[0], RowColumn.ISSUE) == ""
    assert "issue" not in row_line(state[0], "")


def test_that_a_revised_row_tells_what_it_changed() -> None:
    row = make_row(
        3,
        fate=RowFate.REVISION,
        revised=(ValueChange(name="Iron", before="21 mg/kg", after="12 mg/kg"),),
    )
    assert "Revised: Iron 12 mg/kg, was 21 mg/kg." in row_line(row, "Nothing to say.")


def test_that_a_file_of_held_rows_alone_offers_to_put_them_aside() -> None:
    report = IntakeReport(file="f.csv", sha256="", layout="", laboratory="")
    report.hold(2, lambda: ("26T-99999-9",), ())
    preview = make_preview([make_row(2, fate=RowFate.HELD)], report=report)
    assert why_not_taken_in(preview) == ""
    assert take_in_label(preview) == "Put 1 row aside"
    assert "wait in the queue" in preview_sentence(preview)
    aside = replace(make_result(), taken_in=0, held=1, moved=(), intake_id=b"i" * 16)
    assert result_sentence(aside) == "1 row put aside; they wait in the queue."
