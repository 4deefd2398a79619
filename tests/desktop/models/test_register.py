"""The tables of the Register page and of the search box keep Qt's rules."""

import pytest
from PySide6.QtCore import QAbstractItemModel
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.past_results import PastModel
from fluiddesk.desktop.models.register import PartModel, RecordModel, TrailModel
from fluiddesk.desktop.models.register_files import FileModel, FileProblemModel
from fluiddesk.desktop.models.search import SearchModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.past_results import PastLine
from fluiddesk.desktop.viewstate.record_trail import TrailLine
from fluiddesk.desktop.viewstate.register import RegisterState
from fluiddesk.services.search.facts import HitKind, SearchHit
from tests.desktop.makers_register import CATALOGUE, PREVIEW, machine_key, make_register

STATE = RegisterState(make_register(8), CATALOGUE)


def made(kind: str) -> QAbstractItemModel:
    theme = make_theme("light")
    if kind == "records":
        records = RecordModel(theme=theme)
        records.show(STATE)
        return records
    if kind == "parts":
        parts = PartModel(theme=theme)
        parts.show(STATE.part_rows(machine_key(1)))
        parts.show(STATE.part_rows(machine_key(2)))
        return parts
    if kind == "trail":
        trail = TrailModel(theme=theme)
        trail.show((TrailLine(at="2026-06-30", who="Kim", what="remark", words="Leaks."),))
        return trail
    if kind == "files":
        files = FileModel(theme=theme)
        files.show(PREVIEW.files)
        return files
    if kind == "problems":
        problems = FileProblemModel(theme=theme)
        problems.show(PREVIEW.problems)
        return problems
    if kind == "past":
        past = PastModel(theme=theme)
        line = PastLine(row="4", machine="HT-01", compartment="Engine", sampled_on="2024-03-05",
                        match="HT-01, Engine (90%)", fate="Sure", why="")  # fmt: skip
        past.show((line,))
        return past
    search = SearchModel(theme=theme)
    hit = SearchHit(kind=HitKind.MACHINE, found="HT-01", place="Kestrel pit", machine_id=b"m",
                    compartment_id=None, sample_id=None)  # fmt: skip
    search.show((hit,))
    return search


@pytest.mark.parametrize(
    ("kind", "row", "texts"),
    [
        ("records", 1, ["HT-01", "Rigid haul truck, R200", "Working", ""]),
        ("parts", 0, ["Engine", "Engine oil 15W-40", "35", "250 h or 90 d", ""]),
        ("trail", 0, ["2026-06-30", "Kim", "remark", "Leaks."]),
        ("files", 0, ["machines.csv", "machines", "20", "18", "0", "2"]),
        ("problems", 0, ["compartments.csv", "14", "capacity_l", ""]),
        ("past", 0, ["4", "HT-01", "Engine", "2024-03-05", "HT-01, Engine (90%)", "Sure"]),
        ("search", 0, ["HT-01", "machine", "Kestrel pit"]),
    ],
)
def test_that_each_table_says_what_its_records_hold(
    qtbot: QtBot, kind: str, row: int, texts: list[str]
) -> None:
    model = made(kind)
    tester = QAbstractItemModelTester(model)
    assert tester.model() is model
    assert [model.index(row, column).data() for column in range(len(texts))] == texts
