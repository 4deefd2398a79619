"""The Rules page: the rest of a row, settings, intervals by scope, groups, earlier days."""

from datetime import timedelta

import pytest
from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QComboBox, QLabel, QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.limit_rules import LimitRulesScreen
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.limit_foot import Leaf
from tests.desktop.makers_limits import BOXES, TODAY, RuleCallsDouble, draft_of, small_set
from tests.desktop.screens.test_limit_rules import background, calls, drafting, screen, settle

__all__ = ["background", "calls", "drafting", "screen"]


def editor_field(page: LimitRulesScreen, name: str) -> QLineEdit | QComboBox:
    editor = page.view.foot.editor
    grids = (editor.limit_grid, editor.interval_grid)
    return next(grid.fields[name] for grid in grids if name in grid.fields and grid.isVisible())


def type_into(page: LimitRulesScreen, field: QLineEdit | QComboBox, text: str) -> None:
    assert isinstance(field, QLineEdit)
    field.setFocus()
    field.selectAll()
    QtBot.keyClicks(field, text)


def enter(field: QLineEdit | QComboBox) -> None:
    QtBot.keyClick(field, Qt.Key.Key_Return)
    QCoreApplication.processEvents()


def open_editor(page: LimitRulesScreen) -> None:
    QtBot.keyClick(page.view.limit_table, Qt.Key.Key_F4)
    QCoreApplication.processEvents()


# --- the rest of a row --------------------------------------------------------------------------


def test_that_f4_leads_into_the_row_editor_and_escape_back(drafting: LimitRulesScreen) -> None:
    open_editor(drafting)
    assert drafting.view.foot.leaf is Leaf.EDIT
    field = editor_field(drafting, "boundary")
    assert field.hasFocus()
    QtBot.keyClick(field, Qt.Key.Key_Escape)
    assert drafting.view.limit_table.hasFocus()


def test_that_a_value_on_the_bound_is_moved_by_keyboard_saved_and_undone(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    open_editor(drafting)
    key = drafting.view.row_key
    QtBot.keyClick(editor_field(drafting, "boundary"), Qt.Key.Key_Down)
    qtbot.waitUntil(lambda: calls.sets[2].limits[key].boundary == "beyond")
    drafting._do("undo")
    qtbot.waitUntil(lambda: calls.sets[2] == draft_of(small_set()))


def test_that_what_a_row_needs_is_checked_while_it_is_typed(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    open_editor(drafting)
    key = drafting.view.row_key
    field = editor_field(drafting, "act_needs")
    type_into(drafting, field, "0")
    told = drafting.view.foot.editor.problems.text()
    assert told.startswith("Analytes for Act: 0 is no whole number from 1.")
    type_into(drafting, field, "2")
    assert "names no group" in drafting.view.foot.editor.problems.text()
    enter(field)
    type_into(drafting, editor_field(drafting, "group"), "wear")
    assert not drafting.view.foot.editor.problems.text()
    enter(editor_field(drafting, "group"))
    qtbot.waitUntil(lambda: calls.sets[2].limits[key].group == "wear")
    assert calls.sets[2].limits[key].act_needs == 2


def test_that_a_note_is_written_and_fields_of_other_kinds_stay_closed_with_a_reason(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    open_editor(drafting)
    key = drafting.view.row_key
    for name in ("companion", "least_change", "off_until"):
        closed = editor_field(drafting, name)
        assert not closed.isEnabled()
        assert closed.toolTip().startswith("only")
    note = editor_field(drafting, "note")
    type_into(drafting, note, "Agreed at the autumn review")
    enter(note)
    qtbot.waitUntil(lambda: calls.sets[2].limits[key].note == "Agreed at the autumn review")


def test_that_no_row_editor_is_offered_beside_a_set_in_force(screen: LimitRulesScreen) -> None:
    QtBot.keyClick(screen.view.limit_table, Qt.Key.Key_F4)
    assert screen.view.foot.leaf is Leaf.LIMIT


# --- settings -----------------------------------------------------------------------------------


def test_that_a_setting_is_typed_tried_saved_reset_and_undone(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    drafting.show_face("settings")
    field = drafting.view.settings.field("stale_after")
    type_into(drafting, field, "3")
    enter(field)
    qtbot.waitUntil(lambda: calls.sets[2].settings == {"stale_after": 3.0})
    qtbot.waitUntil(
        lambda: any(
            one[0] == "year" and one[1].settings == {"stale_after": 3.0} for one in calls.asked
        )
    )
    assert "1 of 10 are not at their usual value" in drafting.view.settings.about
    drafting.view.settings.reset("stale_after")
    qtbot.waitUntil(lambda: calls.sets[2].settings == {})
    drafting._do("undo")
    assert field.text() == "3"
    drafting._do("undo")
    assert field.text() == "2"


def test_that_a_setting_out_of_its_span_is_told_while_typing_and_stops_the_set(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot
) -> None:
    drafting.show_face("settings")
    panel = drafting.view.settings
    field = panel.field("clears_at")
    type_into(drafting, field, "120")
    assert panel.told("clears_at").endswith(
        "120 is out of its span. Give 50 to 100 % of its bound, or leave it empty for the usual."
    )
    enter(field)
    drafting.show_face("limits")
    drafting._do("force")
    assert "120 is out of its span" in drafting.notice.text
    assert drafting.acts.dialog is None
    assert field.hasFocus()
    assert calls.sets[2].settings == {}


def test_that_settings_of_a_set_in_force_are_read_only(screen: LimitRulesScreen) -> None:
    screen.show_face("settings")
    field = screen.view.settings.field("run_in")
    assert field.text() == "2; 1.5"
    assert field.isReadOnly()
    assert "Make a draft" in screen.view.settings.about


# --- intervals by scope -------------------------------------------------------------------------


def test_that_intervals_are_narrowed_by_kind_and_to_the_rule_of_one_box(
    drafting: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    drafting.show_face("intervals")
    settle(qtbot, background)
    panel = drafting.view.interval_panel
    assert panel.model.length() == 3
    kinds = panel.combos[0]
    kinds.setCurrentIndex(kinds.findData("hydraulic"))
    assert panel.model.length() == 1
    assert panel.text == "1 of 3 rules concerns such boxes."
    kinds.setCurrentIndex(0)
    box = next(one for one in BOXES if one.kind == "engine")
    panel.box_field.setText(box.title)
    assert f"For {box.title} that of" in panel.text
    assert "on time from" in panel.text
    panel.box_field.setText("EX-999, Nothing")
    assert '"EX-999, Nothing" is no box of this fleet.' in panel.text


def test_that_a_narrowed_list_is_edited_in_the_right_row(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    drafting.show_face("intervals")
    settle(qtbot, background)
    panel = drafting.view.interval_panel
    panel.combos[0].setCurrentIndex(panel.combos[0].findData("hydraulic"))
    panel.table.go_to(0, 1)
    drafting.view.edit_row()
    days = editor_field(drafting, "interval_days")
    type_into(drafting, days, "200")
    assert "160 to 240" not in drafting.view.foot.editor.text
    assert "180 to 220 days" in drafting.view.foot.editor.text
    enter(days)
    qtbot.waitUntil(lambda: calls.sets[2].intervals[1].interval_days == 200)
    assert calls.sets[2].intervals[0] == small_set().intervals[0]


# --- groups -------------------------------------------------------------------------------------


def test_that_limits_are_derived_for_several_groups_and_taken_as_one_step(
    drafting: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    drafting._do("derive")
    qtbot.waitUntil(lambda: ("derive", "engine") in calls.asked)
    settle(qtbot, background)
    drafting.view.derive_panel.groups_button.click()
    qtbot.waitUntil(lambda: ("groups",) in calls.asked)
    settle(qtbot, background)
    groups = drafting.view.groups
    assert groups.groups.index(1, 4).data() == "no: 4 of at least 10 machines"
    groups.all_button.click()
    assert groups.derive_button.text() == "Derive for 2 groups"
    groups.derive_button.click()
    qtbot.waitUntil(lambda: ("derive groups", "engine", "hydraulic") in calls.asked)
    settle(qtbot, background)
    panel = drafting.view.derive_panel
    panel.choose_all()
    assert panel.take_button.text() == "Take 2 rows into the draft"
    panel.take_button.click()
    qtbot.waitUntil(lambda: calls.sets[2].limits[0].watch == 48)
    assert drafting.editing.undo_stack.count() == 1
    drafting._do("undo")
    qtbot.waitUntil(lambda: calls.sets[2] == draft_of(small_set()))


# --- from which day -----------------------------------------------------------------------------


def test_that_the_form_says_whom_a_day_moves(
    drafting: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    settle(qtbot, background)
    drafting._do("force")
    qtbot.waitUntil(lambda: drafting.acts.dialog is not None)
    about = " ".join(label.text() for label in drafting.acts.dialog.findChildren(QLabel))
    assert "Limits hold for samples drawn from their first day on" in about
    assert "it moves nobody until new samples come" in about
    assert f"since {TODAY - timedelta(days=30)}: 12 samples of 7 boxes" in about
    drafting.acts.dialog.reject()


def test_that_a_set_in_force_is_made_to_hold_from_an_earlier_day_with_a_note(
    screen: LimitRulesScreen, calls: RuleCallsDouble, qtbot: QtBot, background: Background
) -> None:
    settle(qtbot, background)
    assert screen.bar.button("earlier").isVisible()
    screen._do("earlier")
    qtbot.waitUntil(lambda: screen.acts.dialog is not None)
    dialog = screen.acts.dialog
    assert isinstance(dialog, FormDialog)
    dialog.agreed.emit({"valid_from": TODAY - timedelta(days=400), "note": "New laboratory"})
    settle(qtbot, background)
    day = TODAY - timedelta(days=400)
    assert ("earlier", 1, day, "New laboratory") in calls.asked
    assert "nobody moves until new ones come" in screen.notice.text


@pytest.mark.parametrize("face", ["limits", "intervals", "settings"])
def test_that_each_face_of_the_page_is_drawn_in_both_themes(
    drafting: LimitRulesScreen, face: str
) -> None:
    from fluiddesk.desktop.theme import make_theme

    drafting.show_face(face)
    for name in ("dark", "light"):
        drafting.apply_theme(make_theme(name))
        assert not drafting.grab().isNull()
