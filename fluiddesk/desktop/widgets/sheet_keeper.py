"""Keeps half-keyed visit sheets in the database while they are typed: nothing is lost between."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from typing import Final

from PySide6.QtCore import QObject, QTimer, Signal

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.taking_draft import TakingDraft
from fluiddesk.domain.errors import StaleEditError
from fluiddesk.services.takings.drafts import SheetDraft
from fluiddesk.wiring import Clock

_REST_MS: Final = 600
"""What is typed is saved this long after the last letter."""


@dataclass(eq=False, slots=True)
class _Sheet:
    """A sheet with what of it is saved."""

    draft: TakingDraft
    saved: SheetDraft
    is_dirty: bool = False
    is_running: bool = False
    writes_over: bool = False
    waiting: list[Callable[[], None]] = field(default_factory=list)

    @property
    def is_settled(self) -> bool:
        return not (self.is_dirty or self.is_running)

    @property
    def typed(self) -> SheetDraft:
        return replace(self.saved, cells=self.draft.cells)


class SheetKeeper(QObject):
    """Saves the sheet that is keyed, off the screen's thread, one saving after the other.

    Signals:
        kept: the ``SheetDraft`` as it is in the database now.
        refused: the exception that kept a sheet from being saved.
    """

    kept = Signal(object)
    refused = Signal(object)

    def __init__(
        self,
        calls: SamplingCalls,
        *,
        background: Background,
        clock: Clock,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._calls, self._background, self._clock = calls, background, clock
        self._sheet: _Sheet | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(_REST_MS)
        self._timer.timeout.connect(self._rest)

    @property
    def saved(self) -> SheetDraft | None:
        """The sheet that is keyed, as it was saved last."""
        return None if self._sheet is None else self._sheet.saved

    @property
    def is_settled(self) -> bool:
        """Whether everything typed is in the database."""
        return self._sheet is None or self._sheet.is_settled

    def take(self, draft: TakingDraft | None, saved: SheetDraft | None) -> None:
        """Keep another sheet from now on, or none; what was typed into the one before is saved."""
        self._rest()
        if draft is None:
            self._sheet = None
            return
        new = SheetDraft(visit_id=draft.planned.visit.id, cells={})
        self._sheet = _Sheet(draft, saved or new)

    def typed(self) -> None:
        """Note that something was typed; it is saved a moment after the last letter."""
        if self._sheet is not None:
            self._sheet.is_dirty = True
            self._timer.start()

    def write_over(self) -> None:
        """Save the sheet although somebody else keyed it too."""
        if self._sheet is not None:
            self._sheet.writes_over = self._sheet.is_dirty = True
            self._rest()

    def when_settled(self, then: Callable[[], None]) -> None:
        """Call once everything typed is in the database; at once if it is."""
        sheet = self._sheet
        if sheet is None or sheet.is_settled:
            then()
            return
        sheet.waiting.append(then)
        self._rest()

    def forget(self) -> None:
        """Keep nothing more of the sheet: it was recorded or dropped."""
        self._timer.stop()
        self._sheet = None

    def keep_now(self) -> None:
        """Save on this thread what is not saved yet: the program is about to close."""
        sheet = self._sheet
        if sheet is None or sheet.is_settled:
            return
        self._timer.stop()
        self._background.wait()
        self._sheet = None
        # That somebody else keys it too was told when it was first refused.
        with suppress(StaleEditError):
            self._calls.keep_sheet(
                sheet.typed, moment=self._clock.moment(), writes_over=sheet.writes_over
            )

    def _rest(self) -> None:
        self._timer.stop()
        if self._sheet is not None:
            self._save(self._sheet)

    def _save(self, sheet: _Sheet) -> None:
        if sheet.is_running or not sheet.is_dirty:
            return
        sheet.is_running, sheet.is_dirty = True, False
        typed, moment, over = sheet.typed, self._clock.moment(), sheet.writes_over

        def work(_: object) -> SheetDraft:
            made = self._calls.keep_sheet(typed, moment=moment, writes_over=over)
            # Noted on the working thread: a window that closes does not wait for the answer.
            sheet.saved = made
            return made

        self._background.run(
            work,
            done=lambda made: self._saved(sheet, made),
            failed=lambda error: self._failed(sheet, error),
            label=self.tr("Saving the sheet"),
        )

    def _saved(self, sheet: _Sheet, made: SheetDraft) -> None:
        sheet.is_running = sheet.writes_over = False
        self.kept.emit(made)
        if sheet.is_dirty:
            self._save(sheet)
            return
        waiting, sheet.waiting = sheet.waiting, []
        for then in waiting:
            then()

    def _failed(self, sheet: _Sheet, error: Exception) -> None:
        sheet.is_running, sheet.is_dirty = False, True
        sheet.waiting.clear()
        self.refused.emit(error)
