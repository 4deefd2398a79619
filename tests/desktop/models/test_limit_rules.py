import pytest
from PySide6.QtCore import QItemSelectionModel, Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.limit_rules import LimitModel, ScopeModel
from fluiddesk.desktop.theme import Theme, make_theme
from fluiddesk.desktop.viewstate.limit_ruler import Ruler
from fluiddesk.desktop.viewstate.limit_rules import ALL_SCOPES, LimitColumn, LimitsState
from tests.desktop.makers_results import make_limit, make_limits_shown, starter_limits_shown

STRICT = QAbstractItemModelTester.FailureReportingMode.Fatal
STARTER = starter_limits_shown()


@pytest.fixture
def theme(qtbot: QtBot) -> Theme:
    return make_theme("light")


@pytest.fixture
def model(theme: Theme) -> LimitModel:
    made = LimitModel(theme=theme)
    QAbstractItemModelTester(made, STRICT, made)
    made.show(STARTER)
    return made


def test_that_limits_keep_the_rules_of_qt_through_scope_filter_and_order(
    model: LimitModel,
) -> None:
    model.choose(0)
    model.sort(LimitColumn.ACT, Qt.SortOrder.DescendingOrder)
    model.filter("iron")
    found = [line for row in range(model.rowCount()) if (line := model.line(row)) is not None]
    assert {line.analyte for line in found} == {"Iron"}


def test_that_a_heading_cannot_be_selected_and_a_limit_can(model: LimitModel) -> None:
    selectable = Qt.ItemFlag.ItemIsSelectable
    assert model.is_heading(0)
    assert not model.index(0, 0).flags() & selectable
    assert model.index(1, 0).flags() & selectable


def test_that_the_selected_limit_stays_selected_when_the_order_changes(
    model: LimitModel,
) -> None:
    chosen = QItemSelectionModel(model)
    chosen.setCurrentIndex(model.index(1, 0), QItemSelectionModel.SelectionFlag.ClearAndSelect)
    before = model.line(1)
    model.sort(LimitColumn.ANALYTE, Qt.SortOrder.DescendingOrder)
    assert chosen.currentIndex().row() != 1
    assert model.line(chosen.currentIndex().row()) is before


def test_that_bounds_of_a_column_stand_in_line_at_the_decimal_sign(theme: Theme) -> None:
    model = LimitModel(theme=theme)
    model.show(make_limits_shown(make_limit(watch=0.5), make_limit(analyte="copper", watch=40.0)))
    cells = [model.index(row, LimitColumn.WATCH).data() for row in (1, 2)]
    assert [cell.strip() for cell in cells] == ["0.5", "40"]
    assert len(cells[1]) == len("40.0")


def test_that_the_bands_column_hands_over_a_ruler_and_no_words(model: LimitModel) -> None:
    index = model.index(1, LimitColumn.BANDS)
    assert isinstance(index.data(Qt.ItemDataRole.UserRole), Ruler)
    assert index.data() == ""


def test_that_another_set_keeps_scope_and_filter(model: LimitModel) -> None:
    assert model.state is not None
    label = model.state.labels[2]
    model.choose(2)
    model.filter("iron")
    model.show(starter_limits_shown())
    assert model.state.labels[model.state.chosen] == label
    assert model.state.wanted == "iron"


def test_that_a_scope_that_is_gone_gives_way_to_all(model: LimitModel) -> None:
    model.choose(2)
    model.show(make_limits_shown(make_limit()))
    assert model.state is not None
    assert model.state.chosen == ALL_SCOPES


def test_that_scopes_show_counts_and_stay_where_they_are_under_a_filter(theme: Theme) -> None:
    scopes = ScopeModel(theme=theme)
    QAbstractItemModelTester(scopes, STRICT, scopes)
    state = LimitsState(STARTER)
    scopes.show(state.scope_entries())
    before = [scopes.index(row, 0).data() for row in range(scopes.rowCount())]
    state.filter("iron")
    scopes.show(state.scope_entries())
    assert [scopes.index(row, 0).data() for row in range(scopes.rowCount())] == before
    assert int(scopes.index(0, 1).data()) < len(STARTER.lines)
    assert scopes.scope(scopes.row_of(3)) == 3
