"""A defect of Qt's Python binding that a quick look at a window does not show."""

import sys

import pytest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot


@pytest.mark.skipif(sys.version_info >= (3, 12), reason="None is immortal from Python 3.12 on")
def test_that_calls_without_an_answer_leave_the_references_to_none_alone(qtbot: QtBot) -> None:
    # PySide6 6.12.0 takes one reference off None per call and aborts after some thousands.
    widget = QWidget()
    qtbot.addWidget(widget)
    before = sys.getrefcount(None)
    for side in range(1_000):
        widget.resize(side, side)
    assert abs(sys.getrefcount(None) - before) < 100
