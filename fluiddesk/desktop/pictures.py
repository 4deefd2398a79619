"""Draws a page of the real window off screen into a PNG file."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import (
    QCoreApplication,
    QEvent,
    QMessageLogContext,
    QtMsgType,
    qInstallMessageHandler,
)
from PySide6.QtWidgets import QApplication

from fluiddesk.desktop.application import build_window
from fluiddesk.desktop.main_window import MainWindow, Page
from fluiddesk.domain.errors import CannotWriteError, NotFoundError, UnavailableError
from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.services.compartment_history.read import find_compartment
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.register.read import register_facts
from fluiddesk.wiring import OpenedDesk

if TYPE_CHECKING:
    from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen
    from fluiddesk.desktop.screens.lab_intake import LabIntakeScreen
    from fluiddesk.desktop.screens.reckoner import ReckonerScreen
    from fluiddesk.desktop.screens.sampling import SamplingScreen

_LONGEST_WAIT_S = 60.0
_PAGES = {
    "fleet": Page.FLEET,
    "compartment": Page.COMPARTMENT,
    "results": Page.RESULTS,
    "sampling": Page.SAMPLING,
    "rules": Page.RULES,
    "reckoner": Page.RECKONER,
    "register": Page.REGISTER,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureWish:
    """What a picture is to show: size in pixels; ``machine`` and ``compartment`` choose a box.

    ``section`` is the part of the compartment or sampling page, ``axis`` what a compartment's
    curves are held against.
    """

    page: str
    theme: str
    width: int
    height: int
    machine: str = ""
    compartment: str = ""
    lab_file: Path | None = None
    section: str = "curves"
    axis: str = "hours"


def draw_page(opened: OpenedDesk, wish: PictureWish, *, out: Path) -> None:
    """Draw one page of the main window and write it as PNG.

    Raises:
        NotFoundError: when the machine or the compartment is not in the database.
        CannotWriteError: when the file cannot be written.
    """
    app = QApplication.instance() or QApplication(["fluiddesk"])
    with _without_chatter():
        _draw(app, opened, wish, out=out)


@contextmanager
def _without_chatter() -> Iterator[None]:
    """Keep out what the off-screen platform says of window managers, which it has none of."""

    def pass_on(kind: QtMsgType, context: QMessageLogContext, text: str) -> None:
        if "propagateSizeHints" in text:
            return
        if callable(before):
            before(kind, context, text)
        else:
            sys.stderr.write(f"{text}\n")

    before = qInstallMessageHandler(pass_on)
    try:
        yield
    finally:
        qInstallMessageHandler(before)


def _draw(app: QCoreApplication, opened: OpenedDesk, wish: PictureWish, *, out: Path) -> None:
    window = build_window(opened, theme=wish.theme)
    try:
        window.resize(wish.width, wish.height)
        window.show()
        _settle(window)
        _turn_to(window, opened, wish)
        _settle(window)
        picture = window.grab()
        # Whole or not at all: a picture cut off looks like a page that went wrong.
        unfinished = out.with_name(f".{out.name}.unfinished")
        if not picture.save(str(unfinished), "PNG"):
            raise CannotWriteError(f"{out} cannot be written. Choose a folder you may write to.")
        unfinished.replace(out)
    finally:
        window.background.close()
        window.close()
        window.deleteLater()
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        app.processEvents()


def _turn_to(window: MainWindow, opened: OpenedDesk, wish: PictureWish) -> None:
    page = _PAGES[wish.page]
    if page is Page.COMPARTMENT:
        window.open_compartment(_box(opened, wish))
        _settle(window)
        screen = cast("CompartmentHistoryScreen", window.page(page))
        screen.read_in_full()
        screen.show_section(wish.section)
        screen.choose_axis(wish.axis)
    elif page is Page.RESULTS:
        window.show_page(page)
        _settle(window)
        results = cast("LabIntakeScreen", window.page(page))
        results.show_picture(wish.section, wish.lab_file)
    else:
        window.show_page(page)
    if page is Page.SAMPLING:
        _settle(window)
        cast("SamplingScreen", window.page(page)).show_section(wish.section)
    if page is Page.REGISTER and wish.machine:
        window.open_machine(_machine(opened, wish.machine))
    if page is Page.RECKONER:
        cast("ReckonerScreen", window.page(page)).show_example()


def _machine(opened: OpenedDesk, code: str) -> MachineId:
    """The identifier of a machine by its number."""
    known = register_facts(opened.place, today=opened.clock.today()).machines
    found = next((one.id for one in known if one.code.casefold() == code.casefold()), None)
    if found is None:
        raise NotFoundError(f'There is no machine "{code}". Check its number in the register.')
    return found


def _box(opened: OpenedDesk, wish: PictureWish) -> CompartmentId:
    """The box asked for, else the worst of the fleet."""
    if wish.machine:
        return find_compartment(opened.place, wish.machine, wish.compartment)
    fleet = fleet_condition(opened.place, today=opened.clock.today())
    if not len(fleet):
        raise NotFoundError("The database holds no compartment. Choose another database.")
    return CompartmentId(fleet.rows[int(fleet.severity.argmax())].compartment_id)


def _settle(window: MainWindow) -> None:
    """Wait until nothing is loading any more and everything is painted."""
    app = QApplication.instance()
    if app is None:
        return
    until = time.monotonic() + _LONGEST_WAIT_S
    app.processEvents()
    while window.background.jobs:
        if time.monotonic() > until:
            raise UnavailableError("The page took longer than a minute to load. Try again.")
        window.background.wait(milliseconds=100)
        app.processEvents()
    for _ in range(3):
        app.processEvents()
