from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.lab_intake import PreviewModel
from fluiddesk.desktop.models.limit_rules import LimitModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.row_order import natural
from fluiddesk.desktop.widgets.fact_table import FactTable
from tests.desktop.makers_results import full_preview, make_limit, make_limits_shown

CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


def preview_table(qtbot: QtBot) -> FactTable:
    model = PreviewModel(theme=make_theme("light"))
    model.show(full_preview())
    table = FactTable(model, name="Rows of the file")
    model.setParent(table)
    qtbot.addWidget(table)
    return table


def test_that_control_c_copies_the_selected_rows_as_tab_separated_text(qtbot: QtBot) -> None:
    table = preview_table(qtbot)
    table.choose(1)
    qtbot.keyClick(table, Qt.Key.Key_C, CONTROL)
    lines = QGuiApplication.clipboard().text().split("\n")
    assert len(lines) == 1
    assert lines[0].split("\t")[:2] == ["3", "26K-0003-X"]


def test_that_with_shift_the_header_is_copied_too(qtbot: QtBot) -> None:
    table = preview_table(qtbot)
    table.choose(1)
    qtbot.keyClick(table, Qt.Key.Key_C, CONTROL | SHIFT)
    lines = QGuiApplication.clipboard().text().split("\n")
    assert [line.split("\t")[1] for line in lines] == ["Bottle code", "26K-0003-X"]


def test_that_enter_opens_the_row(qtbot: QtBot) -> None:
    table = preview_table(qtbot)
    table.choose(4)
    with qtbot.waitSignal(table.row_opened) as opened:
        qtbot.keyClick(table, Qt.Key.Key_Return)
    assert opened.args == [4]


def test_that_arrows_step_over_headings(qtbot: QtBot) -> None:
    model = LimitModel(theme=make_theme("light"))
    model.show(
        make_limits_shown(
            make_limit(analyte="iron"), make_limit(analyte="silicon"), make_limit(analyte="copper")
        )
    )
    table = FactTable(model, name="Limits")
    model.setParent(table)
    qtbot.addWidget(table)
    headings = [row for row in range(model.rowCount()) if model.is_heading(row)]
    assert headings == [0, 2]
    table.choose(1)
    qtbot.keyClick(table, Qt.Key.Key_Down)
    assert table.currentIndex().row() == 3
    qtbot.keyClick(table, Qt.Key.Key_Up)
    assert table.currentIndex().row() == 1
    qtbot.keyClick(table, Qt.Key.Key_Up)
    assert table.currentIndex().row() == 1


def test_that_less_wanted_columns_give_way_where_room_is_short(qtbot: QtBot) -> None:
    table = preview_table(qtbot)
    table.fit_columns(stretch=6, least=100, optional={7: 90, 8: 90})
    wide = sum(table.columnWidth(column) for column in (0, 1, 2, 3, 4, 5, 9)) + 100 + 180 + 40
    table.resize(wide, 200)
    table.show()
    assert not table.isColumnHidden(7)
    assert not table.isColumnHidden(8)
    table.resize(wide - 90, 200)
    assert not table.isColumnHidden(7)
    assert table.isColumnHidden(8)
    table.resize(wide - 220, 200)
    assert table.isColumnHidden(7)


def test_that_a_header_click_sorts_the_rows(qtbot: QtBot) -> None:
    table = preview_table(qtbot)
    table.make_sortable(column=0)
    table.resize(1600, 300)
    table.show()
    header = table.horizontalHeader()
    at = header.viewport().rect().topLeft()
    at.setX(header.sectionViewportPosition(1) + 10)
    at.setY(8)
    qtbot.mouseClick(header.viewport(), Qt.MouseButton.LeftButton, pos=at)
    qtbot.mouseClick(header.viewport(), Qt.MouseButton.LeftButton, pos=at)
    codes = [table.model().index(row, 1).data() for row in range(table.model().rowCount())]
    assert codes == sorted(codes, key=natural, reverse=True)
