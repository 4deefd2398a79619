"""How large the main window is at first, and how small it may become."""

from typing import Final

from PySide6.QtCore import QByteArray, QSettings, QSize
from PySide6.QtWidgets import QSplitter, QWidget

SMALLEST: Final = QSize(1120, 680)
"""Less would let the filters of the fleet page overlap."""

_WANTED: Final = QSize(1280, 800)
_FRAME: Final = QSize(16, 40)
"""Kept free for borders and title bar, whose true size is known only once the window is shown."""


def first_size(available: QSize) -> QSize:
    """The first size of the window's inside on a screen with so much room."""
    return _WANTED.boundedTo(available - _FRAME).expandedTo(SMALLEST)


def restore_window(window: QWidget, splitter: QSplitter, state: QSettings) -> None:
    """Give a window the size and the parts it had when it was last closed."""
    for restore, key in (
        (window.restoreGeometry, "window/geometry"),
        (splitter.restoreState, "window/splitter"),
    ):
        held = state.value(key)
        # Both calls refuse what they did not write themselves; the defaults then stay.
        if isinstance(held, QByteArray):
            restore(held)


def keep_window(window: QWidget, splitter: QSplitter, state: QSettings) -> None:
    """Keep the size of a window and of its parts for the next time."""
    state.setValue("window/geometry", window.saveGeometry())
    state.setValue("window/splitter", splitter.saveState())
