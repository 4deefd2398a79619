"""Samples side by side: copied as text, decimals in line, analytes always in view."""

import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtGui import QFontMetrics, QGuiApplication
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.compartment_history import SampleTableModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.compartment_history import FIRST_SAMPLE
from fluiddesk.desktop.widgets.sample_table import SampleTableView
from tests.desktop.makers_history import make_history

Flag = QItemSelectionModel.SelectionFlag
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def view(qtbot: QtBot) -> SampleTableView:
    model = SampleTableModel()
    made = SampleTableView(model, model, make_theme("light"))
    model.setParent(made)
    qtbot.addWidget(made)
    made.resize(900, 400)
    model.show_history(make_history())
    return made


def choose(view: SampleTableView, row: int, columns: range) -> None:
    for column in columns:
        view.selectionModel().select(view.model().index(row, column), Flag.Select)


def test_that_ctrl_c_copies_the_chosen_cells_led_by_their_analyte(
    view: SampleTableView, qtbot: QtBot
) -> None:
    choose(view, 1, range(FIRST_SAMPLE, FIRST_SAMPLE + 2))
    qtbot.keyClick(view, Qt.Key.Key_C, CTRL)
    text = QGuiApplication.clipboard().text()
    assert text.split("\t")[:2] == ["Iron", "mg/kg"]
    assert len(text.split("\t")) == 4


def test_that_ctrl_shift_c_copies_the_heads_too(view: SampleTableView, qtbot: QtBot) -> None:
    choose(view, 1, range(FIRST_SAMPLE, FIRST_SAMPLE + 1))
    qtbot.keyClick(view, Qt.Key.Key_C, CTRL | SHIFT)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert len(lines) == 2
    assert make_history().samples[-1].bottle_code in lines[0]


def test_that_a_question_mark_fits_between_the_mark_and_the_day(view: SampleTableView) -> None:
    day = QFontMetrics(make_theme("light").body).horizontalAdvance("2026-10-20")
    left_for_marks = view.columnWidth(FIRST_SAMPLE) - day - 8 - 6
    assert left_for_marks >= 10 + 1 + 8


def test_that_the_table_has_a_name_for_screen_readers(view: SampleTableView) -> None:
    assert view.accessibleName()


def test_that_another_theme_changes_the_picture(view: SampleTableView) -> None:
    before = view.grab().toImage()
    view.apply_theme(make_theme("dark"))
    assert view.grab().toImage() != before
