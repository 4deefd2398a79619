"""Samples outside the plan on the page: listed, looked at, registered, and never lost unsaved."""

from collections.abc import Iterator

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.outside_plan import FluidValueModel, OutsideModel
from fluiddesk.desktop.models.register import TrailModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.viewstate.outside_plan import OutsideList
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.widgets.file_asking import LastFolders
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.outside_view import OutsideTables, OutsideView
from fluiddesk.desktop.widgets.page_tools import PageTools
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.papers.facts import OwnerKind, PaperOwner
from fluiddesk.wiring import Clock
from tests.desktop.makers_outside import (
    LABEL,
    NEW_FLUID,
    NOTHING,
    TWIN,
    WALK_UP,
    OutsideDouble,
    PapersDouble,
)
from tests.desktop.makers_register import CATALOGUE, TODAY, make_register

OFFERS = Offers(facts=make_register(3), catalogue=CATALOGUE)


@pytest.fixture
def calls() -> OutsideDouble:
    return OutsideDouble()


@pytest.fixture
def kept() -> PapersDouble:
    return PapersDouble()


@pytest.fixture
def background() -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def view(
    qtbot: QtBot, calls: OutsideDouble, kept: PapersDouble, background: Background
) -> OutsideView:
    theme = make_theme("light")
    lines, values = OutsideModel(theme=theme), FluidValueModel(theme=theme)
    notice = InlineNotice(theme)
    papers = TrailModel(theme=theme)
    made = OutsideView(
        OutsideTables(lines, lines, values, values, papers, papers),
        calls=calls,  # type: ignore[arg-type]
        papers=kept,  # type: ignore[arg-type]
        tools=PageTools(Clock(demo_day=TODAY), theme, background, notice, LastFolders(None)),
    )
    for model in (lines, values, papers, notice):
        model.setParent(made)  # type: ignore[call-overload]
    made.resize(1012, 640)
    qtbot.addWidget(made)
    made.show()
    made.offer(OFFERS)
    made.refresh()
    settle(qtbot, background)
    return made


def settle(qtbot: QtBot, background: Background) -> None:
    qtbot.waitUntil(lambda: not background.jobs)


def line(view: OutsideView, key: str) -> QLineEdit:
    editor = view.panel.editor.editor(key)
    assert isinstance(editor, QLineEdit)
    return editor


def said(view: OutsideView) -> str:
    return view._notice.text


def press(view: OutsideView, words: str) -> None:
    next(one for one in view.panel.actions_shown if one.text() == words).click()


def test_that_the_newest_bottle_is_shown_with_what_can_be_done(view: OutsideView) -> None:
    assert view.panel.title.text() == f"Bottle {WALK_UP.bottle_code}"
    assert ("Note", "smelled burnt") in view.panel.told
    with_words = [one.text() for one in view.panel.actions_shown]
    assert with_words[0] == "Open the compartment"
    assert [view.chips.button(one.value).text() for one in OutsideList] == [
        "Compartments 2", "Fluids 1", "Spare labels 1",
    ]  # fmt: skip


def test_that_enter_opens_the_compartment_of_a_bottle(view: OutsideView, qtbot: QtBot) -> None:
    with qtbot.waitSignal(view.compartment_opened) as told:
        qtbot.keyClick(view.table, Qt.Key.Key_Return)
    assert told.args == [WALK_UP.compartment_id]


def test_that_a_walk_up_is_typed_picked_and_registered(
    view: OutsideView, qtbot: QtBot, calls: OutsideDouble, background: Background
) -> None:
    view.buttons["walk_up"].click()
    assert line(view, "bottle_code").hasFocus()
    qtbot.keyClicks(line(view, "bottle_code"), "26w00001a")
    assert view.panel.editor._why.text() == "Still needed: drawn from"
    offered = line(view, "compartment").completer()
    assert offered is not None
    offered.setCompletionPrefix("02, eng")
    assert offered.currentCompletion() == "HT-02, Engine"
    line(view, "compartment").setText("HT-02, Engine")
    with qtbot.waitSignal(view.changed):
        view.panel.editor.save_button.click()
    settle(qtbot, background)
    [(key, values)] = calls.asked
    box = next(one for one in OFFERS.facts.compartments if one.machine_code == "HT-02")
    assert (key, values["compartment"]) == ("walk_up", bytes(box.id).hex())
    assert said(view) == "Bottle 26W-00002-8 is registered."
    assert view.panel.title.text() == f"Bottle {TWIN.bottle_code}"


def test_that_a_refusal_keeps_what_was_written(
    view: OutsideView, qtbot: QtBot, calls: OutsideDouble, background: Background
) -> None:
    calls.error = OperatorError("Bottle 26W-00001-A is a fluid sample.")
    view.begin("duplicate", {"first": WALK_UP.bottle_code})
    line(view, "bottle_code").setText("26W-00009-X")
    view.panel.editor.save()
    settle(qtbot, background)
    assert "is a fluid sample" in said(view)
    assert line(view, "bottle_code").text() == "26W-00009-X"


def test_that_an_unsaved_form_is_not_left_without_asking(view: OutsideView, qtbot: QtBot) -> None:
    press(view, "Register a duplicate")
    assert line(view, "first").text() == WALK_UP.bottle_code
    line(view, "bottle_code").setText("26W")
    view.chips.button("fluids").click()
    assert said(view) == "Duplicate is not saved Written: Second bottle."
    assert view.panel.is_entering
    view._notice.actions_shown[0].click()
    assert view.panel.title.text() == f"New fluid, bottle {NEW_FLUID.bottle_code}"


def test_that_an_untouched_form_stays_while_the_lists_are_read(
    view: OutsideView, qtbot: QtBot, background: Background
) -> None:
    view.begin("labels")
    view.refresh()
    settle(qtbot, background)
    assert view.panel.is_entering
    view.panel.close_button.click()
    assert not view.panel.is_entering


def test_that_a_fluid_sample_opens_with_its_values(
    view: OutsideView, qtbot: QtBot, background: Background
) -> None:
    view.want(NEW_FLUID.id)
    view.refresh()
    settle(qtbot, background)
    assert view.panel.caption.text() == "What was measured"
    assert view.panel.values.model().index(0, 1).data() == "<1"
    press(view, "Make it the reference")
    assert not line(view, "bottle_code").isEnabled()


def test_that_papers_and_remarks_are_kept_with_a_sample(
    view: OutsideView, qtbot: QtBot, kept: PapersDouble, background: Background
) -> None:
    assert view.papers.caption.text() == "No paper or remark yet"
    qtbot.keyClicks(view.papers.remark, "smells of fuel")
    qtbot.keyClick(view.papers.remark, Qt.Key.Key_Return)
    settle(qtbot, background)
    assert view.papers.table.model().index(0, 3).data() == "smells of fuel"
    view.papers.attach("certificate.pdf")
    settle(qtbot, background)
    owner = PaperOwner(OwnerKind.SAMPLE, bytes(WALK_UP.id))
    assert kept.asked == [("remark", owner, "smells of fuel"), ("attach", owner, "certificate.pdf")]
    kept.error = OperatorError("certificate.pdf is empty.")
    view.papers.attach("certificate.pdf")
    settle(qtbot, background)
    assert said(view) == "Nothing was kept certificate.pdf is empty."
    view.chips.button("labels").click()
    assert not view.papers.isVisible()


def test_that_spare_labels_go_to_the_clipboard_or_into_a_form(view: OutsideView) -> None:
    view.chips.button("labels").click()
    press(view, "Copy all labels")
    assert QGuiApplication.clipboard().text() == f"label\tsite\n{LABEL.code}\t{LABEL.site}"
    press(view, "Use it for a compartment")
    assert line(view, "bottle_code").text() == LABEL.code


def test_that_an_empty_list_says_so(
    view: OutsideView, qtbot: QtBot, calls: OutsideDouble, background: Background
) -> None:
    calls.kept = NOTHING
    view.refresh()
    settle(qtbot, background)
    assert not view.table.isVisible()
    assert view._none.text() == "No walk-up, duplicate or rejected bottle yet."
    assert view.panel.title.text() == ""


def test_that_a_form_asked_for_before_the_register_is_read_is_shown_then(
    view: OutsideView,
) -> None:
    view._offers = None
    view.begin("check")
    assert not view.panel.is_entering
    view.offer(OFFERS)
    assert view.panel.title.text() == "Check sample"


@pytest.mark.parametrize("name", ["dark", "light"])
def test_that_it_can_be_drawn_in_either_theme(view: OutsideView, name: str) -> None:
    view.apply_theme(make_theme(name))
    assert not view.grab().isNull()
