"""How large the main window is at first, and how small it may become."""

from typing import Final

from PySide6.QtCore import QSize

SMALLEST: Final = QSize(1120, 680)
"""Less would let the filters of the fleet page overlap."""

_WANTED: Final = QSize(1280, 800)
_FRAME: Final = QSize(16, 40)
"""Kept free for borders and title bar, whose true size is known only once the window is shown."""


def first_size(available: QSize) -> QSize:
    """The first size of the window's inside on a screen with so much room."""
    return _WANTED.boundedTo(available - _FRAME).expandedTo(SMALLEST)
