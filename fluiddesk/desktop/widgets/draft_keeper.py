"""Keeps a draft in the database while it is typed: one saving at a time, nothing lost between."""

from collections import deque
from collections.abc import Callable, Mapping
from dataclasses import replace

from PySide6.QtCore import QObject, Signal

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.keying import KeyingState
from fluiddesk.desktop.viewstate.keying_calls import KeyingCalls
from fluiddesk.services.keyed_results.facts import Draft
from fluiddesk.wiring import Clock

Step = Callable[[Draft], Draft]
"""One change of a draft in the database; runs on another thread."""


class DraftKeeper(QObject):
    """Saves the draft of a report at each change, off the screen's thread.

    While one saving runs, the person types on; what was typed meanwhile is saved next, under the
    version the first one made.

    Signals:
        kept: what was typed is in the database.
        changed: the draft took over what a step made of it.
        refused: the exception that kept a step from being done.
    """

    kept = Signal()
    changed = Signal()
    refused = Signal(object)

    def __init__(
        self, background: Background, *, clock: Clock, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._background, self._clock = background, clock
        self._calls: KeyingCalls | None = None
        self._state: KeyingState | None = None
        self._steps: deque[Step] = deque()
        self._then: list[Callable[[], None]] = []
        self._is_dirty = self._is_running = False
        self._newest: Draft | None = None

    @property
    def is_settled(self) -> bool:
        """Whether everything typed is in the database."""
        return not (self._is_dirty or self._is_running or self._steps)

    def take(self, state: KeyingState | None, calls: KeyingCalls) -> None:
        """Keep another draft from now on, or none."""
        self._calls, self._state = calls, state
        self._steps.clear()
        self._then.clear()
        self._is_dirty = self._is_running = False
        self._newest = state.draft if state else None

    def keep(self) -> None:
        """Save what was typed, as soon as nothing else is being saved."""
        self._is_dirty = True
        self._go_on()

    def mark_unsaved(self) -> None:
        """Note that something was typed that ``keep`` was not yet called for."""
        self._is_dirty = True

    def perform(self, step: Step) -> None:
        """Do one change after those under way."""
        self._steps.append(step)
        self._go_on()

    def when_settled(self, then: Callable[[], None]) -> None:
        """Call once everything typed is in the database; at once if it is."""
        self._then.append(then)
        self._go_on()

    def keep_now(self) -> None:
        """Save on this thread what is not saved yet: the program is about to close."""
        state, calls = self._state, self._calls
        if state is None or calls is None or self.is_settled:
            return
        self._background.wait()
        version = self._newest.version if self._newest else state.draft.version
        draft = replace(state.draft, version=version)
        self.take(None, calls)
        calls.keep(state.report, draft, moment=self._clock.moment())

    def _go_on(self) -> None:
        state, calls = self._state, self._calls
        if state is None or calls is None or self._is_running:
            return
        if self._steps:
            self._run(state, self._steps.popleft(), is_keeping=False)
        elif self._is_dirty:
            moment = self._clock.moment()
            self._run(
                state, lambda draft: calls.keep(state.report, draft, moment=moment), is_keeping=True
            )
        else:
            waiting, self._then = self._then, []
            for then in waiting:
                then()

    def _run(self, state: KeyingState, step: Step, *, is_keeping: bool) -> None:
        self._is_running, self._is_dirty = True, False
        given = state.draft

        def work(_: object) -> Draft:
            made = step(given)
            # Noted on the working thread: a window that closes does not wait for the answer.
            self._newest = made
            return made

        self._background.run(
            work,
            done=lambda made: self._done(state, given, made, is_keeping=is_keeping),
            failed=lambda error: self._failed(state, error, is_keeping=is_keeping),
            label=self.tr("Saving the draft"),
        )

    def _done(self, state: KeyingState, given: Draft, made: Draft, *, is_keeping: bool) -> None:
        if state is not self._state:
            return
        self._is_running = False
        now = state.draft
        state.draft = replace(
            made,
            heads=_merged(given.heads, now.heads, made.heads),
            cells=_merged(given.cells, now.cells, made.cells),
            second=_merged(given.second, now.second, made.second),
        )
        (self.kept if is_keeping else self.changed).emit()
        self._go_on()

    def _failed(self, state: KeyingState, error: Exception, *, is_keeping: bool) -> None:
        if state is not self._state:
            return
        self._is_running, self._is_dirty = False, True
        self._steps.clear()
        self._then.clear()
        self.refused.emit(error)
        if not is_keeping and state is self._state:
            # The step was refused, what was typed was not: it is kept on its own.
            self._go_on()


def _merged(
    given: Mapping[str, str], now: Mapping[str, str], made: Mapping[str, str]
) -> dict[str, str]:
    """What a step made of the texts, and over it what was typed since it was started."""
    merged = dict(made)
    for key in given.keys() | now.keys():
        if now.get(key) == given.get(key):
            continue
        if key in now:
            merged[key] = now[key]
        else:
            merged.pop(key, None)
    return merged
