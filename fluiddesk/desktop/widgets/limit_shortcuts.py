"""The keys of the Rules page beside those of its tables."""

from collections.abc import Callable
from functools import partial
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

_KEYS: Final = (
    ("Ctrl+Z", "undo"),
    ("Ctrl+Y", "redo"),
    ("Ctrl+Shift+Z", "redo"),
    ("Ctrl+S", "save"),
    ("Insert", "add"),
    ("F4", "edit"),
)


def make_shortcuts(page: QWidget, do: Callable[[str], None]) -> None:
    """Have keys do what the buttons of the page do.

    Args:
        page: where the keys are heard.
        do: does what a key stands for, such as "undo".
    """
    for keys, key in _KEYS:
        shortcut = QShortcut(QKeySequence(keys), page)
        shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        shortcut.activated.connect(partial(do, key))
