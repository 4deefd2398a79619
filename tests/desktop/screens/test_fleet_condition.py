"""The fleet page and the tree, used by keyboard and by ear."""

from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QGuiApplication
from PySide6.QtWidgets import QAbstractButton, QAbstractItemView, QApplication, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens import fleet_condition as page
from fluiddesk.desktop.screens.fleet_condition import FleetConditionScreen
from fluiddesk.desktop.screens.machine_tree import MachineTreeScreen
from fluiddesk.desktop.theme import apply_theme, make_theme
from fluiddesk.desktop.viewstate.fleet_condition import RowOrder
from fluiddesk.domain.severity import Severity
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.fleet_condition import condition_columns
from fluiddesk.wiring import Clock
from tests.desktop.makers_fleet import TODAY, box_row, fleet, workplace

KEY = Qt.Key


@pytest.fixture
def background(qapp: QApplication) -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(qtbot: QtBot, qapp: QApplication, background: Background) -> FleetConditionScreen:
    theme = make_theme("light")
    apply_theme(qapp, theme)
    made = FleetConditionScreen(
        workplace(), clock=Clock(demo_day=TODAY), theme=theme, background=background
    )
    qtbot.addWidget(made)
    made.resize(1040, 740)
    made.show()
    qtbot.waitExposed(made)
    return made


def two_machines() -> list:
    sides = [("left", 0), ("right", 2)]
    rows = [
        box_row(
            machine=code, machine_id=code.encode(), compartment_id=f"{code}-{side}".encode(),
            kind="final_drive", position=side, severity=severity + extra,
        )
        for code, extra in (("EX-1", 1), ("EX-2", 0))
        for side, severity in sides
    ]  # fmt: skip
    engine = box_row(machine="EX-1", machine_id=b"EX-1", compartment_id=b"EX-1-engine")
    return [engine, *rows]


def test_that_the_eye_begins_at_the_worst_box(screen: FleetConditionScreen) -> None:
    screen.show_facts(condition_columns(two_machines(), today=TODAY))
    index = screen.table.currentIndex()
    assert (index.row(), index.column()) == (0, 1)
    assert screen.matrix is not None
    assert screen.matrix.compartment(screen.table.current_box) == b"EX-1-right"


def wide_machine() -> list:
    """One machine with more columns than the page has room for, the worst in the last."""
    kinds = list(workplace().catalogue.compartment_kinds)
    return [
        box_row(
            machine="EX-1", machine_id=b"EX-1", compartment_id=f"EX-1-{kind}".encode(),
            kind=kind, position="", severity=3 if kind == kinds[-1] else int(kind == kinds[1]),
        )
        for kind in kinds
    ]  # fmt: skip


def test_that_the_keys_begin_on_the_worst_box_in_view_while_the_worst_of_all_is_told(
    screen: FleetConditionScreen,
) -> None:
    screen.show_facts(condition_columns(wide_machine(), today=TODAY))
    bar = screen.table.horizontalScrollBar()
    assert bar.maximum() > 0
    assert bar.value() == 0
    assert screen.table.currentIndex().column() == 1
    assert ": Urgent." in screen._detail.accessibleName()
    assert screen.table.visualRect(screen.table.currentIndex()).right() < screen.table.width()


def test_that_a_fresh_reading_moves_neither_the_view_nor_the_keys(
    screen: FleetConditionScreen,
) -> None:
    facts = condition_columns([*wide_machine(), *two_machines()[3:]], today=TODAY)
    screen.show_facts(facts)
    table = screen.table
    table.point_to(1, 0)  # EX-2 has no such box
    assert table.current_box == -1
    bar = table.horizontalScrollBar()
    bar.setValue(bar.maximum())
    kept = bar.value()
    screen.show_facts(facts)
    assert bar.value() == kept > 0
    assert (table.currentIndex().row(), table.currentIndex().column()) == (1, 0)


def test_that_the_filters_stand_side_by_side_in_the_narrowest_page(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(fleet(10))
    screen.resize(840, 600)
    qtbot.waitUntil(lambda: screen.width() == 840)
    row = screen.filter_row
    controls = (row.text, row.site, row.kind, row.overdue, row.moved, row.clear, screen.order)
    for left, right in pairwise(controls):
        assert left.geometry().right() < right.geometry().left()
    assert screen.order.geometry().right() < row.width()
    screen.resize(1200, 600)
    assert row.text.width() == 190


def test_that_enter_on_an_empty_cell_opens_the_worst_box_of_the_machine(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(condition_columns(two_machines(), today=TODAY))
    screen.table.point_to(1, 0)
    with qtbot.waitSignal(screen.box_opened) as told:
        qtbot.keyClick(screen.table, KEY.Key_Return)
    assert told.args == [b"EX-2-right"]


def test_that_keys_step_box_by_box_and_enter_opens(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(condition_columns(two_machines(), today=TODAY))
    opened: list[bytes] = []
    screen.box_opened.connect(opened.append)
    table = screen.table
    table.setFocus()
    for key in (KEY.Key_Left,) * 2 + (KEY.Key_Right,) * 2 + (KEY.Key_Down, KEY.Key_Left):
        qtbot.keyClick(table, key)
        qtbot.keyClick(table, KEY.Key_Return)
    # From EX-1's right final drive: left, engine, back again, below it EX-2's right, its left.
    there = [b"EX-1-left", b"EX-1-engine", b"EX-1-left", b"EX-1-right"]
    assert opened == [*there, b"EX-2-right", b"EX-2-left"]


def test_that_double_click_opens_the_box_under_the_pointer(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(condition_columns(two_machines(), today=TODAY))
    opened: list[bytes] = []
    screen.box_opened.connect(opened.append)
    rect = screen.table.visualRect(screen.table.model().index(0, 1))
    spot = rect.topLeft()
    spot.setX(rect.right() - 20)
    spot.setY(rect.center().y())
    viewport = screen.table.viewport()
    qtbot.mouseClick(viewport, Qt.MouseButton.LeftButton, pos=spot)
    qtbot.mouseDClick(viewport, Qt.MouseButton.LeftButton, pos=spot)
    assert opened == [b"EX-1-right"]


def test_that_typing_a_code_goes_to_its_machine(qtbot: QtBot, screen: FleetConditionScreen) -> None:
    screen.show_facts(fleet(30))
    screen.table.setFocus()
    qtbot.keyClicks(screen.table, "wl-0")
    assert screen.matrix is not None
    assert screen.matrix.head(screen.table.currentIndex().row()).code.startswith("WL-0")


def test_that_the_filter_narrows_and_show_all_gives_everything_back(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(fleet(30))
    matrix = screen.matrix
    assert matrix is not None
    screen.filter_row.text.setFocus()
    qtbot.keyClicks(screen.filter_row.text, "dozer")
    qtbot.keyClick(screen.filter_row.text, KEY.Key_Return)
    assert matrix.shape[0] == 6
    assert screen.table.hasFocus()
    qtbot.mouseClick(screen.filter_row.clear, Qt.MouseButton.LeftButton)
    assert matrix.shape[0] == 30
    assert screen.filter_row.text.text() == ""


def test_that_a_severity_button_filters_by_it(qtbot: QtBot, screen: FleetConditionScreen) -> None:
    screen.show_facts(fleet(30))
    urgent = next(c for c in screen.filter_row.chips if c.severity is Severity.URGENT)
    urgent.setFocus()
    qtbot.keyClick(urgent, KEY.Key_Space)
    matrix = screen.matrix
    assert matrix is not None
    shown = {matrix.head(row).severity for row in range(matrix.shape[0])}
    assert shown == {Severity.URGENT}


def test_that_the_box_in_hand_stays_in_hand_when_the_order_changes(
    screen: FleetConditionScreen,
) -> None:
    screen.show_facts(fleet(30))
    matrix = screen.matrix
    assert matrix is not None
    kept = matrix.compartment(screen.table.current_box)
    screen.order.setCurrentIndex(screen.order.findData(RowOrder.SITE))
    assert matrix.compartment(screen.table.current_box) == kept
    assert screen.table.currentIndex().row() > 0


def test_that_a_click_on_a_column_orders_by_its_worst(screen: FleetConditionScreen) -> None:
    screen.show_facts(fleet(30))
    screen.table.kind_clicked.emit("hydraulic")
    matrix = screen.matrix
    assert matrix is not None
    assert matrix.order is RowOrder.COLUMN
    assert screen.order.currentText() == "By hydraulic system"


def test_that_copy_gives_the_selected_cells_as_lines(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(condition_columns(two_machines(), today=TODAY))
    screen.table.setFocus()
    screen.table.selectRow(0)
    control, shift = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier
    qtbot.keyClick(screen.table, KEY.Key_C, control)
    plain = QGuiApplication.clipboard().text()
    qtbot.keyClick(screen.table, KEY.Key_C, control | shift)
    headed = QGuiApplication.clipboard().text()
    assert plain == ("North pit\tEX-1\tExcavator\tNormal 10 d\tL Watch 10 d; R Urgent 10 d")
    assert headed == f"Site\tMachine\tKind\tEngine\tFinal drive\n{plain}"


def test_that_an_empty_database_offers_the_next_steps(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(condition_columns([], today=TODAY))
    buttons = {one.text(): one for one in screen.findChildren(QAbstractButton) if one.isVisible()}
    assert set(buttons) == {
        "Set up your own fleet",
        "Open the sample fleet",
        "Open another database",
    }
    with qtbot.waitSignal(screen.register_asked):
        buttons["Set up your own fleet"].click()
    with qtbot.waitSignal(screen.sample_asked):
        buttons["Open the sample fleet"].click()
    with qtbot.waitSignal(screen.database_asked):
        buttons["Open another database"].click()


def test_that_changes_of_results_load_the_fleet_again(
    qtbot: QtBot, screen: FleetConditionScreen, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "fleet_condition", lambda _place, *, today: fleet(7))
    with qtbot.waitSignal(screen.loaded) as told:
        screen.show_changes(Changes(subjects=frozenset({Subject.RESULTS})))
    assert told.args is not None
    assert len(told.args[0].machine_severity()) == 7


def test_that_moved_counts_from_what_was_on_screen_when_it_was_closed(
    qtbot: QtBot, background: Background, tmp_path: Path
) -> None:
    def made() -> FleetConditionScreen:
        one = FleetConditionScreen(
            workplace(), clock=Clock(demo_day=TODAY), theme=make_theme("light"),
            background=background, look_file=tmp_path / "look.json",
        )  # fmt: skip
        qtbot.addWidget(one)
        return one

    rows = two_machines()
    before = made()
    before.show_facts(condition_columns(rows, today=TODAY))
    before.keep_look()
    after = made()
    after.show_facts(condition_columns([rows[0]._replace(severity=2), *rows[1:]], today=TODAY))
    assert after.matrix is not None
    moved = [after.matrix.compartment(int(box)) for box in after.matrix.is_moved.nonzero()[0]]
    assert moved == [b"EX-1-engine"]


def test_that_every_control_has_a_name_to_be_heard(
    qtbot: QtBot, screen: FleetConditionScreen
) -> None:
    screen.show_facts(fleet(10))
    tree = MachineTreeScreen(workplace().catalogue, theme=make_theme("light"))
    qtbot.addWidget(tree)
    tree.show_facts(fleet(10))
    assert nameless(screen) == []
    assert nameless(tree) == []


def nameless(top: QWidget) -> list[str]:
    found = []
    for widget in top.findChildren(QWidget):
        is_control = isinstance(widget, QAbstractButton | QAbstractItemView | QLineEdit)
        if not is_control or widget.objectName().startswith("qt_"):
            continue
        if widget.parent().inherits("QLineEdit") or widget.inherits("QTableCornerButton"):
            continue
        if widget.window() is not top.window() or widget.inherits("QComboBoxListView"):
            continue  # the list of a combo box is named by its combo box
        heard = QAccessible.queryAccessibleInterface(widget)
        if heard is None or not heard.text(QAccessible.Text.Name):
            found.append(f"{type(widget).__name__} {widget.objectName()}")
    return found


def test_that_a_click_in_the_tree_opens_the_box(qtbot: QtBot) -> None:
    tree = MachineTreeScreen(workplace().catalogue, theme=make_theme("dark"))
    qtbot.addWidget(tree)
    tree.resize(240, 600)
    tree.show()
    tree.show_facts(condition_columns(two_machines(), today=TODAY))
    opened: list[bytes] = []
    tree.box_opened.connect(opened.append)
    tree.point_to(b"EX-2-right")
    qtbot.keyClick(tree.tree, KEY.Key_Return)
    assert opened == [b"EX-2-right"]
    tree.show_facts(condition_columns(two_machines(), today=TODAY))
    assert str(tree.tree.currentIndex().data()) == "Final drive, right"


def test_that_down_from_the_search_marks_the_first_machine_found_and_enter_opens_it(
    qtbot: QtBot,
) -> None:
    tree = MachineTreeScreen(workplace().catalogue, theme=make_theme("dark"))
    qtbot.addWidget(tree)
    tree.show()
    tree.show_facts(condition_columns(two_machines(), today=TODAY))
    tree.filter.setFocus()
    qtbot.keyClicks(tree.filter, "ex-2")
    qtbot.keyClick(tree.filter, KEY.Key_Down)
    assert tree.tree.currentIndex().data() == "EX-2"
    with qtbot.waitSignal(tree.box_opened) as told:
        qtbot.keyClick(tree.tree, KEY.Key_Return)
    assert told.args == [b"EX-2-right"]


def test_that_the_tree_says_when_no_machine_is_found(qtbot: QtBot) -> None:
    tree = MachineTreeScreen(workplace().catalogue, theme=make_theme("dark"))
    qtbot.addWidget(tree)
    tree.show()
    tree.show_facts(fleet(10))
    tree.filter.setFocus()
    qtbot.keyClicks(tree.filter, "zzz")
    qtbot.keyClick(tree.filter, KEY.Key_Return)
    assert tree.tree.model().rowCount() == 0
    assert tree._none_left.isVisible()
