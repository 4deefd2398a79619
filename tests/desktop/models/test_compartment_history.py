"""The samples side by side, as Qt sees them."""

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.compartment_history import SampleTableModel
from fluiddesk.desktop.viewstate.compartment_history import FIRST_SAMPLE
from tests.desktop.makers_history import make_history

Role = Qt.ItemDataRole
FAILS = QAbstractItemModelTester.FailureReportingMode.Warning


def test_that_the_model_keeps_the_rules_of_qt_from_box_to_box(qtbot: QtBot) -> None:
    model = SampleTableModel()
    tester = QAbstractItemModelTester(model, FAILS)
    for samples in (40, 0, 1):
        model.show_history(make_history(samples=samples))
    assert tester.model() is model
    assert model.rowCount() == len(model.table.rows)
    assert model.columnCount() == FIRST_SAMPLE + 1


def test_that_headings_cannot_be_chosen() -> None:
    model = SampleTableModel()
    model.show_history(make_history(samples=3))
    assert not model.flags(model.index(0, 0)) & Qt.ItemFlag.ItemIsSelectable
    assert model.flags(model.index(1, 0)) & Qt.ItemFlag.ItemIsSelectable


def test_that_a_cell_is_spoken_with_analyte_unit_and_severity() -> None:
    model = SampleTableModel()
    model.show_history(make_history())
    spoken = model.data(model.index(1, FIRST_SAMPLE), Role.AccessibleTextRole)
    assert spoken.startswith("Iron ")
    assert spoken.endswith(" mg/kg, Watch")


def test_that_heads_tell_the_sample_and_the_analyte() -> None:
    model = SampleTableModel()
    history = make_history(samples=3)
    model.show_history(history)
    across = model.headerData(FIRST_SAMPLE, Qt.Orientation.Horizontal)
    assert history.samples[-1].bottle_code in across
    assert model.headerData(1, Qt.Orientation.Vertical) == "Iron mg/kg"
    assert "D5185" in model.headerData(1, Qt.Orientation.Vertical, Role.ToolTipRole)
    assert model.headerData(99, Qt.Orientation.Horizontal) is None
    assert model.headerData(99, Qt.Orientation.Vertical) is None


def test_that_nothing_is_said_of_a_cell_that_is_not_there() -> None:
    model = SampleTableModel()
    assert model.data(QModelIndex()) is None
    assert model.rowCount() == 0
