"""Asks for one file without blocking the window."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QWidget


def ask_file(
    parent: QWidget, title: str, *, then: Callable[[str], object], filters: Sequence[str] = ()
) -> QFileDialog:
    """Open a dialog for a file that exists; ``then`` gets its path when one was chosen."""
    dialog = QFileDialog(parent, title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    if filters:
        dialog.setNameFilters(list(filters))
    dialog.fileSelected.connect(then)
    dialog.open()
    return dialog
