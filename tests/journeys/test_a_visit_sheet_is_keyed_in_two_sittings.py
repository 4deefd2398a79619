"""A planner keys a visit sheet half, closes the window, and goes on where the letters end."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import cast

import pytest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk import wiring
from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.desktop.screens.sampling import SamplingScreen
from fluiddesk.desktop.viewstate.taking_draft import Cell
from fluiddesk.services.takings.drafts import sheet_drafts
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.facts import VisitState
from fluiddesk.services.visits.plan import propose_visits
from fluiddesk.services.visits.read import visits
from fluiddesk.storage import check_store

PATIENCE_MS = 30_000


@pytest.fixture
def database(sample_fleet_file: Path, tmp_path: Path) -> str:
    """The sample fleet with one visit whose bottles are issued."""
    path = str(shutil.copy(sample_fleet_file, tmp_path / "sample.fluiddesk"))
    desk = wiring.open_desk(path)
    try:
        today, moment = desk.clock.today(), desk.clock.moment()
        plan = propose_visits(desk.place, today=today)
        one = next(one for one in plan.visits if len(one.boxes) >= 3 and one.planned_on == today)
        ids = save_visits(desk.place, [one], moment=moment)
        issue_bottles(desk.place, ids, today=today, moment=moment)
    finally:
        desk.close()
    return path


@contextmanager
def at_the_sheet(qtbot: QtBot, database: str) -> Iterator[SamplingScreen]:
    """The window as it is started anew, on the sheet to be keyed."""
    desk = wiring.open_desk(database)
    window: MainWindow = build_window(desk)
    qtbot.addWidget(window)
    window.show()
    page = cast("SamplingScreen", window.show_page(Page.SAMPLING))
    qtbot.waitUntil(lambda: not window.background.jobs, timeout=PATIENCE_MS)
    page.show_section("record")
    yield page
    window.close()
    desk.close()


def type_cell(qtbot: QtBot, page: SamplingScreen, column: Cell, said: str) -> None:
    """Type into a cell of the first bottle without leaving it."""
    table = page.taking.table
    table.setCurrentIndex(table.model().index(0, int(column)))
    table.setFocus()
    qtbot.keyClicks(table, said[:1])
    qtbot.keyClicks(table.viewport().findChildren(QLineEdit)[-1], said[1:])


def test_that_a_window_closed_half_keyed_loses_no_letter(qtbot: QtBot, database: str) -> None:
    with at_the_sheet(qtbot, database) as page:
        qtbot.keyClicks(page.taking.fields["taken_by"], " and Ünal")
        qtbot.keyClicks(page.taking.fields["meter"], "1 234,5")
        type_cell(qtbot, page, Cell.NOTE, "seal weeps")
        by = page.taking.fields["taken_by"].text()
    with at_the_sheet(qtbot, database) as page:
        view = page.taking
        assert view.draft is not None
        assert "half keyed" in view.visit.currentText()
        assert view.fields["taken_by"].text() == by
        assert view.fields["meter"].text() == "1 234,5"
        assert view.draft.text(0, Cell.NOTE) == "seal weeps"
        view.unreadable.setChecked(True)
        view.fields["meter"].clear()
        view.draft.head.meter = ""
        for column, said in ((Cell.LITRES, "0"), (Cell.CHANGED, "n")):
            for row in range(len(view.draft)):
                view.draft.write(row, column, said)
        view.save()
        qtbot.waitUntil(lambda: view.draft is None, timeout=PATIENCE_MS)
        background = page._background
        qtbot.waitUntil(lambda: not background.jobs, timeout=PATIENCE_MS)
        today = page._clock.today()
        assert sheet_drafts(page._place) == {}
        done = visits(page._place, today=today, states={VisitState.DONE})
        assert done
        assert check_store(page._place.store) == []


_TYPES_AND_WAITS = """
import sys, time
from PySide6.QtCore import QEventLoop, QTimer
from PySide6.QtWidgets import QApplication
from PySide6.QtTest import QTest
from fluiddesk import wiring
from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import Page

app = QApplication(sys.argv)
desk = wiring.open_desk(sys.argv[1])
window = build_window(desk)
window.show()
page = window.show_page(Page.SAMPLING)

def settle(is_done):
    until = time.monotonic() + 30
    while not is_done() and time.monotonic() < until:
        app.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)

settle(lambda: not window.background.jobs)
page.show_section("record")
QTest.keyClicks(page.taking.fields["meter"], "815")
settle(lambda: page.taking.keeper.is_settled)
print("kept", flush=True)
time.sleep(60)
"""


def test_that_a_killed_program_has_kept_what_was_typed(qtbot: QtBot, database: str) -> None:
    environment = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    with subprocess.Popen(
        [sys.executable, "-c", _TYPES_AND_WAITS, database],
        stdout=subprocess.PIPE,
        env=environment,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline().strip() == "kept"
        other.kill()
    with at_the_sheet(qtbot, database) as page:
        assert page.taking.fields["meter"].text() == "815"
