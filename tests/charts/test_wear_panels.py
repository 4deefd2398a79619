"""True wear walked through fill by fill, in both units, and copied."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QFont, QGuiApplication, QMouseEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fluiddesk.charts.look import Look
from fluiddesk.charts.palette import DARK, LIGHT
from fluiddesk.charts.wear_panels import WearPanels, fill_words, now_words, wear_text
from fluiddesk.charts.wear_plots import RateUnit
from fluiddesk.services.compartment_history.wear_facts import TrueWear
from tests.desktop.makers_history import make_history
from tests.desktop.makers_wear import make_wear

Key = Qt.Key


def look() -> Look:
    return Look(colors=LIGHT, body=QFont(), small=QFont(), strong=QFont())


@pytest.fixture
def panels(qtbot: QtBot) -> WearPanels:
    made = WearPanels(look())
    qtbot.addWidget(made)
    made.resize(760, 900)
    made.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
    made.show()
    made.show_wear(make_wear(make_history()))
    made.setFocus()
    QApplication.processEvents()
    return made


def test_that_the_rate_is_told_with_its_band_and_like_machines(panels: WearPanels) -> None:
    iron = panels.metals[0]
    assert now_words(iron, RateUnit.PPM_PER_100_H).endswith("like machines 10.1")
    assert " to " in now_words(iron, RateUnit.MG_PER_HOUR)
    assert "mg/h" in now_words(iron, RateUnit.MG_PER_HOUR)


def test_that_the_keys_walk_through_fills_and_metals(panels: WearPanels, qtbot: QtBot) -> None:
    qtbot.keyClick(panels, Key.Key_Left)
    assert panels.told().startswith("Iron, fill 11")
    qtbot.keyClick(panels, Key.Key_Left)
    assert panels.told().startswith("Iron, fill 10")
    with qtbot.waitSignal(panels.metal_reached):
        qtbot.keyClick(panels, Key.Key_Down)
    assert panels.current == 1
    assert panels.told() == ""


def test_that_a_fill_tells_grams_value_over_age_and_what_losses_hide(panels: WearPanels) -> None:
    told = fill_words(panels.metals[0], panels.metals[0].fills[-1], RateUnit.PPM_PER_100_H)
    assert "g made" in told
    assert "value over age" in told
    assert "reads low by 14 %" in told


def test_that_a_fill_without_a_rate_says_why(panels: WearPanels) -> None:
    chromium = panels.metals[1]
    assert fill_words(chromium, chromium.fills[4], RateUnit.MG_PER_HOUR).endswith(
        "No believed sample of this fill."
    )


def test_that_a_rate_from_a_value_below_detection_is_at_most(panels: WearPanels) -> None:
    copper = panels.metals[3]
    assert "at most" in fill_words(copper, copper.fills[2], RateUnit.PPM_PER_100_H)


def test_that_the_pointer_finds_the_fill_under_it(panels: WearPanels) -> None:
    plot = panels._plot(0, 0)
    where = QPointF(plot.right() - 3.0, plot.center().y())
    none = Qt.MouseButton.NoButton
    event = QMouseEvent(
        QEvent.Type.MouseMove, where, where, none, none, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(panels, event)
    assert panels.told().startswith("Iron, fill 11")


def test_that_the_unit_changes_what_is_drawn_and_told(panels: WearPanels, qtbot: QtBot) -> None:
    before = panels.grab().toImage()
    qtbot.keyClick(panels, Key.Key_Left)
    panels.set_unit(RateUnit.MG_PER_HOUR)
    assert "mg/h" in panels.told()
    assert panels.grab().toImage() != before


def test_that_every_fill_is_copied_as_a_table(panels: WearPanels, qtbot: QtBot) -> None:
    qtbot.keyClick(panels, Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert len(lines) == 1 + 4 * 12
    assert lines[1].split("\t")[0] == "Iron"


def test_that_too_few_fills_for_a_chart_are_told() -> None:
    few = make_wear(make_history(), fills=3).metals[0]
    assert few.chart is None
    assert wear_text([few]).count("\n") == 3


@pytest.mark.parametrize("fills", [1, 3, 8, 40])
def test_that_any_number_of_fills_is_drawn(panels: WearPanels, fills: int) -> None:
    panels.show_wear(make_wear(make_history(), fills=fills))
    assert not panels.grab().isNull()
    panels.step(-1)
    assert panels.told()


def test_that_a_metal_without_any_rate_is_drawn_with_words(panels: WearPanels) -> None:
    iron = panels.metals[0]
    nan = float("nan")
    blank = replace(
        iron,
        fills=(),
        now_ppm_per_100_h=nan,
        cumulative=None,
        chart=None,
        no_chart_why="No fill has a rate.",
    )
    panels.show_wear(TrueWear(metals=(blank,)))
    panels.step(-1)
    assert not panels.grab().isNull()
    assert now_words(blank, RateUnit.PPM_PER_100_H) == "no rate can be given"


def test_that_a_box_without_wear_metals_is_no_fault(panels: WearPanels, qtbot: QtBot) -> None:
    panels.show_wear(TrueWear())
    for key in (Key.Key_Left, Key.Key_Down):
        qtbot.keyClick(panels, key)
    assert panels.told() == ""


def test_that_another_theme_is_drawn_on_its_own_ground(panels: WearPanels) -> None:
    panels.apply_look(replace(look(), colors=DARK))
    assert panels.grab().toImage().pixelColor(2, 2).name().upper() == DARK.ground
