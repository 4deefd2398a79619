"""The tables of the Sampling page obey the rules of Qt."""

from dataclasses import replace

import pytest
from PySide6.QtCore import QObject, Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.sampling import CellsModel, DueModel, VisitBoxModel
from fluiddesk.desktop.models.sampling_tables import SamplingTables
from fluiddesk.desktop.models.taking_draft import TakingModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.due_cells import DueColumn, due_facts
from fluiddesk.desktop.viewstate.due_list import DueList, DuePart
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan, Standing
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls, SamplingFacts
from fluiddesk.desktop.viewstate.taking_draft import Cell, TakingDraft
from fluiddesk.services.visits.plan import PlanWishes
from tests.fleets import LAST_DAY, Fleet, fleet, fleet_file, small_fleet_file

__all__ = ["fleet", "fleet_file", "small_fleet_file"]
STRICT = QAbstractItemModelTester.FailureReportingMode.Fatal


@pytest.fixture
def facts(fleet: Fleet) -> SamplingFacts:
    return SamplingCalls(place=fleet.place).facts(PlanWishes(days=28), today=LAST_DAY)


def test_that_what_is_due_is_shown_sorted_and_narrowed(
    qtbot: QtBot, fleet: Fleet, facts: SamplingFacts
) -> None:
    model = DueModel(theme=make_theme("light"))
    QAbstractItemModelTester(model, STRICT)
    due = DueList(due_facts(facts, fleet.place.catalogue))
    model.show(due)
    assert model.rowCount() == len(due)
    model.sort(int(DueColumn.MACHINE), Qt.SortOrder.DescendingOrder)
    machines = [model.index(row, DueColumn.MACHINE).data() for row in range(model.rowCount())]
    assert machines[0] >= machines[-1]
    due.show(replace(due.shown, part=DuePart.LATE, sort=None))
    model.show(due)
    fonts = {
        model.index(row, DueColumn.STATE).data(Qt.ItemDataRole.FontRole).weight()
        for row in range(model.rowCount())
    }
    assert fonts == {make_theme("light").strong.weight()}


def test_that_the_bottles_of_a_visit_stand_in_working_order(
    qtbot: QtBot, facts: SamplingFacts
) -> None:
    model = VisitBoxModel(theme=make_theme("light"))
    QAbstractItemModelTester(model, STRICT)
    visit = facts.plan.visits[0]
    model.show(visit.boxes)
    numbers = [model.index(row, 0).data() for row in range(model.rowCount())]
    assert numbers == [str(place) for place in range(1, len(visit.boxes) + 1)]
    assert model.box(0) is visit.boxes[0]
    assert model.box(99) is None
    tip = model.index(0, 1).data(Qt.ItemDataRole.ToolTipRole)
    assert visit.boxes[0].compartment in tip
    model.show(())
    assert model.rowCount() == 0


def test_that_the_sheet_can_be_keyed(qtbot: QtBot, facts: SamplingFacts) -> None:
    model = TakingModel(theme=make_theme("light"))
    QAbstractItemModelTester(model, STRICT)
    one = Planned(key=b"1", visit=facts.plan.visits[0], standing=Standing.ISSUED)
    model.show(TakingDraft(one, today=LAST_DAY))
    cell = model.index(0, int(Cell.FLUSHED))
    assert cell.flags() & Qt.ItemFlag.ItemIsEditable
    assert not model.index(0, int(Cell.BOX)).flags() & Qt.ItemFlag.ItemIsEditable
    assert model.setData(cell, "y")
    assert cell.data() == "yes"
    assert model.setData(model.index(0, int(Cell.LITRES)), "much")
    assert "much" in model.index(0, int(Cell.LITRES)).data(Qt.ItemDataRole.ToolTipRole)
    model.show(None)
    assert model.rowCount() == 0


def test_that_lines_with_keys_are_found_again(qtbot: QtBot) -> None:
    owner = QObject()
    tables = SamplingTables(theme=make_theme("light"), parent=owner)
    for model in vars(tables).values():
        QAbstractItemModelTester(model, STRICT)
        if isinstance(model, CellsModel):
            count = model.columnCount()
            model.show([(b"a", ("x",) * count), (b"b", ("y",) * count)])
            assert model.key(1) == b"b"
            assert model.row_of(b"a") == 0
            assert model.row_of(b"c") == -1
            assert model.key(5) is None
    tables.apply_theme(make_theme("dark"))


def test_that_the_board_and_the_list_agree_on_days(
    qtbot: QtBot, fleet: Fleet, facts: SamplingFacts
) -> None:
    plan = RoundPlan(facts)
    due = DueList(due_facts(facts, fleet.place.catalogue), visits=plan.visits)
    model = DueModel(theme=make_theme("light"))
    model.show(due)
    for row in range(model.rowCount()):
        visit = due.visit(row)
        told = model.index(row, DueColumn.VISIT).data()
        assert told == ("" if visit is None else visit.visit.planned_on.isoformat())
