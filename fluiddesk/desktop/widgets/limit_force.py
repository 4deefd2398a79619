"""Puts a draft in force, or the set in force from an earlier day on: asked for, then done."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QObject, Signal

from fluiddesk.desktop.viewstate.limit_calls import LimitCalls
from fluiddesk.desktop.viewstate.limit_forms import earlier_form, force_form
from fluiddesk.desktop.viewstate.record_form import RecordForm, Values
from fluiddesk.desktop.widgets.limit_acts import RuleActs
from fluiddesk.desktop.widgets.limit_editing import RuleEditing
from fluiddesk.desktop.widgets.limit_view import RulesView
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules.facts import Activated
from fluiddesk.services.limit_rules.reach import Reach
from fluiddesk.wiring import Clock

if TYPE_CHECKING:
    from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet

_LOOK_BACKS: Final = (0, 30, 90, 365)
"""The days before today for which the form says how many samples would be judged anew."""

Reaches = tuple[Reach, ...]


class LimitForce(QObject):
    """Asks from which day a set is to hold, says what that means, and does it.

    Signals:
        activated: ``Activated``.
        changed: ``Changes``, for the other pages.
    """

    activated = Signal(object)
    changed = Signal(object)

    def __init__(
        self,
        page: RulesView,
        calls: LimitCalls,
        *,
        acts: RuleActs,
        editing: RuleEditing,
        work: PageWork,
        clock: Clock,
    ) -> None:
        super().__init__(page)
        self._page, self._calls, self._acts = page, calls, acts
        self._editing, self._work, self._clock = editing, work, clock

    def put_in_force(self, fleet: "WhatIfFleet | None") -> None:
        """Ask from when and why the draft is to hold.

        Args:
            fleet: the fleet's samples, to say how many would be judged anew; ``None`` leaves the
                figures out.
        """
        self._editing.when_saved(lambda: self._with_reach(fleet, self._ask_force))

    def hold_earlier(self, fleet: "WhatIfFleet | None") -> None:
        """Ask from which earlier day the set in force is to hold."""
        self._with_reach(fleet, self._ask_earlier)

    def _with_reach(self, fleet: "WhatIfFleet | None", then: Callable[[Reaches], None]) -> None:
        if fleet is None:
            then(())
            return
        today = self._clock.today()
        days = [today - timedelta(days=back) for back in _LOOK_BACKS]
        self._work.start(
            lambda _: self._calls.reach(fleet, days),
            done=then,
            refusal=self.tr("The samples were not counted"),
            label=self.tr("Counting the samples"),
        )

    def _ask_force(self, reaches: Reaches) -> None:
        draft, shown = self._editing.draft, self._page.limit_set
        if draft is None or shown is None:
            return
        form = force_form(
            name=shown.name,
            who=self._calls.place.who,
            today=self._clock.today(),
            changed=draft.changed_count,
            reaches=reaches,
        )
        number, version = draft.number, self._editing.version
        self._acts.ask_form(form, lambda values: self._force(number, version, values))

    def _ask_earlier(self, reaches: Reaches) -> None:
        shown = self._page.limit_set
        if shown is None:
            return
        form: RecordForm = earlier_form(shown, who=self._calls.place.who, reaches=reaches)
        self._acts.ask_form(form, lambda values: self._hold(shown.number, values))

    def _force(self, number: int, version: int, values: Values) -> None:
        valid_from, note = values["valid_from"], str(values["note"])
        today, moment = self._clock.today(), self._clock.moment()
        if not isinstance(valid_from, date):
            return
        self._acts.close_form()
        self._work.start(
            lambda progress: self._calls.activate(
                number,
                valid_from=valid_from,
                note=note,
                version=version,
                today=today,
                moment=moment,
                progress=progress,
            ),
            done=self._tell,
            refusal=self.tr("Nothing was put in force"),
            label=self.tr("Judging the fleet by limit set {0}").format(number),
            saves=True,
        )

    def _hold(self, number: int, values: Values) -> None:
        valid_from, note = values["valid_from"], str(values["note"])
        today, moment = self._clock.today(), self._clock.moment()
        if not isinstance(valid_from, date):
            return
        self._acts.close_form()
        self._work.start(
            lambda progress: self._calls.hold_earlier(
                number,
                valid_from=valid_from,
                note=note,
                today=today,
                moment=moment,
                progress=progress,
            ),
            done=self._tell,
            refusal=self.tr("Every verdict stands as it was"),
            label=self.tr("Judging the samples since {0} anew").format(valid_from.isoformat()),
            saves=True,
        )

    def _tell(self, done: Activated) -> None:
        self._editing.forget()
        self.activated.emit(done)
        subjects = frozenset({Subject.LIMITS, Subject.ASSESSMENTS})
        self.changed.emit(Changes(subjects=subjects))
