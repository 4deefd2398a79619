"""The dialogs that ask for a file."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QFileDialog, QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.widgets.file_asking import (
    FileKind,
    LastFolders,
    ask_database,
    ask_export_folder,
    ask_lab_file,
    ask_paper,
    ask_past_results,
    ask_register_files,
)


def test_that_each_dialog_begins_where_its_last_file_was_found(
    qtbot: QtBot, tmp_path: Path
) -> None:
    kept = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    parent = QWidget()
    qtbot.addWidget(parent)
    places: list[str] = []
    for name in ("fleets", "results"):
        (tmp_path / name).mkdir()
    first = LastFolders(kept)
    one = ask_database(parent, then=places.append, folders=first)
    one.fileSelected.emit(str(tmp_path / "fleets" / "pit.fluiddesk"))
    two = ask_lab_file(parent, then=places.append, folders=first)
    two.fileSelected.emit(str(tmp_path / "results" / "june.csv"))
    assert [Path(place).name for place in places] == ["pit.fluiddesk", "june.csv"]
    later = LastFolders(kept)
    assert Path(later.folder(FileKind.LAB_FILE)).name == "results"
    again = ask_database(parent, then=places.append, folders=later)
    assert Path(again.directory().absolutePath()) == tmp_path / "fleets"
    for dialog in (one, two, again):
        dialog.close()


@pytest.mark.parametrize(
    ("ask", "kind"),
    [
        (ask_past_results, FileKind.PAST_RESULTS),
        (ask_paper, FileKind.PAPER),
        (ask_register_files, FileKind.REGISTER_FILES),
        (ask_export_folder, FileKind.REGISTER_EXPORT),
    ],
)
def test_that_the_dialogs_of_the_register_begin_where_they_last_ended(
    qtbot: QtBot, tmp_path: Path, ask: Callable[..., QFileDialog], kind: FileKind
) -> None:
    parent = QWidget()
    qtbot.addWidget(parent)
    (tmp_path / "kept").mkdir()
    folders, told = LastFolders(None), []
    chosen = str(tmp_path / "kept" / "chosen.csv")
    first = ask(parent, then=told.append, folders=folders)
    if kind is FileKind.REGISTER_FILES:
        first.filesSelected.emit([chosen])
    else:
        first.fileSelected.emit(chosen)
    assert told == [[chosen]] if kind is FileKind.REGISTER_FILES else [chosen]
    assert Path(folders.folder(kind)).name == "kept"
    again = ask(parent, then=told.append, folders=folders)
    assert Path(again.directory().absolutePath()) == tmp_path / "kept"
    for dialog in (first, again):
        dialog.close()


def test_that_a_folder_that_is_gone_is_not_offered(tmp_path: Path) -> None:
    folders = LastFolders(None)
    folders.note(FileKind.DATABASE, str(tmp_path / "gone" / "pit.fluiddesk"))
    assert folders.folder(FileKind.DATABASE) == ""


def test_that_only_what_can_be_read_is_offered(qtbot: QtBot) -> None:
    parent = QWidget()
    qtbot.addWidget(parent)
    lab = ask_lab_file(parent, then=str, folders=LastFolders(None))
    database = ask_database(parent, then=str, folders=LastFolders(None))
    assert lab.nameFilters()[0] == "Laboratory files (*.csv *.txt *.tsv *.xlsx)"
    assert database.nameFilters() == ["Databases (*.fluiddesk)", "All files (*)"]
    for dialog in (lab, database):
        dialog.close()
