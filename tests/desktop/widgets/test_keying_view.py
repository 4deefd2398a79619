from collections.abc import Iterator
from typing import TYPE_CHECKING, cast

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets.keying_view import KeyingView
from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError
from fluiddesk.services.event_questions import EventAnswer
from fluiddesk.services.keyed_results.facts import Answer
from fluiddesk.wiring import Clock
from tests.desktop.makers_keying import (
    BOX,
    CODE,
    OTHER_CODE,
    MadeUpKeying,
    make_cell,
    make_line,
    make_question,
    make_queue,
    make_report,
)

if TYPE_CHECKING:
    from fluiddesk.desktop.viewstate.keying_calls import KeyingCalls

ENTER = Qt.Key.Key_Enter


@pytest.fixture
def calls() -> MadeUpKeying:
    return MadeUpKeying()


@pytest.fixture
def view(qtbot: QtBot, calls: MadeUpKeying) -> Iterator[KeyingView]:
    background = Background()
    made = KeyingView(
        cast("KeyingCalls", calls),
        clock=Clock(),
        theme=make_theme("light"),
        background=background,
    )
    made.resize(1000, 640)
    qtbot.addWidget(made)
    made.show()
    made.activateWindow()
    made.refresh()
    qtbot.waitUntil(lambda: not background.jobs)
    made.focus_first()
    yield made
    background.close()


def idle(view: KeyingView, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not view._background.jobs and not view.is_busy)


def keying(view: KeyingView, qtbot: QtBot) -> None:
    view.open_bottle(CODE)
    idle(view, qtbot)
    qtbot.mouseClick(view.bottle.confirm_button, Qt.MouseButton.LeftButton)
    idle(view, qtbot)
    assert view.is_keying


def type_texts(view: KeyingView, qtbot: QtBot, **texts: str) -> None:
    """Type into fields by their key, each left with Enter."""
    state = view.desk.state
    assert state is not None
    for key, text in texts.items():
        row = state.row_of(key)
        assert row is not None
        view.desk.grid.go_to(next(one for one in state.stops() if one.row == row))
        qtbot.keyClicks(view.desk.grid.field, text)
        qtbot.keyClick(view.desk.grid.field, ENTER)
    idle(view, qtbot)


def test_that_the_bottle_code_box_has_the_keyboard_and_refuses_a_slip_in_place(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    assert QApplication.focusWidget() is view.bottle.code
    qtbot.keyClicks(view.bottle.code, "26K-01032-7")
    assert "check character" in view.bottle.fault
    qtbot.keyClick(view.bottle.code, ENTER)
    assert calls.asked == []


def test_that_an_unknown_bottle_is_told_on_the_page(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    calls.refusal = NotFoundError("Nobody registered bottle 26K-01032-8.")
    view.open_bottle(CODE)
    idle(view, qtbot)
    assert "Nobody registered" in view.notice.text


def test_that_whose_bottle_it_is_must_be_confirmed_and_escape_goes_back(
    view: KeyingView, qtbot: QtBot
) -> None:
    view.open_bottle(CODE)
    idle(view, qtbot)
    assert view.bottle.whose == "EX-01  Engine"
    assert view.bottle.expected[0] == "74 mg/kg"
    assert not view.is_keying
    qtbot.keyClick(view.bottle.confirm_button, Qt.Key.Key_Escape)
    assert not view.bottle.is_asking
    assert QApplication.focusWidget() is view.bottle.code


def test_that_enter_leads_through_the_fields_and_shift_enter_back(
    view: KeyingView, qtbot: QtBot
) -> None:
    keying(view, qtbot)
    grid = view.desk.grid
    assert grid.stop is not None
    first = grid.stop.row
    qtbot.keyClicks(grid.field, "A-1")
    qtbot.keyClick(grid.field, ENTER)
    qtbot.keyClicks(grid.field, "12900")
    qtbot.keyClick(grid.field, Qt.Key.Key_Return, Qt.KeyboardModifier.ShiftModifier)
    assert grid.stop.row == first
    assert grid.field.text() == "A-1"
    qtbot.keyClick(grid.field, Qt.Key.Key_Escape)
    assert grid.field.text() == "A-1"
    idle(view, qtbot)


def test_that_each_change_is_kept_and_typing_goes_on_meanwhile(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, report_number="A-1", Fe="20", Cu="3")
    assert calls.stored.heads["report_number"] == "A-1"
    assert calls.stored.cells == {"Fe": "20", "Cu": "3"}
    assert calls.stored.version > 1


def test_that_a_text_is_kept_though_its_field_is_never_left(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    qtbot.keyClicks(view.desk.grid.field, "A-2")
    qtbot.waitUntil(lambda: calls.stored.heads.get("report_number") == "A-2")


def test_that_a_slip_is_told_beside_the_grid_and_taken_right_by_a_key(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, Fe="220")
    assert "decimal point" in view.desk.side.warnings.text
    assert view.desk.side.warnings.take_button.text().startswith("Take 22.0")
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_F6)
    idle(view, qtbot)
    assert calls.stored.cells["Fe"] == "22.0"
    assert view.desk.side.warnings.warning is None


def test_that_a_confirmed_value_stays_and_a_parked_one_keeps_the_report_open(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, Cu="3", Fe="220")
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_F8)
    idle(view, qtbot)
    assert view.desk.side.to_do == "1 warning open"
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_F7)
    idle(view, qtbot)
    assert calls.asked[-2:] == [("answer", "Fe", Answer.PARKED), ("answer", "Fe", Answer.CONFIRMED)]
    assert calls.stored.cells["Fe"] == "220"
    assert view.desk.side.to_do == "Ready to save"


def test_that_saving_too_early_leads_to_what_is_missing(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, Fe="20")
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    idle(view, qtbot)
    assert view.is_keying
    assert view.desk.grid.stop is not None
    assert view.desk.state is not None
    assert view.desk.state.rows[view.desk.grid.stop.row].key == "Cu"
    assert not any(one[0] == "save" for one in calls.asked if isinstance(one, tuple))


def test_that_a_saved_report_shows_its_verdict_and_leads_to_the_next_bottle(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, Cu="3", Fe="20")
    with qtbot.waitSignal(view.changed) as heard:
        qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    idle(view, qtbot)
    assert heard.args is not None
    assert heard.args[0].compartments == {BOX}
    assert view.saved.sentence.startswith("Engine of EX-01: Normal to Act.")
    assert QApplication.focusWidget() is view.bottle.code
    with qtbot.waitSignal(view.box_opened) as opened:
        qtbot.mouseClick(view.saved.box_button, Qt.MouseButton.LeftButton)
    assert opened.args == [BOX]


def test_that_a_refused_saving_keeps_the_report_on_the_desk(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, Cu="3", Fe="20")
    calls.refusal = OperatorError("The database is locked by another desk. Try again.")
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "locked" in view.desk.notice.text)
    assert view.is_keying
    assert view.desk.state is not None
    assert view.desk.state.draft.cells["Fe"] == "20"
    calls.refusal = None


def test_that_a_draft_saved_elsewhere_is_offered_anew(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    calls.refusal = StaleEditError("Another desk saved this draft.")
    qtbot.keyClicks(view.desk.grid.field, "A-3")
    qtbot.keyClick(view.desk.grid.field, ENTER)
    qtbot.waitUntil(lambda: "Another desk" in view.desk.notice.text)
    calls.refusal = None
    again = view.desk.notice.actions_shown[0]
    qtbot.mouseClick(again, Qt.MouseButton.LeftButton)
    idle(view, qtbot)
    assert view.is_keying
    assert calls.asked[-1] == ("open", CODE, "lab_a")


def test_that_deciding_values_are_entered_twice_and_hidden_meanwhile(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    calls.report = make_report(make_cell("Fe", decides=True), make_cell("Cu"))
    keying(view, qtbot)
    type_texts(view, qtbot, report_number="A-1", Fe="20", Cu="3")
    assert view.desk.side.to_do == "1 value to enter a second time"
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_S, Qt.KeyboardModifier.ControlModifier)
    idle(view, qtbot)
    grid = view.desk.grid
    assert grid.stop is not None
    assert grid.stop.again
    assert grid.field.text() == ""
    qtbot.keyClicks(grid.field, "20")
    qtbot.keyClick(grid.field, ENTER)
    idle(view, qtbot)
    assert calls.stored.second == {"Fe": "20"}
    assert view.desk.side.to_do == "Ready to save"


def test_that_a_report_is_put_aside_parked_or_dropped_by_a_deed_of_its_own(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    qtbot.keyClicks(view.desk.grid.field, "A-1")
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_W, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not view.is_keying)
    idle(view, qtbot)
    assert calls.stored.heads["report_number"] == "A-1"
    assert "drop" not in calls.asked
    for button, deed in (("park_button", "park"), ("drop_button", "drop")):
        keying(view, qtbot)
        qtbot.mouseClick(getattr(view.desk.side, button), Qt.MouseButton.LeftButton)
        assert view.is_keying
        yes = view.desk.notice.actions_shown[0]
        qtbot.mouseClick(yes, Qt.MouseButton.LeftButton)
        qtbot.waitUntil(lambda: not view.is_keying)
        idle(view, qtbot)
        assert deed in calls.asked


def test_that_a_report_nobody_typed_into_leaves_no_draft(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_W, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: not view.is_keying)
    idle(view, qtbot)
    assert calls.asked[-1] == "drop"


def test_that_another_bottle_scanned_meanwhile_loses_no_letter(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    qtbot.keyClicks(view.desk.grid.field, "A-9")
    view.bottle.code.setText(OTHER_CODE)
    qtbot.keyClick(view.bottle.code, ENTER)
    qtbot.waitUntil(lambda: view.bottle.is_asking)
    idle(view, qtbot)
    assert calls.stored.heads["report_number"] == "A-9"
    assert calls.asked[-1] == ("open", OTHER_CODE, "")


def test_that_a_begun_report_is_taken_up_from_the_queue(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    calls.waits = make_queue(to_key=(make_line(laboratory="lab_b"),))
    calls.stored = calls.stored.__class__(
        bottle_code=CODE, layout="lab_b", cells={"Fe": "20"}, id=b"d" * 16, version=4
    )
    view.refresh()
    idle(view, qtbot)
    view.queue.table.setFocus()
    qtbot.keyClick(view.queue.table, Qt.Key.Key_Return)
    idle(view, qtbot)
    assert calls.asked[0] == ("open", CODE, "lab_b")
    assert view.desk.state is not None
    assert view.desk.state.draft.cells == {"Fe": "20"}


def test_that_the_question_on_a_fluid_change_is_answered_in_one_line(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    calls.waits = make_queue(questions=(make_question(),))
    view.refresh()
    idle(view, qtbot)
    assert view.questions.isVisible()
    view.questions.day.setText("2026-07-01")
    qtbot.mouseClick(view.questions.yes_button, Qt.MouseButton.LeftButton)
    assert view.questions.isVisible()
    view.questions.day.setText("2026-05-12")
    qtbot.mouseClick(view.questions.yes_button, Qt.MouseButton.LeftButton)
    idle(view, qtbot)
    question = calls.asked[-1]
    assert question[:2] == ("question", EventAnswer.YES)
    assert question[2].isoformat() == "2026-05-12"
    assert not view.questions.isVisible()


def test_that_the_setting_of_the_second_entry_is_kept(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    view.queue.second.setCurrentIndex(2)
    view.queue.second.activated.emit(2)
    idle(view, qtbot)
    assert calls.setting.mode == "other"


def test_that_a_report_that_fits_another_bottle_is_keyed_for_that_one(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    keying(view, qtbot)
    type_texts(view, qtbot, Cu="3", Fe="999")
    assert view.desk.side.warnings.take_button.text().startswith(f"Key it for bottle {OTHER_CODE}")
    qtbot.keyClick(view.desk.grid.field, Qt.Key.Key_F6)
    qtbot.waitUntil(lambda: view.bottle.whose == "EX-02  Engine")
    idle(view, qtbot)
    assert ("move", CODE, OTHER_CODE) in calls.asked
    assert view.desk.state is not None
    assert view.desk.state.draft.cells == {"Cu": "3", "Fe": "999"}
    assert view.desk.state.report.bottle_code == OTHER_CODE


def test_that_an_empty_queue_says_what_to_do(
    view: KeyingView, qtbot: QtBot, calls: MadeUpKeying
) -> None:
    calls.waits = make_queue(waiting=())
    view.refresh()
    idle(view, qtbot)
    assert view.head.text() == "Nothing waits: every bottle is answered for."
    assert not view.queue.table.isVisible()


def test_that_the_desk_can_be_drawn_in_another_theme(view: KeyingView, qtbot: QtBot) -> None:
    keying(view, qtbot)
    view.apply_theme(make_theme("dark"))
    assert not view.grab().isNull()
    idle(view, qtbot)
