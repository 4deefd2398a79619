from collections.abc import Iterator
from typing import Any, cast

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLineEdit, QTableView
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.lab_intake import LabIntakeScreen, Section
from fluiddesk.desktop.theme import make_theme
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.wiring import Clock
from tests.desktop.makers_fleet import workplace
from tests.desktop.makers_keying import MadeUpKeying, make_queue
from tests.desktop.makers_results import MadeUpCalls


@pytest.fixture
def keying() -> MadeUpKeying:
    return MadeUpKeying()


@pytest.fixture
def screen(qtbot: QtBot, keying: MadeUpKeying) -> Iterator[LabIntakeScreen]:
    background = Background()
    made = LabIntakeScreen(
        workplace(), clock=Clock(), theme=make_theme("light"), background=background
    )
    made.keying.calls = cast("Any", keying)
    made.files.calls = cast("Any", MadeUpCalls())
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.refresh()
    qtbot.waitUntil(lambda: not background.jobs)
    made.show()
    made.activateWindow()
    yield made
    background.close()


def test_that_the_page_opens_with_the_cursor_in_the_bottle_code_box(
    screen: LabIntakeScreen,
) -> None:
    assert QApplication.focusWidget() is screen.keying.bottle.code
    assert screen.sentence == "2 bottles at the laboratory."


def test_that_the_sentence_is_that_of_the_section_on_screen(screen: LabIntakeScreen) -> None:
    screen.show_section(Section.FILES)
    assert screen.sentence.startswith("2 files taken in")
    assert not screen.keying.head.isVisible()
    screen.show_section(Section.MAPPING)
    assert screen.sentence.startswith("Describe a file once")


def test_that_alt_and_a_figure_choose_a_section(screen: LabIntakeScreen, qtbot: QtBot) -> None:
    qtbot.keyClick(screen, Qt.Key.Key_2, Qt.KeyboardModifier.AltModifier)
    assert screen.section is Section.FILES
    qtbot.keyClick(screen, Qt.Key.Key_1, Qt.KeyboardModifier.AltModifier)
    assert screen.section is Section.KEYING


def test_that_a_dropped_file_is_shown_under_files(screen: LabIntakeScreen, qtbot: QtBot) -> None:
    screen.open_file("results.csv")
    qtbot.waitUntil(lambda: screen.files.preview.isVisible() and not screen.is_busy)
    assert screen.section is Section.FILES
    assert screen.files.describe_button.isVisible()


def test_that_others_changes_are_read_into_the_queue(
    screen: LabIntakeScreen, qtbot: QtBot, keying: MadeUpKeying
) -> None:
    keying.waits = make_queue(waiting=())
    screen.show_changes(Changes(subjects=frozenset({Subject.RESULTS})))
    qtbot.waitUntil(lambda: screen.sentence.startswith("Nothing waits"))


def test_that_every_table_and_field_has_an_accessible_name(screen: LabIntakeScreen) -> None:
    parts = [*screen.findChildren(QTableView), *screen.findChildren(QLineEdit)]
    own = [one for one in parts if not one.objectName().startswith("qt_")]
    named = [one for one in own if one.accessibleName() or one.parent().accessibleName()]
    field = screen.keying.desk.grid.field
    assert set(own) - set(named) <= {field}


def test_that_the_page_can_be_drawn_in_another_theme(screen: LabIntakeScreen) -> None:
    screen.apply_theme(make_theme("dark"))
    assert not screen.grab().isNull()
