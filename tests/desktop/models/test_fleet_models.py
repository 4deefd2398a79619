"""The table and the tree of the fleet, held to Qt's own rules for models."""

from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.fleet_condition import FleetConditionModel
from fluiddesk.desktop.models.machine_tree import MachineTreeModel
from fluiddesk.desktop.viewstate.fleet_condition import FleetFilter, FleetMatrix, RowOrder
from fluiddesk.desktop.viewstate.machine_tree import MachineTreeState
from tests.desktop.makers_fleet import catalogue, fleet

CATALOGUE = catalogue()
FAIL = QAbstractItemModelTester.FailureReportingMode.Warning


def test_that_the_matrix_keeps_the_rules_of_models(qtbot: QtBot) -> None:
    model = FleetConditionModel(CATALOGUE)
    tester = QAbstractItemModelTester(model, FAIL)
    assert model.rowCount() == 0
    model.show(FleetMatrix(fleet(12), CATALOGUE))
    assert model.rowCount() == 12
    model.arrange(FleetFilter(text="dozer"))
    model.arrange(FleetFilter(text="nothing"))
    assert model.rowCount() == 0
    model.arrange(FleetFilter(), order=RowOrder.SITE)
    assert model.rowCount() == 12
    del tester


def test_that_the_tree_keeps_the_rules_of_models(qtbot: QtBot) -> None:
    model = MachineTreeModel()
    tester = QAbstractItemModelTester(model, FAIL)
    model.show(MachineTreeState(fleet(12), CATALOGUE))
    assert model.rowCount() == 3
    model.narrow("loader")
    model.narrow("nothing")
    assert model.rowCount() == 0
    model.narrow("")
    assert model.rowCount() == 3
    del tester


def test_that_each_cell_and_header_can_be_heard(qtbot: QtBot) -> None:
    model = FleetConditionModel(CATALOGUE)
    model.show(FleetMatrix(fleet(12), CATALOGUE))
    role = Qt.ItemDataRole.AccessibleTextRole
    for row in range(model.rowCount()):
        assert model.headerData(row, Qt.Orientation.Vertical, role)
        for column in range(model.columnCount()):
            assert model.index(row, column).data(role)
    assert model.headerData(0, Qt.Orientation.Horizontal, role) == "Engine"
