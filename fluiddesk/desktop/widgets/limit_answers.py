"""What the Rules page asks for reading alone, and where it shows the answers."""

from dataclasses import replace
from functools import partial

from PySide6.QtCore import QObject, Signal

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.viewstate.limit_calls import LimitCalls
from fluiddesk.desktop.viewstate.limit_draft import RuleList
from fluiddesk.desktop.widgets.limit_acts import RuleActs
from fluiddesk.desktop.widgets.limit_editing import RuleEditing
from fluiddesk.desktop.widgets.limit_foot import Leaf
from fluiddesk.desktop.widgets.limit_view import RulesView
from fluiddesk.desktop.widgets.limit_what_if import WhatIfWork
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.limit_set import Limit, Scope
from fluiddesk.services.limit_rules.facts import (
    Activated,
    BoxLimits,
    Checked,
    Derived,
    RowChange,
    RuleProblem,
    RulesRefusedError,
    WhatIfMove,
)
from fluiddesk.wiring import Clock


class RuleAnswers(QObject):
    """Compares versions, looks up one box, derives, and tells what a check or a step came to.

    Signals:
        told: (title, text).
        failed: (exception, title).
    """

    told = Signal(str, str)
    failed = Signal(object, str)

    def __init__(
        self,
        view: RulesView,
        calls: LimitCalls,
        *,
        acts: RuleActs,
        editing: RuleEditing,
        what_if: WhatIfWork,
        work: PageWork,
        clock: Clock,
        background: Background,
    ) -> None:
        super().__init__(view)
        self._view, self._calls, self._acts = view, calls, acts
        self._editing, self._what_if, self._work = editing, what_if, work
        self._clock, self._background = clock, background
        foot = view.foot
        foot.history.compare_asked.connect(self.compare)
        foot.turned.connect(self._leaf_turned)
        foot.box.box_chosen.connect(self.ask_box)
        foot.problem_opened.connect(self.go_to_problem)
        view.derive_panel.taken.connect(self.take_derived)
        view.derive_panel.groups_asked.connect(self.ask_groups)
        view.groups.chosen.connect(self.derive_groups)
        acts.checked.connect(self.tell_check)
        work.refused.connect(self._after_refusal)

    def compare(self, before: int, after: int) -> None:
        """Show in what two versions differ."""

        def done(changes: tuple[RowChange, ...]) -> None:
            self._view.foot.history.show_changes(changes, before=before, after=after)

        self._background.run(
            lambda _: self._calls.compare(before, after),
            done=done,
            failed=lambda error: self.failed.emit(error, self.tr("Nothing was compared")),
            label=self.tr("Comparing limit sets"),
            slot="limit comparison",
        )

    def _leaf_turned(self, leaf: Leaf) -> None:
        if leaf is Leaf.BOX:
            box = self._view.foot.box
            self._acts.with_boxes(box.offer)
            box.field.setFocus()

    def ask_box(self, compartment: CompartmentId) -> None:
        """Show which limits hold for a box today."""
        day = self._clock.today()
        self._background.run(
            lambda _: self._calls.box_limits(compartment, day=day),
            done=self._show_box,
            failed=self._fail_box,
            label=self.tr("Looking up the limits of a box"),
            slot="limits of a box",
        )

    def _show_box(self, found: BoxLimits) -> None:
        self._view.foot.box.show_limits(found)

    def _fail_box(self, error: Exception) -> None:
        if isinstance(error, OperatorError):
            self._view.foot.box.refuse(str(error))
        else:
            self.failed.emit(error, self.tr("Nothing was looked up"))

    # --- derive -----------------------------------------------------------------------------

    def derive(self, *, can_take: bool) -> None:
        """Derive limits for the group of the chosen row, or of every kind where none is chosen."""
        self._what_if.with_fleet(partial(self._derive, self._view.scope, can_take=can_take))

    def _derive(self, scope: Scope, *, can_take: bool) -> None:
        fleet = self._what_if.fleet
        if fleet is None:
            return
        group = Scope(compartment_kind=scope.compartment_kind, model=scope.model).text
        words = self.tr("Own history of {0}").format(group)

        def done(derived: Derived) -> None:
            self._view.show_derived(derived, group=words, can_take=can_take)

        self._work.start(
            lambda progress: self._calls.derive(
                fleet,
                compartment_kind=scope.compartment_kind,
                model=scope.model,
                fluid_class=scope.fluid_class,
                progress=progress,
            ),
            done=done,
            refusal=self.tr("Nothing was derived"),
            label=self.tr("Deriving limits from the fleet's own history"),
        )

    def ask_groups(self) -> None:
        """List the groups that limits can be derived for."""
        self._what_if.with_fleet(self._ask_groups)

    def _ask_groups(self) -> None:
        fleet = self._what_if.fleet
        if fleet is None:
            return
        self._work.start(
            lambda _: self._calls.groups_ready(fleet),
            done=self._view.show_groups,
            refusal=self.tr("The groups were not counted"),
            label=self.tr("Counting the samples of each group"),
        )

    def derive_groups(self, scopes: list[Scope]) -> None:
        """Derive limits for several groups at once; Cancel stops between groups."""
        fleet = self._what_if.fleet
        if fleet is None:
            return
        words = self.tr("Own history of {0} groups").format(len(scopes))
        if len(scopes) == 1:
            words = self.tr("Own history of {0}").format(scopes[0].text)
        can_take = self._editing.draft is not None

        def done(derived: Derived) -> None:
            self._view.show_derived(derived, group=words, can_take=can_take)

        self._work.start(
            lambda progress: self._calls.derive_groups(fleet, scopes, progress=progress),
            done=done,
            refusal=self.tr("Nothing was derived"),
            label=self.tr("Deriving limits from the fleet's own history"),
        )

    def take_derived(self, limits: list[Limit]) -> None:
        """Take derived limits into the draft in one step, which Undo gives back."""
        if self._editing.draft is None:
            return
        who = self._editing.who
        self._editing.add_all([replace(limit, set_by=who) for limit in limits])
        count = self.tr("1 row") if len(limits) == 1 else self.tr("{0} rows").format(len(limits))
        self.told.emit(
            self.tr("Taken into the draft"), self.tr("{0}. Undo gives back.").format(count)
        )

    # --- telling ----------------------------------------------------------------------------

    def tell_check(self, checked: Checked) -> None:
        """List what is wrong with a set, or say that nothing is."""
        self._view.foot.show_problems(checked.problems)
        title = self.tr('Draft {0} "{1}"').format(checked.number, checked.name)
        stops = sum(one.stops for one in checked.problems)
        if not checked.problems:
            self.told.emit(title, self.tr("Nothing is wrong. It can be put in force."))
        elif not checked.open:
            words = self.tr("Nothing is wrong; {0} listed below stand accepted with a reason.")
            self.told.emit(title, words.format(len(checked.problems)))
        elif checked.may_take_force:
            self.told.emit(title, self.tr("It can be put in force; read what is odd below."))
        else:
            words = self.tr("{0} of what is listed below keeps it from being put in force.")
            self.told.emit(title, words.format(stops))

    def go_to_problem(self, problem: RuleProblem) -> None:
        """Lead the keyboard to the row of the draft that a problem is about."""
        draft = self._editing.draft
        if draft is None or problem.place < 0:
            return
        which = RuleList.INTERVALS if problem.is_interval else RuleList.LIMITS
        rows = draft.intervals.rows if problem.is_interval else draft.limits.rows
        counting = [row.key for row in rows if row.counts is not None]
        if problem.place < len(counting):
            self._view.lead_to(which, counting[problem.place])
            self._view.table.setFocus()

    def tell_activated(self, done: Activated) -> None:
        """Say what putting a set in force came to, and list who moved."""
        title = self.tr("Limit set {0} is in force from {1}").format(
            done.number, done.valid_from.isoformat()
        )
        words = self.tr("{0} samples were judged; {1} verdicts changed; {2} boxes moved.")
        self._view.foot.show_problems(())
        self._view.foot.show_moved(
            [
                WhatIfMove(
                    compartment_id=one.compartment_id,
                    site=one.site,
                    machine=one.machine,
                    compartment=one.compartment,
                    sampled_on=done.valid_from,
                    before=one.before,
                    after=one.after,
                    why=one.headline,
                )
                for one in done.moved
            ]
        )
        told = words.format(done.samples, done.changed, len(done.moved))
        if not done.changed:
            told += " " + self.tr(
                "It holds for samples drawn from that day on: nobody moves until new ones come. "
                "To judge older ones by it, hold it from an earlier day."
            )
        self.told.emit(title, told)

    def _after_refusal(self, error: OperatorError) -> None:
        if isinstance(error, RulesRefusedError):
            self._view.foot.show_problems(error.problems)
