"""Single bottles of a kept visit: added, moved to another visit, taken off; reasons for events."""

from collections.abc import Callable, Sequence
from datetime import date

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from fluiddesk.desktop.viewstate.box_forms import (
    add_box_form,
    due_note_form,
    lay_form,
    move_box_form,
    other_visits,
    take_off_form,
)
from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls, SamplingFacts
from fluiddesk.desktop.widgets.form_acts import FormActs
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import SampleReason
from fluiddesk.services.interval_compliance.facts import EventLine
from fluiddesk.services.visits.facts import Visit, VisitBox
from fluiddesk.wiring import Clock


class BoxActs(FormActs):
    """Asks and does.

    Signals:
        kept_changed: the open visits as they are stored now.
        laid: visits were kept that were planned by hand.
        noted: a reason was saved beside a due event.
        changed: other pages may have to read anew.
        told: (title, text) of what cannot be done.
    """

    kept_changed = Signal(object)
    noted = Signal()
    laid = Signal()
    changed = Signal()
    told = Signal(str, str)

    def __init__(
        self, calls: SamplingCalls, *, work: PageWork, clock: Clock, window: QWidget
    ) -> None:
        super().__init__(window)
        self._calls, self._work, self._clock = calls, work, clock
        self._plan: RoundPlan | None = None
        self._facts: SamplingFacts | None = None

    def begin(self, plan: RoundPlan, facts: SamplingFacts) -> None:
        """Work on another plan from now on."""
        self._plan, self._facts = plan, facts

    def do(self, key: str, one: Planned, box: VisitBox | None) -> None:
        """Do what a button says: ``add_box``, ``move_box`` or ``take_off``."""
        if key == "add_box":
            self._ask_add(one)
        elif box is not None and key == "move_box":
            self._ask_move(one, box)
        elif box is not None:
            self._ask(take_off_form(box), lambda values: self._take_off(box, values))

    def _ask_add(self, one: Planned) -> None:
        if self._facts is None:
            return
        form = add_box_form(one, self._facts.fleet, self._calls.place.catalogue)
        self._ask(form, lambda values: self._add(one, values))

    def _add(self, one: Planned, values: Values) -> None:
        box = CompartmentId(bytes.fromhex(str(values["box"])))
        reason, moment = SampleReason(str(values["reason"])), self._clock.moment()
        self._start(
            lambda: self._calls.add_box(one.visit.id, box, reason=reason, moment=moment),
            refusal=self.tr("The bottle was not added"),
        )

    def _ask_move(self, one: Planned, box: VisitBox) -> None:
        others = () if self._plan is None else other_visits(self._plan, one)
        if not others:
            self.told.emit(
                self.tr("No other visit to {0}").format(one.visit.machine),
                self.tr("Keep another visit to this machine first, or take the bottle off."),
            )
            return
        self._ask(move_box_form(box, others), lambda values: self._move(box, values))

    def _move(self, box: VisitBox, values: Values) -> None:
        to, moment = bytes.fromhex(str(values["visit"])), self._clock.moment()
        self._start(
            lambda: self._calls.move_box(box.id, to, moment=moment),
            refusal=self.tr("The bottle was not moved"),
        )

    def _take_off(self, box: VisitBox, values: Values) -> None:
        why, moment = str(values["why"]), self._clock.moment()
        self._start(
            lambda: self._calls.take_off(box.id, why=why, moment=moment),
            refusal=self.tr("The bottle was not taken off"),
        )

    def ask_lay(self, boxes: Sequence[CompartmentId]) -> None:
        """Ask on which day some boxes are sampled."""
        if boxes:
            form = lay_form(len(boxes), today=self._clock.today())
            self._ask(form, lambda values: self._lay(boxes, values))

    def _lay(self, boxes: Sequence[CompartmentId], values: Values) -> None:
        on, today, moment = values["on"], self._clock.today(), self._clock.moment()
        if isinstance(on, date):
            self._start(
                lambda: self._calls.lay(boxes, on=on, today=today, moment=moment),
                refusal=self.tr("No visit was planned"),
                done=self.laid.emit,
            )

    def ask_reason(self, line: EventLine) -> None:
        """Ask why a due sample was missed, or why none was owed."""
        self._ask(due_note_form(line), lambda values: self._note(line, values))

    def _note(self, line: EventLine, values: Values) -> None:
        self._close()
        moment = self._clock.moment()
        self._work.start(
            lambda _: self._calls.note_due(
                CompartmentId(line.compartment_id),
                due_on=line.due_on,
                is_excused=values["kind"] == "excused",
                reason=str(values["reason"]),
                note=str(values["note"] or ""),
                moment=moment,
            ),
            done=lambda _: self.noted.emit(),
            refusal=self.tr("The reason was not saved"),
            label=self.tr("Saving the reason"),
            saves=True,
        )

    def _start(
        self,
        act: Callable[[], object],
        *,
        refusal: str,
        done: Callable[[], object] = lambda: None,
    ) -> None:
        self._close()
        today = self._clock.today()

        def work(_: object) -> tuple[Visit, ...]:
            act()
            return self._calls.kept(today=today)

        def stored(kept: tuple[Visit, ...]) -> None:
            self.kept_changed.emit(kept)
            self.changed.emit()
            done()

        self._work.start(work, done=stored, refusal=refusal, label=self.tr("Saving"), saves=True)
