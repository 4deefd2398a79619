"""Logs an event of the box on show and takes it back: the work behind the form."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Protocol

from PySide6.QtCore import QObject, Signal

from fluiddesk.charts.scales import grouped
from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.viewstate.event_form import entry_of, event_form, kind_of
from fluiddesk.desktop.widgets.event_form import EventForm
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import EventKind
from fluiddesk.services.compartment_history.event_checks import EventCheck, EventEntry
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.fluids_offered import fluids_offered
from fluiddesk.services.compartment_history.log_event import (
    EventLogged,
    check_event,
    log_event,
    withdraw_event,
)
from fluiddesk.services.workplace import Workplace


class _Clock(Protocol):
    def today(self) -> date: ...

    def moment(self) -> datetime: ...


class EventLogging(QObject):
    """Holds the form and the notice of a page together.

    Signals:
        changed: ``Changes``: what other pages are to hear of.
        opened: the form is on screen.
        closed: the form is gone again.
    """

    changed = Signal(object)
    opened = Signal()
    closed = Signal()

    def __init__(
        self,
        place: Workplace,
        *,
        clock: _Clock,
        background: Background,
        form: EventForm,
        notice: InlineNotice,
        parent: QObject,
    ) -> None:
        super().__init__(parent)
        self._place, self._clock, self._background = place, clock, background
        self._form, self._notice = form, notice
        self._history: CompartmentHistory | None = None
        self._fluids: tuple[tuple[str, str], ...] = ()
        form.written.connect(self._check)
        form.kind_chosen.connect(self._change_kind)
        form.agreed.connect(self._log)
        form.closed.connect(self.close)

    def open(self, history: CompartmentHistory) -> None:
        """Show the form for a box; what was being written for another box is let go."""
        self._history = history
        self._notice.clear()
        self._show(EventKind.TOP_UP)
        self.opened.emit()
        self._background.run(
            lambda _progress: fluids_offered(self._place),
            done=self._offer,
            label=self.tr("Reading the fluids"),
            slot="event_fluids",
        )

    def close(self) -> None:
        """Put the form away."""
        if not self._form.isHidden():
            self._form.hide()
            self.closed.emit()

    def follow(self, history: CompartmentHistory) -> None:
        """Another box is on show: a form for the former one has no place there."""
        if self._history is None or history.compartment != self._history.compartment:
            self.close()
            self._notice.clear()
        self._history = history

    def _offer(self, fluids: tuple[tuple[str, str], ...]) -> None:
        draft = self._form.draft
        if fluids != self._fluids:
            self._fluids = fluids
            if draft is not None and not draft.is_changed and not self._form.isHidden():
                self._show(kind_of(draft))

    def _show(self, kind: EventKind) -> None:
        history, draft = self._history, self._form.draft
        if history is None:
            return
        written = draft.texts if draft is not None and not self._form.isHidden() else None
        form = event_form(
            kind, history, fluids=self._fluids, today=self._clock.today(), written=written
        )
        self._form.show_form(form)

    def _change_kind(self) -> None:
        draft = self._form.draft
        if draft is not None:
            self._show(kind_of(draft))

    def _entry(self) -> EventEntry | None:
        draft = self._form.draft
        return None if draft is None else entry_of(draft, is_confirmed=self._form.is_confirmed)

    def _check(self) -> None:
        """Hold what is written against the store, without saving anything."""
        history, entry, today = self._history, self._entry(), self._clock.today()
        if history is None or entry is None:
            self._form.say((), ())
            return
        self._background.run(
            lambda _progress: check_event(self._place, history.compartment, entry, today=today),
            done=self._say,
            label=self.tr("Checking the event"),
            slot="event_check",
        )

    def _say(self, check: EventCheck) -> None:
        place = (
            ""
            if check.hours is None
            else self.tr("At {0} h of the machine").format(grouped(check.hours))
        )
        self._form.say(check.refused, check.asks, place=place)

    def _log(self) -> None:
        history, entry = self._history, self._entry()
        if history is None or entry is None:
            return
        today, moment = self._clock.today(), self._clock.moment()
        self._run(
            lambda _progress: log_event(
                self._place, history.compartment, entry, today=today, moment=moment
            ),
            done=lambda logged: self._logged(history, entry, logged),
            label=self.tr("Logging the event"),
        )

    def _logged(self, history: CompartmentHistory, entry: EventEntry, logged: EventLogged) -> None:
        self.close()
        acts: list[tuple[str, Callable[[], None]]] = []
        if entry.kind is not EventKind.COMPONENT_FIT:
            acts.append((self.tr("Undo"), lambda: self._undo(history, logged)))
        acts.append((self.tr("Close"), self._notice.clear))
        head, _, rest = logged.told.partition("; ")
        self._notice.say(head.rstrip("."), rest[:1].upper() + rest[1:], acts)
        self.changed.emit(logged.changes)

    def _undo(self, history: CompartmentHistory, logged: EventLogged) -> None:
        today, moment = self._clock.today(), self._clock.moment()
        self._run(
            lambda _progress: withdraw_event(
                self._place,
                history.compartment,
                logged.event_id,
                reason=self.tr("Logged by mistake"),
                today=today,
                moment=moment,
            ),
            done=self._undone,
            label=self.tr("Taking the event back"),
        )

    def _undone(self, logged: EventLogged) -> None:
        told = self.tr("Taken back. The event stays on record as denied.")
        self._notice.say(told, "", [(self.tr("Close"), self._notice.clear)])
        self.changed.emit(logged.changes)

    def _run(
        self,
        work: Callable[[Progress], EventLogged],
        *,
        done: Callable[[EventLogged], None],
        label: str,
    ) -> None:
        self._background.run(
            work, done=done, failed=lambda error: self._refused(error, label), label=label
        )

    def _refused(self, error: Exception, label: str) -> None:
        if not isinstance(error, OperatorError):
            self._background.failed.emit(label, error)
        elif self._form.isHidden():
            self._notice.say(str(error), "", [(self.tr("Close"), self._notice.clear)])
        else:
            self._form.say((str(error),), ())
