"""Work off the screen's thread."""

import threading
from collections.abc import Iterator

import pytest
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background, Progress
from fluiddesk.domain.errors import OperatorError


@pytest.fixture
def background(qtbot: QtBot) -> Iterator[Background]:
    made = Background()
    yield made
    made.close()


def test_that_the_answer_arrives_on_the_thread_that_asked(
    qtbot: QtBot, background: Background
) -> None:
    threads: list[threading.Thread] = []

    def work(_progress: Progress) -> int:
        threads.append(threading.current_thread())
        return 7

    def done(answer: int) -> None:
        assert answer == 7
        threads.append(threading.current_thread())

    background.run(work, done=done, label="Counting")
    qtbot.waitUntil(lambda: len(threads) == 2)
    assert threads[0] is not threading.main_thread()
    assert threads[1] is threading.main_thread()
    assert background.jobs == ()


def test_that_only_the_newest_job_of_a_slot_answers(qtbot: QtBot, background: Background) -> None:
    gate = threading.Event()
    answers: list[str] = []

    def slow(_progress: Progress) -> str:
        gate.wait(5)
        return "old"

    background.run(slow, done=answers.append, label="Old", slot="fleet")
    background.run(lambda _progress: "new", done=answers.append, label="New", slot="fleet")
    qtbot.waitUntil(lambda: answers == ["new"])
    gate.set()
    background.wait()
    qtbot.wait(20)
    assert answers == ["new"]


def test_that_work_hears_of_its_cancelling_and_then_says_nothing(
    qtbot: QtBot, background: Background
) -> None:
    heard = threading.Event()
    answers: list[object] = []

    class StoppedError(Exception):
        pass

    def work(progress: Progress) -> None:
        while progress(1, 10):
            threading.Event().wait(0.002)
        heard.set()
        raise StoppedError

    job = background.run(work, done=answers.append, failed=answers.append, label="Long")
    qtbot.waitUntil(lambda: job.total == 10)
    job.cancel()
    qtbot.waitUntil(lambda: background.jobs == ())
    assert heard.is_set()
    assert answers == []


def test_that_an_unheard_failure_reaches_the_window(qtbot: QtBot, background: Background) -> None:
    def work(_progress: Progress) -> None:
        raise OperatorError("The file is empty. Choose another.")

    with qtbot.waitSignal(background.failed) as told:
        background.run(work, done=lambda _none: None, label="Reading")
    assert told.args is not None
    assert told.args[0] == "Reading"
    assert str(told.args[1]) == "The file is empty. Choose another."


def test_that_a_closed_background_gives_no_more_answers(qtbot: QtBot) -> None:
    background = Background()
    answers: list[int] = []
    background.run(lambda _progress: 1, done=answers.append, label="Late")
    background.close()
    qtbot.wait(20)
    assert answers == []


def test_that_two_hundred_jobs_end_without_one_lost(qtbot: QtBot, background: Background) -> None:
    answers: list[int] = []
    for number in range(200):
        background.run(lambda _p, number=number: number, done=answers.append, label="Many")
    qtbot.waitUntil(lambda: len(answers) == 200)
    assert sorted(answers) == list(range(200))


def test_that_nothing_begins_once_it_is_closed(qtbot: QtBot, background: Background) -> None:
    begun: list[str] = []
    background.close()
    job = background.run(lambda _progress: begun.append("work"), done=print, label="Late")
    qtbot.wait(50)
    assert begun == []
    assert background.jobs == ()
    assert job.is_superseded
