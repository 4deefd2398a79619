"""One report on the clerk's desk: the grid, what looks wrong beside it, and saving."""

from collections.abc import Callable
from functools import partial
from typing import Final

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication, QHBoxLayout, QVBoxLayout, QWidget

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.keying_grid import KeyingGridModel
from fluiddesk.desktop.theme import GAP, MARGIN, Theme
from fluiddesk.desktop.viewstate.keying import (
    KeyingState,
    Stop,
    new_warning,
    warning_to_show,
)
from fluiddesk.desktop.viewstate.keying_calls import KeyingCalls
from fluiddesk.desktop.widgets.draft_keeper import DraftKeeper
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.keying_grid import KeyingGrid
from fluiddesk.desktop.widgets.keying_side import KeyingSide, ask_dropping, ask_parking
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.keyed_results.facts import (
    Answer,
    Checked,
    Draft,
    KeyWarning,
    OpenReport,
)
from fluiddesk.wiring import Clock

_PAUSE_MS: Final = 250
"""So long after the last letter a text is kept and checked, if the field is not left before."""


class KeyingDesk(QWidget):
    """Keys one report. Nothing leaves it by accident: every change is kept as a draft at once.

    Signals:
        saved: what saving came to (``SavedReport``).
        left: the report was put aside, parked or dropped.
        other_asked: the report belongs to another bottle, whose code is given.
        stale: another desk was quicker: the bottle must be opened again.
    """

    saved = Signal(object)
    left = Signal()
    other_asked = Signal(str)
    stale = Signal()

    def __init__(self, *, clock: Clock, theme: Theme, background: Background) -> None:
        super().__init__()
        self._clock, self._background = clock, background
        self._calls: KeyingCalls | None = None
        self._newest: KeyWarning | None = None
        self._is_saving = False
        self.model = KeyingGridModel(theme=theme, parent=self)
        self.grid = KeyingGrid(self.model, theme=theme, name=self.tr("Values of the report"))
        self.side = KeyingSide(theme)
        self.notice = InlineNotice(theme)
        self.keeper = DraftKeeper(background, clock=clock, parent=self)
        self._pause = QTimer(self)
        self._pause.setSingleShot(True)
        self._pause.setInterval(_PAUSE_MS)
        row = QHBoxLayout()
        row.setSpacing(MARGIN)
        row.addWidget(self.grid, 1)
        row.addWidget(self.side)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self.notice)
        column.addLayout(row, 1)
        self._connect()

    def _connect(self) -> None:
        side, warnings = self.side, self.side.warnings
        self.model.typed.connect(self._typed)
        self.model.typed_again.connect(self._typed_again)
        self._pause.timeout.connect(self._keep)
        self.grid.stop_changed.connect(self._stop_changed)
        self.grid.passed_end.connect(self._passed_end)
        warnings.answered.connect(self.answer)
        warnings.asked.connect(self.show_warning_place)
        self.keeper.changed.connect(self._draft_changed)
        self.keeper.kept.connect(self._show_kept)
        self.keeper.refused.connect(self._refused)
        side.save_button.clicked.connect(self.save)
        side.second_button.clicked.connect(self.enter_again)
        side.park_button.clicked.connect(lambda: ask_parking(self.notice, self._park))
        side.drop_button.clicked.connect(lambda: ask_dropping(self.notice, self._drop))
        side.aside_button.clicked.connect(self.put_aside)
        for keys, then in (
            ("F4", self.next_warning),
            ("F6", partial(warnings.give, Answer.CORRECTED)),
            ("F7", partial(warnings.give, Answer.CONFIRMED)),
            ("F8", partial(warnings.give, Answer.PARKED)),
            ("F9", self.enter_again),
            ("Ctrl+S", self.save),
            ("Ctrl+W", self.put_aside),
        ):
            made = QShortcut(QKeySequence(keys), self)
            made.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            made.activated.connect(then)

    @property
    def state(self) -> KeyingState | None:
        """The report on the desk."""
        return self.model.state

    @property
    def is_idle(self) -> bool:
        """Whether everything typed is in the database and checked."""
        return not self._pause.isActive() and self.keeper.is_settled and not self._is_saving

    def open(self, report: OpenReport, draft: Draft, *, calls: KeyingCalls) -> None:
        """Put a report on the desk, with what was typed of it before."""
        self._calls = calls
        self._newest, self._is_saving = None, False
        self.notice.clear()
        state = KeyingState(report, draft)
        self.model.show_state(state)
        self.keeper.take(state, calls)
        self.grid.lay_out_rows()
        self.show_state()
        self._check()
        self.grid.go_to(state.first_stop())

    def close_report(self) -> None:
        """Clear the desk; the draft is kept."""
        self._pause.stop()
        if self._calls is not None:
            self.keeper.take(None, self._calls)
        self.model.show_state(None)

    def when_kept(self, then: Callable[[], None]) -> None:
        """Call once everything typed is in the database; a draft nobody typed into is dropped."""
        self.grid.close_field()
        if self._pause.isActive():
            self._keep()
        self.keeper.when_settled(lambda: self._drop_untouched(then))

    def _drop_untouched(self, then: Callable[[], None]) -> None:
        state = self.state
        if state is not None and state.is_untouched:
            self._drop_kept(then)
        else:
            then()

    def keep_now(self) -> None:
        """Save what was typed last: the program is about to close."""
        if self._pause.isActive():
            self._pause.stop()
            self.keeper.mark_unsaved()
        self.keeper.keep_now()

    # --- checking and keeping -----------------------------------------------------------------

    def _typed(self, _row: int, _text: str) -> None:
        self._pause.start()
        self._show_kept()

    def _keep(self) -> None:
        self._pause.stop()
        self.keeper.keep()
        self._check()
        self._show_kept()

    def _check(self, then: Callable[[], None] | None = None) -> None:
        """Check what was typed so far, on another thread; a newer check supersedes this one."""
        state, calls = self.state, self._calls
        if state is None or calls is None:
            return
        report, draft = state.report, state.draft

        def done(checked: Checked) -> None:
            self._checked(state, checked)
            if then is not None and state is self.state:
                then()

        self._background.run(
            lambda _: calls.check(report, draft),
            done=done,
            label=self.tr("Checking the report"),
            slot="check of a report" if then is None else "",
        )

    def _checked(self, state: KeyingState, checked: Checked) -> None:
        if state is not self.state:
            return
        fresh = new_warning(state.checked, checked)
        is_first = state.checked is None
        state.checked = checked
        if fresh is not None:
            self._newest = fresh
            if not is_first:
                # Whoever types looks at the paper, not at the screen.
                QApplication.beep()
        self.show_state()

    def _draft_changed(self) -> None:
        self._check()
        self.show_state()

    def show_state(self) -> None:
        """Draw the grid and what stands beside it anew."""
        state = self.state
        if state is None:
            return
        self.model.show_again()
        self.grid.show_texts()
        self._show_warning()
        self.side.show_state(state, is_saving=self._is_saving)
        self._show_kept()

    def _show_warning(self) -> None:
        state = self.state
        if state is None:
            return
        stop = self.grid.stop
        shown = warning_to_show(state, stop.row if stop else 0, newest=self._newest)
        others = len(state.open_warnings) - (1 if shown is not None else 0)
        self.side.warnings.show_warning(shown, others=others)

    def _show_kept(self) -> None:
        self.side.show_kept(is_kept=self.keeper.is_settled and not self._pause.isActive())

    def _stop_changed(self, _stop: Stop) -> None:
        if self._pause.isActive():
            self._keep()
        self._show_warning()

    def _typed_again(self, row: int, text: str) -> None:
        state, calls = self.state, self._calls
        if state is None or calls is None:
            return
        key, report, moment = state.rows[row].key, state.report, self._clock.moment()
        self.keeper.perform(
            lambda draft: calls.enter_second(report, draft, key, text, moment=moment)
        )

    def _refused(self, error: Exception) -> None:
        self._is_saving = False
        self.show_state()
        if not isinstance(error, OperatorError):
            self._background.failed.emit(self.tr("Saving the report"), error)
            return
        actions = [(self.tr("Close"), self.notice.clear)]
        if isinstance(error, StaleEditError):
            actions.insert(0, (self.tr("Open it again"), self.stale.emit))
        self.notice.say(self.tr("This was not kept"), str(error), actions)

    # --- what the person does -----------------------------------------------------------------

    def answer(self, warning: KeyWarning, answer: Answer) -> None:
        """Answer a warning; the answer is kept at once."""
        state, calls = self.state, self._calls
        if state is None or calls is None:
            return
        self._pause.stop()
        self.notice.clear()
        if warning.other_bottle and answer is Answer.CORRECTED:
            self.keeper.keep()
            self.keeper.when_settled(lambda: self.other_asked.emit(warning.other_bottle))
            return
        report, moment = state.report, self._clock.moment()
        self.keeper.perform(
            lambda draft: calls.answer(report, draft, warning, answer, moment=moment)
        )
        self.show_state()

    def next_warning(self) -> None:
        """Go to the next open warning below the place at hand, or to the first."""
        state = self.state
        if state is None or not state.open_warnings:
            return
        stop = self.grid.stop
        here = stop.row if stop else -1
        placed = [(state.row_of(one.cell), one) for one in state.open_warnings]
        below = [one for at, one in placed if at is not None and at > here]
        self.show_warning_place((below or [one for _, one in placed])[0])

    def show_warning_place(self, warning: KeyWarning) -> None:
        """Lead the keyboard to where a warning stands."""
        state = self.state
        row = state.row_of(warning.cell) if state else None
        self._newest = warning
        if state is not None and row is not None:
            if state.second_pass and not state.is_entered_again(row):
                self._turn_to_pass(second=False)
            self.grid.go_to(Stop(row=row, again=state.second_pass))
        self.show_state()

    def enter_again(self) -> None:
        """Begin the second entry of the values that decide, or go back to the first."""
        state = self.state
        if state is not None and state.has_second:
            self._turn_to_pass(second=not state.second_pass)
            self.grid.go_to(state.first_stop())
            self.show_state()

    def _turn_to_pass(self, *, second: bool) -> None:
        state = self.state
        if state is not None:
            self.grid.close_field()
            state.second_pass = second
            self.model.show_again()

    def _passed_end(self) -> None:
        """After the last field: to what is still to do, else to the button that saves."""
        self._keep()
        self.keeper.when_settled(lambda: self._check(self._lead_on))

    def _lead_on(self) -> None:
        if not self._go_to_obstacle():
            self.side.save_button.setFocus(Qt.FocusReason.TabFocusReason)

    def _go_to_obstacle(self) -> bool:
        state = self.state
        found = state.obstacle() if state else None
        if state is None or found is None:
            return False
        if isinstance(found, Stop):
            if found.again != state.second_pass:
                self._turn_to_pass(second=found.again)
            self.grid.go_to(found)
            self.show_state()
        else:
            self.show_warning_place(found)
        return True

    def save(self) -> None:
        """Save the report, or lead to what keeps it from being saved."""
        if self.state is None or self._is_saving:
            return
        self.grid.close_field()
        self._keep()
        self.keeper.when_settled(lambda: self._check(self._save_checked))

    def _save_checked(self) -> None:
        state, calls = self.state, self._calls
        if state is None or calls is None or self._is_saving or self._go_to_obstacle():
            return
        self._is_saving = True
        report, draft = state.report, state.draft
        moment, today = self._clock.moment(), self._clock.today()
        self._background.run(
            lambda _: calls.save(report, draft, moment=moment, today=today),
            done=self._saved,
            failed=self._refused,
            label=self.tr("Saving the report"),
        )
        self.show_state()

    def _saved(self, saved: object) -> None:
        self._is_saving = False
        self.close_report()
        self.saved.emit(saved)

    def put_aside(self) -> None:
        """Back to the queue; what was typed is kept as a draft."""
        self.when_kept(self.left.emit)

    def _park(self) -> None:
        calls = self._calls
        if calls is not None:
            moment = self._clock.moment()
            self.notice.clear()
            self.keeper.perform(lambda draft: calls.park(draft, note="", moment=moment))
            self.keeper.when_settled(self.left.emit)

    def _drop(self) -> None:
        self._keep()
        self.keeper.when_settled(lambda: self._drop_kept(self.left.emit))

    def _drop_kept(self, then: Callable[[], None]) -> None:
        state, calls = self.state, self._calls
        if state is None or calls is None:
            return
        draft, moment = state.draft, self._clock.moment()
        self.close_report()
        self._background.run(
            lambda _: calls.drop(draft, moment=moment),
            done=lambda _: then(),
            failed=self._refused,
            label=self.tr("Dropping the draft"),
        )

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.grid.apply_theme(theme)
        self.side.apply_theme(theme)
        self.notice.apply_theme(theme)
