"""The record on screen: shown, edited, saved, undone; two editors of one are shown both."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.record_form import FormDraft, RecordForm
from fluiddesk.desktop.viewstate.record_history import (
    HistoryLine,
    deed_for,
    deed_form,
)
from fluiddesk.desktop.viewstate.register import RegisterState
from fluiddesk.desktop.viewstate.register_actions import (
    UNDO,
    action_form,
    actions_for,
    new_record,
)
from fluiddesk.desktop.viewstate.register_calls import RegisterCalls
from fluiddesk.desktop.viewstate.register_forms import facts_from, record_form
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.viewstate.register_words import (
    Key,
    Record,
    about_line,
    key_of,
    lacks_told,
    part_name,
    saved_key,
)
from fluiddesk.desktop.viewstate.stale_edit import Clash, clash
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.record_panel import RecordPanel
from fluiddesk.desktop.widgets.record_reading import RecordReading, RecordTables
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.register.facts import MachineFacts, RegisterFacts
from fluiddesk.services.register.saving import Saved
from fluiddesk.wiring import Clock


class RecordEditing(QObject):
    """Leads one record through its panel.

    Signals:
        pointed: the key of the line that the record on screen belongs to.
        saved: what a save altered, as ``Changes``.
        read_anew: the register as it was read after two people had edited one record.
    """

    pointed = Signal(object)
    saved = Signal(object)
    read_anew = Signal(object)

    def __init__(
        self,
        panel: RecordPanel,
        tables: RecordTables,
        *,
        calls: RegisterCalls,
        clock: Clock,
        background: Background,
        notice: InlineNotice,
    ) -> None:
        super().__init__(panel)
        self._panel = panel
        self._calls, self._clock, self._background = calls, clock, background
        self._notice = notice
        self.below = RecordReading(
            panel.below, tables, calls=calls, clock=clock, background=background
        )
        self.below.failed.connect(self._refuse)
        self._state: RegisterState | None = None
        self._action = ""
        self._line: HistoryLine | None = None
        self._wanted: Key | None = None
        self.record: Record | None = None
        panel.back_pressed.connect(self._back)
        panel.part_chosen.connect(self._part_chosen)
        self.below.deed_begun.connect(self._begin_deed)
        panel.editor.save_pressed.connect(self._save)
        panel.editor.discarded.connect(notice.clear)

    # --- showing ----------------------------------------------------------------------------

    def show_state(self, state: RegisterState) -> None:
        """Take over the register as it was read anew; what is being written stays."""
        self._state = state
        if self._panel.editor.is_dirty or self._action:
            return
        key = self._wanted or (key_of(self.record) if self.record is not None else None)
        self._wanted = None
        found = state.find(key) if key is not None else None
        if found is None:
            self.record = None
            found = next((row.record for row in state.rows if row.record is not None), None)
        if found is not None:
            self.show(found)
        self._panel.setVisible(self.record is not None)

    def want(self, key: Key) -> None:
        """Show this record as soon as the register is read."""
        self._wanted = key

    def show(self, record: Record) -> None:
        """Show a record; a part with its machine's parts below."""
        state = self._state
        if state is None:
            return
        self.record, self._action, self._line = record, "", None
        machine = state.machine_of(record)
        is_part = machine is not None and not isinstance(record, MachineFacts)
        offers = self._offers(state)
        self._panel.setVisible(True)
        self._panel.show_record(
            record_form(record, offers),
            about=about_line(record, state.facts),
            lacks=lacks_told(state.lacks(record) if is_part else state.lacks_with_parts(record)),
            back=machine.code if machine is not None and is_part else "",
        )
        self._panel.show_actions([(one.key, one.words) for one in actions_for(record, offers)])
        self.below.show(record, state, machine)
        self.pointed.emit(key_of(machine or record))

    def _begin_deed(self, line: HistoryLine) -> None:
        """Show the form of what is done with a line of the history."""
        record, state = self.record, self._state
        key, _words = deed_for(line)
        if record is None or state is None or not key:
            return
        form = deed_form(key, line, record, self._offers(state), today=self._clock.today())

        def turn() -> None:
            self._line = line
            self._show_action(key, form, state)

        self.leave(turn)

    def attach(self, path: str | Path) -> None:
        """Keep a copy of a PDF or picture with the record on screen."""
        record, moment = self.record, self._clock.moment()
        if record is not None:
            self._run(lambda: self._calls.attach(record, Path(path), moment=moment))

    def leave(self, then: Callable[[], None]) -> None:
        """Go on if nothing is unsaved; else ask on the page, and stay meanwhile."""
        draft = self._panel.editor.draft
        if draft is None or not draft.is_changed:
            self._notice.clear()
            then()
            return

        def discard() -> None:
            self._panel.editor.discard()
            then()

        self._point()
        self._notice.say(
            self.tr("{0} is not saved").format(draft.form.title),
            self.tr("Changed: {0}.").format(", ".join(draft.changed)),
            [(self.tr("Discard and go on"), discard), (self.tr("Keep editing"), self._keep)],
        )

    def begin(self, key: str) -> None:
        """Start a new record, the form of an action, or an undo."""
        state, record = self._state, self.record
        if state is None:
            return
        offers = self._offers(state)
        made = new_record(key, record, offers)
        if key == UNDO and record is not None:
            moment, today = self._clock.moment(), self._clock.today()
            self._run(lambda: self._calls.undo(record, moment=moment, today=today))
        elif made is not None:
            self.show(made)
            self._panel.editor.focus_first()
        elif record is not None:
            self._begin_action(key, record, state)

    def _begin_action(self, key: str, record: Record, state: RegisterState) -> None:
        self._line = None
        offers = self._offers(state)
        self._show_action(key, action_form(key, record, offers, today=self._clock.today()), state)

    def _show_action(self, key: str, form: RecordForm, state: RegisterState) -> None:
        record = self.record
        if record is None:
            return
        self._action = key
        name = record.code if isinstance(record, MachineFacts) else part_name(record, state.facts)
        self._panel.show_record(form, back=name)
        self._panel.show_actions(())
        self._panel.editor.focus_first()

    def _point(self) -> None:
        if self._state is not None and self.record is not None:
            self.pointed.emit(key_of(self._state.machine_of(self.record) or self.record))

    def _keep(self) -> None:
        self._notice.clear()
        self._panel.editor.focus_first()

    def _part_chosen(self, row: int) -> None:
        record = self.below.part(row)
        if record is not None:
            self.leave(lambda: self.show(record))

    def _back(self) -> None:
        record, state = self.record, self._state
        if record is None or state is None:
            return
        target = record if self._action else state.machine_of(record) or record
        self.leave(lambda: self.show(target))

    def _offers(self, state: RegisterState) -> Offers:
        return Offers(facts=state.facts, catalogue=state.catalogue, layouts=self._calls.layouts())

    # --- saving -----------------------------------------------------------------------------

    def _save(self, draft: FormDraft) -> None:
        record = self.record
        if record is None:
            return
        moment, today, key = self._clock.moment(), self._clock.today(), self._action
        try:
            values = draft.values()
            edited = record if key else facts_from(record, values)
        except OperatorError as wrong:
            self._refuse(wrong)
            return
        line = self._line
        if line is not None:
            self._run(lambda: self._calls.act_on(key, line, values, moment=moment, today=today))
        elif key:
            self._run(lambda: self._calls.act(key, record, values, moment=moment, today=today))
        else:
            self._run(lambda: self._calls.save(edited, moment=moment, today=today))

    def _run(self, work: Callable[[], Saved]) -> None:
        self._notice.clear()
        self._panel.editor.setEnabled(False)
        self._background.run(
            lambda _: work(),
            done=self._saved,
            failed=self._not_saved,
            label=self.tr("Saving the register"),
        )

    def _saved(self, answer: Saved) -> None:
        self._panel.editor.setEnabled(True)
        self._panel.editor.forget()
        if self.record is not None and not self._action:
            self._wanted = saved_key(self.record, answer.key)
        self._action, self._line = "", None
        told = [*(one.text for one in answer.warnings), answer.told]
        if any(told):
            close = (self.tr("Close"), self._notice.clear)
            is_odd = bool(answer.warnings)
            title = self.tr("Saved, but look at this") if is_odd else self.tr("Saved")
            self._notice.say(title, "\n".join(one for one in told if one), [close])
        self.saved.emit(answer.changes)

    def _not_saved(self, error: Exception) -> None:
        self._panel.editor.setEnabled(True)
        if not isinstance(error, StaleEditError):
            self._refuse(error)
            return
        today, told = self._clock.today(), str(error)
        self._background.run(
            lambda _: self._calls.facts(today=today),
            done=lambda facts: self._show_clash(facts, told),
            label=self.tr("Reading the register"),
            slot="register",
        )

    def _show_clash(self, facts: RegisterFacts, told: str) -> None:
        """Show what was written here beside what somebody else has saved meanwhile."""
        draft, record = self._panel.editor.draft, self.record
        self.read_anew.emit(facts)
        state = self._state
        found = state.find(key_of(record)) if state is not None and record is not None else None
        if state is None or found is None or draft is None:
            return
        both = clash(draft, record_form(found, self._offers(state)))
        nothing = Clash(mine={}, told="")
        self._notice.say(
            told,
            both.told,
            [
                (self.tr("Take theirs"), lambda: self._take(found, nothing)),
                (self.tr("Keep mine"), lambda: self._take(found, both)),
            ],
        )

    def _take(self, found: Record, both: Clash) -> None:
        """Show the record as it is saved now, with what was written here put in again."""
        self._panel.editor.forget()
        self._notice.clear()
        self.show(found)
        for key, text in both.mine.items():
            self._panel.editor.write(key, text)

    def _refuse(self, error: Exception, why: str = "") -> None:
        title = why or self.tr("Nothing was saved")
        if isinstance(error, OperatorError):
            self._notice.say(title, str(error), [(self.tr("Close"), self._notice.clear)])
        else:
            self._background.failed.emit(title, error)
