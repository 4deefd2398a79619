from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.mapping_calls import MappingCalls
from fluiddesk.desktop.widgets.mapping_view import MappingView
from fluiddesk.desktop.widgets.reading_choices import ReadingBar
from fluiddesk.wiring import Clock
from tests.desktop.makers_fleet import workplace

WIDE = """A title over all;;;;
Bottle code;Report no;Iron (mg/kg);Copper ppm;Order
26K-01032-8;A-1;20,5;3;x
26K-01033-6;A-2;21,5;4;y
"""


class KeptCalls(MappingCalls):
    """Looks at files like the real ones, and notes what would be saved."""

    kept: ClassVar[list[tuple[Any, ...]]] = []

    def save(self, found: Any, mapped: Any, **told: Any) -> str:
        self.kept.append((mapped, told))
        return str(told["name"])


@pytest.fixture
def view(qtbot: QtBot) -> Iterator[MappingView]:
    background = Background()
    KeptCalls.kept.clear()
    made = MappingView(
        KeptCalls(place=workplace()),
        clock=Clock(),
        theme=make_theme("light"),
        background=background,
    )
    made.resize(1000, 640)
    qtbot.addWidget(made)
    made.show()
    yield made
    background.close()


def idle(view: MappingView, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not view._background.jobs)


def described(view: MappingView, qtbot: QtBot, folder: Path, text: str = WIDE) -> None:
    path = folder / "north.csv"
    path.write_text(text, encoding="cp1252")
    view.describe(path)
    idle(view, qtbot)


def row_of(view: MappingView, title: str) -> int:
    assert view.state is not None
    return next(at for at, row in enumerate(view.state.rows) if row.title == title)


def test_that_the_empty_view_says_what_describing_is_for(view: MappingView) -> None:
    assert view.drop_area.isVisible()
    assert view.head.text() == "Describe a file once; from then on its form is known."


def test_that_a_file_is_recognised_with_title_delimiter_and_decimal_mark(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path)
    assert view.head.text().startswith("north.csv: one sample a row, 2 results recognised")
    assert view.reading.header.text() == "2"
    assert view.reading.delimiter.currentText() == "semicolon"
    assert view.reading.mark.currentText() == "comma"
    assert view.raw.rowCount() == 2
    assert view.reason == ""
    # The first column nobody recognised is at hand.
    assert view.table.currentIndex().row() == row_of(view, "Order")


def test_that_a_rule_can_be_overruled_with_the_preview_following(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path)
    view.reading.header.setText("3")
    view.reading.header.editingFinished.emit()
    idle(view, qtbot)
    assert view.raw.rowCount() == 1
    assert view.reason
    assert not view.save_button.isEnabled()
    view.reading.delimiter.setCurrentIndex(view.reading.delimiter.findData(","))
    view.reading.delimiter.activated.emit(view.reading.delimiter.currentIndex())
    idle(view, qtbot)
    assert view.reading.choices().delimiter == ","
    assert view.reading.choices().header_row == 3


def test_that_the_form_is_guessed_and_can_be_changed(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    rows = "Bottle code;What;Found\n26K-01032-8;Iron;20\n26K-01032-8;Copper;3\n"
    described(view, qtbot, tmp_path, rows)
    assert view.head.text().startswith("north.csv: one sample a row")
    form = view.reading.form
    for data, words in (("value", "one value a row"), ("sample", "one sample a row")):
        form.setCurrentIndex(form.findData(data))
        form.activated.emit(form.currentIndex())
        idle(view, qtbot)
        assert view.head.text().startswith(f"north.csv: {words}")
        names = [row.title for row in view.state.rows] if view.state else []
        assert ("Iron" in names) == (data == "value")


def test_that_a_column_is_mapped_by_suggestion_by_choice_and_by_unit(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path)
    tester = QAbstractItemModelTester(view.columns)
    panel, state = view.panel, view.state
    assert state is not None
    order = row_of(view, "Order")
    panel.carries.setCurrentIndex(panel.carries.findText("Remark"))
    panel.carries.activated.emit(panel.carries.currentIndex())
    assert state.carries(order) == "Remark"
    view.table.choose(row_of(view, "Iron (mg/kg)"))
    qtbot.mouseClick(panel.suggestions[0], Qt.MouseButton.LeftButton)
    panel.unit.setEditText("no unit")
    panel.unit_field.editingFinished.emit()
    idle(view, qtbot)
    assert view.reason
    panel.unit.setCurrentIndex(panel.unit.findText("mg/kg"))
    panel.unit.activated.emit(panel.unit.currentIndex())
    idle(view, qtbot)
    assert view.reason == ""
    assert tester.model() is view.columns


def test_that_a_saved_description_hands_the_file_on(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path)
    view.name.setText("north_works")
    view.laboratory.setText("North works")
    with qtbot.waitSignal(view.saved) as heard:
        view.save()
    assert heard.args == [tmp_path / "north.csv", "north_works"]
    mapped, told = KeptCalls.kept[0]
    assert told["laboratory"] == "North works"
    assert {one.code for one in mapped if one.kind == "result"} == {"iron", "copper"}


def test_that_days_that_can_be_read_two_ways_are_decided_by_a_person(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    text = (
        WIDE.replace("Order", "Sampled on")
        .replace(";x", ";05/06/2026")
        .replace(";y", ";07/06/2026")
    )
    described(view, qtbot, tmp_path, text=text)
    assert "Day and month cannot be told apart" in view._notes.text()
    assert view.reading.date_forms == ()
    days = view.reading.days
    days.setCurrentIndex(days.findText("06/30/2026"))
    days.activated.emit(days.currentIndex())
    idle(view, qtbot)
    view.save()
    idle(view, qtbot)
    assert KeptCalls.kept[0][1]["date_forms"] == ("%m/%d/%Y",)


def test_that_a_name_no_layout_can_have_is_told_before_saving(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path)
    view.name.clear()
    qtbot.keyClicks(view.name, "North Works")
    idle(view, qtbot)
    assert "small letters" in view.reason
    assert not view.save_button.isEnabled()


def test_that_a_file_without_a_table_is_refused_on_the_page(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path, text="\n\n")
    assert "north.csv cannot be read so" in view.notice.text


def test_that_the_view_can_be_drawn_in_another_theme(
    view: MappingView, qtbot: QtBot, tmp_path: Path
) -> None:
    described(view, qtbot, tmp_path)
    view.apply_theme(make_theme("dark"))
    assert not view.grab().isNull()


def test_that_what_the_rules_found_is_not_cut_off(view: MappingView, qtbot: QtBot, tmp_path: Path):
    described(view, qtbot, tmp_path)
    bar = view.findChild(ReadingBar)
    assert isinstance(bar, ReadingBar)
    frame_and_arrow = 36
    for combo in (bar.form, bar.delimiter, bar.days):
        needed = combo.fontMetrics().horizontalAdvance(combo.currentText())
        assert combo.width() >= needed + frame_and_arrow, combo.accessibleName()
