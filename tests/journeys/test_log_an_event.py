"""A planner logs a forgotten fluid change on the compartment page, and takes it back."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import cast

import pytest
from pytestqt.qtbot import QtBot

from fluiddesk import wiring
from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.read import find_compartment
from fluiddesk.storage import check_store, open_store

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
    qtbot.waitUntil(lambda: not made.background.jobs, timeout=PATIENCE_MS)
    made.open_compartment(find_compartment(desk.place, "EX-105", "engine"))
    yield made
    made.close()
    desk.close()


def page_of(window: MainWindow) -> CompartmentHistoryScreen:
    return cast("CompartmentHistoryScreen", window.page(Page.COMPARTMENT))


def wait_for(qtbot: QtBot, window: MainWindow) -> CompartmentHistory:
    """The box on show, once all of it is worked out."""
    page = page_of(window)

    def is_shown() -> bool:
        return page.history is not None and page.history.is_in_full and not window.background.jobs

    qtbot.waitUntil(is_shown, timeout=PATIENCE_MS)
    assert page.history is not None
    return page.history


def changes(history: CompartmentHistory) -> list[Certainty]:
    return [e.certainty for e in history.events if e.kind is EventKind.FLUID_CHANGE]


def test_that_a_forgotten_change_moves_the_last_sample_and_undo_moves_it_back(
    qtbot: QtBot, window: MainWindow, database: str
) -> None:
    page = page_of(window)
    before = wait_for(qtbot, window)
    last, earlier = before.samples[-1], before.samples[-2]
    day = earlier.taken_on + (last.taken_on - earlier.taken_on) / 2

    page.log_event()
    page.event_form.editor.write("kind", EventKind.FLUID_CHANGE.value)
    qtbot.waitUntil(lambda: page.event_form.draft is not None
                    and page.event_form.draft.form.fields[0].value == "fluid_change")  # fmt: skip
    with qtbot.waitSignal(page.event_form.written):
        page.event_form.editor.write("happened_on", day.isoformat())
    qtbot.waitUntil(lambda: not window.background.jobs, timeout=PATIENCE_MS)
    page.event_form.confirm.setChecked(True)
    with qtbot.waitSignal(page.changed, timeout=PATIENCE_MS):
        page.event_form.editor.save()
    after = wait_for(qtbot, window)
    assert after.samples[-1].fill == last.fill + 1
    assert after.samples[-1].fluid_hours < last.fluid_hours
    assert len(changes(after)) == len(changes(before)) + 1

    with qtbot.waitSignal(page.changed, timeout=PATIENCE_MS):
        page.notice.actions_shown[0].click()
    back = wait_for(qtbot, window)
    assert back.samples[-1].fill == last.fill
    assert back.samples[-1].fluid_hours == pytest.approx(last.fluid_hours)
    assert changes(back).count(Certainty.DENIED) == 1
    assert back.severity is before.severity
    window.close()
    with open_store(database) as store:
        assert check_store(store) == []
