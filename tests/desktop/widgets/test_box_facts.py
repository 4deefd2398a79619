"""The column beside the charts: reasons, and what was done to the box."""

from dataclasses import replace

import pytest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets.box_facts import BoxFactsColumn, EventList, SeverityMark
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import Argument
from tests.desktop.makers_history import make_history
from tests.desktop.makers_wear import make_full_history


@pytest.fixture
def facts(qtbot: QtBot) -> BoxFactsColumn:
    made = BoxFactsColumn(make_theme("light"))
    qtbot.addWidget(made)
    made.resize(276, 500)
    return made


def words(facts: BoxFactsColumn) -> list[str]:
    return [label.text() for label in facts.widget().findChildren(QLabel)]


def test_that_the_latest_events_are_told_newest_first(facts: BoxFactsColumn) -> None:
    history = make_history()
    facts.show_history(history)
    events = facts.widget().findChild(EventList)
    assert isinstance(events, EventList)
    lines = events.accessibleName().splitlines()
    assert len(lines) == 12
    assert lines[0].startswith(history.events[-1].happened_on.isoformat())
    assert "Fluid change, 38 L" in lines[0]


def test_that_a_box_nothing_was_done_to_says_so(facts: BoxFactsColumn) -> None:
    facts.show_history(replace(make_history(), events=()))
    assert "No fluid change or other work is recorded." in words(facts)


def test_that_no_verdict_is_not_told_as_normal(facts: BoxFactsColumn) -> None:
    history = replace(make_history(fault=False), reasons=(), severity=Severity.NO_VERDICT)
    facts.show_history(history)
    assert "No limit could be held against the last sample." in words(facts)


def test_that_another_box_replaces_the_first(facts: BoxFactsColumn) -> None:
    facts.show_history(make_history())
    assert "Iron above the Watch limit" in words(facts)
    facts.show_history(make_history(fault=False))
    assert "Iron above the Watch limit" not in words(facts)


def test_that_a_mark_in_doubt_takes_the_room_of_its_question_mark(qtbot: QtBot) -> None:
    mark = SeverityMark(make_theme("light"), 18)
    qtbot.addWidget(mark)
    mark.show_severity(Severity.ACT)
    plain = mark.width()
    mark.show_severity(Severity.ACT, Trust.SUSPECT)
    assert mark.width() > plain
    assert mark.accessibleName() == "Act"


def test_that_reasons_for_and_against_and_findings_are_told(facts: BoxFactsColumn) -> None:
    history = make_full_history()
    facts.show_history(history)
    told = "\n".join(words(facts))
    assert "Speaks for it" in told
    assert "Against it" in told
    found = history.findings[0].found_on.isoformat()
    assert f"{found} air intake hose: confirmed, cracked at the clamp" in told


def test_that_an_argument_that_repeats_a_reason_is_left_out(facts: BoxFactsColumn) -> None:
    history = make_full_history()
    title = history.reasons[0].title
    twice = Argument(is_for=True, text=f"{title}: 88 mg/kg")
    facts.show_history(replace(history, arguments=(twice,)))
    assert "Speaks for it" not in words(facts)
    assert words(facts).count(title) == 1
