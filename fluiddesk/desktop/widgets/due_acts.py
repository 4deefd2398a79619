"""What the due list does to a box: a shorter interval for a while, notes on its due samples."""

from collections.abc import Callable, Sequence
from datetime import date
from functools import partial

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.due_forms import end_form, special_form, void_form, wish_of
from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.widgets.form_acts import FormActs
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes
from fluiddesk.services.due_notes import DueNote
from fluiddesk.services.interval_compliance.facts import EventLine
from fluiddesk.services.special_by_hand import Special
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

Act = Callable[[], Changes]


class DueActs(FormActs):
    """Asks and does; a form stays open until what it says was taken.

    Signals:
        changed: ``Changes``: what is due has changed.
        done: (title, actions) of what was done, each action with its words: it can be undone.
        told: (title, text) of what cannot be done.
    """

    changed = Signal(object)
    done = Signal(str, object)
    told = Signal(str, str)

    def __init__(
        self, calls: SamplingCalls, *, work: PageWork, clock: Clock, window: QWidget
    ) -> None:
        super().__init__(window)
        self._calls, self._work, self._clock = calls, work, clock
        self._notes: Sequence[DueNote] = ()

    def begin(self, notes: Sequence[DueNote]) -> None:
        """Know these notes from now on."""
        self._notes = notes

    def ask_special(self, box: CompartmentId, name: str) -> None:
        """Ask for a special interval of a box."""
        form = special_form(name, today=self._clock.today())
        self._ask(form, lambda values: self._add(box, name, values))

    def _add(self, box: CompartmentId, name: str, values: Values) -> None:
        made: list[bytes] = []
        today, moment = self._clock.today(), self._clock.moment()

        def act() -> Changes:
            saved = self._calls.add_special(wish_of(values, box), today=today, moment=moment)
            made.append(saved.row)
            return saved.changes

        told = self.tr("{0} is sampled sooner.").format(name)
        self._start(act, then=lambda: self._offer_undo(told, made[0]))

    def ask_end(self, one: Special) -> None:
        """Ask why a special interval is ended."""
        self._ask(end_form(one), lambda values: self._end(one, values))

    def _end(self, one: Special, values: Values) -> None:
        why, today, moment = str(values["why"]), self._clock.today(), self._clock.moment()
        told = self.tr("The usual interval of {0}, {1} holds again.")
        self._start(
            lambda: self._calls.end_special(one.id, why=why, today=today, moment=moment),
            then=lambda: self._offer_undo(told.format(one.machine, one.compartment), one.id),
        )

    def _offer_undo(self, told: str, special: bytes) -> None:
        self.done.emit(told, [(self.tr("&Undo"), partial(self._undo, special))])

    def _undo(self, special: bytes) -> None:
        moment = self._clock.moment()
        self._start(lambda: self._calls.undo_special(special, moment=moment))

    def ask_void_of(self, line: EventLine) -> None:
        """Ask which note on the box of a due event is taken back."""
        name = f"{line.machine}, {line.compartment}"
        self.ask_void(CompartmentId(line.compartment_id), name, near=line.due_on)

    def ask_void(self, box: CompartmentId, name: str, *, near: date) -> None:
        """Ask which note on a box is taken back, the one nearest to a day first."""
        notes = [one for one in self._notes if one.compartment_id == box]
        if not notes:
            self.told.emit(
                self.tr("No note stands on {0}").format(name),
                self.tr("A note is written in Compliance, beside a due event: Say why..."),
            )
            return
        self._ask(void_form(name, notes, near=near), self._void)

    def _void(self, values: Values) -> None:
        note, why = bytes.fromhex(str(values["note"])), str(values["why"])
        moment = self._clock.moment()
        self._start(
            lambda: self._calls.void_note(note, why=why, moment=moment),
            then=lambda: self.told.emit("", self.tr("The note was taken back.")),
        )

    def _start(self, act: Act, *, then: Callable[[], object] = lambda: None) -> None:
        def work(_: object) -> Changes | OperatorError:
            try:
                return act()
            except OperatorError as refused:
                return refused

        def done(answer: Changes | OperatorError) -> None:
            if isinstance(answer, OperatorError):
                self._refuse(str(answer))
                return
            self._close()
            self.changed.emit(answer)
            then()

        words = self.tr("Nothing was saved")
        self._work.start(work, done=done, refusal=words, label=self.tr("Saving"), saves=True)

    def _refuse(self, words: str) -> None:
        if self.dialog is not None:
            self.dialog.refuse(words)
        else:
            self.told.emit(self.tr("Nothing was saved"), words)


def sooner_acts(
    place: Workplace,
    *,
    clock: Clock,
    background: Background,
    strip: WorkStrip,
    notice: InlineNotice,
    window: QWidget,
) -> DueActs:
    """The acts for a page of its own, which tells what was done in its notice."""
    work = PageWork(background, strip=strip, notice=notice, parent=window)
    acts = DueActs(SamplingCalls(place=place), work=work, clock=clock, window=window)

    def tell(title: str, text: str, actions: Sequence[tuple[str, Callable[[], None]]] = ()) -> None:
        notice.say(title, text, [*actions, (acts.tr("Close"), notice.clear)])

    acts.told.connect(tell)
    acts.done.connect(lambda title, actions: tell(title, "", actions))
    return acts
