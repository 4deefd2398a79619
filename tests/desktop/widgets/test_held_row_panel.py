from collections.abc import Iterator
from typing import Any, cast

import pytest
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.held_rows import HeldColumn
from fluiddesk.desktop.theme import make_theme
from fluiddesk.desktop.widgets.held_row_panel import HeldRowPanel
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.wiring import Clock
from tests.desktop.models.test_keying_models import make_held


class MadeUpHeld:
    """Takes the row in once its iron is a number."""

    def __init__(self) -> None:
        self.settled: list[str] = []
        self.is_there = True

    def find(self, intake_id: bytes, row: int) -> Any:
        return make_held() if self.is_there else None

    def release(self, state: Any, *, moment: Any, today: Any) -> Changes:
        if state.corrected.get(1) != "12,40":
            raise OperatorError('Row 5: "12,4O" is not a number.')
        return Changes(subjects=frozenset({Subject.RESULTS}), compartments=frozenset())

    def settle(self, held: Any, *, outcome: str, moment: Any) -> None:
        if not outcome:
            raise OperatorError("Say why the row is given up.")
        self.settled.append(outcome)


@pytest.fixture
def calls() -> MadeUpHeld:
    return MadeUpHeld()


@pytest.fixture
def panel(qtbot: QtBot, calls: MadeUpHeld) -> Iterator[HeldRowPanel]:
    background = Background()
    made = HeldRowPanel(
        cast("Any", calls), clock=Clock(), theme=make_theme("light"), background=background
    )
    qtbot.addWidget(made)
    made.show()
    made.open(b"i" * 16, 5)
    qtbot.waitUntil(lambda: not made.is_busy)
    yield made
    background.close()


def test_that_a_row_is_shown_with_the_reason_it_waits_for(panel: HeldRowPanel) -> None:
    assert panel.reason == '"12,4O" is not a number.'
    assert panel.model.rowCount() == 2


def test_that_a_row_still_wrong_stays_with_what_keeps_it_out(
    panel: HeldRowPanel, qtbot: QtBot
) -> None:
    qtbot.mouseClick(panel.release_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "not a number" in panel.notice.text)
    assert panel.model.state is not None


def test_that_a_corrected_row_is_taken_in(panel: HeldRowPanel, qtbot: QtBot) -> None:
    panel.model.setData(panel.model.index(1, HeldColumn.TAKEN), "12,40")
    with qtbot.waitSignals([panel.left, panel.changed]):
        qtbot.mouseClick(panel.release_button, Qt.MouseButton.LeftButton)
    assert panel.model.state is None


def test_that_a_cell_is_corrected_by_typing(panel: HeldRowPanel, qtbot: QtBot) -> None:
    panel.table.setCurrentIndex(panel.model.index(1, HeldColumn.HEADING))
    qtbot.keyClick(panel.table, Qt.Key.Key_Return)
    editor = panel.table.indexWidget(panel.table.currentIndex())
    assert editor is not None
    qtbot.keyClicks(editor, "12,40")
    qtbot.keyClick(editor, Qt.Key.Key_Return)
    state = panel.model.state
    assert state is not None
    qtbot.waitUntil(lambda: state.corrected == {1: "12,40"})


def test_that_giving_a_row_up_asks_for_the_reason(
    panel: HeldRowPanel, qtbot: QtBot, calls: MadeUpHeld
) -> None:
    qtbot.mouseClick(panel.settle_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: "Say why" in panel.notice.text)
    panel.outcome.setText("sent again")
    with qtbot.waitSignal(panel.left):
        qtbot.mouseClick(panel.settle_button, Qt.MouseButton.LeftButton)
    assert calls.settled == ["sent again"]


def test_that_a_row_settled_elsewhere_leads_back_to_the_queue(
    panel: HeldRowPanel, qtbot: QtBot, calls: MadeUpHeld
) -> None:
    calls.is_there = False
    with qtbot.waitSignal(panel.left):
        panel.open(b"i" * 16, 5)
