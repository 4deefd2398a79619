"""Which bounds are drawn, and labels that never cover each other."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QRectF
from PySide6.QtGui import QColor, QImage, QPainter

from fluiddesk.charts.limit_bands import (
    Bounds,
    LineLabel,
    bounds_of,
    limit_beyond,
    paint_bands,
    spread,
)
from fluiddesk.charts.palette import LIGHT
from fluiddesk.charts.scales import Scale
from tests.desktop.makers_history import make_band

NONE = (None, None, None)
PLOT = QRectF(0, 0, 50, 100)
SCALE = Scale(low=0, high=100)


def painted(bounds: Bounds) -> tuple[QImage, list[LineLabel]]:
    image = QImage(50, 100, QImage.Format.Format_RGB32)
    image.fill(QColor("white"))
    painter = QPainter(image)
    labels = paint_bands(painter, PLOT, bounds=bounds, scale=SCALE, colors=LIGHT)
    painter.end()
    return image, labels


def is_white(image: QImage, value: float) -> bool:
    return image.pixelColor(25, round(100 - value)) == QColor("white")


def test_that_of_several_limits_the_one_reached_first_counts() -> None:
    bands = [make_band("up", 60, 90, None), make_band("up", 50, 95, 120)]
    assert bounds_of(bands) == Bounds(up=(50, 90, 120), down=NONE)


def test_that_of_several_low_limits_the_highest_counts() -> None:
    bands = [make_band("down", 6, 5, None), make_band("down", 7, 4, 3)]
    assert bounds_of(bands).down == (7, 5, 3)


def test_that_a_band_starts_at_its_limit_and_leaves_the_data_free() -> None:
    image, labels = painted(Bounds(up=(60, 80, None), down=NONE))
    assert is_white(image, 55)
    assert not is_white(image, 65)
    assert [(label.text, round(label.y)) for label in labels] == [("W", 40), ("A", 20)]


def test_that_a_band_fades_away_from_the_data() -> None:
    image, _ = painted(Bounds(up=(60, None, None), down=NONE))
    near, far = (image.pixelColor(25, y).lightness() for y in (36, 4))
    assert near < far < 255


def test_that_a_low_limit_fades_downward() -> None:
    image, _ = painted(Bounds(up=NONE, down=(40, None, None)))
    near, far = (image.pixelColor(25, y).lightness() for y in (64, 96))
    assert is_white(image, 50)
    assert near < far < 255


def test_that_a_limit_beyond_the_panel_is_named() -> None:
    assert limit_beyond(Bounds(up=(160, 200, None), down=NONE), SCALE) == ("W", 160)
    assert limit_beyond(Bounds(up=(60, 200, None), down=NONE), SCALE) is None
    assert limit_beyond(Bounds(up=NONE, down=(5, None, None)), SCALE) is None


heights = st.lists(st.floats(0, 100), max_size=6)


@given(ys=heights)
def test_that_labels_keep_apart_and_in_order(ys: list[float]) -> None:
    labels = [LineLabel(y=y, text="W") for y in ys]
    placed = sorted(spread(labels, apart=11, low=0, high=100))
    assert all(b - a >= 11 - 1e-9 for a, b in pairwise(placed))
    assert all(y <= 100 + 1e-9 for y in placed)


def test_that_a_lone_label_stands_at_its_line() -> None:
    assert spread([LineLabel(y=42, text="W")], apart=11, low=0, high=100) == [42]


@pytest.mark.parametrize("bounds", [Bounds(up=NONE, down=NONE)])
def test_that_without_limits_nothing_is_painted(bounds: Bounds) -> None:
    image, labels = painted(bounds)
    assert labels == []
    assert all(is_white(image, value) for value in range(1, 100))
