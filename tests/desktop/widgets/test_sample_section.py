"""Samples side by side: limits of the day, moved values, and the sheets of each sample."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.compartment_history import CHANGE, FIRST_SAMPLE, SampleTable
from fluiddesk.desktop.widgets.sample_section import SampleSection
from tests.desktop.makers_history import make_history
from tests.desktop.makers_wear import make_full_history


@pytest.fixture
def section(qtbot: QtBot) -> SampleSection:
    made = SampleSection(make_theme("light"))
    qtbot.addWidget(made)
    made.resize(900, 500)
    QAbstractItemModelTester(made.model, QAbstractItemModelTester.FailureReportingMode.Fatal, made)
    made.show_history(make_full_history())
    return made


def test_that_both_issues_of_the_newest_report_are_told(section: SampleSection) -> None:
    lines = section.sheets.text().splitlines()
    assert "issue 2" in lines[0]
    assert "Changed: Iron 32 to 84" in lines[0]
    assert "replaced" in lines[1]


def test_that_moving_to_another_sample_tells_its_sheet(
    section: SampleSection, qtbot: QtBot
) -> None:
    section.table.setCurrentIndex(section.model.index(1, FIRST_SAMPLE))
    qtbot.keyClick(section.table, Qt.Key.Key_Right)
    before = make_full_history().samples[-2]
    assert f"report {before.report_number}" in section.sheets.text()


def test_that_a_click_on_the_head_tells_the_sheets(section: SampleSection) -> None:
    section.table.horizontalHeader().sectionClicked.emit(FIRST_SAMPLE + 3)
    assert make_full_history().samples[-4].bottle_code in section._head.text()


def test_that_a_box_without_samples_tells_nothing(section: SampleSection) -> None:
    section.show_history(make_history(samples=0))
    assert section.sheets.isHidden()


def test_that_a_value_that_moved_for_certain_carries_an_arrow() -> None:
    history = make_full_history()
    table = SampleTable(history)
    row = next(i for i, one in enumerate(table.rows) if one.title == "Iron")
    series = table.rows[row].series
    assert series is not None
    large = [
        int(np.sign(change)) if is_large else 0
        for change, is_large in zip(series.changes, series.is_large_change, strict=True)
    ]
    shown = [table.cell(row, FIRST_SAMPLE + i).moved for i in range(len(large))]
    assert shown == large[::-1]
    assert 1 in shown


def test_that_a_value_is_hovered_with_the_limits_of_its_own_day() -> None:
    table = SampleTable(make_full_history())
    row = next(i for i, one in enumerate(table.rows) if one.title == "Iron")
    newest = table.tip(row, FIRST_SAMPLE)
    oldest = table.tip(row, table.column_count - 1)
    assert "Watch 60" in newest
    assert "Watch 84" in oldest


def test_that_the_sign_of_a_large_change_has_room(section: SampleSection) -> None:
    section.show_history(make_full_history(seed=3))
    table, metrics = section.model.table, QFontMetrics(make_theme("light").small)
    longest = max((table.cell(row, CHANGE).text for row in range(len(table.rows))), key=len)
    assert section.table.columnWidth(CHANGE) >= metrics.horizontalAdvance(longest) + 2 * 8
