"""The section of the chance to catch: groups, what is asked, boxes; by mouse and by keyboard."""

from collections.abc import Iterator

import pytest
from PySide6.QtCore import QObject, Qt
from PySide6.QtTest import QAbstractItemModelTester
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.catch_chances import ChanceBoxModel, chance_model
from fluiddesk.desktop.screens.sampling import SamplingScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.catch_chances import AnswerWish, BoxColumn, IntervalWish
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.widgets.chance_view import ChanceView
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.catch_chances.facts import ChanceColumns, KnownFrom
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.wiring import Clock
from tests.fleets import LAST_DAY, Fleet, desk_home, fleet, fleet_file, small_fleet_file
from tests.services.catch_chances.makers import make_columns, make_lane, make_row

__all__ = ["desk_home", "fleet", "fleet_file", "small_fleet_file"]
STRICT = QAbstractItemModelTester.FailureReportingMode.Fatal
LONGEST_MS = 60_000
ROWS = (
    make_row(1),
    make_row(2, site="Pit", interval_hours=500.0),
    make_row(3, kind="hydraulic"),
    make_row(4, interval_hours=None),
)


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(qtbot: QtBot, fleet: Fleet, background: Background) -> SamplingScreen:
    made = SamplingScreen(
        fleet.place,
        clock=Clock(demo_day=LAST_DAY),
        theme=make_theme("light"),
        background=background,
    )
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.show()
    qtbot.waitExposed(made)
    made.refresh()
    settle(qtbot, background)
    return made


@pytest.fixture
def view(qtbot: QtBot, screen: SamplingScreen, background: Background) -> ChanceView:
    """The section with boxes made by hand."""
    screen.show_section("chance")
    settle(qtbot, background)
    screen.chance.show_columns(make_columns(ROWS))
    settle(qtbot, background)
    return screen.chance


def settle(qtbot: QtBot, background: Background) -> None:
    qtbot.waitUntil(lambda: not background.jobs, timeout=LONGEST_MS)


def texts(view: ChanceView, column: int) -> list[str]:
    model = view.table.model()
    return [model.index(row, column).data() for row in range(model.rowCount())]


def boxes(view: ChanceView, column: int) -> list[str]:
    model = view.box_table.model()
    return [model.index(row, column).data() for row in range(model.rowCount())]


def test_that_the_section_opens_on_the_fleet_with_the_table_under_the_keyboard(
    qtbot: QtBot, screen: SamplingScreen, background: Background
) -> None:
    screen.show_section("chance")
    settle(qtbot, background)
    view = screen.chance
    assert view.shown is not None
    assert view.table.hasFocus()
    assert view.sentence.startswith("A fault is told in time with a chance of")
    assert texts(view, 0)[0] == "All"
    assert view.comparison.startswith("Now ")
    assert "common practice, no source" in view.note


def test_that_groups_are_told_by_what_is_pressed(view: ChanceView) -> None:
    assert texts(view, 0) == ["All", "Engine", "Hydraulic system"]
    view.by.button("site").click()
    assert texts(view, 0) == ["All", "Pit", "Quarry"]
    assert texts(view, 4) == ["33", "20", "40"]
    view.by.button("lane").click()
    assert texts(view, 0) == ["All", "Quarry, Lab"]


def test_that_a_group_chosen_shows_its_boxes_and_its_own_comparison(
    view: ChanceView, qtbot: QtBot, background: Background
) -> None:
    view.by.button("site").click()
    settle(qtbot, background)
    whole = view.comparison
    view.table.selectRow(1)
    settle(qtbot, background)
    assert boxes(view, BoxColumn.MACHINE) == ["EX-2"]
    assert view.comparison != whole
    assert view.comparison.startswith("Now 20 %.")
    view.by.button("kind").click()
    assert len(boxes(view, BoxColumn.MACHINE)) == len(ROWS)


def test_that_what_is_asked_is_told_at_once(view: ChanceView) -> None:
    assert view.table.isColumnHidden(8)
    view.wishes.days.setText("3")
    view.wishes.wish(IntervalWish.AS_NOW, AnswerWish.SOONER)
    assert not view.table.isColumnHidden(8)
    assert texts(view, 8)[0] == "53"
    assert "As asked: 53 %" in view.sentence
    view.wishes.days.setText("5")
    assert texts(view, 8)[0] == "67"
    view.wishes.back.click()
    assert view.table.isColumnHidden(8)
    assert view.wishes.choices == (IntervalWish.AS_NOW, AnswerWish.AS_NOW)
    assert not view.wishes.back.isEnabled()


def test_that_hours_are_asked_about_by_typing_them(view: ChanceView, qtbot: QtBot) -> None:
    assert not view.wishes.hours.isVisible()
    view.wishes.interval.setFocus()
    qtbot.keyClick(view.wishes.interval, Qt.Key.Key_End)
    assert view.wishes.choices[0] is IntervalWish.HOURS
    view.wishes.interval.activated.emit(view.wishes.interval.currentIndex())
    view.wishes.hours.setFocus()
    view.wishes.hours.selectAll()
    qtbot.keyClicks(view.wishes.hours, "125")
    assert texts(view, 8)[0] == "80"


def test_that_a_figure_that_cannot_be_is_told_and_the_last_answer_stays(view: ChanceView) -> None:
    view.wishes.wish(IntervalWish.HOURS, AnswerWish.AS_NOW)
    before = texts(view, 8)
    view.wishes.hours.setText("soon")
    assert view.sentence == '"soon" is no number of hours.'
    assert texts(view, 8) == before
    view.wishes.hours.setText("250")
    assert view.sentence.startswith("A fault is told in time")


def test_that_a_box_opens_by_enter(view: ChanceView, qtbot: QtBot) -> None:
    opened: list[object] = []
    view.box_opened.connect(opened.append)
    view.box_table.setFocus()
    view.box_table.selectRow(0)
    qtbot.keyClick(view.box_table, Qt.Key.Key_Return)
    assert opened == [ROWS[1].compartment_id]


def test_that_boxes_are_sorted_by_a_column_and_stay_so(view: ChanceView) -> None:
    view.box_table.sortByColumn(BoxColumn.MACHINE, Qt.SortOrder.DescendingOrder)
    assert boxes(view, BoxColumn.MACHINE) == ["EX-4", "EX-3", "EX-2", "EX-1"]
    view.wishes.wish(IntervalWish.HALF, AnswerWish.AS_NOW)
    assert boxes(view, BoxColumn.MACHINE)[0] == "EX-4"


def test_that_many_lanes_not_measured_are_counted(
    view: ChanceView, qtbot: QtBot, background: Background
) -> None:
    lanes = tuple(
        make_lane(site=f"S{n}", known_from=KnownFrom.RECORD, about="few.") for n in range(5)
    )
    rows = [make_row(n, site=f"S{n}") for n in range(5)]
    view.show_columns(make_columns(rows, lanes=lanes, lane=range(5)))
    settle(qtbot, background)
    assert "S0, Lab: few." in view.note
    assert "And 2 more lanes." in view.note


def test_that_changes_elsewhere_read_the_chances_anew(
    view: ChanceView, screen: SamplingScreen, qtbot: QtBot, background: Background
) -> None:
    assert texts(view, 1)[0] == "3"
    screen.show_changes(Changes(subjects=frozenset({Subject.LIMITS})))
    settle(qtbot, background)
    assert texts(view, 1)[0] != "3"


def test_that_a_refused_reading_is_told(
    view: ChanceView, screen: SamplingScreen, qtbot: QtBot, background: Background,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    def refuse(self: SamplingCalls, *, today: object) -> ChanceColumns:
        raise OperatorError("The server does not answer. Try again.")

    monkeypatch.setattr(SamplingCalls, "chances", refuse)
    view.forget()
    settle(qtbot, background)
    assert "The server does not answer" in screen.notice.text


def test_that_no_boxes_leave_an_empty_section(
    view: ChanceView, qtbot: QtBot, background: Background
) -> None:
    view.show_columns(make_columns(()))
    settle(qtbot, background)
    assert view.sentence.startswith("No box has an interval")
    assert view.comparison == ""
    assert boxes(view, 0) == []


def test_that_the_section_is_drawn_in_both_themes(view: ChanceView) -> None:
    light = view.grab().toImage()
    view.apply_theme(make_theme("dark"))
    assert view.grab().toImage() != light


def test_that_the_tables_obey_the_rules_of_qt(qtbot: QtBot) -> None:
    theme, keeper = make_theme("light"), QObject()
    groups, model = chance_model(theme=theme, parent=keeper), ChanceBoxModel(theme=theme)
    for one in (groups, model):
        QAbstractItemModelTester(one, STRICT)
    groups.show([(b"", tuple("abcdefghijk"))])
    assert groups.columnCount() == 11
    assert model.rowCount() == 0
    assert model.box(0) is None
    assert model.cell(0, 0) == model.tip(0, 0) == ""
    model.sort(-1)


def test_that_a_wish_survives_a_new_reading(view: ChanceView) -> None:
    view.wishes.wish(IntervalWish.HALF, AnswerWish.AS_NOW)
    changed = make_columns([row._replace(interval_hours=300.0) for row in ROWS])
    view.show_columns(changed)
    assert not view.table.isColumnHidden(8)
