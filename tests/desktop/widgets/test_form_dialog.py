"""A form in a dialog: one answer, what is wrong with the whole, and the typing hand."""

from collections.abc import Iterator
from datetime import date

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.limit_forms import force_form
from fluiddesk.desktop.widgets.form_dialog import FormDialog

TODAY = date(2026, 11, 20)


@pytest.fixture
def dialog(qtbot: QtBot) -> Iterator[FormDialog]:
    parent = QWidget()
    qtbot.addWidget(parent)
    form = force_form(name="Autumn", who="Kim", today=TODAY, changed=2)
    made = FormDialog(form, theme=make_theme("light"), parent=parent)
    made.open()
    yield made
    parent.close()


def test_that_a_note_is_written_in_the_order_it_is_typed(dialog: FormDialog, qtbot: QtBot) -> None:
    note = dialog.editor.editor("note")
    assert isinstance(note, QPlainTextEdit)
    qtbot.keyClicks(note, "After the shutdown")
    assert note.toPlainText() == "After the shutdown"


def test_that_a_letter_in_the_middle_leaves_the_cursor_there(
    dialog: FormDialog, qtbot: QtBot
) -> None:
    day = dialog.editor.editor("valid_from")
    assert isinstance(day, QLineEdit)
    day.setCursorPosition(3)
    qtbot.keyClicks(day, "99")
    assert day.text() == "202996-11-20"
    assert day.cursorPosition() == 5


def test_that_enter_answers_once_and_only_when_everything_is_said(
    dialog: FormDialog, qtbot: QtBot
) -> None:
    day = dialog.editor.editor("valid_from")
    with qtbot.assertNotEmitted(dialog.agreed):
        qtbot.keyClick(day, Qt.Key.Key_Return)
    qtbot.keyClicks(dialog.editor.editor("note"), "Because")
    answers: list[object] = []
    dialog.agreed.connect(answers.append)
    dialog.agreed.connect(lambda _: dialog.accept())
    qtbot.keyClick(day, Qt.Key.Key_Return)
    assert answers == [{"who": "Kim", "valid_from": TODAY, "note": "Because"}]


def test_that_a_refusal_of_the_whole_stays_until_something_is_written(
    dialog: FormDialog, qtbot: QtBot
) -> None:
    dialog.refuse("The day lies before the set in force.")
    assert dialog.refusal == "The day lies before the set in force."
    qtbot.keyClicks(dialog.editor.editor("note"), "B")
    assert dialog.refusal == ""
