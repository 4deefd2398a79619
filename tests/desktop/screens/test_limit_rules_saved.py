"""The Rules page on a real database: a draft is made, edited, undone, tried and put in force."""

from collections.abc import Iterator

import pytest
from PySide6.QtCore import QCoreApplication, Qt
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.limit_rules import LimitRulesScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.limit_rules import LimitColumn
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.limit_foot import Leaf
from fluiddesk.domain.limits.limit_set import LimitSetState
from fluiddesk.services.limit_rules.versions import limit_sets, read_set
from fluiddesk.wiring import Clock
from tests.fleets import LAST_DAY, Fleet, desk_home, fleet, fleet_file, small_fleet_file

__all__ = ["desk_home", "fleet", "fleet_file", "small_fleet_file"]
CONTROL = Qt.KeyboardModifier.ControlModifier
LONGEST_MS = 60_000


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(qtbot: QtBot, fleet: Fleet, background: Background) -> LimitRulesScreen:
    made = LimitRulesScreen(
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


def go_to_iron(screen: LimitRulesScreen) -> None:
    """Lead the keyboard to the Watch bound of an engine's iron, by arrow keys."""
    screen.choose_scope("Engine")
    table, model = screen.view.limit_table, screen.view.limits
    lines = [model.line(row) for row in range(model.rowCount())]
    target = next(
        row
        for row, line in enumerate(lines)
        if line is not None and (line.analyte, line.kind) == ("Iron", "Level")
    )
    table.setFocus()
    while table.currentIndex().row() < target:
        QtBot.keyClick(table, Qt.Key.Key_Down)
    while table.currentIndex().column() < LimitColumn.WATCH:
        QtBot.keyClick(table, Qt.Key.Key_Right)


def type_into_cell(screen: LimitRulesScreen, text: str) -> None:
    table = screen.view.limit_table
    QtBot.keyClick(table, Qt.Key.Key_F2)
    editor = table.viewport().findChildren(QLineEdit, "cell_editor")[-1]
    editor.selectAll()
    QtBot.keyClicks(editor, text)
    QtBot.keyClick(editor, Qt.Key.Key_Return)
    QCoreApplication.processEvents()


def iron_watch(screen: LimitRulesScreen, number: int) -> float | None:
    """The bound as the database holds it."""
    limits = read_set(screen._place, number).limit_set.limits
    return next(
        one.watch
        for one in limits
        if (one.analyte, one.kind.value, one.scope.compartment_kind) == ("iron", "level", "engine")
    )


def press_button(screen: LimitRulesScreen, key: str) -> None:
    button = screen.bar.button(key)
    button.setFocus()
    QtBot.keyClick(button, Qt.Key.Key_Space)


def write(dialog: FormDialog, key: str, text: str) -> None:
    """Write over a field of a dialog, letter by letter."""
    editor = dialog.editor.editor(key)
    assert isinstance(editor, QLineEdit | QPlainTextEdit)
    editor.setFocus()
    editor.selectAll()
    QtBot.keyClicks(editor, text)


def make_draft(screen: LimitRulesScreen, qtbot: QtBot, background: Background) -> int:
    press_button(screen, "draft")
    dialog = screen.acts.dialog
    assert dialog is not None
    write(dialog, "name", "Autumn review")
    QtBot.keyClick(dialog.editor.editor("name"), Qt.Key.Key_Return)
    settle(qtbot, background)
    assert screen.draft is not None
    with qtbot.waitActive(screen):
        screen.activateWindow()
    return screen.draft.number


def test_that_a_draft_is_edited_undone_tried_and_put_in_force_by_keyboard_alone(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background, fleet: Fleet
) -> None:
    number = make_draft(screen, qtbot, background)
    go_to_iron(screen)
    type_into_cell(screen, "5")
    type_into_cell(screen, "7")
    QtBot.keyClick(screen.view.limit_table, Qt.Key.Key_Z, CONTROL)
    qtbot.waitUntil(lambda: screen.editing.is_saved, timeout=LONGEST_MS)
    settle(qtbot, background)
    assert iron_watch(screen, number) == 5
    qtbot.waitUntil(lambda: "Healthy flagged" in screen.view.preview.text, timeout=LONGEST_MS)
    assert screen.view.preview.moves
    assert all(one.after >= one.before for one in screen.view.preview.moves)

    press_button(screen, "force")
    qtbot.waitUntil(lambda: screen.acts.dialog is not None, timeout=LONGEST_MS)
    dialog = screen.acts.dialog
    assert dialog is not None
    write(dialog, "note", "Engines stay in service longer now")
    write(dialog, "valid_from", "2000-01-01")
    with qtbot.waitSignal(screen.changed, timeout=LONGEST_MS):
        QtBot.keyClick(dialog.editor.editor("valid_from"), Qt.Key.Key_Return)
    settle(qtbot, background)
    held = next(one for one in limit_sets(fleet.place, today=LAST_DAY) if one.holds_today)
    assert (held.number, held.state) == (number, LimitSetState.IN_FORCE)
    assert held.author == fleet.place.who
    assert held.note == "Engines stay in service longer now"
    assert screen.view.foot.leaf is Leaf.MOVED
    assert screen.view.foot.moved
    assert screen.draft is None


def test_that_a_wrong_number_never_reaches_the_database(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    number = make_draft(screen, qtbot, background)
    before = iron_watch(screen, number)
    go_to_iron(screen)
    type_into_cell(screen, "6O")
    screen.editing.save()
    settle(qtbot, background)
    assert screen.view.limit_table.currentIndex().data() == "6O"
    assert iron_watch(screen, number) == before


def test_that_what_holds_for_a_box_is_read_from_the_database(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    screen.view.foot.turn_to(Leaf.BOX)
    settle(qtbot, background)
    known = screen._calls.boxes(today=LAST_DAY)[0]
    screen.answers.ask_box(known.compartment)
    settle(qtbot, background)
    assert screen.view.foot.box.table.model().rowCount() > 0
    assert "by limit set 1" in screen.view.foot.box.text


def test_that_a_set_goes_out_to_a_file_and_comes_back_as_an_equal_draft(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background, tmp_path
) -> None:
    file = tmp_path / "limits.toml"
    screen.acts.export(file)
    settle(qtbot, background)
    screen.acts.import_file(file)
    settle(qtbot, background)
    assert screen.draft is not None
    number = screen.draft.number
    assert read_set(screen._place, number).limit_set.limits == (
        read_set(screen._place, 1).limit_set.limits
    )


def test_that_a_file_that_is_no_limit_file_is_refused_with_its_name(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background, tmp_path
) -> None:
    file = tmp_path / "notes.toml"
    file.write_text("iron = 12\n", encoding="utf-8")
    screen.acts.import_file(file)
    settle(qtbot, background)
    assert "notes.toml was not taken in" in screen.notice.text
    assert screen.draft is None


def test_that_a_small_fleet_is_told_that_it_has_too_little_to_derive_from(
    screen: LimitRulesScreen, qtbot: QtBot, background: Background
) -> None:
    make_draft(screen, qtbot, background)
    go_to_iron(screen)
    screen._do("derive")
    panel = screen.view.derive_panel
    qtbot.waitUntil(
        lambda: screen.view.faces.currentWidget() is panel and not background.jobs,
        timeout=LONGEST_MS,
    )
    # Five machines over one year are too few for any row, which each row says.
    assert panel.table.model().rowCount()
    assert panel.chosen == []
    assert not panel.take_button.isEnabled()
    assert "Not enough" in panel.table.model().index(0, 5).data()
