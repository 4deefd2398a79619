"""The lane over the curves tells what was done, and moves with them."""

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QFont
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from fluiddesk.charts.axes import Axis
from fluiddesk.charts.event_lane import EventLane
from fluiddesk.charts.look import Look
from fluiddesk.charts.palette import LIGHT
from fluiddesk.charts.scales import Scale
from fluiddesk.charts.shared_view import SharedView
from tests.desktop.makers_wear import make_full_history


@pytest.fixture
def lane(qtbot: QtBot) -> EventLane:
    shared = SharedView()
    look = Look(colors=LIGHT, body=QFont(), small=QFont(), strong=QFont())
    made = EventLane(shared, look)
    shared.setParent(made)
    qtbot.addWidget(made)
    made.resize(900, made.sizeHint().height())
    made.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
    made.show()
    shared.show_history(make_full_history())
    QApplication.processEvents()
    return made


def place_of(lane: EventLane, x: float) -> QPointF:
    (plot,) = lane.plots()
    return QPointF(plot.left() + lane.shared.view.span.share(x) * plot.width(), plot.bottom() - 4.0)


def test_that_a_top_up_tells_its_litres(lane: EventLane) -> None:
    mark = next(one for one in lane.shared.view.marks if one.litres)
    assert "top-up 4 L" in lane.told_at(place_of(lane, mark.x))


def test_that_an_inferred_change_says_so(lane: EventLane) -> None:
    mark = next(one for one in lane.shared.view.marks if not one.is_certain)
    assert "fluid change (inferred)" in lane.told_at(place_of(lane, mark.x))


def test_that_a_sample_tells_its_day_and_verdict(lane: EventLane) -> None:
    history = lane.shared.history
    assert history is not None
    last = history.samples[-1]
    place = place_of(lane, last.hours)
    place.setY(4.0)
    assert f"{last.taken_on.isoformat()}  {last.severity.word}" in lane.told_at(place)


def test_that_nothing_is_told_where_nothing_stands(lane: EventLane) -> None:
    assert lane.told_at(QPointF(2.0, 30.0)) == ""


def test_that_the_wheel_over_the_lane_zooms_every_chart(lane: EventLane) -> None:
    whole = lane.shared.view.span
    before = lane.grab().toImage()
    lane.shared.zoom(4.0, about=9000.0)
    assert lane.shared.view.span != whole
    assert lane.grab().toImage() != before


@pytest.mark.parametrize("axis", list(Axis))
def test_that_the_lane_is_drawn_on_every_axis(lane: EventLane, axis: Axis) -> None:
    lane.shared.set_axis(axis)
    assert not lane.grab().isNull()
    assert lane.shared.view.axis is axis


def test_that_the_stretch_and_the_sample_stay_when_the_box_is_read_again(lane: EventLane) -> None:
    span = Scale(low=8000.0, high=9000.0)
    lane.shared.show_span(span)
    lane.shared.look_at(18)
    seen = lane.shared.view.span
    lane.shared.show_history(make_full_history())
    assert lane.shared.view.span == seen
    assert lane.shared.view.sample == 18
    lane.shared.show_history(make_full_history(samples=12))
    assert lane.shared.view.sample is None
