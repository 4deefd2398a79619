"""The reckoner's state: what is typed, where it stands, and what is copied."""

import pytest

from fluiddesk.desktop.viewstate.reckoner import ReckonerState, Standing
from fluiddesk.services.reckoner.reckonings import RECKONINGS


@pytest.fixture
def state() -> ReckonerState:
    made = ReckonerState()
    made.choose([one.name for one in RECKONINGS].index("vi"))
    return made


def test_that_nothing_typed_waits_without_complaint(state: ReckonerState) -> None:
    shown = state.shown()
    assert shown.standing is Standing.EMPTY
    assert (shown.headline, shown.lines, shown.notes) == ("", (), ())
    assert state.answer() is None
    assert state.answer_to_copy() == ""


def test_that_half_of_the_figures_names_what_is_missing(state: ReckonerState) -> None:
    state.enter("kv40", "73.3")
    shown = state.shown()
    assert shown.standing is Standing.WAITING
    assert "Viscosity at 100 °C is missing" in shown.sentence


def test_that_a_figure_that_cannot_be_is_refused_in_its_words(state: ReckonerState) -> None:
    state.enter("kv40", "73.3")
    state.enter("kv100", "-8")
    shown = state.shown()
    assert (shown.standing, shown.headline) == (Standing.REFUSED, "No answer")
    assert "must be above 0" in shown.sentence


def test_that_the_answer_stands_as_soon_as_it_can(state: ReckonerState) -> None:
    state.enter("kv40", "73.3")
    state.enter("kv100", "8.86")
    shown = state.shown()
    assert (shown.standing, shown.headline) == (Standing.ANSWERED, "Viscosity index 92")
    assert shown.sentence == "73.3 mm²/s at 40 °C and 8.86 at 100 °C make 92."
    assert [caption for caption, _ in shown.notes] == ["Method", "Source", "Status", "Steps"]
    assert dict(shown.notes)["Status"] == "Published"
    assert shown.lines == ()


@pytest.mark.parametrize("number", range(len(RECKONINGS)))
def test_that_every_example_is_answered_with_method_and_source(number: int) -> None:
    state = ReckonerState()
    state.choose(number)
    state.fill_example()
    shown = state.shown()
    assert shown.standing is Standing.ANSWERED
    assert {"Method", "Source", "Status"} <= {caption for caption, _ in shown.notes}
    assert "mm2/s" not in f"{shown}"


def test_that_a_number_stands_apart_from_its_unit_and_a_word_does_not() -> None:
    state = ReckonerState()
    state.choose([one.name for one in RECKONINGS].index("hours"))
    state.fill_example()
    lines = {line.label: line for line in state.shown().lines}
    assert not lines["Due on"].is_number
    assert (lines["Hours left"].text, lines["Hours left"].unit) == ("70", "h")
    assert lines["Hours left"].is_number


def test_that_what_was_typed_is_kept_while_another_is_on_screen(state: ReckonerState) -> None:
    state.enter("kv40", "73.3")
    chosen = state.chosen
    state.choose(0)
    assert state.is_empty
    state.choose(99)
    assert state.chosen == 0
    state.choose(chosen)
    assert state.typed == {"kv40": "73.3"}
    state.clear()
    assert state.is_empty


def test_that_a_copy_holds_figures_answer_method_and_source(state: ReckonerState) -> None:
    state.fill_example()
    text = state.answer_to_copy()
    assert text.startswith("Viscosity index\nViscosity at 40 °C: 73.30 mm2/s\n")
    assert "\nViscosity index 92\n" in text
    assert "\nMethod: ASTM D2270" in text
    assert "\nSource: ASTM D2270" in text
