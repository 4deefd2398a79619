"""The compartment page: what the planner does and sees."""

from collections.abc import Iterator
from dataclasses import replace
from typing import cast

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.screens import compartment_history as page
from fluiddesk.desktop.screens.compartment_history import CompartmentHistoryScreen
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets import event_logging
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock
from tests.desktop.makers_history import BOX, TODAY, make_history
from tests.desktop.makers_wear import make_full_history

OTHER = CompartmentId(b"another box 1234")


@pytest.fixture
def background(qtbot: QtBot) -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def screen(background: Background, qtbot: QtBot) -> CompartmentHistoryScreen:
    made = CompartmentHistoryScreen(
        cast("Workplace", None),
        clock=Clock(demo_day=TODAY),
        theme=make_theme("light"),
        background=background,
    )
    qtbot.addWidget(made)
    made.resize(1040, 740)
    return made


def words(screen: CompartmentHistoryScreen) -> str:
    """Everything the page says in labels that are not hidden."""
    shown = [label for label in screen.findChildren(QLabel) if not label.isHidden()]
    return "\n".join(label.text() for label in shown)


def test_that_the_page_says_what_to_do_while_no_box_is_chosen(
    screen: CompartmentHistoryScreen,
) -> None:
    assert "No compartment chosen" in words(screen)
    assert "Choose a compartment in the tree" in words(screen)


def test_that_verdict_trust_due_day_and_change_stand_at_the_top(
    screen: CompartmentHistoryScreen,
) -> None:
    history = make_history()
    screen.show_facts(history)
    told = words(screen)
    assert screen.sentence.text() == history.sentence
    assert "Trust good" in told
    assert "Next sample due 2026-12-02 (in 12 days" in told
    assert history.changed_since in told
    assert "EX-104" in told


def test_that_every_reason_comes_with_its_source_and_who_set_it(
    screen: CompartmentHistoryScreen,
) -> None:
    screen.show_facts(make_history())
    told = words(screen)
    assert "Iron above the Watch limit" in told
    assert "Set for engine by starter set. Source: common practice, no source" in told


def test_that_a_normal_box_says_so_in_one_line(screen: CompartmentHistoryScreen) -> None:
    screen.show_facts(make_history(fault=False))
    assert "No limit was reached by the last sample." in words(screen)


def test_that_a_box_without_samples_says_what_to_do_next(screen: CompartmentHistoryScreen) -> None:
    screen.show_facts(make_history(samples=0))
    assert "Take its first sample" in words(screen)
    screen.show_facts(make_history())
    assert "Take its first sample" not in words(screen)


@pytest.mark.parametrize("samples", [0, 1, 40, 200])
def test_that_the_page_is_drawn_at_once_off_screen(
    screen: CompartmentHistoryScreen, samples: int
) -> None:
    screen.show_facts(make_history(samples=samples))
    image = screen.grab().toImage()
    assert (image.width(), image.height()) == (1040, 740)
    ground = image.pixelColor(1, 1)
    assert any(image.pixelColor(x, 45) != ground for x in range(60, 400))


def test_that_another_box_is_read_in_two_steps_and_the_same_one_in_one(
    screen: CompartmentHistoryScreen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[CompartmentId, bool]] = []
    answers: list[str] = []

    def read(
        _place: Workplace, compartment: CompartmentId, *, today: object, in_full: bool
    ) -> object:
        asked.append((compartment, in_full))
        return replace(make_full_history(), compartment=compartment, is_in_full=in_full)

    monkeypatch.setattr(page, "compartment_history", read)
    screen.loaded.connect(lambda _history: answers.append(screen.head.strip.words.answer))
    screen.open_compartment(OTHER)
    qtbot.waitUntil(lambda: len(answers) == 2)
    assert asked == [(OTHER, False), (OTHER, True)]
    assert answers == ["\u2026", "118 to 386 h"]
    screen.refresh()
    qtbot.waitUntil(lambda: len(answers) == 3)
    assert asked[2:] == [(OTHER, True)]


def test_that_only_changes_of_this_box_make_it_read_again(
    screen: CompartmentHistoryScreen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "compartment_history", lambda *_, **__: make_history(samples=2))
    screen.show_facts(make_history())
    subjects = frozenset({Subject.RESULTS})
    screen.show_changes(Changes(subjects=subjects, compartments=frozenset({OTHER})))
    assert screen._background.jobs == ()
    with qtbot.waitSignal(screen.loaded):
        screen.show_changes(Changes(subjects=subjects, compartments=frozenset({BOX})))
    assert screen.history is not None
    assert len(screen.history.samples) == 2


def test_that_a_change_before_any_box_was_chosen_reads_nothing(
    screen: CompartmentHistoryScreen,
) -> None:
    screen.show_changes(Changes(subjects=frozenset({Subject.RESULTS})))
    assert screen._background.jobs == ()


def test_that_the_theme_can_change_while_a_box_is_on_show(screen: CompartmentHistoryScreen) -> None:
    screen.show_facts(make_history())
    before = screen.grab().toImage()
    screen.apply_theme(make_theme("dark"))
    assert screen.grab().toImage() != before


def test_that_charts_and_table_can_be_reached_by_keyboard(screen: CompartmentHistoryScreen) -> None:
    screen.show_facts(make_history())
    for part in (screen.panels.grid, screen.wear.panels, screen.table):
        assert part.focusPolicy() & Qt.FocusPolicy.TabFocus
        assert part.accessibleName()


def test_that_hours_left_stand_under_the_sentence(screen: CompartmentHistoryScreen) -> None:
    screen.show_facts(make_full_history())
    assert not screen.head.strip.isHidden()
    assert screen.head.strip.words.answer == "118 to 386 h"


def test_that_a_box_without_samples_has_no_sections_but_can_log_an_event(
    screen: CompartmentHistoryScreen,
) -> None:
    screen.show_facts(make_history(samples=0))
    assert screen.bar.button("curves").isHidden()
    assert screen.head.strip.isHidden()
    assert not screen.log_button.isHidden()


@pytest.mark.parametrize("section", ["curves", "wear", "hours", "samples"])
def test_that_each_section_shows_the_box_that_is_open(
    screen: CompartmentHistoryScreen, section: str
) -> None:
    screen.show_facts(make_full_history())
    screen.bar.button(section).click()
    assert screen.section == section
    assert not screen.grab().isNull()
    assert screen.panels.switches.isHidden() == (section != "curves")


def test_that_a_section_opened_later_shows_the_newest_box(
    screen: CompartmentHistoryScreen,
) -> None:
    screen.show_facts(make_full_history())
    screen.show_section("samples")
    screen.show_facts(make_full_history(samples=3))
    screen.show_section("wear")
    screen.show_section("samples")
    assert screen.samples.model.columnCount() == 3 + 3
    assert len(screen.wear.panels.metals) == 4


def test_that_alt_and_a_figure_choose_a_section(
    screen: CompartmentHistoryScreen, qtbot: QtBot
) -> None:
    screen.show_facts(make_full_history())
    with qtbot.waitActive(screen):
        screen.show()
        screen.activateWindow()
    screen.panels.grid.setFocus()
    qtbot.keyClick(screen.panels.grid, Qt.Key.Key_3, Qt.KeyboardModifier.AltModifier)
    assert screen.section == "hours"


def test_that_what_speaks_for_and_against_the_verdict_is_told(
    screen: CompartmentHistoryScreen,
) -> None:
    screen.show_facts(make_full_history())
    told = words(screen)
    assert "Speaks for it" in told
    assert "Sodium and potassium are level: no coolant." in told


def test_that_ctrl_e_opens_the_form_of_the_box_on_show(
    screen: CompartmentHistoryScreen, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(event_logging, "fluids_offered", lambda _place: ())
    screen.show_facts(make_full_history())
    screen.log_button.click()
    assert not screen.event_form.isHidden()
    assert screen.log_button.isHidden()
    qtbot.keyClick(screen.event_form, Qt.Key.Key_Escape)
    assert screen.event_form.isHidden()
    assert not screen.log_button.isHidden()


def test_that_reading_the_same_box_again_keeps_the_stretch_on_show(
    screen: CompartmentHistoryScreen,
) -> None:
    screen.show_facts(make_full_history())
    screen.panels.shared.show_last_fill()
    seen = screen.panels.shared.view.span
    screen.show_facts(make_full_history())
    assert screen.panels.shared.view.span == seen
