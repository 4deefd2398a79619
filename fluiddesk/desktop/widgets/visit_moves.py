"""Visits moved on the time bar: shown at once, saved a moment later, undone and redone."""

from collections.abc import Callable
from datetime import date
from typing import Final

from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtGui import QKeySequence, QShortcut, QUndoCommand, QUndoStack
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.services.visits.facts import Visit
from fluiddesk.wiring import Clock

_REST_MS: Final = 400
"""Keys pressed within this time count as one move and are saved as one."""


class _Move(QUndoCommand):
    """One visit from one day to another. Moves of one run are one step."""

    def __init__(
        self, key: bytes, *, before: date, after: date, run: int, put: Callable[[bytes, date], None]
    ) -> None:
        super().__init__()
        self.key, self.before, self.after = key, before, after
        self._run, self._put = run, put

    @override
    def id(self) -> int:
        return self._run

    @override
    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, _Move) or other.key != self.key:
            return False
        self.after = other.after
        return True

    @override
    def redo(self) -> None:
        self._put(self.key, self.after)

    @override
    def undo(self) -> None:
        self._put(self.key, self.before)


class VisitMoves(QObject):
    """Moves the visits of a plan. A proposal is moved on the page alone, a kept visit is saved.

    Signals:
        moved: the key of a visit that stands on another day now.
        saved: every move is saved.
        refused: the exception that kept a move from being saved; the board shows what is stored.
    """

    moved = Signal(object)
    saved = Signal()
    refused = Signal(object)

    def __init__(
        self, calls: SamplingCalls, *, clock: Clock, background: Background, parent: QObject
    ) -> None:
        super().__init__(parent)
        self._calls, self._clock, self._background = calls, clock, background
        self._plan: RoundPlan | None = None
        self._pending: set[bytes] = set()
        self._is_saving = False
        self._run = 0
        self._waiting: list[Callable[[], None]] = []
        self.undo_stack = QUndoStack(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_REST_MS)
        self._timer.timeout.connect(self._rest)

    def hear_keys(self, page: QWidget) -> None:
        """Undo and redo by the usual keys, wherever the keyboard is on a page."""
        stack = self.undo_stack
        for keys, then in (
            ("Ctrl+Z", stack.undo),
            ("Ctrl+Y", stack.redo),
            ("Ctrl+Shift+Z", stack.redo),
        ):
            shortcut = QShortcut(QKeySequence(keys), page)
            shortcut.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            shortcut.activated.connect(then)

    @property
    def is_saved(self) -> bool:
        """Whether every move of a kept visit is saved."""
        return not self._pending and not self._is_saving

    def begin(self, plan: RoundPlan) -> None:
        """Move the visits of another plan from now on."""
        self._plan = plan
        self.undo_stack.clear()

    def move(self, key: bytes, to: date) -> None:
        """Put a visit on another day; can be undone."""
        one = None if self._plan is None else self._plan.visit(key)
        if one is None or one.visit.planned_on == to:
            return
        if not self._timer.isActive():
            self._run += 1
        before = one.visit.planned_on
        self.undo_stack.push(_Move(key, before=before, after=to, run=self._run, put=self._put))

    def when_saved(self, then: Callable[[], None]) -> None:
        """Go on once every move is saved."""
        if self.is_saved:
            then()
            return
        self._waiting.append(then)
        self._timer.stop()
        self._rest()

    def _put(self, key: bytes, to: date) -> None:
        plan = self._plan
        if plan is None or not plan.move(key, to):
            return
        one = plan.visit(key)
        if one is not None and one.is_kept:
            self._pending.add(key)
        self._timer.start()
        self.moved.emit(key)

    def _rest(self) -> None:
        """Save what was moved, one batch after the other."""
        # What is moved from here on is a step of its own.
        self._run += 1
        if self._is_saving or self._plan is None:
            return
        some = self._plan.chosen(self._pending)
        self._pending.clear()
        if not some:
            self._go_on()
            return
        self._is_saving = True
        today, moment, calls = self._clock.today(), self._clock.moment(), self._calls

        def work(_: object) -> tuple[Visit, ...]:
            for one in some:
                day = one.visit.planned_on
                calls.move(one.visit, to=day, today=today, moment=moment)
            return calls.kept(today=today)

        self._background.run(
            work,
            done=self._done,
            failed=self._failed,
            label=self.tr("Moving {0}").format(_names(some)),
        )

    def _done(self, kept: tuple[Visit, ...]) -> None:
        self._is_saving = False
        self._show(kept)
        if self._pending:
            self._rest()
        else:
            self.saved.emit()
            self._go_on()

    def _show(self, kept: tuple[Visit, ...]) -> None:
        """Take over what is stored; visits moved meanwhile stay where they are."""
        plan = self._plan
        if plan is None:
            return
        later = {one.key: one.visit.planned_on for one in plan.chosen(self._pending)}
        plan.show_kept(kept)
        for key, day in later.items():
            plan.move(key, day)
        self.moved.emit(b"")

    def _failed(self, error: Exception) -> None:
        self._is_saving = False
        self._pending.clear()
        self._waiting.clear()
        self.undo_stack.clear()
        today = self._clock.today()
        self._background.run(
            lambda _: self._calls.kept(today=today),
            done=self._show,
            label=self.tr("Reading the visits"),
        )
        self.refused.emit(error)

    def _go_on(self) -> None:
        waiting, self._waiting = self._waiting, []
        for then in waiting:
            then()


def _names(some: tuple[Planned, ...]) -> str:
    return some[0].visit.machine if len(some) == 1 else f"{len(some)} visits"
