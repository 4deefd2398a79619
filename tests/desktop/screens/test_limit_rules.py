from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens import limit_rules
from fluiddesk.desktop.screens.limit_rules import LimitRulesScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.limit_rules import LimitColumn
from fluiddesk.domain.errors import NotFoundError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules import LimitsShown
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock
from tests.desktop.makers_results import make_limit, make_limits_shown, starter_limits_shown

STARTER = starter_limits_shown()


@pytest.fixture
def screen(qtbot: QtBot) -> Iterator[LimitRulesScreen]:
    background = Background()
    made = LimitRulesScreen(None, clock=Clock(), theme=make_theme("light"), background=background)
    made.resize(1040, 740)
    qtbot.addWidget(made)
    made.show()
    yield made
    background.close()


def column(screen: LimitRulesScreen, number: LimitColumn) -> list[str]:
    model = screen.limit_table.model()
    return [model.index(row, number).data() for row in range(model.rowCount())]


def test_that_the_page_opens_on_the_first_scope_with_a_limit_chosen(
    screen: LimitRulesScreen,
) -> None:
    screen.show_facts(STARTER)
    assert screen.sentence == STARTER.sentence
    assert screen.scope_table.currentIndex().data() == "Engine"
    assert screen.details.text.startswith("Kinematic viscosity at 100 °C (KV100)")
    assert "Source: common practice, no source" in screen.details.text


def test_that_choosing_a_scope_by_key_shows_its_limits(
    screen: LimitRulesScreen, qtbot: QtBot
) -> None:
    screen.show_facts(STARTER)
    qtbot.keyClick(screen.scope_table, Qt.Key.Key_Down)
    assert screen.scope_table.currentIndex().data() == "Engine cooling system"
    assert "pH" in column(screen, LimitColumn.ANALYTE)
    assert "Holds for: Engine cooling system" in screen.details.text


def test_that_the_arrow_to_another_limit_shows_its_details(
    screen: LimitRulesScreen, qtbot: QtBot
) -> None:
    screen.show_facts(STARTER)
    qtbot.keyClick(screen.limit_table, Qt.Key.Key_Down)
    assert "worse when it rises" in screen.details.text


def test_that_the_filter_keeps_limits_and_counts_in_step(
    screen: LimitRulesScreen, qtbot: QtBot
) -> None:
    screen.show_facts(STARTER)
    qtbot.keyClick(screen.limit_table, Qt.Key.Key_F, Qt.KeyboardModifier.ControlModifier)
    assert screen.filter_box.hasFocus()
    qtbot.keyClicks(screen.filter_box, "iron")
    assert set(column(screen, LimitColumn.SYMBOL)) <= {"Fe", ""}
    assert screen.details.text.startswith("Iron (Fe)")
    row = screen.scope_table.currentIndex().row()
    shown = [text for text in column(screen, LimitColumn.SYMBOL) if text]
    assert screen.scope_table.model().index(row, 1).data() == str(len(shown))


def test_that_words_no_limit_holds_are_told(screen: LimitRulesScreen) -> None:
    screen.show_facts(STARTER)
    screen.filter_box.setText("no such word")
    assert screen.details.text == "No limit in this scope holds these words."


def test_that_limits_only_kept_are_written_faint_under_their_own_heading(
    screen: LimitRulesScreen,
) -> None:
    screen.show_facts(STARTER)
    screen.filter_box.setText("rate per")
    model = screen.limit_table.model()
    assert column(screen, LimitColumn.ANALYTE)[0] == "Kept, not yet used in verdicts"
    ink = model.index(1, LimitColumn.WATCH).data(Qt.ItemDataRole.ForegroundRole)
    assert ink.name().upper() == make_theme("light").colors.faint_ink
    assert "In use: Kept, not yet used in verdicts." in screen.details.text


def test_that_scope_and_filter_hold_when_the_set_is_read_again(screen: LimitRulesScreen) -> None:
    screen.show_facts(STARTER)
    screen.choose_scope("Hydraulic system")
    screen.filter_box.setText("iron")
    screen.show_facts(starter_limits_shown())
    assert screen.scope_table.currentIndex().data() == "Hydraulic system"
    assert screen.details.text.startswith("Iron (Fe)")


def test_that_the_page_warns_that_starter_limits_are_a_start(screen: LimitRulesScreen) -> None:
    assert "manual" in screen._caution.text()
    assert "a named person decides" in screen._caution.text()


def test_that_the_set_in_force_is_read_in_the_background(
    screen: LimitRulesScreen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    facts = make_limits_shown(make_limit())
    monkeypatch.setattr(limit_rules, "limits_shown", lambda _place, *, today: facts)
    screen.show_changes(Changes(subjects=frozenset({Subject.LIMITS})))
    qtbot.waitUntil(lambda: screen.sentence == facts.sentence)
    assert "Iron" in column(screen, LimitColumn.ANALYTE)


def test_that_no_set_in_force_is_told_on_the_page(
    screen: LimitRulesScreen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(_place: Workplace, *, today: object) -> LimitsShown:
        raise NotFoundError("No limit set is in force. Put one in force first.")

    monkeypatch.setattr(limit_rules, "limits_shown", refuse)
    screen.refresh()
    qtbot.waitUntil(lambda: bool(screen._notice.text))
    assert "Put one in force first." in screen._notice.text


@pytest.mark.parametrize("name", ["light", "dark"])
def test_that_the_page_can_be_drawn_in_either_theme(screen: LimitRulesScreen, name: str) -> None:
    screen.show_facts(STARTER)
    screen.apply_theme(make_theme(name))
    screen.resize(1640, 1000)
    assert not screen.limit_table.isColumnHidden(LimitColumn.BANDS)
    assert not screen.grab().isNull()
