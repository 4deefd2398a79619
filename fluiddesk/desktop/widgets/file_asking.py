"""Asks for one file without blocking the window, beginning where the last one was found."""

from collections.abc import Callable, Sequence
from enum import StrEnum
from pathlib import Path

from PySide6.QtCore import QSettings, Qt
from PySide6.QtWidgets import QFileDialog, QWidget


class FileKind(StrEnum):
    """What is asked for; each kind has a last folder of its own."""

    DATABASE = "database"
    LAB_FILE = "lab_file"


class LastFolders:
    """The folder in which a file of each kind was last chosen."""

    def __init__(self, kept: QSettings | None) -> None:
        """Begin with what was kept; ``None`` remembers for this run alone."""
        self._kept = kept
        self._folders: dict[FileKind, str] = {}

    def folder(self, kind: FileKind) -> str:
        """The last folder, if it is still there; empty where none is known."""
        held = self._folders.get(kind, "")
        if not held and self._kept is not None:
            held = str(self._kept.value(_key(kind)) or "")
        return held if held and Path(held).is_dir() else ""

    def note(self, kind: FileKind, path: str) -> None:
        """Remember where a file was chosen."""
        folder = str(Path(path).parent)
        self._folders[kind] = folder
        if self._kept is not None:
            self._kept.setValue(_key(kind), folder)


def ask_file(
    parent: QWidget | None,
    title: str,
    *,
    then: Callable[[str], object],
    filters: Sequence[str] = (),
    folder: str = "",
) -> QFileDialog:
    """Open a dialog for a file that exists; ``then`` gets its path when one was chosen."""
    dialog = QFileDialog(parent, title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFile)
    if filters:
        dialog.setNameFilters(list(filters))
    if folder:
        dialog.setDirectory(folder)
    dialog.fileSelected.connect(then)
    dialog.open()
    return dialog


def ask_database(
    parent: QWidget, *, then: Callable[[str], object], folders: LastFolders
) -> QFileDialog:
    """Ask for a database, beginning where the last one was chosen."""
    return ask_file(
        parent,
        parent.tr("Open database"),
        then=_noting(folders, FileKind.DATABASE, then),
        filters=(parent.tr("Databases (*.fluiddesk)"), parent.tr("All files (*)")),
        folder=folders.folder(FileKind.DATABASE),
    )


def ask_lab_file(
    parent: QWidget, *, then: Callable[[str], object], folders: LastFolders
) -> QFileDialog:
    """Ask for a laboratory's file, beginning where the last one was chosen."""
    return ask_file(
        parent,
        parent.tr("Open a laboratory's file"),
        then=_noting(folders, FileKind.LAB_FILE, then),
        filters=(
            parent.tr("Laboratory files (*.csv *.txt *.tsv *.xlsx)"),
            parent.tr("All files (*)"),
        ),
        folder=folders.folder(FileKind.LAB_FILE),
    )


def _noting(
    folders: LastFolders, kind: FileKind, then: Callable[[str], object]
) -> Callable[[str], None]:
    def chosen(path: str) -> None:
        folders.note(kind, path)
        then(path)

    return chosen


def _key(kind: FileKind) -> str:
    return f"folders/{kind}"
