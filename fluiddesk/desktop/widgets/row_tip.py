"""Tooltips of tables and trees: wrapped, and never over the row they tell of."""

import textwrap
from typing import Final

from PySide6.QtCore import QPoint, QRect
from PySide6.QtGui import QFontMetrics, QGuiApplication
from PySide6.QtWidgets import QAbstractScrollArea, QToolTip

_LETTERS_A_LINE: Final = 60
_BELOW_POINTER: Final = 16
"""Qt itself shows a tooltip so far below the point it is given, clear of the pointer."""
_FRAME: Final = 12


def wrapped(text: str) -> str:
    """A text in lines of about 60 letters; its own line ends stay."""
    lines = [textwrap.fill(line, _LETTERS_A_LINE) for line in text.splitlines()]
    return "\n".join(lines)


def show_beside_row(view: QAbstractScrollArea, text: str, row: QRect, pointer: QPoint) -> None:
    """Show a tooltip below a row, or above it where the screen ends; without a text hide it.

    Args:
        view: the table or tree.
        text: what to tell.
        row: the row's place in the view's viewport.
        pointer: where the pointer is, on the screen.
    """
    if not text:
        QToolTip.hideText()
        return
    shown = wrapped(text)
    QToolTip.showText(tip_place(view, shown, row, pointer), shown, view.viewport(), row)


def tip_place(view: QAbstractScrollArea, shown: str, row: QRect, pointer: QPoint) -> QPoint:
    """The point to give to Qt, which shows the tooltip a little below it."""
    top = view.viewport().mapToGlobal(row.topLeft()).y()
    below = top + row.height() - _BELOW_POINTER + 2
    lines = shown.count("\n") + 1
    height = lines * QFontMetrics(QToolTip.font()).lineSpacing() + _FRAME
    screen = QGuiApplication.screenAt(pointer) or view.screen()
    ends = below + _BELOW_POINTER + height > screen.availableGeometry().bottom()
    return QPoint(pointer.x(), top - height - _BELOW_POINTER - 2 if ends else below)
