"""Tooltips beside their row."""

from PySide6.QtCore import QPoint, QRect
from PySide6.QtWidgets import QListView
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.widgets.row_tip import tip_place, wrapped


def test_that_a_long_tooltip_is_wrapped_at_about_sixty_letters() -> None:
    lines = wrapped("word " * 40 + "\nsecond").split("\n")
    assert max(map(len, lines)) <= 60
    assert lines[-1] == "second"


def test_that_a_tooltip_stands_below_its_row_and_above_it_at_the_foot_of_the_screen(
    qtbot: QtBot,
) -> None:
    view = QListView()
    qtbot.addWidget(view)
    view.setGeometry(0, 0, 300, 780)
    view.show()
    pointer = view.viewport().mapToGlobal(QPoint(20, 20))
    high, low = QRect(0, 10, 300, 26), QRect(0, 740, 300, 26)
    edge = view.viewport().mapToGlobal(high.bottomLeft()).y()
    assert tip_place(view, "a\nb", high, pointer).y() + 16 > edge
    edge = view.viewport().mapToGlobal(low.topLeft()).y()
    assert tip_place(view, "a\nb", low, pointer).y() + 16 < edge - 20
