import threading
from collections.abc import Iterator

import pytest
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError


class Page(QWidget):
    def __init__(self, background: Background) -> None:
        super().__init__()
        self.strip = WorkStrip(self)
        self.notice = InlineNotice(make_theme("light"), self)
        self.work = PageWork(background, strip=self.strip, notice=self.notice, parent=self)
        self.answers: list[int] = []

    def start(self, work: object) -> None:
        self.work.start(work, done=self.answers.append, refusal="Not done", label="Working")


@pytest.fixture
def background(qtbot: QtBot) -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


@pytest.fixture
def page(qtbot: QtBot, background: Background) -> Page:
    made = Page(background)
    qtbot.addWidget(made)
    made.show()
    return made


def test_that_work_shows_itself_until_its_answer_is_there(page: Page, qtbot: QtBot) -> None:
    go_on = threading.Event()

    def work(progress: Progress) -> int:
        progress(1, 4)
        go_on.wait(10)
        return 7

    page.start(work)
    assert page.strip.isVisible()
    assert page.work.is_under_way
    go_on.set()
    qtbot.waitUntil(lambda: page.answers == [7])
    assert not page.strip.isVisible()
    assert not page.work.is_under_way


def test_that_cancelled_work_gives_no_answer_and_frees_the_page(page: Page, qtbot: QtBot) -> None:
    def work(progress: Progress) -> int:
        while progress(0, None):
            threading.Event().wait(0.005)
        raise OperatorError("stopped")

    page.start(work)
    with qtbot.waitSignal(page.work.ended):
        page.strip.cancel_button.click()
    assert page.answers == []
    assert page.notice.text == ""
    assert not page.strip.isVisible()


def test_that_a_refusal_is_told_on_the_page(page: Page, qtbot: QtBot) -> None:
    def work(progress: Progress) -> int:
        raise OperatorError("Close the file elsewhere, then try again.")

    with qtbot.waitSignal(page.work.refused):
        page.start(work)
    assert page.notice.text == "Not done Close the file elsewhere, then try again."


def test_that_our_own_fault_is_handed_to_the_window(
    page: Page, background: Background, qtbot: QtBot
) -> None:
    def work(progress: Progress) -> int:
        raise RuntimeError("our fault")

    with qtbot.waitSignal(background.failed) as told:
        page.start(work)
    assert told.args[0] == "Working"
    assert page.notice.text == ""
