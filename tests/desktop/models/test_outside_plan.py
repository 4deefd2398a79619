"""The tables of samples outside the plan obey the rules of Qt."""

from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.outside_plan import FluidValueModel, OutsideModel
from fluiddesk.desktop.models.register import HistoryModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.outside_plan import OutsideList, lines_of, value_cells
from tests.desktop.makers_outside import FACTS, VALUES
from tests.desktop.makers_register import HAPPENED

STRICT = QAbstractItemModelTester.FailureReportingMode.Fatal


def test_that_the_list_turns_from_boxes_to_fluids_and_labels(qtbot: QtBot) -> None:
    model = OutsideModel(theme=make_theme("light"))
    QAbstractItemModelTester(model, STRICT)
    for which in OutsideList:
        model.show(lines_of(FACTS, which))
    assert model.index(0, 0).data() == "26S-00001-7"
    assert model.row_of("26S-00001-7") == 0
    assert model.row_of("another") == -1
    assert model.line(7) is None
    model.apply_theme(make_theme("dark"))


def test_that_measured_values_stand_beside_their_reference(qtbot: QtBot) -> None:
    model = FluidValueModel(theme=make_theme("light"))
    QAbstractItemModelTester(model, STRICT)
    model.show(value_cells(VALUES))
    assert [model.index(0, column).data() for column in range(4)] == [
        "Fe", "<1", "mg/kg", "1 mg/kg",
    ]  # fmt: skip
    model.show(())
    assert model.rowCount() == 0


def test_that_what_happened_stands_by_day(qtbot: QtBot) -> None:
    model = HistoryModel(theme=make_theme("light"))
    QAbstractItemModelTester(model, STRICT)
    model.show(HAPPENED)
    assert model.rowCount() == len(HAPPENED)
    assert model.line(0) is HAPPENED[0]
    assert model.line(-1) is None
