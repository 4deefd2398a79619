"""The Sampling page: what is due, visits on a time bar, their papers, and the crews."""

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.due_cells import due_facts
from fluiddesk.desktop.viewstate.due_list import DueList
from fluiddesk.desktop.viewstate.round_plan import RoundPlan
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls, SamplingFacts
from fluiddesk.desktop.viewstate.sampling_words import (
    nothing_planned,
    page_sentence,
    plan_line,
)
from fluiddesk.desktop.widgets.file_asking import LastFolders
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_tools import PageTools
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.sampling_parts import SamplingParts
from fluiddesk.desktop.widgets.section_bar import SectionBar, look_of
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.takings.facts import Recorded
from fluiddesk.services.visits.book import CHANGED
from fluiddesk.services.visits.facts import Visit
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

_SUBJECTS = frozenset({Subject.FLEET, Subject.RESULTS, Subject.LIMITS})


class SamplingScreen(QWidget):
    """Plans and runs the sampling rounds.

    Signals:
        changed: ``Changes``, for the other pages.
        box_opened: the identifier of a box that is to be shown on its own page.
        register_asked: the register is wanted, as there are no machines yet.
    """

    changed = Signal(object)
    box_opened = Signal(object)
    register_asked = Signal()

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        last_folders: LastFolders | None = None,
        own_folder: Path | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Sampling")
        self._place, self._clock, self._background = place, clock, background
        self._calls = SamplingCalls(place=place, own_folder=own_folder)
        self._facts: SamplingFacts | None = None
        self._is_telling = False
        self.plan: RoundPlan | None = None
        self._sentence = QuietLabel("sentence", theme)
        self._about = QuietLabel("small", theme)
        self._strip = WorkStrip()
        self.notice = InlineNotice(theme)
        self.work = PageWork(background, strip=self._strip, notice=self.notice, parent=self)
        tools = PageTools(
            clock=clock,
            theme=theme,
            background=background,
            notice=self.notice,
            folders=last_folders or LastFolders(None),
        )
        parts = SamplingParts(self._calls, tools=tools, work=self.work, window=self)
        self._all, self._parts = parts, parts.sections
        self.moves, self.acts, self.box_acts = parts.moves, parts.acts, parts.box_acts
        self.due_acts = parts.due_acts
        self.visits, self.due, self.taking = parts.visits, parts.due, parts.taking
        self.bottles, self.compliance, self.crews = parts.bottles, parts.compliance, parts.crews
        self.chance = parts.chance
        self.sections = self._make_sections(theme)
        self.stack = QStackedWidget()
        self._lay_out()
        self._connect()

    def _make_sections(self, theme: Theme) -> SectionBar:
        return SectionBar(
            (
                ("visits", self.tr("Visits")),
                ("due", self.tr("Due")),
                ("record", self.tr("Record")),
                ("bottles", self.tr("Bottles out")),
                ("compliance", self.tr("Compliance")),
                ("chance", self.tr("Chance to catch")),
                ("crews", self.tr("Crews and service days")),
            ),
            look_of(theme),
            self,
        )

    def _lay_out(self) -> None:
        for part in self._parts.values():
            self.stack.addWidget(part)
        # Keeps the words at the top while there is nothing to show.
        self._blank = QWidget()
        self.stack.addWidget(self._blank)
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP + STEP)
        column.setSpacing(GAP)
        for one in (self._sentence, self._about, self._strip, self.notice, self.sections):
            column.addWidget(one)
        column.addWidget(self.stack, 1)
        self.sections.show_chosen("visits")

    def _connect(self) -> None:
        self.sections.chosen.connect(self.show_section)
        self.visits.wishes_changed.connect(self.refresh)
        self.visits.site_chosen.connect(self._show_site)
        self.visits.asked.connect(lambda key: self.acts.do(key, self.visits.board.chosen))
        for opened in (
            self.visits.box_opened,
            self.due.box_opened,
            self.bottles.box_opened,
            self.compliance.box_opened,
            self.chance.box_opened,
        ):
            opened.connect(self.box_opened)
        self.visits.board.refused_move.connect(
            lambda: self._tell("", self.tr("That day has passed. Choose today or a day to come."))
        )
        self.moves.moved.connect(lambda _key: self._tell_plan())
        self.moves.refused.connect(
            partial(self._tell_failure, title=self.tr("The visit was not moved"))
        )
        for acts in (self.acts, self.box_acts):
            acts.kept_changed.connect(self._show_kept)
            acts.changed.connect(self._tell_others)
            acts.told.connect(self._tell)
        self.acts.plan_changed.connect(self._show_plan)
        self.visits.box_asked.connect(self.box_acts.do)
        self.compliance.reason_asked.connect(self.box_acts.ask_reason)
        self.due.visit_asked.connect(self.box_acts.ask_lay)
        self._connect_due()
        self.box_acts.laid.connect(lambda: self.show_section("visits"))
        self.box_acts.noted.connect(self.compliance.forget)
        self.box_acts.noted.connect(self.refresh)
        for told in (self.compliance.told, self.taking.told, self.bottles.told):
            told.connect(self._tell)
        self.bottles.read.connect(lambda _facts: self._tell_plan())
        self.bottles.changed.connect(self._moved_on)
        self.taking.recorded.connect(self._recorded)
        self.taking.asked.connect(self._ask)
        self.crews.saved.connect(self.refresh)
        self.work.refused.connect(lambda _error: self._read_kept())
        self.moves.hear_keys(self)

    def _connect_due(self) -> None:
        acts, today = self.due_acts, self._clock.today
        self.due.special_asked.connect(acts.ask_special)
        self.due.void_asked.connect(lambda box, name: acts.ask_void(box, name, near=today()))
        self.due.panel.end_asked.connect(acts.ask_end)
        self.compliance.void_asked.connect(acts.ask_void_of)
        acts.changed.connect(self._moved_on)
        acts.told.connect(self._tell)
        acts.done.connect(
            lambda title, actions: self._ask(
                title, "", [*actions, (self.tr("Close"), self.notice.clear)]
            )
        )

    # --- showing ----------------------------------------------------------------------------

    @property
    def sentence(self) -> str:
        """The page's sentence as shown."""
        return self._sentence.text()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._sentence, self._about, self.notice, self._all):
            part.apply_theme(theme)
        self.sections.apply_look(look_of(theme))

    def show_section(self, key: str) -> None:
        """Turn to a section; a key that is none of this page's changes nothing.

        Without machines there is nothing to turn to but the way into the register.
        """
        has_none = self._facts is not None and not len(self._facts.fleet)
        if key not in self._parts or has_none:
            return
        self.sections.show_chosen(key)
        self.stack.setCurrentWidget(self._parts[key])
        if key == "compliance":
            self.compliance.begin()
        elif key == "chance":
            self.chance.begin()
            self.chance.table.setFocus()
        elif key == "record":
            self.taking.focus_first()

    @override
    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        # What one came for are the visits; out of sight they must not take the keys.
        if self.stack.currentWidget() is self.visits:
            self.visits.board.setFocus()
        elif self.stack.currentWidget() is self.taking:
            self.taking.focus_first()

    def refresh(self) -> None:
        """Read what is due and plan anew, once every move is saved."""
        self.moves.when_saved(self._read)

    def _read(self) -> None:
        wishes, today = self.visits.wishes, self._clock.today()
        self.acts.works_weekends = wishes.works_weekends
        self._background.run(
            lambda _: self._calls.facts(wishes, today=today),
            done=self.show_facts,
            failed=partial(self._tell_failure, title=self.tr("No visits to show")),
            label=self.tr("Planning visits"),
            slot="sampling",
        )
        self.bottles.refresh()

    def show_changes(self, changes: Changes) -> None:
        """Plan anew when the fleet, its results or its intervals changed elsewhere."""
        if not self._is_telling and changes.subjects & _SUBJECTS:
            self.compliance.forget()
            self.chance.forget()
            self.refresh()

    def show_facts(self, facts: SamplingFacts) -> None:
        """Show what is due, proposed and kept; proposals that were moved stay where they are."""
        plan = RoundPlan(facts)
        if self.plan is not None:
            plan.take_days(self.plan)
        self._facts, self.plan = facts, plan
        self.moves.begin(plan)
        self.acts.begin(plan)
        self.box_acts.begin(plan, facts)
        self.visits.show_sites(facts.sites)
        self.taking.show_drafts(facts.drafts)
        plan.show_site(self.visits.site_shown)
        listed = due_facts(facts, self._place.catalogue)
        self.due.show_list(DueList(listed, visits=tuple(plan.every.values())))
        self.due.show_specials(facts.specials)
        self.due_acts.begin(facts.notes)
        self.crews.show_facts(facts)
        has_machines = len(facts.fleet) > 0
        self.sections.show_sections(shown=has_machines)
        if not has_machines:
            self._show_empty()
        elif self.stack.currentWidget() is self._blank:
            self.notice.clear()
            self.show_section("visits")
        self._show_plan()

    def _show_empty(self) -> None:
        self.stack.setCurrentWidget(self._blank)
        self.notice.say(
            self.tr("Begin with the register"),
            self.tr("Enter a site, its machines and their boxes. What is due follows from that."),
            [(self.tr("Open the register"), self.register_asked.emit)],
        )

    def _show_plan(self) -> None:
        if self.plan is not None:
            self.visits.show_plan(self.plan, nothing=nothing_planned(self.plan))
            self.taking.show_plan(self.plan)
        self._tell_plan()

    def _tell_plan(self) -> None:
        plan, facts = self.plan, self._facts
        if plan is None or facts is None:
            return
        custody = self.bottles.facts
        unaccounted = 0 if custody is None else custody.custody.unaccounted
        self._sentence.setText(page_sentence(facts, plan, unaccounted=unaccounted))
        self._about.setText(plan_line(plan))
        self._about.setVisible(bool(self._about.text()))
        if self.due.due is not None:
            self.due.due.take_visits(tuple(plan.every.values()))

    def _show_site(self, site: str) -> None:
        if self.plan is not None:
            self.plan.show_site(site)
        self.due.show_site(site)
        self._show_plan()

    def _show_kept(self, kept: tuple[Visit, ...]) -> None:
        plan = self.plan
        if plan is None:
            return
        before = {key: _boxes(one.visit) for key, one in plan.every.items()}
        chosen = {box for key in self.visits.board.chosen for box in before.get(key, ())}
        plan.show_kept(kept)
        self.moves.undo_stack.clear()
        self._show_plan()
        # A proposal that was kept has another key now, but the same bottles.
        again = [key for key, one in plan.every.items() if _boxes(one.visit) & chosen]
        self.visits.board.choose(*again)

    def _moved_on(self, changes: Changes) -> None:
        """Bottles were moved on; what is due may have changed by it."""
        self.compliance.forget()
        self._tell_others(changes)
        self._read()

    def _recorded(self, done: Recorded) -> None:
        against = [f"{code}: {why}" for code, why in done.suspect]
        self._tell(done.sentence, "\n".join([*against, *done.warnings]))
        self.compliance.forget()
        self._tell_others(done.changes)
        self.refresh()

    def _read_kept(self) -> None:
        today = self._clock.today()
        self._background.run(
            lambda _: self._calls.kept(today=today),
            done=self._show_kept,
            failed=partial(self._tell_failure, title=self.tr("The visits were not read")),
            label=self.tr("Reading the visits"),
            slot="sampling kept",
        )

    # --- telling ----------------------------------------------------------------------------

    def _tell_others(self, changes: Changes = CHANGED) -> None:
        self._is_telling = True
        try:
            self.changed.emit(changes)
        finally:
            self._is_telling = False

    def _tell(self, title: str, text: str) -> None:
        at = self.focusWidget()
        self.notice.say(title, text, [(self.tr("Close"), self.notice.clear)])
        # Whoever moves visits by keys goes on moving them; Esc closes the notice.
        if at is not None and at.isVisible():
            at.setFocus()

    def _ask(
        self, title: str, text: str, actions: Sequence[tuple[str, Callable[[], None]]]
    ) -> None:
        """Tell what somebody has to choose; the notice goes once they did."""

        def chosen(then: Callable[[], None]) -> None:
            self.notice.clear()
            then()

        choices = [(words, partial(chosen, then)) for words, then in actions]
        self.notice.say(title, text, choices)

    def keep_now(self) -> None:
        """Save what was typed last: the program is about to close."""
        self.taking.keep_now()

    def _tell_failure(self, error: Exception, title: str) -> None:
        if isinstance(error, OperatorError):
            self._tell(title, str(error))
        else:
            self._background.failed.emit(title, error)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Refresh):
            self.refresh()
        elif event.matches(QKeySequence.StandardKey.Find):
            self.show_section("due")
            self.due.filter_box.setFocus()
            self.due.filter_box.selectAll()
        elif event.key() == Qt.Key.Key_Escape:
            self.notice.clear()
        else:
            super().keyPressEvent(event)


def _boxes(visit: Visit) -> frozenset[bytes]:
    return frozenset(box.compartment_id for box in visit.open_boxes)
