"""From a laboratory's file to the fleet's condition on screen, and back, in the real window."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, cast

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from pytestqt.qtbot import QtBot

from fluiddesk import wiring
from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.desktop.screens.lab_intake import LabIntakeScreen
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.lab_intake.facts import IntakeResult
from fluiddesk.storage import check_store, open_store
from tests.fleets import differing_tables, dump

if TYPE_CHECKING:
    from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen
    from fluiddesk.desktop.screens.limit_rules import LimitRulesScreen

PATIENCE_MS = 30_000


@pytest.fixture
def database(sample_fleet_file: Path, tmp_path: Path) -> str:
    return str(shutil.copy(sample_fleet_file, tmp_path / "sample.fluiddesk"))


@pytest.fixture
def window(qtbot: QtBot, database: str) -> Iterator[MainWindow]:
    desk = wiring.open_desk(database)
    made = build_window(desk)
    qtbot.addWidget(made)
    made.show()
    settle(qtbot, made)
    yield made
    made.close()
    desk.close()


def settle(qtbot: QtBot, window: MainWindow) -> None:
    """Wait until nothing is being read or saved any more."""
    qtbot.waitUntil(lambda: not window.background.jobs, timeout=PATIENCE_MS)


def waiting_file(name: str) -> Path:
    return next(file for file in wiring.sample_lab_files() if name in file.name)


def drop(window: MainWindow, file: Path) -> None:
    held = QMimeData()
    held.setUrls([QUrl.fromLocalFile(str(file))])
    window.dropEvent(
        QDropEvent(
            QPointF(9, 9), Qt.DropAction.CopyAction, held, Qt.MouseButton.LeftButton,
            Qt.KeyboardModifier.NoModifier,
        )
    )  # fmt: skip


def severities(window: MainWindow) -> dict[bytes, Severity]:
    """How every box stands on the fleet page, as its cells show it."""
    matrix = window.fleet.matrix
    assert matrix is not None
    rows, columns = matrix.shape
    return {
        matrix.compartment(int(box)): cell.severity
        for row in range(rows)
        for column in range(columns)
        for box, cell in zip(matrix.boxes(row, column), matrix.cell(row, column), strict=True)
    }


def results_page(window: MainWindow) -> LabIntakeScreen:
    return cast("LabIntakeScreen", window.page(Page.RESULTS))


def take_in(qtbot: QtBot, window: MainWindow, file: Path) -> IntakeResult:
    """Drop a file, look at its preview and press the button that takes it in."""
    drop(window, file)
    page = results_page(window)
    qtbot.waitUntil(page.files.preview.isVisible, timeout=PATIENCE_MS)
    settle(qtbot, window)
    assert page.files.preview.take_in_button.isEnabled()
    qtbot.mouseClick(page.files.preview.take_in_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(page.files.result.isVisible, timeout=PATIENCE_MS)
    settle(qtbot, window)
    assert page.files._result is not None
    return page.files._result


def test_that_a_preview_on_screen_changes_nothing(
    qtbot: QtBot, window: MainWindow, database: str
) -> None:
    untouched = dump(database)
    drop(window, waiting_file("lab_a"))
    page = results_page(window)
    qtbot.waitUntil(page.files.preview.isVisible, timeout=PATIENCE_MS)
    settle(qtbot, window)
    assert window._stack.currentIndex() == Page.RESULTS
    assert page.files.preview.take_in_button.text() == "Take in 24 results"
    assert differing_tables(untouched, dump(database)) == set()


def test_that_a_laboratory_file_moves_the_fleet_and_undoing_it_moves_it_back(
    qtbot: QtBot, window: MainWindow, database: str
) -> None:
    first_sentence, before = window.fleet.sentence.text(), severities(window)
    assert "machines need your decision" in first_sentence
    assert set(before.values()) >= set(Severity) - {Severity.NO_VERDICT}
    result = take_in(qtbot, window, waiting_file("lab_a"))
    assert result.taken_in == 24

    # Back on the fleet page, exactly the boxes that were told of stand otherwise.
    to_fleet_page(qtbot, window)
    after = severities(window)
    changed = {box for box, severity in after.items() if before[box] != severity}
    assert len(changed) == len(result.moved) > 0
    assert window.fleet.sentence.text() != first_sentence

    # The worst of them, found and opened by the keyboard alone, names the value that moved it.
    worst = max(result.moved, key=lambda one: one.after)
    assert worst.after is Severity.URGENT
    open_by_keyboard(qtbot, window, worst.machine, worst.compartment)
    history, sentence = on_compartment_page(window)
    assert (history.machine, history.box) == (worst.machine, worst.compartment)
    assert history.severity is worst.after
    assert history.reasons[0].text in worst.headline
    assert history.reasons[0].text in sentence
    last = history.samples[-1].report_number
    assert last.startswith("A26-")

    # Undone, the fleet stands as it stood, on screen and in the database.
    undo(qtbot, window)
    to_fleet_page(qtbot, window)
    qtbot.mouseClick(window.fleet.filter_row.clear, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(severities(window)) == len(before))
    assert severities(window) == before
    assert window.fleet.sentence.text() == first_sentence
    assert on_compartment_page(window)[0].samples[-1].report_number != last
    with open_store(database) as store:
        assert check_store(store) == []


def to_fleet_page(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window._stack.currentIndex() == Page.FLEET)
    settle(qtbot, window)


def on_compartment_page(window: MainWindow) -> tuple[CompartmentHistory, str]:
    """What the compartment page shows, and its sentence."""
    page = cast("CompartmentHistoryScreen", window.page(Page.COMPARTMENT))
    assert page.history is not None
    return page.history, page.sentence.text()


def open_by_keyboard(qtbot: QtBot, window: MainWindow, machine: str, compartment: str) -> None:
    """Filter the fleet page to one machine, walk to its box and open it."""
    fleet = window.fleet
    qtbot.keyClick(fleet, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    qtbot.keyClicks(fleet.filter_row.text, machine)
    matrix = fleet.matrix
    assert matrix is not None
    qtbot.waitUntil(lambda: matrix.shape[0] == 1)
    qtbot.keyClick(fleet.filter_row.text, Qt.Key.Key_Return)
    qtbot.keyClick(fleet.table, Qt.Key.Key_Home)
    for _ in range(40):
        box = fleet.table.current_box
        if box >= 0 and matrix.box_name(box).endswith(compartment):
            break
        qtbot.keyClick(fleet.table, Qt.Key.Key_Right)
    qtbot.keyClick(fleet.table, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window._stack.currentIndex() == Page.COMPARTMENT)
    settle(qtbot, window)


def undo(qtbot: QtBot, window: MainWindow) -> None:
    """Undo the intake on the results page, and say yes."""
    qtbot.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.ControlModifier)
    page = results_page(window)
    qtbot.waitUntil(page.files.result.isVisible)
    qtbot.mouseClick(page.files.result.undo_button, Qt.MouseButton.LeftButton)
    yes = next(one for one in page.files.notice.actions_shown if "Undo" in one.text())
    qtbot.mouseClick(yes, Qt.MouseButton.LeftButton)
    settle(qtbot, window)
    qtbot.waitUntil(lambda: "undone" in page.files.sentence.lower(), timeout=PATIENCE_MS)
    settle(qtbot, window)


def test_that_a_revised_report_takes_an_alarm_back(qtbot: QtBot, window: MainWindow) -> None:
    before = severities(window)
    result = take_in(qtbot, window, waiting_file("lab_b"))
    better = [one for one in result.moved if one.after < one.before]
    assert better
    window.show_page(Page.FLEET)
    settle(qtbot, window)
    after = severities(window)
    assert any(after[box] < severity for box, severity in before.items())


def test_that_a_file_with_mischief_shows_each_problem_and_takes_in_the_rest(
    qtbot: QtBot, window: MainWindow
) -> None:
    result = take_in(qtbot, window, waiting_file("mischief"))
    assert (result.taken_in, result.held) == (2, 7)
    told = " ".join(problem.line for problem in result.problems)
    assert '"12,4O" is not a number' in told


def test_that_the_rules_page_lists_the_limits_in_force(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.keyClick(window, Qt.Key.Key_5, Qt.KeyboardModifier.ControlModifier)
    page = cast("LimitRulesScreen", window.page(Page.RULES))
    settle(qtbot, window)
    assert window._stack.currentIndex() == Page.RULES
    assert 'Limit set 1 "Starter limits"' in page.sentence
