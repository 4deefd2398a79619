"""The Reckoner page by keyboard, without a database."""

from collections.abc import Iterator
from itertools import pairwise

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QComboBox, QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.reckoner import ReckonerScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.reckoner.reckonings import RECKONINGS
from fluiddesk.wiring import Clock

NAMES = [one.name for one in RECKONINGS]


@pytest.fixture
def screen(qtbot: QtBot) -> Iterator[ReckonerScreen]:
    background = Background()
    made = ReckonerScreen(None, clock=Clock(), theme=make_theme("light"), background=background)
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.show()
    yield made
    background.close()


def line(screen: ReckonerScreen, name: str) -> QLineEdit:
    edit = screen.form.edit(name)
    assert isinstance(edit, QLineEdit)
    return edit


def open_by_key(screen: ReckonerScreen, qtbot: QtBot, name: str) -> None:
    for _ in range(NAMES.index(name) - screen.state.chosen):
        qtbot.keyClick(screen.choices, Qt.Key.Key_Down)


def test_that_the_page_opens_on_the_first_reckoning_and_waits(screen: ReckonerScreen) -> None:
    assert [screen.choices.item(row).text() for row in range(screen.choices.count())] == [
        one.title for one in RECKONINGS
    ]
    assert "the answer stands here as you type" in screen.answer.text
    assert not screen.copy.isEnabled()
    assert not screen.clear.isEnabled()


def test_that_the_answer_comes_while_typing_with_its_method_and_source(
    screen: ReckonerScreen, qtbot: QtBot
) -> None:
    open_by_key(screen, qtbot, "vi")
    qtbot.keyClick(screen.choices, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: screen.form.edit("kv40").hasFocus())
    qtbot.keyClicks(line(screen, "kv40"), "73.30")
    assert "Viscosity at 100 °C is missing" in screen.answer.text
    qtbot.keyClicks(line(screen, "kv100"), "8.86")
    assert screen.answer.text.startswith("Viscosity index 92\n")
    assert "Source\nASTM D2270" in screen.answer.text
    assert screen.copy.isEnabled()


def test_that_a_figure_that_cannot_be_is_told_beside_the_fields(
    screen: ReckonerScreen, qtbot: QtBot
) -> None:
    qtbot.keyClicks(line(screen, "count_4um"), "-5")
    assert "No answer" in screen.answer.text
    assert "-5 per mL must be at least 0" in screen.answer.text
    assert not screen.copy.isEnabled()


def test_that_a_choice_is_made_by_key(screen: ReckonerScreen, qtbot: QtBot) -> None:
    open_by_key(screen, qtbot, "freeze")
    qtbot.keyClicks(line(screen, "share"), "50")
    for name, key in (("glycol", Qt.Key.Key_Down), ("basis", Qt.Key.Key_Down)):
        edit = screen.form.edit(name)
        assert isinstance(edit, QComboBox)
        qtbot.keyClick(edit, key)
    assert screen.answer.text.startswith("-36.0 °C")


def test_that_the_example_is_filled_in_and_cleared_again(
    screen: ReckonerScreen, qtbot: QtBot
) -> None:
    qtbot.mouseClick(screen.example, Qt.MouseButton.LeftButton)
    assert screen.answer.text.startswith("19/16/10")
    assert line(screen, "target").text() == "18/16/13"
    qtbot.mouseClick(screen.clear, Qt.MouseButton.LeftButton)
    assert line(screen, "count_4um").text() == ""
    assert screen.form.edit("count_4um").hasFocus()
    assert "19/16/10" not in screen.answer.text


@pytest.mark.parametrize("number", range(len(RECKONINGS)))
def test_that_every_reckoning_shows_its_example_in_both_themes(
    screen: ReckonerScreen, number: int
) -> None:
    screen.choices.setCurrentRow(number)
    screen.show_example()
    before = screen.answer.text
    screen.apply_theme(make_theme("dark"))
    assert screen.answer.text == before
    assert "Method" in before


def test_that_escape_leads_back_to_the_list_and_find_to_the_fields(
    screen: ReckonerScreen, qtbot: QtBot
) -> None:
    screen.form.focus_first()
    qtbot.keyClick(screen.form.edit("count_4um"), Qt.Key.Key_Escape)
    qtbot.waitUntil(screen.choices.hasFocus)
    qtbot.keyClick(screen.choices, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(screen.form.edit("count_4um").hasFocus)


def test_that_tab_goes_through_the_fields_in_order(screen: ReckonerScreen, qtbot: QtBot) -> None:
    screen.form.focus_first()
    names = ["count_4um", "count_6um", "count_14um", "volume", "target", "code"]
    for name, after in pairwise(names):
        qtbot.keyClick(screen.form.edit(name), Qt.Key.Key_Tab)
        assert QApplication.focusWidget() is screen.form.edit(after)


def test_that_the_answer_is_copied_with_its_figures(screen: ReckonerScreen, qtbot: QtBot) -> None:
    QGuiApplication.clipboard().clear()
    control_shift = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    screen.form.focus_first()
    qtbot.keyClick(screen.form.edit("count_4um"), Qt.Key.Key_C, control_shift)
    assert QGuiApplication.clipboard().text() == ""
    screen.show_example()
    qtbot.keyClick(screen.form.edit("count_4um"), Qt.Key.Key_C, control_shift)
    text = QGuiApplication.clipboard().text()
    assert text.startswith("Contamination code\nParticles of 4 µm(c) and more: 3000 per mL\n")
    assert "\nMethod: ISO 4406" in text


def test_that_what_was_typed_comes_back_with_its_reckoning(
    screen: ReckonerScreen, qtbot: QtBot
) -> None:
    qtbot.keyClicks(line(screen, "count_4um"), "640")
    screen.choices.setCurrentRow(1)
    assert screen.state.is_empty
    screen.choices.setCurrentRow(0)
    assert line(screen, "count_4um").text() == "640"
    assert screen.answer.text.startswith("16/-/-")


def test_that_changes_in_a_database_leave_the_page_as_it_is(screen: ReckonerScreen) -> None:
    screen.show_example()
    before = screen.answer.text
    screen.show_changes(Changes(subjects=frozenset(Subject)))
    screen.refresh()
    assert screen.answer.text == before


def test_that_every_field_has_a_name_for_those_who_cannot_see_it(screen: ReckonerScreen) -> None:
    for number, one in enumerate(RECKONINGS):
        screen.choices.setCurrentRow(number)
        for field in one.fields:
            assert screen.form.edit(field.name).accessibleName().startswith(field.label)
