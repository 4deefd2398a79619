"""Starting, opening another database, and the log."""

import faulthandler
import logging
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, cast

import pytest
from PySide6.QtWidgets import QApplication, QDialog
from pytestqt.qtbot import QtBot

from fluiddesk import wiring
from fluiddesk.desktop import application
from fluiddesk.desktop.application import ReckonerWindow, Shell, StartWindow
from fluiddesk.desktop.main_window import MainWindow
from fluiddesk.desktop.screens import fleet_condition as fleet_page
from fluiddesk.desktop.theme import ThemeChoice
from fluiddesk.domain.errors import NotFoundError
from fluiddesk.settings import Folders, Settings, load_settings
from fluiddesk.wiring import Clock, OpenedDesk, OpenFor
from tests.desktop.makers_fleet import TODAY, fleet, workplace

if TYPE_CHECKING:
    from fluiddesk.storage import DeskStore


class StoreDouble:
    """Notes that it was let go."""

    def __init__(self) -> None:
        self.is_closed = False

    def close(self) -> None:
        self.is_closed = True


@pytest.fixture
def folders(tmp_path: Path) -> Folders:
    return Folders(config=tmp_path, data=tmp_path, state=tmp_path, cache=tmp_path)


@pytest.fixture
def shell(
    qtbot: QtBot, qapp: QApplication, folders: Folders, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Shell]:
    monkeypatch.setattr(fleet_page, "fleet_condition", lambda _place, *, today: fleet(4))
    made = Shell(qapp, folders)
    yield made
    if made.window is not None:
        made.window.close()
    made.close()


def opened(folders: Folders) -> OpenedDesk:
    place = replace(workplace(), store=cast("DeskStore", StoreDouble()))
    return OpenedDesk(
        place=place, clock=Clock(demo_day=TODAY), folders=folders, settings=Settings()
    )


def test_that_the_first_start_offers_where_to_begin(shell: Shell) -> None:
    shell.begin(None)
    assert isinstance(shell.window, StartWindow)
    assert shell.window.isVisible()


def test_that_the_first_start_says_why_the_last_database_is_not_open(shell: Shell) -> None:
    shell.begin(None, notice="There is no database pit.fluiddesk. Choose another file.")
    assert isinstance(shell.window, StartWindow)
    assert shell.window.start.notice.text == (
        "The database opened last could not be opened "
        "There is no database pit.fluiddesk. Choose another file."
    )


def test_that_the_first_start_opens_the_reckoner_without_a_database(
    qtbot: QtBot, shell: Shell
) -> None:
    shell.open_reckoner()
    shell.begin(None)
    assert isinstance(shell.window, StartWindow)
    assert shell.window.findChild(ReckonerWindow) is None
    shell.window.start.reckoner_asked.emit()
    found = shell.window.findChild(ReckonerWindow)
    assert isinstance(found, ReckonerWindow)
    qtbot.waitUntil(found.isVisible)
    found.page.show_example()
    assert found.page.answer.text.startswith("19/16/10")


def test_that_a_database_chosen_at_the_first_start_takes_the_window_over(
    qtbot: QtBot, shell: Shell, folders: Folders, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    def open_desk(address: str, *, remember: bool, purpose: OpenFor) -> OpenedDesk:
        assert remember
        assert purpose is OpenFor.EITHER
        asked.append(address)
        return opened(folders)

    monkeypatch.setattr(wiring, "open_desk", open_desk)
    shell.begin(None)
    shell.open_address("fleet.fluiddesk")
    qtbot.waitUntil(lambda: isinstance(shell.window, MainWindow))
    assert asked == ["fleet.fluiddesk"]


def test_that_a_database_that_cannot_be_opened_leaves_the_window_and_says_why(
    qtbot: QtBot, shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    def open_desk(address: str, *, remember: bool, purpose: OpenFor) -> OpenedDesk:
        del remember, purpose
        raise NotFoundError(f"There is no database {address}. Choose another file.")

    monkeypatch.setattr(wiring, "open_desk", open_desk)
    shell.begin(None)
    window = shell.window
    assert window is not None
    shell.open_address("none.fluiddesk")
    qtbot.waitUntil(lambda: window.findChild(QDialog) is not None)
    box = window.findChild(QDialog)
    assert box is not None
    assert box.property("text") == "There is no database none.fluiddesk. Choose another file."
    assert shell.window is window
    box.close()


def test_that_the_database_before_is_let_go(shell: Shell, folders: Folders) -> None:
    first, second = opened(folders), opened(folders)
    shell.begin(first)
    shell._show_desk(second)
    assert cast("StoreDouble", first.place.store).is_closed
    assert not cast("StoreDouble", second.place.store).is_closed


def test_that_the_chosen_theme_is_kept_for_the_next_start(shell: Shell, folders: Folders) -> None:
    shell.begin(opened(folders))
    assert isinstance(shell.window, MainWindow)
    shell.window.choose_theme(ThemeChoice.DARK)
    assert load_settings(folders).theme == "dark"


def test_that_what_is_logged_stands_in_the_state_folder(folders: Folders) -> None:
    root = logging.getLogger()
    before, level = list(root.handlers), root.level
    was_enabled = faulthandler.is_enabled()
    crash_file = application.begin_log(folders)
    assert crash_file is not None
    try:
        logging.getLogger("fluiddesk").critical("a fault", exc_info=ValueError("in a slot"))
    finally:
        for handler in set(root.handlers) - set(before):
            root.removeHandler(handler)
            handler.close()
        root.setLevel(level)
        faulthandler.disable()
        if was_enabled:
            faulthandler.enable(sys.__stderr__)
        crash_file.close()
    told = (folders.state / "fluiddesk.log").read_text()
    assert "CRITICAL fluiddesk: a fault" in told
    assert "ValueError: in a slot" in told
