"""The due list on a real database: special intervals by hand, notes taken back, orders."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.sampling import SamplingScreen
from fluiddesk.desktop.viewstate.due_cells import DueColumn
from fluiddesk.desktop.viewstate.due_list import DueList, DuePart
from fluiddesk.services.due_notes import due_notes
from fluiddesk.services.special_by_hand import specials
from fluiddesk.services.visits.boxes import note_due
from tests.desktop.screens.test_sampling import background, fill, screen, settle
from tests.fleets import LAST_DAY, NOW, Fleet, desk_home, fleet, fleet_file, small_fleet_file

__all__ = ["background", "desk_home", "fleet", "fleet_file", "screen", "small_fleet_file"]
KEY = Qt.Key


def listed(screen: SamplingScreen) -> DueList:
    due = screen.due.due
    assert due is not None
    return due


def press(qtbot: QtBot, button: QPushButton) -> None:
    """Press a button by the keyboard."""
    assert button.isVisible()
    assert button.isEnabled()
    button.setFocus()
    qtbot.keyClick(button, KEY.Key_Space)


def add_special(qtbot: QtBot, screen: SamplingScreen, background: Background) -> str:
    """Ask for a special interval of the first early box by the keyboard; its name."""
    screen.show_section("due")
    screen.due.show_part(DuePart.ALL)
    due = listed(screen)
    row = next(
        at
        for at in range(len(due))
        if due.cell(at, DueColumn.STATE) == "Early" and due.cell(at, DueColumn.BASIS)[:5] == "every"
    )
    screen.due.table.setFocus()
    screen.due.table.selectRow(row)
    name = due.box_name(row)
    press(qtbot, screen.due.special_button)
    assert screen.due_acts.dialog is not None
    assert name in screen.due_acts.dialog.windowTitle()
    fill(screen.due_acts.dialog, reason="laboratory_asks", days="3", note="iron steps")
    settle(qtbot, background)
    return name


def test_that_a_box_is_sampled_sooner_undone_and_ended_by_the_keyboard(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    name = add_special(qtbot, screen, background)
    [one] = specials(fleet.place, today=LAST_DAY)
    assert f"{one.machine}, {one.compartment}" == name
    assert screen.due_acts.dialog is None
    due = listed(screen)
    row = due.place_of(one.compartment_id)
    assert due.cell(row, DueColumn.BASIS) == "iron steps"
    undo, _close = screen.notice.findChildren(QPushButton)[-2:]
    undo.click()
    settle(qtbot, background)
    assert specials(fleet.place, today=LAST_DAY) == ()
    add_special(qtbot, screen, background)
    press(qtbot, screen.due.list_button)
    panel = screen.due.panel
    assert panel.isVisible()
    assert panel.table.model().index(0, 6).data() == "iron steps"
    press(qtbot, panel.end_button)
    fill(screen.due_acts.dialog, why="steady")
    settle(qtbot, background)
    assert specials(fleet.place, today=LAST_DAY) == ()
    assert panel.table.model().rowCount() == 0
    assert not panel.end_button.isEnabled()
    ended = specials(fleet.place, today=LAST_DAY, ended=True)
    assert "iron steps; ended: steady" in {one.note for one in ended}


def test_that_a_refused_special_interval_keeps_what_was_written(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    screen.show_section("due")
    screen.due.table.selectRow(0)
    screen.due.special_button.click()
    dialog = screen.due_acts.dialog
    fill(dialog, reason="resample", hours="50", note="keep me")
    settle(qtbot, background)
    assert dialog is not None
    assert screen.due_acts.dialog is dialog
    assert "Leave the hours empty and give days" in dialog.refusal
    fill(dialog, hours="", days="4")
    settle(qtbot, background)
    [one] = specials(fleet.place, today=LAST_DAY)
    assert (one.days, one.note) == (4, "keep me")


def test_that_a_note_is_taken_back_from_the_drill_down_and_compliance_moves_back(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    screen.show_section("compliance")
    settle(qtbot, background)
    view = screen.compliance
    view.parts.button("missed").click()
    assert view.shown is not None
    excused = view.shown.table.total.excused
    view.event_table.selectRow(0)
    assert not view.void_button.isEnabled()
    view.reason_button.click()
    fill(screen.box_acts.dialog, kind="excused", reason="weather", note="flood")
    settle(qtbot, background)
    view.parts.button("excused").click()
    model = view.event_table.model()
    told = [model.index(row, 8).data() for row in range(model.rowCount())]
    view.event_table.selectRow(told.index("weather: flood"))
    press(qtbot, view.void_button)
    fill(screen.due_acts.dialog, why="wrong box")
    settle(qtbot, background)
    assert view.shown.table.total.excused == excused
    assert due_notes(fleet.place) == ()
    [voided] = due_notes(fleet.place, voided=True)
    assert voided.voided_reason == "wrong box"


def test_that_a_note_tells_in_the_due_list_and_is_taken_back_there(
    qtbot: QtBot, screen: SamplingScreen, background: Background, fleet: Fleet
) -> None:
    screen.show_section("due")
    screen.due.show_part(DuePart.LATE)
    due = listed(screen)
    box = due.compartment(0)
    assert box is not None
    screen.due.table.selectRow(0)
    assert not screen.due.void_button.isEnabled()
    late = due.count(DuePart.LATE)
    note_due(
        fleet.place, box, due_on=LAST_DAY, is_excused=True, reason="no_access", note="", moment=NOW
    )
    screen.refresh()
    settle(qtbot, background)
    screen.due.show_part(DuePart.EXCUSED)
    due = listed(screen)
    assert due.count(DuePart.LATE) == late - 1
    row = due.place_of(box)
    assert due.cell(row, DueColumn.WHY).startswith("excused: no access")
    screen.due.table.selectRow(row)
    press(qtbot, screen.due.void_button)
    fill(screen.due_acts.dialog, why="mistake")
    settle(qtbot, background)
    assert listed(screen).count(DuePart.LATE) == late
    assert due_notes(fleet.place) == ()


def test_that_the_boxes_of_a_machine_stand_together(qtbot: QtBot, screen: SamplingScreen) -> None:
    screen.show_section("due")
    screen.due.show_part(DuePart.ALL)
    press(qtbot, screen.due.order.button("machine"))
    due = listed(screen)
    machines = [
        (due.cell(at, DueColumn.SITE), due.cell(at, DueColumn.MACHINE)) for at in range(len(due))
    ]
    changes = sum(one != before for one, before in zip(machines[1:], machines, strict=False))
    assert changes == len(set(machines)) - 1
    assert [due.repeats_machine(at) for at in (0, 1)] == [False, machines[1] == machines[0]]
    press(qtbot, screen.due.order.button("due"))
    assert not any(due.repeats_machine(at) for at in range(len(due)))


def test_that_the_chosen_box_is_told_in_one_line_and_by_the_bar(
    qtbot: QtBot, screen: SamplingScreen
) -> None:
    screen.show_section("due")
    screen.due.show_part(DuePart.ALL)
    due = listed(screen)
    row = next(at for at in range(len(due)) if "80 % band" in due.tip(at, DueColumn.BAR))
    screen.due.table.selectRow(row)
    assert due.line(row) in {one.text() for one in screen.due.findChildren(QLabel)}
    model = screen.due.table.model()
    spoken = model.index(row, DueColumn.BAR).data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken.startswith("window 2026-")
    assert "80 % band" in spoken
    bar = model.index(row, DueColumn.BAR).data(Qt.ItemDataRole.UserRole)
    assert bar.band[0] <= bar.due <= bar.band[1]
    assert bar.window[0] <= bar.due <= bar.window[1]
    flat = Qt.Orientation.Horizontal
    assert model.headerData(DueColumn.BAR, flat) == "06-16 to 07-28"
