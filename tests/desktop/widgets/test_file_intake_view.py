from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets.file_intake_view import FileIntakeView
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.lab_intake.facts import RowFate
from fluiddesk.wiring import Clock
from tests.desktop.makers_results import (
    MadeUpCalls,
    full_preview,
    make_preview,
    make_result,
    make_row,
)

FILE = Path("results_2026-06-08.csv")
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def calls() -> MadeUpCalls:
    return MadeUpCalls()


@pytest.fixture
def screen(qtbot: QtBot, calls: MadeUpCalls) -> Iterator[FileIntakeView]:
    background = Background()
    made = FileIntakeView(calls, clock=Clock(), theme=make_theme("light"), background=background)
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.show()
    yield made
    background.close()


def opened(screen: FileIntakeView, qtbot: QtBot) -> None:
    screen.open_file(FILE)
    qtbot.waitUntil(lambda: screen.preview.isVisible() and not screen.is_busy)


def drop(screen: FileIntakeView, mime: QMimeData) -> tuple[bool, bool]:
    """Drag something over the page and let it fall; whether each was accepted."""
    copy, none = Qt.DropAction.CopyAction, Qt.KeyboardModifier.NoModifier
    over = QDragEnterEvent(QPointF(9, 9).toPoint(), copy, mime, LEFT, none)
    over.ignore()
    QApplication.sendEvent(screen, over)
    fall = QDropEvent(QPointF(9, 9), copy, mime, LEFT, none)
    fall.ignore()
    QApplication.sendEvent(screen, fall)
    return over.isAccepted(), fall.isAccepted()


def test_that_the_empty_page_lists_past_files_and_where_to_drop_one(
    screen: FileIntakeView, qtbot: QtBot
) -> None:
    screen.refresh()
    qtbot.waitUntil(lambda: screen.idle.table.model().rowCount() == 3)
    assert screen.idle.drop_area.isVisible()
    assert screen.sentence == "2 files taken in; the last on 2026-05-03 with 33 results."


def test_that_an_opened_file_says_what_taking_it_in_would_do(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    assert calls.asked == [("preview", FILE, None)]
    assert screen.sentence.startswith("22 results ready to take in, 2 held")
    assert screen.preview.take_in_button.text() == "Take in 22 results"
    assert screen.preview.take_in_button.isEnabled()
    assert screen.preview.chips.button("held").text() == "Held 2"


def test_that_a_file_dropped_anywhere_on_the_page_is_read(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls, tmp_path: Path
) -> None:
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(tmp_path / "dropped.csv"))])
    assert drop(screen, mime) == (True, True)
    qtbot.waitUntil(screen.preview.isVisible)
    assert calls.asked == [("preview", tmp_path / "dropped.csv", None)]


def test_that_dropped_words_are_not_taken_for_a_file(
    screen: FileIntakeView, calls: MadeUpCalls
) -> None:
    mime = QMimeData()
    mime.setText("not a file")
    assert drop(screen, mime) == (False, False)
    assert calls.asked == []


def test_that_a_chosen_problem_leads_to_its_row_even_where_the_filter_hides_it(
    screen: FileIntakeView, qtbot: QtBot
) -> None:
    opened(screen, qtbot)
    qtbot.mouseClick(screen.preview.chips.button("moves"), LEFT)
    assert screen.preview.table.model().rowCount() == 3
    screen.preview.problems.table.choose(1)
    row = screen.preview.table.currentIndex().row()
    assert screen.preview.table.model().index(row, 0).data() == "22"
    assert "type it again" in screen.preview.chosen_row.text()


def test_that_a_chosen_row_leads_to_its_problem(screen: FileIntakeView, qtbot: QtBot) -> None:
    opened(screen, qtbot)
    screen.preview.table.choose(15)
    assert screen.preview.problems.table.currentIndex().row() == 0
    assert screen.preview.table.currentIndex().row() == 15


def test_that_a_problem_of_the_whole_file_is_told_in_full(
    screen: FileIntakeView, qtbot: QtBot
) -> None:
    opened(screen, qtbot)
    screen.preview.problems.table.choose(2)
    assert screen.preview.chosen_row.text().startswith('Column "Remarks" is not known')


def test_that_another_layout_reads_the_file_again(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    assert screen.layouts.box.currentText() == "comma_columns (Laboratory of comma_columns)"
    screen.layouts.box.activated.emit(1)
    qtbot.waitUntil(lambda: len(calls.asked) == 2 and not screen.is_busy)
    assert calls.asked[-1] == ("preview", FILE, "long_sheet")


def test_that_taking_in_tells_what_moved_and_lets_other_pages_know(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    with qtbot.waitSignal(screen.changed) as told:
        qtbot.mouseClick(screen.preview.take_in_button, LEFT)
    assert told.args == [calls.next_result.changes]
    assert screen.sentence.startswith("22 results taken in")
    assert screen.result.table.model().rowCount() == 3
    assert screen.result.problems.table.model().rowCount() == 3


def test_that_undoing_asks_on_the_page_first(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    screen.show_facts(make_result())
    qtbot.mouseClick(screen.result.undo_button, LEFT)
    assert "Nothing is deleted" in screen.notice.text
    assert calls.asked == []
    undo, keep = screen.notice.actions_shown
    assert undo.text() == "Undo 22 results"
    qtbot.mouseClick(keep, LEFT)
    assert screen.notice.text == ""
    assert calls.asked == []


def test_that_an_undone_intake_is_told_and_cannot_be_undone_twice(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    screen.show_facts(make_result())
    qtbot.mouseClick(screen.result.undo_button, LEFT)
    with qtbot.waitSignal(screen.changed):
        qtbot.mouseClick(screen.notice.actions_shown[0], LEFT)
    assert ("undo", b"\x01" * 16) in calls.asked
    assert "is undone" in screen.sentence
    assert not screen.result.undo_button.isVisible()


def test_that_a_past_intake_is_undone_from_the_list_unless_it_is_undone(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    screen.show_past(calls.past())
    assert not screen.idle.undo_button.isEnabled()
    screen.idle.table.choose(1)
    assert not screen.idle.undo_button.isEnabled()
    screen.idle.table.choose(0)
    qtbot.mouseClick(screen.idle.undo_button, LEFT)
    qtbot.mouseClick(screen.notice.actions_shown[0], LEFT)
    qtbot.waitUntil(lambda: ("undo", b"\x03" * 16) in calls.asked)


def test_that_a_refused_file_tells_the_remedy_on_the_page_and_keeps_the_drop_area(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    calls.next_preview = OperatorError("No layout fits. Choose a layout.")
    screen.open_file(FILE)
    qtbot.waitUntil(lambda: bool(screen.notice.text))
    assert screen.notice.text == f"{FILE} was not read No layout fits. Choose a layout."
    assert screen.idle.drop_area.isVisible()
    assert screen.layouts.isVisible()
    assert QApplication.activeModalWidget() is None


def test_that_nothing_of_the_former_file_stands_beside_a_refusal(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    calls.next_preview = OperatorError("Not a laboratory's file. Choose another.")
    screen.open_file(Path("photo.csv"))
    qtbot.waitUntil(lambda: bool(screen.notice.text))
    assert screen.idle.isVisible()
    assert not screen.preview.isVisible()
    assert "ready to take in" not in screen.sentence
    assert screen._about.text() == ""


def test_that_a_cancelled_reading_leaves_the_empty_page(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    calls.next_preview = OperatorError("Stopped.")
    screen.open_file(Path("large.csv"))
    screen._work.cancel()
    qtbot.waitUntil(lambda: not screen.is_busy)
    assert screen.idle.isVisible()
    assert screen.notice.text == ""


def test_that_a_refused_taking_in_offers_the_file_again_and_the_fleet_is_read_anew(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_given: object, **_named: object) -> None:
        raise StaleEditError("The register changed since the file was read. Read it again.")

    opened(screen, qtbot)
    monkeypatch.setattr(calls, "take_in", refuse)
    screen.changed.connect(screen.show_changes)  # as the window does
    with qtbot.waitSignal(screen.changed) as told:
        screen.take_in()
    assert told.args is not None
    assert Subject.FLEET in told.args[0].subjects
    again = screen.notice.actions_shown[0]
    assert again.text() == "Read the file again"
    assert [asked[0] for asked in calls.asked] == ["preview"]
    again.click()
    qtbot.waitUntil(lambda: len(calls.asked) == 2 and not screen.is_busy)
    assert calls.asked[-1] == ("preview", FILE, "comma_columns")
    assert screen.notice.text == ""


def test_that_an_intake_is_chosen_before_it_can_be_undone_and_enter_keeps_it(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    screen.refresh()
    qtbot.waitUntil(lambda: screen.idle.table.model().rowCount() == 3)
    screen.idle.table.setFocus()
    assert not screen.idle.undo_button.isEnabled()
    screen.idle.table.selectRow(0)
    assert screen.idle.undo_button.isEnabled()
    screen.idle.undo_button.click()
    keep = screen.notice.actions_shown[-1]
    assert keep.text() == "Keep them"
    qtbot.keyClick(keep, Qt.Key.Key_Return)
    assert screen.notice.text == ""
    assert "undo" not in [asked[0] for asked in calls.asked]


def test_that_the_very_same_file_cannot_be_taken_in_and_says_since_when(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    calls.next_preview = make_preview(
        [make_row(2, fate=RowFate.UNCHANGED)], already_taken_in="2026-06-08 07:42 by First clerk"
    )
    opened(screen, qtbot)
    assert screen.sentence == "This very file was taken in before. Nothing will change."
    assert "2026-06-08 07:42 by First clerk" in screen._about.text()
    assert not screen.preview.take_in_button.isEnabled()
    assert screen.preview.reason.isVisible()
    screen.take_in()
    assert calls.asked == [("preview", FILE, None)]


def test_that_a_file_put_aside_leaves_the_empty_page(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    qtbot.mouseClick(screen.preview.aside_button, LEFT)
    assert screen.idle.isVisible()
    assert not screen.layouts.isVisible()
    assert [asked[0] for asked in calls.asked] == ["preview"]


def test_that_a_file_left_open_is_read_again_when_the_fleet_changed(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    screen.show_changes(Changes(subjects=frozenset({Subject.RESULTS})))
    qtbot.waitUntil(lambda: len(calls.asked) == 2 and not screen.is_busy)
    assert calls.asked[-1] == ("preview", FILE, "comma_columns")


def test_that_nothing_else_is_read_while_a_file_is_being_taken_in(
    screen: FileIntakeView, qtbot: QtBot, calls: MadeUpCalls
) -> None:
    opened(screen, qtbot)
    calls.hold.clear()
    qtbot.mouseClick(screen.preview.take_in_button, LEFT)
    screen.open_file(Path("another.csv"))
    screen.show_changes(Changes(subjects=frozenset({Subject.FLEET})))
    calls.hold.set()
    qtbot.waitUntil(screen.result.isVisible)
    assert [asked[0] for asked in calls.asked] == ["preview", "take_in"]


def test_that_the_last_order_holds_for_the_next_file(screen: FileIntakeView, qtbot: QtBot) -> None:
    screen.show_facts(full_preview())
    screen.preview.table.sortByColumn(0, Qt.SortOrder.DescendingOrder)
    screen.show_facts(full_preview())
    assert screen.preview.table.model().index(0, 0).data() == "26"


def test_that_every_table_and_field_has_an_accessible_name(screen: FileIntakeView) -> None:
    tables = (screen.idle.table, screen.preview.table, screen.result.table)
    assert all(table.accessibleName() for table in tables)


def test_that_the_page_can_be_drawn_in_another_theme(screen: FileIntakeView) -> None:
    screen.show_facts(full_preview())
    dark = make_theme("dark")
    screen.apply_theme(dark)
    ink = screen.head.palette().color(screen.head.foregroundRole())
    assert ink.name().upper() == dark.colors.ink
    assert not screen.grab().isNull()
