"""The bar of a due list's row as it is painted."""

import pytest
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter
from pytestqt.qtbot import QtBot

from fluiddesk.charts.palette import DARK, LIGHT, Palette
from fluiddesk.desktop.viewstate.due_cells import DueBar
from fluiddesk.desktop.widgets.due_bar import paint_due_bar

MIDDLE = 13


def painted(bar: DueBar, colors: Palette) -> QImage:
    image = QImage(201, 27, QImage.Format.Format_RGB32)
    image.fill(QColor(colors.ground))
    painter = QPainter(image)
    paint_due_bar(painter, QRectF(0, 0, 200, 27), bar, colors)
    painter.end()
    return image


@pytest.mark.parametrize("colors", [LIGHT, DARK], ids=lambda one: one.name)
def test_that_window_band_due_day_and_today_stand_on_one_scale(
    qtbot: QtBot, colors: Palette
) -> None:
    bar = DueBar(today=0.1, due=0.5, window=(0.4, 0.6), band=(0.45, 0.7), is_pressing=False)
    image = painted(bar, colors)
    ground, ink = QColor(colors.ground), QColor(colors.data)
    assert image.pixelColor(20, 2) == QColor(colors.hairline)
    assert image.pixelColor(100, MIDDLE - 5) == ink
    window, band = image.pixelColor(85, MIDDLE - 5), image.pixelColor(130, MIDDLE)
    assert len({window.name(), band.name(), ground.name(), ink.name()}) == 4
    assert image.pixelColor(85, MIDDLE) == window
    assert image.pixelColor(150, MIDDLE) == ground
    assert image.pixelColor(60, MIDDLE) == ground


@pytest.mark.parametrize(("due", "at"), [(-0.5, 2), (1.5, 198)])
def test_that_what_lies_outside_the_scale_is_an_arrow_at_its_end(
    qtbot: QtBot, due: float, at: int
) -> None:
    window = (due - 0.1, due + 0.1)
    bar = DueBar(today=0.5, due=due, window=window, band=None, is_pressing=True)
    image = painted(bar, LIGHT)
    assert image.pixelColor(at, MIDDLE) == QColor(LIGHT.data)
    assert image.pixelColor(60, MIDDLE) == QColor(LIGHT.ground)
