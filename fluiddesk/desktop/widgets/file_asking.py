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
    PAST_RESULTS = "past_results"
    REGISTER_FILES = "register_files"
    REGISTER_EXPORT = "register_export"
    PAPER = "paper"
    PRINT = "print"


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
    _begin_in(dialog, folder)
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


def ask_past_results(
    parent: QWidget, *, then: Callable[[str], object], folders: LastFolders
) -> QFileDialog:
    """Ask for a file of past results, beginning where the last one was chosen."""
    return ask_file(
        parent,
        parent.tr("Open a file of past results"),
        then=_noting(folders, FileKind.PAST_RESULTS, then),
        filters=(
            parent.tr("Laboratory files (*.csv *.tsv *.txt *.xlsx)"),
            parent.tr("All files (*)"),
        ),
        folder=folders.folder(FileKind.PAST_RESULTS),
    )


def ask_paper(
    parent: QWidget, *, then: Callable[[str], object], folders: LastFolders
) -> QFileDialog:
    """Ask for a PDF or picture to attach, beginning where the last one was chosen."""
    return ask_file(
        parent,
        parent.tr("Attach a paper"),
        then=_noting(folders, FileKind.PAPER, then),
        filters=(
            parent.tr("Papers (*.pdf *.png *.jpg *.jpeg *.tif *.tiff)"),
            parent.tr("All files (*)"),
        ),
        folder=folders.folder(FileKind.PAPER),
    )


def ask_register_files(
    parent: QWidget, *, then: Callable[[Sequence[str]], object], folders: LastFolders
) -> QFileDialog:
    """Ask for one or more files of the register, beginning where the last were chosen."""

    def chosen(paths: Sequence[str]) -> None:
        folders.note(FileKind.REGISTER_FILES, paths[0])
        then(paths)

    dialog = QFileDialog(parent, parent.tr("Open register files"))
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFileMode(QFileDialog.FileMode.ExistingFiles)
    dialog.setNameFilters(
        [parent.tr("Register files (*.csv *.tsv *.txt *.xlsx)"), parent.tr("All files (*)")]
    )
    _begin_in(dialog, folders.folder(FileKind.REGISTER_FILES))
    dialog.filesSelected.connect(chosen)
    dialog.open()
    return dialog


def ask_new_file(
    parent: QWidget,
    title: str,
    *,
    then: Callable[[str], object],
    name: str,
    filters: Sequence[str],
    folders: LastFolders,
    kind: FileKind = FileKind.PRINT,
) -> QFileDialog:
    """Ask where something is to be written, beginning beside the last file of its kind.

    Args:
        parent: the window.
        title: what is written.
        then: gets the path when one was chosen.
        name: the file name offered; its suffix is added to a name without one.
        filters: the kinds of file.
        folders: the last folders.
        kind: which of them.
    """
    dialog = QFileDialog(parent, title)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
    dialog.setFileMode(QFileDialog.FileMode.AnyFile)
    dialog.setNameFilters(list(filters))
    dialog.setDefaultSuffix(Path(name).suffix.removeprefix("."))
    _begin_in(dialog, folders.folder(kind))
    dialog.selectFile(name)
    dialog.fileSelected.connect(_noting(folders, kind, then))
    dialog.open()
    return dialog


def ask_export_folder(
    parent: QWidget, *, then: Callable[[str], object], folders: LastFolders
) -> QFileDialog:
    """Ask where the register is to be written to, beginning beside the last folder chosen."""
    dialog = QFileDialog(parent, parent.tr("Write the register to a folder"))
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
    dialog.setFileMode(QFileDialog.FileMode.Directory)
    dialog.setOption(QFileDialog.Option.ShowDirsOnly)
    _begin_in(dialog, folders.folder(FileKind.REGISTER_EXPORT))
    dialog.fileSelected.connect(_noting(folders, FileKind.REGISTER_EXPORT, then))
    dialog.open()
    return dialog


def _begin_in(dialog: QFileDialog, folder: str) -> None:
    if folder:
        dialog.setDirectory(folder)


def _noting(
    folders: LastFolders, kind: FileKind, then: Callable[[str], object]
) -> Callable[[str], None]:
    def chosen(path: str) -> None:
        folders.note(kind, path)
        then(path)

    return chosen


def _key(kind: FileKind) -> str:
    return f"folders/{kind}"
