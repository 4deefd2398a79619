"""Hours left is drawn with its band, or says in words why there is none."""

from dataclasses import replace

import pytest
from PySide6.QtGui import QColor, QImage
from pytestqt.qtbot import QtBot

from fluiddesk.charts.palette import LIGHT
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.hours_left import strip_words
from fluiddesk.desktop.widgets.hours_left_section import HoursLeftSection
from fluiddesk.desktop.widgets.hours_left_strip import HoursLeftStrip
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.forecast_facts import HoursLeft
from tests.desktop.makers_history import TODAY
from tests.desktop.makers_wear import (
    make_full_history,
    make_hours_left,
    no_limit_in_sight,
    not_enough,
)


@pytest.fixture
def strip(qtbot: QtBot) -> HoursLeftStrip:
    made = HoursLeftStrip(make_theme("light"))
    qtbot.addWidget(made)
    made.resize(1010, made.sizeHint().height())
    return made


def show(strip: HoursLeftStrip, left: HoursLeft) -> QImage:
    history = replace(make_full_history(), hours_left=left)
    strip.show_words(strip_words(history, today=TODAY))
    return strip.grab().toImage()


def redness(image: QImage) -> int:
    """How many points of the band's row stand in the ink of Act."""
    ink = QColor(LIGHT.severity[Severity.ACT])
    shown = (image.pixelColor(x, 28) for x in range(250, image.width() - 150))
    return sum(one.red() - one.blue() > (ink.red() - ink.blue()) / 5 for one in shown)


def test_that_the_band_is_drawn_in_the_ink_of_its_limit(strip: HoursLeftStrip) -> None:
    band = redness(show(strip, make_hours_left()))
    narrow = redness(show(strip, replace(make_hours_left(), p10=200.0, p90=230.0)))
    assert band > 3 * narrow > 0


@pytest.mark.parametrize("left", [no_limit_in_sight(), not_enough(), HoursLeft()])
def test_that_without_a_band_nothing_is_drawn_but_words(
    strip: HoursLeftStrip, left: HoursLeft
) -> None:
    assert redness(show(strip, left)) == 0
    assert strip.accessibleName().startswith("Hours left: ")


def test_that_an_open_end_reaches_to_the_right(strip: HoursLeftStrip) -> None:
    closed = redness(show(strip, make_hours_left()))
    assert redness(show(strip, replace(make_hours_left(), p90=5000.0))) > closed


@pytest.mark.parametrize("width", [420, 700, 1640])
def test_that_the_strip_is_drawn_at_any_width(strip: HoursLeftStrip, width: int) -> None:
    strip.resize(width, strip.height())
    assert not show(strip, make_hours_left()).isNull()


def test_that_the_section_tells_every_analyte_and_past_forecasts(qtbot: QtBot) -> None:
    section = HoursLeftSection(make_theme("light"))
    qtbot.addWidget(section)
    section.resize(720, 500)
    section.show_history(make_full_history(), today=TODAY)
    assert "Iron to Act 90 mg/kg: 118 to 386 h" in section.clocks.accessibleName()
    assert "46 marked" in section.score.text()
    assert "477 h" in section.base_number.text()
    assert not section.grab().isNull()


def test_that_the_section_has_words_for_a_box_without_clocks(qtbot: QtBot) -> None:
    section = HoursLeftSection(make_theme("dark"))
    qtbot.addWidget(section)
    history = replace(make_full_history(), hours_left=not_enough())
    section.show_history(history, today=TODAY)
    assert "Not enough to say" in section.sentence.text()
    assert section.clocks.sizeHint().height() == 0
    assert section.base_number.isHidden()
