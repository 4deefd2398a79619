"""The dialogs that ask for a file."""

from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.widgets.file_asking import (
    FileKind,
    LastFolders,
    ask_database,
    ask_lab_file,
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
