"""The search box: hits while one types, chosen and opened by the keyboard alone."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.models.search import SearchModel
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets.search_box import HitList, SearchBox
from fluiddesk.services.search.facts import HitKind, SearchAnswer, SearchHit

NAMES = ("HT-01", "HT-02", "WL-01")


def search(typed: str) -> SearchAnswer:
    hits = tuple(
        SearchHit(
            kind=HitKind.MACHINE,
            found=name,
            place="Kestrel pit (invented)",
            machine_id=name.encode(),
            compartment_id=None,
            sample_id=None,
        )
        for name in NAMES
        if typed.casefold() in name.casefold()
    )
    return SearchAnswer(hits=hits, is_cut=False, sentence=f"{len(hits)} found.")


@pytest.fixture
def box(qtbot: QtBot) -> SearchBox:
    window = QWidget()
    window.resize(800, 600)
    theme = make_theme("light")
    model = SearchModel(theme=theme, parent=window)
    made = SearchBox(HitList(model, model, theme=theme, over=window))
    qtbot.addWidget(window)
    window.show()
    made.setFocus()
    return made


def test_that_arrows_and_enter_open_a_hit(box: SearchBox, qtbot: QtBot) -> None:
    box.show_index(search)
    qtbot.keyClicks(box, "ht")
    assert box.hits.isVisible()
    assert box.hits.model.length() == 2
    qtbot.keyClick(box, Qt.Key.Key_Down)
    with qtbot.waitSignal(box.opened) as told:
        qtbot.keyClick(box, Qt.Key.Key_Return)
    assert told.args is not None
    assert told.args[0].found == "HT-02"
    assert not box.hits.isVisible()
    assert box.text() == ""


def test_that_escape_puts_the_hits_away(box: SearchBox, qtbot: QtBot) -> None:
    box.show_index(search)
    qtbot.keyClicks(box, "ht")
    qtbot.keyClick(box, Qt.Key.Key_Escape)
    assert not box.hits.isVisible()


def test_that_words_typed_before_the_index_is_read_are_answered_once_it_is(
    box: SearchBox, qtbot: QtBot
) -> None:
    qtbot.keyClicks(box, "wl")
    assert box.hits.sentence.text() == "Reading what can be searched."
    assert box.hits.model.length() == 0
    box.show_index(search)
    assert box.hits.model.length() == 1


def test_that_nothing_found_is_told_and_nothing_opens(box: SearchBox, qtbot: QtBot) -> None:
    box.show_index(search)
    qtbot.keyClicks(box, "zz")
    assert box.hits.sentence.text() == "0 found."
    with qtbot.assertNotEmitted(box.opened):
        qtbot.keyClick(box, Qt.Key.Key_Return)
