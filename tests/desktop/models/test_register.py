"""The tables of the Register page and of the search box keep Qt's rules."""

import pytest
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.fact_model import FactModel
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


LINE = PastLine(
    row="4",
    machine="HT-01",
    compartment="Engine",
    sampled_on="2024-03-05",
    match="HT-01, Engine (90%)",
    fate="Sure",
    why="",
)
HIT = SearchHit(
    kind=HitKind.MACHINE,
    found="HT-01",
    place="Kestrel pit",
    machine_id=b"m",
    compartment_id=None,
    sample_id=None,
)


def made(kind: str) -> FactModel:
    theme = make_theme("light")
    models: dict[str, tuple[FactModel, object]] = {
        "records": (RecordModel(theme=theme), STATE.rows),
        "parts": (PartModel(theme=theme), STATE.part_rows(machine_key(1))),
        "trail": (
            TrailModel(theme=theme),
            (TrailLine(at="2026-06-30", who="Kim", what="remark", words="Leaks."),),
        ),
        "files": (FileModel(theme=theme), PREVIEW.files),
        "problems": (FileProblemModel(theme=theme), PREVIEW.problems),
        "past": (PastModel(theme=theme), (LINE,)),
        "search": (SearchModel(theme=theme), (HIT,)),
    }
    model, shown = models[kind]
    for _ in range(2):
        model.show(shown)  # type: ignore[attr-defined]
    return model


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
