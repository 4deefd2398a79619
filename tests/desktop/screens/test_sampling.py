"""The Sampling page on a real database: proposed, moved, kept, issued, printed, recorded."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import pypdfium2
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import QComboBox, QFileDialog, QLineEdit, QPlainTextEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.sampling import SamplingScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.due_list import DuePart
from fluiddesk.desktop.viewstate.round_plan import Planned, Standing
from fluiddesk.desktop.viewstate.sampling_words import plan_line
from fluiddesk.desktop.viewstate.taking_draft import Cell
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.taking_view import TakingView
from fluiddesk.services.interval_compliance.facts import GroupBy
from fluiddesk.services.visits.book import move_visit
from fluiddesk.services.visits.crews import crews
from fluiddesk.services.visits.facts import VisitState
from fluiddesk.services.visits.read import visits
from fluiddesk.services.visits.service_days import service_dates
from fluiddesk.wiring import Clock
from tests.fleets import LAST_DAY, NOW, Fleet, desk_home, fleet, fleet_file, small_fleet_file

if TYPE_CHECKING:
    from fluiddesk.services.changes import Changes

__all__ = ["desk_home", "fleet", "fleet_file", "small_fleet_file"]
KEY = Qt.Key
CONTROL = Qt.KeyboardModifier.ControlModifier
LONGEST_MS = 60_000


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(qtbot: QtBot, fleet: Fleet, background: Background) -> SamplingScreen:
    made = SamplingScreen(
        fleet.place,
        clock=Clock(demo_day=LAST_DAY),
        theme=make_theme("light"),
        background=background,
    )
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.refresh()
    settle(qtbot, background)
    return made


def settle(qtbot: QtBot, background: Background) -> None:
    qtbot.waitUntil(lambda: not background.jobs, timeout=LONGEST_MS)


def current(screen: SamplingScreen) -> Planned:
    assert screen.plan is not None
    one = screen.plan.visit(screen.visits.board.current)
    assert one is not None
    return one


def saved(qtbot: QtBot, screen: SamplingScreen, background: Background) -> None:
    """Wait until what was moved is saved."""
    done: list[bool] = []
    screen.moves.when_saved(lambda: done.append(True))
    qtbot.waitUntil(lambda: bool(done), timeout=LONGEST_MS)
    settle(qtbot, background)


def press(qtbot: QtBot, screen: SamplingScreen, key: str, background: Background) -> None:
    """Press a button of the panel by the keyboard."""
    button = screen.visits.panel.button(key)
    assert button.isVisible()
    button.setFocus()
    qtbot.keyClick(button, KEY.Key_Space)
    settle(qtbot, background)


def fill(dialog: FormDialog | None, **texts: str) -> None:
    """Write into a form and agree."""
    assert dialog is not None
    for key, text in texts.items():
        dialog.editor.write(key, text)
    dialog.editor.save()


def keep_first(qtbot: QtBot, screen: SamplingScreen, background: Background) -> Planned:
    press(qtbot, screen, "keep", background)
    return current(screen)


def test_that_the_page_opens_on_the_proposed_visits(screen: SamplingScreen) -> None:
    assert screen.plan is not None
    proposed = len(screen.plan.proposed)
    assert proposed
    assert screen.sentence.startswith(f"{proposed} visit")
    assert screen.visits.board.hasFocus()
    assert str(proposed) in screen.visits.keep_all.text()
    assert current(screen).visit.machine in screen.visits.board.accessibleDescription()


def test_that_a_round_is_proposed_moved_kept_issued_and_printed_by_keyboard(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet, tmp_path: Path
) -> None:
    board = screen.visits.board
    qtbot.keyClick(board, KEY.Key_Down)
    one = current(screen)
    qtbot.keyClick(board, KEY.Key_Right)
    assert current(screen).visit.planned_on == one.visit.planned_on + timedelta(days=1)
    qtbot.keyClick(board, KEY.Key_Return)
    assert screen.visits.panel.button("keep").hasFocus()
    kept = keep_first(qtbot, screen, background)
    assert kept.standing is Standing.KEPT
    assert kept.visit.planned_on == one.visit.planned_on + timedelta(days=1)
    press(qtbot, screen, "issue", background)
    issued = current(screen)
    assert issued.standing is Standing.ISSUED
    assert screen.visits.panel.button("print").hasFocus()
    assert all(box.bottle_code for box in issued.visit.boxes)
    assert "code" in screen.notice.text
    for act, name in (("sheets", "sheets.pdf"), ("kit", "kit.pdf")):
        screen.acts.do(act, board.chosen)
        assert screen.acts.file_dialog is not None
        screen.acts.file_dialog.fileSelected.emit(str(tmp_path / name))
        screen.acts.file_dialog.close()
        settle(qtbot, background)
    screen.acts.do("labels", board.chosen)
    settle(qtbot, background)
    fill(screen.acts.dialog, stock="a4_2x7", start_at="3")
    assert isinstance(screen.acts.file_dialog, QFileDialog)
    screen.acts.file_dialog.fileSelected.emit(str(tmp_path / "labels.pdf"))
    screen.acts.file_dialog.close()
    settle(qtbot, background)
    words = text_of(tmp_path / "labels.pdf")
    assert all(box.bottle_code in words for box in issued.visit.boxes)
    assert issued.visit.machine in text_of(tmp_path / "sheets.pdf")
    assert "sample bottles" in text_of(tmp_path / "kit.pdf")
    assert fleet.check() == []


def text_of(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    try:
        return "\n".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()


def test_that_keys_pressed_in_one_run_are_saved_and_undone_as_one_move(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = keep_first(qtbot, screen, background)
    board = screen.visits.board
    for _ in range(3):
        qtbot.keyClick(board, KEY.Key_Right)
    saved(qtbot, screen, background)
    [stored] = visits(fleet.place, today=LAST_DAY)
    assert stored.planned_on == one.visit.planned_on + timedelta(days=3)
    assert len(stored.boxes) == len(one.visit.boxes)
    assert screen.moves.undo_stack.count() == 1
    screen.moves.undo_stack.undo()
    saved(qtbot, screen, background)
    [stored] = visits(fleet.place, today=LAST_DAY)
    assert stored.planned_on == one.visit.planned_on
    screen.moves.undo_stack.redo()
    saved(qtbot, screen, background)
    [stored] = visits(fleet.place, today=LAST_DAY)
    assert stored.planned_on == one.visit.planned_on + timedelta(days=3)
    assert fleet.check() == []


def test_that_a_visit_is_dragged_to_its_day(qtbot: QtBot, screen: SamplingScreen) -> None:
    board, one = screen.visits.board, current(screen)
    to = one.visit.planned_on + timedelta(days=4)
    start = board.rect_of(one.key).center()
    end = QPoint(board.day_x(to), start.y())
    qtbot.mousePress(board.viewport(), Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(board.viewport(), start + QPoint(8, 0))
    qtbot.mouseMove(board.viewport(), end)
    board.grab()
    qtbot.mouseRelease(board.viewport(), Qt.MouseButton.LeftButton, pos=end)
    assert current(screen).visit.planned_on == to
    qtbot.keyClick(screen, KEY.Key_Z, CONTROL)
    screen.moves.undo_stack.undo()
    assert current(screen).visit.planned_on == one.visit.planned_on


def test_that_no_visit_is_moved_into_the_past(qtbot: QtBot, screen: SamplingScreen) -> None:
    board = screen.visits.board
    while current(screen).visit.planned_on > LAST_DAY:
        qtbot.keyClick(board, KEY.Key_Left)
    qtbot.keyClick(board, KEY.Key_Left)
    assert "passed" in screen.notice.text
    assert current(screen).visit.planned_on == LAST_DAY
    assert board.hasFocus()
    qtbot.keyClick(board, KEY.Key_Right)
    assert current(screen).visit.planned_on == LAST_DAY + timedelta(days=1)
    qtbot.keyClick(screen, KEY.Key_Escape)
    assert not screen.notice.text


def test_that_a_move_somebody_else_forestalled_is_told_and_shown_as_stored(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = keep_first(qtbot, screen, background)
    elsewhere = one.visit.planned_on + timedelta(days=9)
    place = replace(fleet.place, who="Noor")
    move_visit(place, one.key, to=elsewhere, version=one.visit.version, today=LAST_DAY, moment=NOW)
    qtbot.keyClick(screen.visits.board, KEY.Key_Right)
    qtbot.waitUntil(lambda: "not moved" in screen.notice.text, timeout=LONGEST_MS)
    settle(qtbot, background)
    assert current(screen).visit.planned_on == elsewhere
    assert screen.moves.is_saved


def test_that_every_visit_is_chosen_and_kept_at_once(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    assert screen.plan is not None
    count = len(screen.plan.proposed)
    heard: list[Changes] = []
    screen.changed.connect(heard.append)
    qtbot.keyClick(screen.visits.board, KEY.Key_A, CONTROL)
    assert f"{count} visits" in screen.visits.panel.title.text()
    press(qtbot, screen, "keep", background)
    assert len(visits(fleet.place, today=LAST_DAY)) == count
    assert not screen.visits.keep_all.isVisible()
    assert heard
    screen.show_changes(heard[0])
    settle(qtbot, background)
    assert screen.plan is not None
    assert screen.plan.proposed == ()


def test_that_a_visit_is_given_up_with_a_reason(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = keep_first(qtbot, screen, background)
    press(qtbot, screen, "give_up", background)
    dialog = screen.acts.dialog
    assert dialog is not None
    why = dialog.editor.editor("why")
    assert isinstance(why, QPlainTextEdit)
    dialog.editor.save()
    assert screen.acts.dialog is dialog
    fill(dialog, why="machine sold")
    settle(qtbot, background)
    [dropped] = visits(fleet.place, today=LAST_DAY, states={VisitState.DROPPED})
    assert (dropped.id, dropped.note) == (one.key, "machine sold")


def test_that_a_proposal_can_be_left_out_and_moved_by_its_form(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    assert screen.plan is not None
    count = len(screen.plan.proposed)
    one = current(screen)
    press(qtbot, screen, "move", background)
    to = one.visit.planned_on + timedelta(days=2)
    fill(screen.acts.dialog, to=(LAST_DAY - timedelta(days=1)).isoformat())
    assert screen.acts.dialog is not None
    assert "passed" in screen.acts.dialog.refusal
    fill(screen.acts.dialog, to=to.isoformat())
    assert current(screen).visit.planned_on == to
    press(qtbot, screen, "leave_out", background)
    assert len(screen.plan.proposed) == count - 1


def test_that_crews_share_the_visits_and_service_days_draw_them(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    screen.show_section("crews")
    view = screen.crews
    view.add_crew.click()
    site = current(screen).visit.site_id
    fill(view.dialog, site=str(int(site)), name="North", hours="0.5")
    settle(qtbot, background)
    assert [one.name for one in crews(fleet.place)] == ["North"]
    assert screen.plan is not None
    assert {one.visit.crew for one in screen.plan.visits if one.visit.site_id == site} == {"North"}
    view.crew_table.selectRow(0)
    view.change_crew.click()
    fill(view.dialog, hours="6")
    settle(qtbot, background)
    [crew] = crews(fleet.place)
    assert crew.hours_per_day == 6
    view.add_service.click()
    day = LAST_DAY + timedelta(days=3)
    fill(view.dialog, machine=current(screen).visit.machine, day=day.isoformat())
    settle(qtbot, background)
    [service] = service_dates(fleet.place)
    assert service.planned_on == day
    view.service_table.selectRow(0)
    view.drop_service.click()
    settle(qtbot, background)
    assert service_dates(fleet.place) == ()


def test_that_visits_out_of_sight_do_not_take_the_keys(
    qtbot: QtBot, screen: SamplingScreen
) -> None:
    screen.show_section("due")
    screen.hide()
    screen.show()
    qtbot.waitExposed(screen)
    assert screen.focusWidget() is not screen.visits.board
    screen.show_section("visits")
    screen.hide()
    screen.show()
    assert screen.focusWidget() is screen.visits.board


def test_that_what_is_due_opens_its_box(qtbot: QtBot, screen: SamplingScreen) -> None:
    opened: list[object] = []
    screen.box_opened.connect(opened.append)
    screen.show_section("due")
    screen.due.show_part(DuePart.LATE)
    assert screen.due.due is not None
    screen.due.table.setFocus()
    qtbot.keyClick(screen.due.table, KEY.Key_Return)
    assert opened == [screen.due.due.compartment(0)]
    qtbot.keyClick(screen, KEY.Key_F, CONTROL)
    assert screen.due.filter_box.hasFocus()
    qtbot.keyClicks(screen.due.filter_box, "no such machine")
    assert len(screen.due.due) == 0


def test_that_worthwhile_bottles_are_put_on_a_visit_by_hand(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    screen.show_section("due")
    screen.due.order.button("worth").click()
    screen.due.table.selectRow(0)
    [box] = screen.due.chosen
    screen.due.plan_button.click()
    on = LAST_DAY + timedelta(days=2)
    fill(screen.box_acts.dialog, on=on.isoformat())
    settle(qtbot, background)
    [stored] = visits(fleet.place, today=LAST_DAY)
    assert stored.planned_on == on
    assert [one.compartment_id for one in stored.boxes] == [box]
    assert screen.stack.currentWidget() is screen.visits
    assert box not in screen.due.chosen


def test_that_compliance_opens_down_to_its_events_and_is_written(
    qtbot: QtBot, screen: SamplingScreen, background: Background, tmp_path: Path
) -> None:
    screen.show_section("compliance")
    settle(qtbot, background)
    view = screen.compliance
    view.by.button(GroupBy.MONTH.value).click()
    settle(qtbot, background)
    assert view.shown is not None
    line = view.shown.table.lines[-1]
    view.table.selectRow(len(view.shown.table.lines))
    view.parts.button("all").click()
    assert view.event_table.model().rowCount() == line.measures.due
    for key, name in (("pdf", "a.pdf"), ("xlsx", "b.xlsx"), ("csv", "c.csv"), ("events", "d.csv")):
        view.export(key, tmp_path / name)
        settle(qtbot, background)
        assert (tmp_path / name).stat().st_size > 100
    view.export("csv", tmp_path / "nowhere" / "c.csv")
    settle(qtbot, background)
    assert "cannot be written" in screen.notice.text


def issue_first(qtbot: QtBot, screen: SamplingScreen, background: Background) -> Planned:
    board = screen.visits.board
    while current(screen).visit.planned_on > LAST_DAY:
        qtbot.keyClick(board, KEY.Key_Left)
    keep_first(qtbot, screen, background)
    press(qtbot, screen, "issue", background)
    return current(screen)


def type_into(qtbot: QtBot, screen: SamplingScreen, said: str) -> None:
    """Type into the cell the keyboard is at: the first letter opens it."""
    table = screen.taking.table
    table.setFocus()
    qtbot.keyClicks(table, said[:1])
    qtbot.keyClicks(table.viewport().findChildren(QLineEdit)[-1], said[1:])


def key_cell(qtbot: QtBot, screen: SamplingScreen, column: Cell, said: str) -> None:
    """Key a cell of the first bottle and fill the blanks below it."""
    table = screen.taking.table
    table.setCurrentIndex(table.model().index(0, int(column)))
    type_into(qtbot, screen, said)
    qtbot.keyClick(table.viewport().findChildren(QLineEdit)[-1], KEY.Key_Return)
    qtbot.waitUntil(lambda: table.currentIndex().column() != column)
    table.setCurrentIndex(table.model().index(0, int(column)))
    qtbot.keyClick(table, KEY.Key_D, CONTROL)


def record_first(qtbot: QtBot, screen: SamplingScreen, background: Background) -> Planned:
    one = issue_first(qtbot, screen, background)
    screen.show_section("record")
    screen.taking.unreadable.setChecked(True)
    for column, said in ((Cell.FLUSHED, "y"), (Cell.LITRES, "0"), (Cell.CHANGED, "n")):
        key_cell(qtbot, screen, column, said)
    screen.taking.save()
    settle(qtbot, background)
    return one


def test_that_a_visit_is_keyed_from_its_sheet(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = record_first(qtbot, screen, background)
    assert f"{one.bottles} taken" in screen.notice.text
    [done] = visits(fleet.place, today=LAST_DAY, states={VisitState.DONE})
    assert done.id == one.key
    assert screen.plan is not None
    assert screen.plan.visit(one.key) is None
    assert screen.taking.draft is None
    assert fleet.check() == []


def test_that_the_musts_of_a_sheet_lead_to_their_cells(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    issue_first(qtbot, screen, background)
    screen.show_section("record")
    screen.taking.unreadable.setChecked(True)
    screen.taking.save()
    settle(qtbot, background)
    assert "Litres added" in screen.notice.text
    table = screen.taking.table
    assert table.currentIndex().column() in (Cell.CHANGED, Cell.LITRES)
    qtbot.keyClick(table, KEY.Key_Home)
    table.setCurrentIndex(table.model().index(0, int(Cell.TAKEN)))
    qtbot.keyClick(table, KEY.Key_Space)
    assert screen.taking.draft is not None
    assert not screen.taking.draft.is_taken(0)
    qtbot.keyClick(table, KEY.Key_Return)
    assert table.currentIndex().column() == Cell.NOTE
    screen.taking.fields["taken_on"].setText("")
    qtbot.keyClicks(screen.taking.fields["taken_on"], "soon")
    screen.taking.save()
    assert "soon" in screen.notice.text


def another(qtbot: QtBot, fleet: Fleet, background: Background, who: str = "") -> SamplingScreen:
    """The page as it is opened anew, by somebody else where named."""
    made = SamplingScreen(
        replace(fleet.place, who=who or fleet.place.who),
        clock=Clock(demo_day=LAST_DAY),
        theme=make_theme("light"),
        background=background,
    )
    qtbot.addWidget(made)
    made.show()
    made.refresh()
    settle(qtbot, background)
    made.show_section("record")
    return made


def test_that_a_half_keyed_sheet_is_there_again_after_a_new_start(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = issue_first(qtbot, screen, background)
    screen.show_section("record")
    view = screen.taking
    qtbot.keyClicks(view.fields["meter"], "4711")
    key_cell(qtbot, screen, Cell.LITRES, "0,5")
    qtbot.waitUntil(lambda: view.keeper.is_settled, timeout=LONGEST_MS)
    settle(qtbot, background)
    assert "half keyed" in view.visit.currentText()
    assert view.drop_button.isVisible()
    # The last letters stand in a cell that is not left yet when the window closes.
    view.table.setCurrentIndex(view.table.model().index(0, int(Cell.NOTE)))
    type_into(qtbot, screen, "dark")
    assert not view.keeper.is_settled
    screen.keep_now()
    screen.close()
    again = another(qtbot, fleet, background).taking
    assert again.visit.currentData() == one.key
    assert again.draft is not None
    assert again.fields["meter"].text() == "4711"
    assert again.draft.text(0, Cell.LITRES) == "0.5"
    assert again.draft.text(0, Cell.NOTE) == "dark"
    assert again._keyed.text().startswith(f"Half keyed by {fleet.place.who}, ")
    assert fleet.check() == []


def test_that_a_visit_with_a_draft_comes_first_and_is_dropped_with_a_reason(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    assert screen.plan is not None
    two = sorted(screen.plan.proposed, key=lambda one: one.visit.planned_on)[-2:]
    ids = screen._calls.keep([one.visit for one in two], moment=NOW).ids
    screen._calls.issue(ids, today=LAST_DAY, moment=NOW)
    screen.refresh()
    settle(qtbot, background)
    screen.show_section("record")
    view = screen.taking
    last = bytes(view.visit.itemData(view.visit.count() - 1))
    view.visit.setCurrentIndex(view.visit.count() - 1)
    view.visit.activated.emit(view.visit.count() - 1)
    settle(qtbot, background)
    assert view.draft is not None
    assert view.draft.planned.key == last
    qtbot.keyClicks(view.fields["meter"], "1")
    view.keeper.when_settled(lambda: None)
    settle(qtbot, background)
    screen.refresh()
    settle(qtbot, background)
    assert view.visit.itemData(0) == last
    qtbot.mouseClick(view.drop_button, Qt.MouseButton.LeftButton)
    fill(view.dialog, why="the wrong sheet")
    settle(qtbot, background)
    assert not view.drop_button.isVisible()
    assert view.fields["meter"].text() == ""
    assert "half keyed" not in "".join(view.visit.itemText(at) for at in range(view.visit.count()))


def test_that_two_desks_are_told_of_each_other_and_choose(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    issue_first(qtbot, screen, background)
    screen.show_section("record")
    mine, theirs = screen.taking, another(qtbot, fleet, background, who="Noor").taking

    def type_meter(view: TakingView, text: str) -> None:
        view.fields["meter"].clear()
        qtbot.keyClicks(view.fields["meter"], text)
        view.keeper.when_settled(lambda: None)
        settle(qtbot, background)

    def choose(words: str) -> None:
        [button] = [one for one in screen.notice.actions_shown if one.text() == words]
        button.click()
        settle(qtbot, background)

    type_meter(theirs, "100")
    type_meter(mine, "222")
    assert "Noor" in screen.notice.text
    assert not mine.keeper.is_settled
    choose("Save mine over it")
    assert mine.draft is not None
    saved = screen._calls.sheet_draft(mine.draft.planned.key)
    assert saved is not None
    assert saved.cells["head"]["meter"] == "222"
    # The other desk reads the sheet anew, and now it is this one that typed on something older.
    theirs.visit.activated.emit(0)
    settle(qtbot, background)
    type_meter(theirs, "300")
    type_meter(mine, "444")
    choose("Show what is saved")
    assert mine.fields["meter"].text() == "300"
    assert mine._keyed.text().startswith("Half keyed by Noor")
    assert fleet.check() == []


def test_that_a_recorded_sheet_leaves_no_draft(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = record_first(qtbot, screen, background)
    assert screen._calls.sheet_draft(one.key) is None
    assert screen.taking.keeper.is_settled
    assert fleet.check() == []


def test_that_bottles_are_handed_in_shipped_received_and_lost(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = record_first(qtbot, screen, background)
    codes = {box.bottle_code for box in one.visit.boxes}
    screen.show_section("bottles")
    view = screen.bottles
    view.chips.button("taken").click()
    for code in codes:
        view.code.setText(code)
        qtbot.keyClick(view.code, KEY.Key_Return)
    assert {out.code for out in view.chosen} == codes
    view.buttons["hand_in"].click()
    settle(qtbot, background)
    view.chips.button("handed_in").click()
    view.table.selectAll()
    view.ask_ship()
    assert view.dialog is not None
    laboratory = view.dialog.editor.editor("laboratory")
    assert isinstance(laboratory, QComboBox)
    choice = str(laboratory.itemData(laboratory.count() - 1))
    fill(view.dialog, laboratory=choice, count=str(len(codes)))
    settle(qtbot, background)
    assert view.facts is not None
    place = [set(one.codes) == codes for one in view.facts.shipments].index(True)
    view.shipment_table.selectRow(place)
    view.ask_receive()
    fill(view.dialog, count=str(len(codes) - 1))
    settle(qtbot, background)
    assert "received" in screen.notice.text
    view.chips.button("received").click()
    view.table.selectRow(0)
    lost = view.chosen[0].code
    view.ask_lost()
    fill(view.dialog, why="not in the box")
    settle(qtbot, background)
    assert lost not in {out.code for out in view.facts.custody.out}
    assert fleet.check() == []


def test_that_single_bottles_are_added_moved_and_taken_off(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    keep_first(qtbot, screen, background)
    panel, acts = screen.visits.panel, screen.box_acts
    one = current(screen)
    panel.button("add_box").click()
    fill(acts.dialog, box=one.visit.boxes[0].compartment_id.hex(), reason="resample")
    settle(qtbot, background)
    assert current(screen).bottles == one.bottles + 1
    panel.table.selectRow(one.bottles)
    panel.button("move_box").click()
    assert "No other visit" in screen.notice.text
    assert screen.plan is not None
    [other] = [visit for visit in screen.plan.visits if visit.key == one.key]
    again = replace(other.visit, planned_on=other.visit.planned_on + timedelta(days=8), boxes=())
    screen._calls.keep([again], moment=NOW)
    screen.refresh()
    settle(qtbot, background)
    screen.visits.board.choose(one.key)
    panel.table.selectRow(one.bottles)
    panel.button("move_box").click()
    fill(acts.dialog)
    settle(qtbot, background)
    screen.visits.board.choose(one.key)
    panel.table.selectRow(0)
    panel.button("take_off").click()
    fill(acts.dialog, why="no valve")
    settle(qtbot, background)
    kept = {visit.id: visit for visit in visits(fleet.place, today=LAST_DAY)}
    assert kept[one.key].boxes[0].why_not == "no valve"
    [moved] = next(visit.boxes for key, visit in kept.items() if key != one.key)
    assert moved.reason.value == "resample"
    assert fleet.check() == []


def test_that_a_proposal_goes_along_with_a_visit_kept_for_its_machine(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    one = current(screen)
    assert not screen.visits.panel.button("join").isVisible()
    # Too late for its windows, so that nothing joins by itself.
    to = one.visit.last_day + timedelta(days=40)
    [kept] = screen._calls.keep([replace(one.visit, planned_on=to, boxes=())], moment=NOW).ids
    screen.refresh()
    settle(qtbot, background)
    screen.visits.board.choose(one.key)
    press(qtbot, screen, "join", background)
    [stored] = visits(fleet.place, today=LAST_DAY)
    assert (stored.id, stored.planned_on) == (kept, to)
    assert len(stored.boxes) == one.bottles
    assert screen.plan is not None
    assert screen.plan.visit(one.key) is None
    assert fleet.check() == []


def test_that_due_bottles_join_a_kept_visit_and_are_kept_by_one_button(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    board, panel = screen.visits.board, screen.visits.panel
    assert screen.plan is not None
    one = next(one for one in screen.plan.proposed if one.bottles >= 3)
    part = replace(one.visit, boxes=one.visit.boxes[:1])
    [key] = screen._calls.keep([part], moment=NOW).ids
    screen._calls.issue([key], today=LAST_DAY, moment=NOW)
    screen.refresh()
    settle(qtbot, background)
    board.choose(key)
    more = one.bottles - 1
    shown = current(screen)
    assert len(shown.joining_boxes) == more
    assert f"{more} bottles join" in plan_line(screen.plan)
    assert f"and {more} bottles more" in screen.visits.keep_all.text()
    assert panel.table.model().rowCount() == one.bottles
    panel.table.selectRow(one.bottles - 1)
    assert not panel.button("take_off").isEnabled()
    panel.table.selectRow(0)
    assert panel.button("take_off").isEnabled()
    press(qtbot, screen, "add_joining", background)
    after = current(screen)
    assert after.key == key
    assert (after.standing, after.joining) == (Standing.KEPT, None)
    assert after.bottles == one.bottles
    assert one.visit.machine in screen.notice.text
    assert "print the sheet" in screen.notice.text
    assert fleet.check() == []


def test_that_what_joins_a_visit_can_be_left_out(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    assert screen.plan is not None
    one = next(one for one in screen.plan.proposed if one.bottles >= 2)
    [key] = screen._calls.keep([replace(one.visit, boxes=one.visit.boxes[:1])], moment=NOW).ids
    screen.refresh()
    settle(qtbot, background)
    screen.visits.board.choose(key)
    press(qtbot, screen, "leave_joining", background)
    assert current(screen).joining is None
    assert current(screen).bottles == 1


def test_that_visits_left_behind_are_told_and_moved_on_by_one_button(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    assert screen.plan is not None
    some = screen.plan.proposed[:2]
    past = [replace(one.visit, planned_on=LAST_DAY - timedelta(days=9)) for one in some]
    keys = screen._calls.keep(past, moment=NOW).ids
    screen.refresh()
    settle(qtbot, background)
    assert "2 kept visits passed undone" in screen.sentence
    assert screen.visits.move_on.isVisible()
    screen.visits.board.choose(keys[0])
    assert "passed undone" in screen.visits.board.accessibleDescription()
    screen.visits.move_on.setFocus()
    qtbot.keyClick(screen.visits.move_on, KEY.Key_Space)
    settle(qtbot, background)
    assert "Moved on" in screen.notice.text
    assert not screen.visits.move_on.isVisible()
    assert "undone" not in screen.sentence
    stored = visits(fleet.place, today=LAST_DAY, ids=set(keys))
    assert all(one.planned_on >= LAST_DAY for one in stored)
    assert sum(len(one.boxes) for one in stored) == sum(one.bottles for one in some)


def test_that_a_missed_sample_is_excused_with_a_reason(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    screen.show_section("compliance")
    settle(qtbot, background)
    view = screen.compliance
    view.parts.button("missed").click()
    assert view.shown is not None
    excused = view.shown.table.total.excused
    view.event_table.selectRow(0)
    view.reason_button.click()
    fill(screen.box_acts.dialog, kind="excused", reason="weather", note="flood")
    settle(qtbot, background)
    assert view.shown.table.total.excused == excused + 1
    view.parts.button("excused").click()
    reasons = [view.event_table.model().index(row, 8).data() for row in range(excused + 1)]
    assert "weather: flood" in reasons


def test_that_a_mistyped_bottle_code_is_told(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    screen.show_section("bottles")
    settle(qtbot, background)
    screen.bottles.code.setText("26P-00001-X")
    qtbot.keyClick(screen.bottles.code, KEY.Key_Return)
    assert screen.notice.text
    screen.notice.clear()


def test_that_the_page_looks_further_ahead_and_at_one_site(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    assert screen.plan is not None
    before = len(screen.plan.visits)
    view = screen.visits
    view.ahead.setCurrentIndex(view.ahead.count() - 1)
    view.ahead.activated.emit(view.ahead.currentIndex())
    settle(qtbot, background)
    assert len(screen.plan.visits) >= before
    site = current(screen).visit.site
    view.site.setCurrentIndex(view.site.findData(site))
    view.site.activated.emit(view.site.currentIndex())
    assert {one.visit.site for one in screen.plan.visits} == {site}
    screen.apply_theme(make_theme("dark"))
    screen.grab()


def test_that_an_empty_register_says_where_to_begin(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    facts = screen._facts
    assert facts is not None
    from fluiddesk.services.fleet_condition import condition_columns

    nothing = replace(
        facts,
        fleet=condition_columns([], today=LAST_DAY),
        plan=replace(facts.plan, visits=()),
        worth=(),
        sites={},
        machines=(),
        bands=None,
    )
    asked: list[bool] = []
    screen.register_asked.connect(lambda: asked.append(True))
    screen.show_facts(nothing)
    assert screen.sentence.startswith("No machines yet")
    screen.show_section("chance")
    assert screen.stack.currentWidget() is screen._blank
    screen.notice.actions_shown[0].click()
    assert asked == [True]
    screen.show_facts(facts)
    assert screen.stack.currentWidget() is screen.visits
    assert not screen.notice.text
