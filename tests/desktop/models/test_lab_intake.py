import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.fact_model import FactModel
from fluiddesk.desktop.models.lab_intake import (
    MovedModel,
    PastIntakeModel,
    PreviewModel,
    ProblemModel,
)
from fluiddesk.desktop.theme import Theme, make_theme
from fluiddesk.desktop.viewstate.lab_intake import RowColumn, RowFilter
from fluiddesk.domain.severity import Severity
from tests.desktop.makers_results import full_preview, make_past, make_result

STRICT = QAbstractItemModelTester.FailureReportingMode.Fatal


@pytest.fixture
def theme(qtbot: QtBot) -> Theme:
    return make_theme("light")


def watch(model: FactModel) -> QAbstractItemModelTester:
    return QAbstractItemModelTester(model, STRICT, model)


def texts(model: FactModel, column: int) -> list[str]:
    return [model.index(row, column).data() for row in range(model.rowCount())]


def test_that_the_rows_of_a_file_keep_the_rules_of_qt_through_filter_and_order(
    theme: Theme,
) -> None:
    model = PreviewModel(theme=theme)
    watch(model)
    model.show(full_preview())
    model.sort(RowColumn.CONDITION, Qt.SortOrder.DescendingOrder)
    model.show_rows(RowFilter.HELD)
    assert texts(model, RowColumn.ROW) == ["17", "22"]
    model.show(None)
    assert model.rowCount() == 0


def test_that_the_selected_row_stays_selected_when_the_order_changes(theme: Theme) -> None:
    model = PreviewModel(theme=theme)
    model.show(full_preview())
    chosen = QItemSelectionModel(model)
    chosen.setCurrentIndex(model.index(3, 0), QItemSelectionModel.SelectionFlag.ClearAndSelect)
    before = model.row(3)
    model.sort(RowColumn.ROW, Qt.SortOrder.DescendingOrder)
    assert model.row(chosen.currentIndex().row()) == before
    assert chosen.currentIndex().row() == model.rowCount() - 1 - 3


def test_that_a_moving_row_hands_both_severities_to_whoever_draws_it(theme: Theme) -> None:
    model = PreviewModel(theme=theme)
    model.show(full_preview())
    moves = [
        model.index(row, RowColumn.CONDITION).data(Qt.ItemDataRole.UserRole)
        for row in range(model.rowCount())
    ]
    assert moves[3] == (Severity.NORMAL, Severity.URGENT)
    assert moves[14] == (Severity.WATCH, Severity.WATCH)
    assert moves[15] is None


def test_that_numbers_stand_at_the_right(theme: Theme) -> None:
    model = PreviewModel(theme=theme)
    model.show(full_preview())
    right = Qt.AlignmentFlag.AlignRight
    role = Qt.ItemDataRole.TextAlignmentRole
    assert model.index(0, RowColumn.ISSUE).data(role) & right
    assert not model.index(0, RowColumn.MACHINE).data(role) & right


def test_that_problems_are_found_by_their_row(theme: Theme) -> None:
    model = ProblemModel(theme=theme)
    watch(model)
    model.show(full_preview().problems)
    assert texts(model, 0) == ["17", "22", "file"]
    assert model.first_of_row(22) == 1
    assert model.first_of_row(3) is None


def test_that_what_moved_is_listed_with_the_worst_first(theme: Theme) -> None:
    model = MovedModel(theme=theme)
    watch(model)
    model.show(make_result().moved)
    assert texts(model, 1) == ["HT-104", "WL-207", "EX-203"]
    assert texts(model, MovedModel.CONDITION)[0] == "Normal → Urgent"


def test_that_past_intakes_are_listed_with_the_newest_first(theme: Theme) -> None:
    model = PastIntakeModel(theme=theme)
    watch(model)
    model.show([make_past(1), make_past(3, is_undone=True)])
    assert texts(model, 2) == ["2026-05-03 09:30", "2026-05-01 09:30"]
    assert texts(model, 6) == ["Undone", "In force"]


def test_that_another_theme_redraws_every_cell(theme: Theme, qtbot: QtBot) -> None:
    model = PastIntakeModel(theme=theme)
    model.show([make_past(1, is_undone=True)])
    dark = make_theme("dark")
    with qtbot.waitSignal(model.dataChanged):
        model.apply_theme(dark)
    ink = model.index(0, 0).data(Qt.ItemDataRole.ForegroundRole)
    assert ink.name().upper() == dark.colors.faint_ink
