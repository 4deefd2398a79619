"""The cells of the traffic view have room for all that may stand in them."""

from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QApplication

from fluiddesk.desktop.theme import apply_theme, make_theme
from fluiddesk.desktop.widgets.condition_cell import box_at, cell_width


def test_that_two_letters_stand_clear_of_the_mark(qapp: QApplication) -> None:
    theme = make_theme("light")
    apply_theme(qapp, theme)
    room_for_letters = cell_width(2) // 2 - cell_width(1)
    assert QFontMetrics(theme.small).horizontalAdvance("FR") + 3 <= room_for_letters


def test_that_the_pointer_finds_each_box_of_a_full_cell() -> None:
    assert [box_at(6 + 20 * number + 5, 6) for number in range(6)] == list(range(6))
    half = cell_width(2) // 2
    assert (box_at(half - 1, 2), box_at(half, 2)) == (0, 1)
