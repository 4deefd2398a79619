"""A special interval asked for on the compartment page."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QPushButton
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.services.special_by_hand import specials
from fluiddesk.wiring import Clock
from tests.desktop.screens.test_sampling import background, fill, settle
from tests.fleets import LAST_DAY, Fleet, desk_home, fleet, fleet_file, small_fleet_file

__all__ = ["background", "desk_home", "fleet", "fleet_file", "small_fleet_file"]


def test_that_the_box_on_show_is_sampled_sooner_and_that_is_undone(
    qtbot: QtBot, fleet: Fleet, background: Background
) -> None:
    screen = CompartmentHistoryScreen(
        fleet.place,
        clock=Clock(demo_day=LAST_DAY),
        theme=make_theme("light"),
        background=background,
    )
    screen.resize(1040, 740)
    qtbot.addWidget(screen)
    screen.show()
    qtbot.waitExposed(screen)
    screen.sample_sooner()
    assert specials(fleet.place, today=LAST_DAY) == ()
    box = fleet.boxes("engine")[0].compartment_id
    screen.open_compartment(box)
    settle(qtbot, background)
    told: list[object] = []
    screen.changed.connect(told.append)
    screen.special_button.setFocus()
    qtbot.keyClick(screen.special_button, Qt.Key.Key_Space)
    fill(screen.due_acts.dialog, reason="other", days="2", note="smells of fuel")
    settle(qtbot, background)
    [one] = specials(fleet.place, today=LAST_DAY)
    assert (one.compartment_id, one.note, one.days) == (box, "smells of fuel", 2)
    assert len(told) == 1
    screen.apply_theme(make_theme("dark"))
    undo = next(
        button for button in screen.notice.findChildren(QPushButton) if "Undo" in button.text()
    )
    undo.click()
    settle(qtbot, background)
    assert specials(fleet.place, today=LAST_DAY) == ()
    assert len(told) == 2
