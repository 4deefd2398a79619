"""Looking along the samples, zooming, enlarging and copying, by mouse and by keyboard."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QFont, QGuiApplication, QMouseEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fluiddesk.charts.look import Look
from fluiddesk.charts.palette import DARK, LIGHT, Palette
from fluiddesk.charts.trend_axes import plot_area
from fluiddesk.charts.trend_data import data_text
from fluiddesk.charts.trend_panels import TrendPanels
from fluiddesk.domain.identity import CompartmentId
from tests.desktop.makers_history import make_history, make_trend

Key = Qt.Key
OTHER = CompartmentId(b"another box 1234")


def look(colors: Palette = LIGHT) -> Look:
    return Look(colors=colors, body=QFont(), small=QFont(), strong=QFont())


@pytest.fixture
def panels(qtbot: QtBot) -> TrendPanels:
    made = TrendPanels(look())
    qtbot.addWidget(made)
    made.switches.setParent(made)
    made.resize(760, 500)
    made.show_history(make_history())
    made.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
    made.show()
    made.grid.setFocus()
    QApplication.processEvents()
    return made


def move(panels: TrendPanels, place: QPoint) -> None:
    """Move the pointer to a place of the grid, without waiting for the window system."""
    where = QPointF(place)
    everywhere = panels.grid.mapToGlobal(where)
    none = Qt.MouseButton.NoButton
    event = QMouseEvent(
        QEvent.Type.MouseMove, where, everywhere, none, none, Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(panels.grid, event)


def place_of(panels: TrendPanels, sample: int, panel: int = 0) -> QPoint:
    """A point in a panel over one sample."""
    grid = panels.grid
    place = grid.places.panels[panel]
    plot = plot_area(place.frame)
    share = panels.shared.view.span.share(float(place.trend.x[sample]))
    return QPointF(plot.left() + share * plot.width(), plot.center().y()).toPoint()


def test_that_the_pointer_finds_the_nearest_sample_in_all_panels(panels: TrendPanels) -> None:
    move(panels, place_of(panels, 20, panel=4))
    assert panels.shared.view.sample == 20
    sample = make_history().samples[20]
    assert sample.taken_on.isoformat() in panels.readout.text()


def test_that_left_and_right_move_from_sample_to_sample(panels: TrendPanels, qtbot: QtBot) -> None:
    qtbot.keyClick(panels.grid, Key.Key_Left)
    assert panels.shared.view.sample == 39
    qtbot.keyClick(panels.grid, Key.Key_Left)
    assert panels.shared.view.sample == 38
    qtbot.keyClick(panels.grid, Key.Key_Home)
    assert panels.shared.view.sample == 0
    qtbot.keyClick(panels.grid, Key.Key_Left)
    assert panels.shared.view.sample == 0
    qtbot.keyClick(panels.grid, Key.Key_End)
    assert panels.shared.view.sample == 39


def test_that_escape_takes_the_crosshair_away(panels: TrendPanels, qtbot: QtBot) -> None:
    panels.shared.look_at(3)
    qtbot.keyClick(panels.grid, Key.Key_Escape)
    assert panels.shared.view.sample is None


def test_that_dragging_over_a_span_zooms_every_panel_to_it(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    start, end = place_of(panels, 10), place_of(panels, 20)
    qtbot.mousePress(panels.grid, Qt.MouseButton.LeftButton, pos=start)
    move(panels, end)
    qtbot.mouseRelease(panels.grid, Qt.MouseButton.LeftButton, pos=end)
    hours, seen = make_history().hours, panels.shared.view.span
    assert seen.low == pytest.approx(hours[10], abs=80)
    assert seen.high == pytest.approx(hours[20], abs=80)


def test_that_a_click_without_dragging_zooms_nothing(panels: TrendPanels, qtbot: QtBot) -> None:
    before = panels.shared.view.span
    qtbot.mouseClick(panels.grid, Qt.MouseButton.LeftButton, pos=place_of(panels, 10))
    assert panels.shared.view.span == before


def test_that_plus_zooms_and_zero_shows_all_hours_again(panels: TrendPanels, qtbot: QtBot) -> None:
    whole = panels.shared.view.span
    panels.shared.look_at(20)
    qtbot.keyClick(panels.grid, Key.Key_Plus)
    assert panels.shared.view.span.high - panels.shared.view.span.low < whole.high - whole.low
    qtbot.keyClick(panels.grid, Key.Key_0)
    assert panels.shared.view.span == whole


def test_that_moving_on_past_the_zoom_brings_the_sample_into_view(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    panels.shared.show_last_fill()
    qtbot.keyClick(panels.grid, Key.Key_Home)
    assert panels.shared.view.span.holds(float(make_history().hours[0]))


def test_that_this_fill_shows_the_samples_of_the_fluid_now_in_the_box(panels: TrendPanels) -> None:
    panels.shared.show_last_fill()
    history, seen = make_history(), panels.shared.view.span
    own = history.fills == history.fills[-1]
    assert all(seen.holds(hours) for hours in history.hours[own])
    assert not seen.holds(float(history.hours[0]))


def test_that_a_double_click_enlarges_and_escape_leads_back(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    qtbot.mouseDClick(panels.grid, Qt.MouseButton.LeftButton, pos=place_of(panels, 10, panel=1))
    assert panels.is_enlarged
    assert panels.enlarged.trend is not None
    assert panels.enlarged.trend.series.analyte.code == "silicon"
    qtbot.keyClick(panels.enlarged, Key.Key_Right)
    assert panels.shared.view.sample is not None
    qtbot.keyClick(panels.enlarged, Key.Key_Escape)
    assert not panels.is_enlarged


def test_that_enter_enlarges_the_panel_reached_by_the_arrows(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    qtbot.keyClick(panels.grid, Key.Key_Down)
    reached = panels.grid.current
    assert reached != 0
    qtbot.keyClick(panels.grid, Key.Key_Return)
    assert panels.enlarged.trend is panels.grid.places.panels[reached].trend


def test_that_the_enlarged_panel_draws_its_points_and_follows_the_log_switch(
    panels: TrendPanels,
) -> None:
    panels.enlarge(0)
    QApplication.processEvents()
    plain = panels.grab().toImage()
    panels.switches.log.setChecked(True)
    QApplication.processEvents()
    assert panels.grab().toImage() != plain
    assert panels.enlarged.values.is_log


def test_that_opening_another_box_leaves_the_enlarged_panel(panels: TrendPanels) -> None:
    panels.enlarge(0)
    panels.show_history(replace(make_history(samples=4), compartment=OTHER))
    assert not panels.is_enlarged
    assert panels.shared.view.sample is None


def test_that_a_panel_is_copied_as_a_picture(panels: TrendPanels) -> None:
    panels.copy_picture()
    picture = QGuiApplication.clipboard().image()
    assert picture.width() > 600
    assert picture.pixelColor(1, 1).name().upper() == LIGHT.ground


def test_that_the_data_of_the_panel_reached_are_copied_as_a_table(panels: TrendPanels) -> None:
    panels.copy_data()
    lines = QGuiApplication.clipboard().text().splitlines()
    assert len(lines) == 41
    assert lines[0].split("\t")[4] == "Iron (mg/kg)"


def test_that_copied_data_leaves_out_samples_that_were_not_tested() -> None:
    samples = make_history(samples=3).samples
    trend = make_trend([5, float("nan"), 2], signs=[0, 5, 1])
    lines = data_text(trend, samples).splitlines()
    assert [line.split("\t")[4] for line in lines] == ["Iron (mg/kg)", "5", "<2"]


def test_that_hiding_rejected_samples_changes_the_picture(panels: TrendPanels) -> None:
    before = panels.grab().toImage()
    panels.switches.rejected.setChecked(False)
    assert panels.grab().toImage() != before


def test_that_another_theme_is_drawn_on_its_own_ground(panels: TrendPanels) -> None:
    panels.apply_look(look(DARK))
    assert panels.grid.grab().toImage().pixelColor(2, 2).name().upper() == DARK.ground


@pytest.mark.parametrize("samples", [0, 1, 2, 200])
def test_that_any_number_of_samples_is_drawn_and_walked_through(
    panels: TrendPanels, qtbot: QtBot, samples: int
) -> None:
    panels.show_history(make_history(samples=samples))
    qtbot.keyClick(panels.grid, Key.Key_Right)
    qtbot.keyClick(panels.grid, Key.Key_Left)
    assert not panels.grab().isNull()
    assert (panels.shared.view.sample is not None) == (samples > 0)


def test_that_a_box_whose_hours_are_unknown_is_drawn_without_a_crosshair(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    panels.show_history(make_history(samples=5, knows_hours=False))
    qtbot.keyClick(panels.grid, Key.Key_Right)
    move(panels, QPoint(100, 100))
    assert panels.shared.view.sample is None
    assert not panels.grab().isNull()


def test_that_the_title_of_a_panel_tells_its_limits_with_their_source(panels: TrendPanels) -> None:
    frame = panels.grid.places.panels[0].frame
    told = panels.grid.told_at(QPointF(frame.left() + 10, frame.top() + 8))
    assert told.startswith("Iron, mg/kg")
    assert "Watch 60" in told
    assert "common practice, no source" in told
    assert panels.grid.told_at(QPointF(frame.left() + 10, frame.bottom() - 8)) == ""


@pytest.mark.parametrize(("key", "axis"), [("F", "fluid_hours"), ("D", "date"), ("H", "hours")])
def test_that_a_letter_chooses_the_axis(
    panels: TrendPanels, qtbot: QtBot, key: str, axis: str
) -> None:
    qtbot.keyClicks(panels.grid, key)
    assert panels.shared.view.axis == axis
    assert not panels.grab().isNull()


def test_that_letters_switch_logarithms_rejected_and_other_boxes(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    qtbot.keyClicks(panels.grid, "lrm")
    view = panels.shared.view
    assert (view.is_log, view.shows_rejected, view.shows_others) == (True, False, False)


def test_that_shift_and_an_arrow_shift_the_stretch(panels: TrendPanels, qtbot: QtBot) -> None:
    panels.shared.show_last_fill()
    before = panels.shared.view.span
    qtbot.keyClick(panels.grid, Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    after = panels.shared.view.span
    assert after.low < before.low
    assert after.high - after.low == pytest.approx(before.high - before.low)


def test_that_up_and_down_lead_through_the_enlarged_analytes(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    panels.enlarge(0)
    qtbot.keyClick(panels.enlarged, Key.Key_Down)
    assert panels.enlarged.trend is panels.grid.places.panels[1].trend
    qtbot.keyClick(panels.enlarged, Key.Key_Up)
    assert panels.enlarged.trend is panels.grid.places.panels[0].trend


def test_that_the_enlarged_values_are_stretched_and_shown_whole_again(
    panels: TrendPanels, qtbot: QtBot
) -> None:
    panels.enlarge(0)
    whole = panels.enlarged.values
    qtbot.keyClick(panels.enlarged, Key.Key_PageUp, Qt.KeyboardModifier.ShiftModifier)
    assert panels.enlarged.values.high - panels.enlarged.values.low < whole.high - whole.low
    qtbot.keyClick(panels.enlarged, Key.Key_0)
    assert panels.enlarged.values == whole


def test_that_the_enlarged_analyte_follows_the_axis(panels: TrendPanels, qtbot: QtBot) -> None:
    panels.enlarge(0)
    qtbot.keyClicks(panels.enlarged, "D")
    assert panels.enlarged.trend is not None
    assert panels.enlarged.trend.frame.axis == "date"


def test_that_the_box_read_again_keeps_the_enlarged_analyte(panels: TrendPanels) -> None:
    panels.enlarge(1)
    panels.show_history(make_history())
    assert panels.is_enlarged
    assert panels.enlarged.trend is not None
    assert panels.enlarged.trend.series.analyte.code == "silicon"


def test_that_every_analyte_is_copied_with_one_sample_a_line(panels: TrendPanels) -> None:
    panels.copy_all_data()
    lines = QGuiApplication.clipboard().text().splitlines()
    assert len(lines) == 41
    assert "Iron (mg/kg)" in lines[0].split("\t")
    assert len(lines[1].split("\t")) == len(lines[0].split("\t"))
