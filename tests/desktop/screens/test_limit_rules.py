"""The Rules page: read, edited by keyboard, undone, tried on the fleet, checked, put in force."""

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, Qt, QTimer
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.limit_rules import LimitRulesScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.limit_rules import LimitColumn
from fluiddesk.desktop.widgets.limit_foot import Leaf
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.domain.limits.limit_set import LimitSetState
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules.facts import RuleProblem, RulesRefusedError
from fluiddesk.wiring import Clock
from tests.desktop.makers_limits import (
    PLACE,
    TODAY,
    RuleCallsDouble,
    draft_of,
    page_facts,
    small_set,
    starter_set,
)

CONTROL = Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def calls() -> RuleCallsDouble:
    return RuleCallsDouble(small_set(), draft_of(small_set()))


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(qtbot: QtBot, calls: RuleCallsDouble, background: Background) -> LimitRulesScreen:
    return show(qtbot, calls, background)


@pytest.fixture
def drafting(screen: LimitRulesScreen, qtbot: QtBot, background: Background) -> LimitRulesScreen:
    screen.open_set(2)
    settle(qtbot, background)
    screen.view.limit_table.setFocus()
    return screen


def show(qtbot: QtBot, calls: RuleCallsDouble, background: Background) -> LimitRulesScreen:
    made = LimitRulesScreen(
        PLACE,
        clock=Clock(demo_day=TODAY),
        theme=make_theme("light"),
        background=background,
        calls=calls,
    )
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.refresh()
    settle(qtbot, background)
    return made


def settle(qtbot: QtBot, background: Background) -> None:
    qtbot.waitUntil(lambda: not background.jobs)


def column(screen: LimitRulesScreen, number: LimitColumn) -> list[str]:
    model = screen.view.limits
    return [str(model.index(row, number).data()).strip() for row in range(model.rowCount())]


def go_to(screen: LimitRulesScreen, analyte: str, at: LimitColumn) -> None:
    """Lead the keyboard to a cell, with arrow keys alone from wherever it is."""
    table = screen.view.limit_table
    rows = column(screen, LimitColumn.ANALYTE)
    target = rows.index(analyte)
    table.setFocus()
    while table.currentIndex().row() != target:
        down = table.currentIndex().row() < target
        press(table, Qt.Key.Key_Down if down else Qt.Key.Key_Up)
    while table.currentIndex().column() != at:
        right = table.currentIndex().column() < at
        press(table, Qt.Key.Key_Right if right else Qt.Key.Key_Left)


def press(widget: object, key: Qt.Key, modifier: Qt.KeyboardModifier | None = None) -> None:
    none = Qt.KeyboardModifier.NoModifier
    QtBot.keyClick(widget, key, none if modifier is None else modifier)


def type_into_cell(screen: LimitRulesScreen, text: str, *, end: Qt.Key = Qt.Key.Key_Return) -> None:
    table = screen.view.limit_table
    press(table, Qt.Key.Key_F2)
    # One that was closed a moment ago may not be gone yet.
    editor = table.viewport().findChildren(QLineEdit, "cell_editor")[-1]
    editor.selectAll()
    finish(editor, text, end)


def finish(editor: QLineEdit, text: str, end: Qt.Key = Qt.Key.Key_Return) -> None:
    QtBot.keyClicks(editor, text)
    press(editor, end)
    # Qt closes the editor once the key has been dealt with.
    QCoreApplication.processEvents()


# --- reading ----------------------------------------------------------------------------------


def test_that_the_page_opens_on_the_set_in_force_with_a_limit_chosen(
    screen: LimitRulesScreen,
) -> None:
    assert screen.sentence.startswith('Limit set 1 "Starter limits" in force since 2026-01-01')
    assert screen.view.scope_table.currentIndex().data() == "Engine"
    assert "Source: common practice, no source" in screen.view.details.text
    assert not screen.view.preview.isVisible()
    assert not screen.bar.button("force").isVisible()


def test_that_a_set_in_force_cannot_be_typed_into(screen: LimitRulesScreen) -> None:
    go_to(screen, "Iron", LimitColumn.WATCH)
    press(screen.view.limit_table, Qt.Key.Key_F2)
    assert screen.view.limit_table.viewport().findChild(QLineEdit, "cell_editor") is None


def test_that_choosing_a_scope_by_key_shows_its_limits(
    screen: LimitRulesScreen, calls: RuleCallsDouble, background: Background, qtbot: QtBot
) -> None:
    calls.sets[1] = starter_set()
    screen.refresh()
    settle(qtbot, background)
    screen.choose_scope("Engine")
    press(screen.view.scope_table, Qt.Key.Key_Down)
    assert screen.view.scope_table.currentIndex().data() == "Engine cooling system"
    assert "pH" in column(screen, LimitColumn.ANALYTE)
    assert "Holds for: Engine cooling system" in screen.view.details.text


def test_that_the_filter_keeps_limits_and_counts_in_step(screen: LimitRulesScreen) -> None:
    press(screen.view.limit_table, Qt.Key.Key_F, CONTROL)
    assert screen.bar.filter_box.hasFocus()
    QtBot.keyClicks(screen.bar.filter_box, "iron")
    assert set(column(screen, LimitColumn.SYMBOL)) <= {"Fe", ""}
    row = screen.view.scope_table.currentIndex().row()
    assert screen.view.scope_table.model().index(row, 1).data() == "1"


def test_that_words_no_limit_holds_are_told(screen: LimitRulesScreen) -> None:
    screen.bar.filter_box.setText("no such word")
    assert screen.view.details.text == "No limit in this scope holds these words."


def test_that_the_fleets_own_figures_are_drawn_behind_the_chosen_limit(
    screen: LimitRulesScreen, qtbot: QtBot
) -> None:
    go_to(screen, "Iron", LimitColumn.WATCH)
    told = "samples of 31 machines, 12 below detection"
    qtbot.waitUntil(lambda: told in screen.view.details.text)


def test_that_the_details_tell_which_rows_a_limit_gives_way_to(screen: LimitRulesScreen) -> None:
    go_to(screen, "Iron", LimitColumn.WATCH)
    assert "Gives way to: excavator / engine (40 / 70 / 110)" in screen.view.details.text


def test_that_the_page_warns_that_starter_limits_are_a_start(screen: LimitRulesScreen) -> None:
    assert "manual" in screen._caution.text()
    assert "a named person decides" in screen._caution.text()


def test_that_without_any_set_the_page_says_what_to_do_next(
    qtbot: QtBot, background: Background
) -> None:
    screen = show(qtbot, RuleCallsDouble(), background)
    assert screen.sentence == "There is no limit set yet, so nothing is judged."
    assert screen.notice.actions_shown[0].text() == "Import a file as a draft..."
    assert not screen.view.isVisible()


def test_that_what_holds_for_a_box_names_what_it_overrode(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    screen.view.foot.turn_to(Leaf.BOX)
    settle(qtbot, background)
    box = screen.view.foot.box
    box.field.setText("ex-105, engine")
    press(box.field, Qt.Key.Key_Return)
    settle(qtbot, background)
    row = [box.table.model().index(0, at).data() for at in range(7)]
    assert row[2] == "40 / 70 / 110 mg/kg"
    assert row[6] == "Engine: 60 / 100 / 150"
    assert "every 125 h" in box.text


def test_that_a_box_that_is_not_known_is_told_beside_what_was_typed(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    screen.view.foot.turn_to(Leaf.BOX)
    settle(qtbot, background)
    box = screen.view.foot.box
    box.field.setText("EX-105, Swing drive")
    press(box.field, Qt.Key.Key_Return)
    assert (
        box.text
        == '"EX-105, Swing drive" is no box of this fleet. It has Engine; Hydraulic system.'
    )
    assert box.field.text() == "EX-105, Swing drive"


# --- editing ----------------------------------------------------------------------------------


def test_that_a_bound_is_changed_by_keyboard_alone_and_saved(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    assert drafting.sentence == 'Draft 2 "Autumn review": 1 row changed.'
    assert "Set by: Kim Reliability" in drafting.view.details.text
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].watch == 50)
    assert calls.sets[2].limits[0].source == "own decision"
    assert calls.sets[1].limits[0].watch == 60


def test_that_escape_leaves_a_cell_as_it_was(drafting: LimitRulesScreen) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50", end=Qt.Key.Key_Escape)
    assert "60" in column(drafting, LimitColumn.WATCH)
    assert drafting.sentence.endswith("nothing changed yet.")


def test_that_a_wrong_number_keeps_its_text_and_says_below_the_cell_what_to_write(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    go_to(drafting, "Iron", LimitColumn.ACT)
    type_into_cell(drafting, "1OO")
    table = drafting.view.limit_table
    assert table.currentIndex().data() == "1OO"
    assert table.note is not None
    assert table.note.isVisible()
    assert table.note.text() == (
        'Act: "1OO" is not a number. Write digits, such as 60 or 2.5, or leave the cell empty.'
    )
    assert drafting.sentence.endswith("1 row changed, 1 row with a problem.")
    qtbot.waitUntil(lambda: drafting.editing.is_saved)
    assert calls.sets[2].limits[0].act == 100
    type_into_cell(drafting, "95")
    assert not table.note.isVisible()
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].act == 95)


def test_that_bounds_out_of_order_are_told_and_the_last_sound_ones_are_kept(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "120")
    note = drafting.view.limit_table.note
    assert note is not None
    assert note.text().startswith("Watch / Act / Urgent read 120 / 100 / 150.")
    qtbot.waitUntil(lambda: drafting.editing.is_saved)
    assert calls.sets[2].limits[0].watch == 60


def test_that_undo_and_redo_go_row_by_row_and_reach_the_database(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    go_to(drafting, "Copper", LimitColumn.WATCH)
    type_into_cell(drafting, "30")
    qtbot.waitUntil(lambda: calls.sets[2].limits[1].watch == 30)
    press(drafting.view.limit_table, Qt.Key.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: calls.sets[2].limits[1].watch == 25)
    assert calls.sets[2].limits[0].watch == 50
    press(drafting.view.limit_table, Qt.Key.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: calls.sets[2] == draft_of(small_set()))
    press(drafting.view.limit_table, Qt.Key.Key_Y, CONTROL)
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].watch == 50)


def test_that_undo_leads_to_the_row_it_changed_in_whichever_scope_it_stands(
    drafting: LimitRulesScreen,
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    drafting.choose_scope("Excavator, engine")
    drafting.editing.undo_stack.undo()
    assert drafting.view.scope_table.currentIndex().data() == "Engine"
    assert drafting.view.line is not None
    assert drafting.view.line.limit.watch == 60


def test_that_undo_leaves_a_draft_alone_while_another_set_is_on_the_page(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    drafting.open_set(1)
    settle(qtbot, background)
    press(drafting.view.limit_table, Qt.Key.Key_Z, CONTROL)
    drafting.open_set(2)
    settle(qtbot, background)
    assert calls.sets[2].limits[0].watch == 50
    assert drafting.bar.button("undo").isEnabled()
    press(drafting.view.limit_table, Qt.Key.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].watch == 60)


def test_that_a_row_for_fewer_boxes_is_added_like_the_chosen_one(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    press(drafting.view.limit_table, Qt.Key.Key_Insert)
    settle(qtbot, background)
    dialog = drafting.acts.dialog
    assert dialog is not None
    dialog.editor.write("box", "EX-105, Engine")
    dialog.editor.write("watch", "45")
    dialog.editor.save()
    qtbot.waitUntil(lambda: len(calls.sets[2].limits) == 5)
    added = calls.sets[2].limits[4]
    assert (added.analyte, added.watch, added.act) == ("iron", 45, 100)
    assert added.scope.compartment == "01" * 16
    assert drafting.view.line is not None
    assert drafting.view.line.limit == added


def test_that_a_row_for_an_unknown_box_is_refused_in_the_dialog_and_keeps_what_was_typed(
    drafting: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    drafting._do("add")
    settle(qtbot, background)
    dialog = drafting.acts.dialog
    assert dialog is not None
    dialog.editor.write("box", "EX-999, Engine")
    dialog.editor.save()
    assert '"EX-999, Engine" is no box of this fleet.' in dialog.refusal
    assert dialog.editor.draft is not None
    assert dialog.editor.draft.texts["box"] == "EX-999, Engine"


def test_that_a_row_is_switched_off_with_reason_and_end_date_and_on_again(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    drafting._do("off")
    dialog = drafting.acts.dialog
    assert dialog is not None
    dialog.editor.write("reason", "New rings are running in")
    assert not dialog.editor.save_button.isEnabled()
    dialog.editor.write("until", "2027-03-01")
    dialog.editor.save()
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].is_off)
    assert calls.sets[2].limits[0].off_until == date(2027, 3, 1)
    assert calls.sets[2].limits[0].note == "New rings are running in"
    assert "off" in column(drafting, LimitColumn.WATCH)
    assert drafting.bar.button("off").text() == "Switch on"
    drafting._do("off")
    qtbot.waitUntil(lambda: calls.sets[2] == draft_of(small_set()))


def test_that_a_row_is_taken_out_and_brought_back(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    go_to(drafting, "Copper", LimitColumn.WATCH)
    drafting._do("out")
    qtbot.waitUntil(lambda: len(calls.sets[2].limits) == 3)
    assert "Copper" not in column(drafting, LimitColumn.ANALYTE)
    drafting._do("undo")
    qtbot.waitUntil(lambda: calls.sets[2] == draft_of(small_set()))


def test_that_intervals_are_edited_on_the_same_page(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    drafting.show_face("intervals")
    table = drafting.view.interval_table
    table.go_to(0, 1)
    press(table, Qt.Key.Key_F2)
    editor = table.viewport().findChild(QLineEdit, "cell_editor")
    assert editor is not None
    editor.selectAll()
    finish(editor, "200")
    qtbot.waitUntil(lambda: calls.sets[2].intervals[0].interval_hours == 200)
    drafting._do("undo")
    qtbot.waitUntil(lambda: calls.sets[2].intervals[0].interval_hours == 250)


def test_that_the_chance_to_catch_is_told_while_intervals_are_typed(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    preview = drafting.view.preview
    told = "Chance to catch a fault: Engine 62 % \N{RIGHTWARDS ARROW} 48 %."
    assert told not in preview.text
    drafting.show_face("intervals")
    drafting.view.interval_table.go_to(0, 1)
    press(drafting.view.interval_table, Qt.Key.Key_F2)
    editor = drafting.view.interval_table.viewport().findChild(QLineEdit, "cell_editor")
    assert editor is not None
    editor.selectAll()
    finish(editor, "500")
    qtbot.waitUntil(lambda: told in preview.text)
    drafting._do("undo")
    qtbot.waitUntil(lambda: told not in preview.text)
    settle(qtbot, background)


def test_that_somebody_elses_change_is_told_with_a_way_out(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    calls.refusal = StaleEditError("Limit set 2 was changed by Robin. Read it again.")
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    qtbot.waitUntil(lambda: bool(drafting.notice.text))
    assert "Robin" in drafting.notice.text
    drafting.notice.actions_shown[0].click()
    settle(qtbot, background)
    assert drafting.sentence.endswith("nothing changed yet.")


# --- trying -----------------------------------------------------------------------------------


def test_that_the_preview_tells_who_would_move_and_what_the_year_would_have_been(
    drafting: LimitRulesScreen, qtbot: QtBot, calls: RuleCallsDouble
) -> None:
    qtbot.waitUntil(lambda: "Faults caught" in drafting.view.preview.text)
    told = drafting.view.preview.text
    assert "6 compartments would move: 5 up, 1 down." in told
    assert "Urgent | 3 | 4 | +1" in told
    assert "Alarms a month | 6.2 | 8.0 | +1.8" in told
    assert "Faults missed | 2 | 1 | \u22121" in told
    assert "Healthy flagged | 2.1 % | 3.2 % | +1.0" in told
    assert drafting.view.preview.moves[0].machine == "AT-604"


def test_that_only_the_last_of_quick_edits_is_tried(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: ("year", draft_of(small_set())) in calls.asked)
    calls.asked.clear()
    go_to(drafting, "Iron", LimitColumn.WATCH)
    # Long enough that a slow machine is not taken for somebody who types slowly.
    for timer in drafting.what_if.findChildren(QTimer):
        timer.setInterval(10 * timer.interval())
    for text in ("50", "51", "52"):
        type_into_cell(drafting, text)
    qtbot.waitUntil(lambda: any(one[0] == "year" for one in calls.asked), timeout=20_000)
    tried = [one[1].limits[0].watch for one in calls.asked if one[0] in ("latest", "year")]
    assert tried == [52, 52]


def test_that_a_row_with_a_problem_is_tried_as_it_last_was_sound(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "120")
    go_to(drafting, "Copper", LimitColumn.WATCH)
    type_into_cell(drafting, "30")
    qtbot.waitUntil(lambda: calls.asked[-1][0] == "year")
    tried = calls.asked[-1][1]
    assert [one.watch for one in tried.limits[:2]] == [60, 30]


def test_that_the_fleet_is_read_once_until_results_change(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    qtbot.waitUntil(lambda: any(one[0] == "year" for one in calls.asked))
    assert sum(one == ("fleet",) for one in calls.asked) == 1
    drafting.show_changes(Changes(subjects=frozenset({Subject.RESULTS})))
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    qtbot.waitUntil(lambda: sum(one == ("fleet",) for one in calls.asked) == 2)


def test_that_a_box_that_would_move_opens_by_enter(
    drafting: LimitRulesScreen, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: bool(drafting.view.preview.moves))
    table = drafting.view.preview.move_table
    table.choose(0)
    with qtbot.waitSignal(drafting.box_opened) as opened:
        press(table, Qt.Key.Key_Return)
    assert opened.args == [drafting.view.preview.moves[0].compartment_id]


# --- versions ---------------------------------------------------------------------------------


def test_that_a_draft_is_made_from_the_set_in_force(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    screen._do("draft")
    dialog = screen.acts.dialog
    assert dialog is not None
    dialog.editor.write("name", "Winter review")
    dialog.editor.save()
    settle(qtbot, background)
    assert calls.sets[3].name == "Winter review"
    assert screen.sentence == 'Draft 3 "Winter review": nothing changed yet.'
    assert screen.view.preview.isVisible()


def test_that_two_chosen_versions_are_compared(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    screen.view.foot.turn_to(Leaf.VERSIONS)
    history = screen.view.foot.history
    history.version_table.selectAll()
    settle(qtbot, background)
    assert calls.asked[-1] == ("compare", 1, 2)
    row = [history.change_table.model().index(0, at).data() for at in range(4)]
    assert row == ["Engine", "Iron, level, rising", "60 / 100 / 150", "50 / 100 / 150"]


def test_that_enter_on_a_version_shows_it(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    history = screen.view.foot.history
    screen.view.foot.turn_to(Leaf.VERSIONS)
    history.version_table.choose(0)
    press(history.version_table, Qt.Key.Key_Return)
    settle(qtbot, background)
    assert screen.sentence.startswith('Draft 2 "Autumn review"')


def test_that_a_check_lists_problems_and_enter_leads_to_the_row(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    calls.problems = (
        RuleProblem(
            place=1,
            where="Engine, copper",
            told="Watch and Act are closer than the method repeats.",
            remedy="Set them further apart.",
        ),
    )
    drafting._do("check")
    settle(qtbot, background)
    assert "keeps it from being put in force" in drafting.notice.text
    assert drafting.view.foot.leaf is Leaf.PROBLEMS
    press(drafting.view.foot.problem_table, Qt.Key.Key_Return)
    assert drafting.view.line is not None
    assert drafting.view.line.analyte == "Copper"


def test_that_a_draft_is_edited_undone_and_put_in_force_with_a_report_of_who_moved(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "50")
    type_into_cell(drafting, "52")
    press(drafting.view.limit_table, Qt.Key.Key_Z, CONTROL)
    drafting._do("force")
    qtbot.waitUntil(lambda: drafting.acts.dialog is not None)
    dialog = drafting.acts.dialog
    assert dialog is not None
    dialog.editor.write("note", "After the autumn shutdown")
    with qtbot.waitSignal(drafting.changed) as changed:
        dialog.editor.save()
    assert Subject.LIMITS in changed.args[0].subjects
    settle(qtbot, background)
    assert ("activate", 2, TODAY, "After the autumn shutdown") in calls.asked
    assert calls.sets[2].state is LimitSetState.IN_FORCE
    assert calls.sets[2].limits[0].watch == 50
    assert drafting.sentence.startswith('Limit set 2 "Autumn review" in force since 2026-11-20')
    assert "1320 samples were judged; 31 verdicts changed; 1 boxes moved." in drafting.notice.text
    assert drafting.view.foot.leaf is Leaf.MOVED
    assert drafting.view.foot.moved[0].machine == "EX-105"
    assert not drafting.view.preview.isVisible()


def test_that_a_row_with_a_problem_comes_first_when_a_draft_is_to_take_force(
    drafting: LimitRulesScreen, calls: RuleCallsDouble
) -> None:
    go_to(drafting, "Iron", LimitColumn.WATCH)
    type_into_cell(drafting, "abc")
    go_to(drafting, "Copper", LimitColumn.WATCH)
    drafting._do("force")
    assert 'Watch: "abc" is not a number.' in drafting.notice.text
    assert drafting.acts.dialog is None
    assert drafting.view.line is not None
    assert drafting.view.line.analyte == "Iron"


def test_that_a_refused_set_lists_every_problem(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    problems = tuple(
        RuleProblem(place=place, where="Engine", told="Wrong.", remedy="Mend it.")
        for place in range(3)
    )
    calls.refusal = RulesRefusedError("limit set 2", problems)
    drafting.force._force(2, 1, {"valid_from": TODAY, "note": "Because"})
    settle(qtbot, background)
    assert drafting.view.foot.problems == problems
    assert "Nothing was put in force" in drafting.notice.text
    assert calls.sets[2].state is LimitSetState.DRAFT


def test_that_a_discarded_draft_gives_way_to_the_set_in_force(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    drafting.acts._discard()
    settle(qtbot, background)
    assert 2 not in calls.sets
    assert drafting.sentence.startswith('Limit set 1 "Starter limits" in force')


# --- deriving, files --------------------------------------------------------------------------


def test_that_derived_rows_are_taken_into_the_draft_one_by_one_and_undone_at_once(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    drafting._do("derive")
    qtbot.waitUntil(lambda: ("derive", "engine") in calls.asked)
    settle(qtbot, background)
    panel = drafting.view.derive_panel
    assert drafting.view.faces.currentWidget() is panel
    panel.table.choose(0)
    panel.take_button.click()
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].watch == 48)
    assert calls.sets[2].limits[0].set_by == "Kim Reliability"
    drafting._do("undo")
    qtbot.waitUntil(lambda: calls.sets[2] == draft_of(small_set()))


def test_that_a_row_with_too_little_behind_it_cannot_be_taken(
    drafting: LimitRulesScreen, qtbot: QtBot, background: Background, calls: RuleCallsDouble
) -> None:
    drafting._do("derive")
    qtbot.waitUntil(lambda: ("derive", "engine") in calls.asked)
    settle(qtbot, background)
    panel = drafting.view.derive_panel
    panel.table.choose(2)
    assert not panel.take_button.isEnabled()
    assert panel.table.model().index(2, 5).data() == "12 samples, 30 are needed"


def test_that_a_file_becomes_a_draft(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    screen.acts.import_file(Path("own_limits.toml"))
    settle(qtbot, background)
    assert screen.sentence.startswith('Draft 3 "own_limits"')
    assert "4 limits and 3 intervals" in screen.notice.text


def test_that_a_bad_file_is_refused_with_its_problems(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    problem = RuleProblem(place=4, where="line 31", told='"Fee" is no analyte.', remedy="Mend it.")
    calls.refusal = RulesRefusedError("own_limits.toml", (problem,))
    screen.acts.import_file(Path("own_limits.toml"))
    settle(qtbot, background)
    assert screen.view.foot.problems == (problem,)
    assert "own_limits.toml was not taken in" in screen.notice.text


def test_that_the_set_shown_is_exported(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    screen.acts.export(Path("limits.toml"))
    settle(qtbot, background)
    assert ("export", 1, Path("limits.toml")) in calls.asked
    assert "limits.toml" in screen.notice.text


# --- looks ------------------------------------------------------------------------------------


def test_that_a_failed_reading_is_told_on_the_page(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(number: int | None, *, today: date) -> None:
        raise OperatorError("The database cannot be read. Check the address.")

    monkeypatch.setattr(calls, "page", refuse)
    screen.refresh()
    qtbot.waitUntil(lambda: "cannot be read" in screen.notice.text)


@pytest.mark.parametrize("name", ["light", "dark"])
def test_that_the_page_can_be_drawn_in_either_theme(screen: LimitRulesScreen, name: str) -> None:
    base = starter_set()
    screen.show_facts(page_facts(draft_of(base), base))
    screen.apply_theme(make_theme(name))
    screen.resize(1640, 1000)
    assert not screen.view.limit_table.isColumnHidden(LimitColumn.BANDS)
    assert not screen.grab().isNull()
