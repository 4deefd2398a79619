"""The Rules page: limits and intervals by scope, edited in a draft that is tried on the fleet."""

from functools import partial
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtGui import QHideEvent, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.limit_calls import LimitCalls, PageFacts
from fluiddesk.desktop.viewstate.limit_draft import RuleDraft, RuleList
from fluiddesk.desktop.viewstate.limit_reading import set_line, set_sentence, shown_anew
from fluiddesk.desktop.viewstate.limit_rules import CAUTION
from fluiddesk.desktop.viewstate.limit_versions import is_draft
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.limit_acts import RuleActs
from fluiddesk.desktop.widgets.limit_answers import RuleAnswers
from fluiddesk.desktop.widgets.limit_bar import LimitBar
from fluiddesk.desktop.widgets.limit_editing import RuleEditing
from fluiddesk.desktop.widgets.limit_force import LimitForce
from fluiddesk.desktop.widgets.limit_shortcuts import make_shortcuts
from fluiddesk.desktop.widgets.limit_view import RulesView
from fluiddesk.desktop.widgets.limit_what_if import WhatIfWork
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.domain.limits.limit_set import Limit, LimitSet
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.limit_rules import LimitsShown, shown
from fluiddesk.services.limit_rules.facts import SetFacts
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

_ON_ANY_SET: Final = ("draft", "earlier", "derive", "export", "import")


class LimitRulesScreen(QWidget):
    """Shows one limit set, and edits it while it is a draft.

    Signals:
        changed: ``Changes``, for the other pages.
        box_opened: the identifier of a box that is to be shown on its own page.
    """

    changed = Signal(object)
    box_opened = Signal(object)

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        calls: LimitCalls | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Rules")
        self._place, self._clock, self._background = place, clock, background
        self._calls = LimitCalls(place=place) if calls is None else calls
        self._facts: PageFacts | None = None
        self._wanted: int | None = None
        self._shown: LimitsShown | None = None
        self.editing = RuleEditing(self._calls, clock=clock, background=background, parent=self)
        self.what_if = WhatIfWork(self._calls, clock=clock, background=background, parent=self)
        self._sentence = QuietLabel("sentence", theme)
        self._about = QuietLabel("small", theme)
        self.notice = InlineNotice(theme)
        self._strip = WorkStrip()
        self.work = PageWork(background, strip=self._strip, notice=self.notice, parent=self)
        self.bar = LimitBar(theme, self.editing.undo_stack)
        self.view = RulesView(place.catalogue, theme=theme)
        self._caution = QuietLabel("small", theme, CAUTION)
        self.acts = RuleActs(
            self.view, self._calls, editing=self.editing, work=self.work, clock=clock, window=self
        )
        self.acts.apply_theme(theme)
        self.force = LimitForce(
            self.view,
            self._calls,
            acts=self.acts,
            editing=self.editing,
            work=self.work,
            clock=clock,
        )
        self.answers = self._make_answers()
        self._lay_out()
        self._connect_parts()
        self._connect_work()
        make_shortcuts(self, self._do)

    def _make_answers(self) -> RuleAnswers:
        return RuleAnswers(
            self.view,
            self._calls,
            acts=self.acts,
            editing=self.editing,
            what_if=self.what_if,
            work=self.work,
            clock=self._clock,
            background=self._background,
        )

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP + STEP)
        column.setSpacing(GAP)
        for part in (self._sentence, self._about, self.bar, self._strip, self.notice):
            column.addWidget(part)
        # Keeps the words at the top while there is no set to show.
        self._blank = QWidget()
        self._blank.hide()
        column.addWidget(self.view, 1)
        column.addWidget(self._blank, 1)
        column.addWidget(self._caution)

    def _connect_parts(self) -> None:
        foot = self.view.foot
        self.view.limits.typed.connect(self.editing.type_limit)
        self.view.intervals.typed.connect(self.editing.type_interval)
        self.view.settings.typed.connect(self.editing.type_setting)
        self.view.limit_chosen.connect(self._limit_chosen)
        for panel in (self.view.derive_panel, self.view.groups):
            panel.closed.connect(partial(self.show_face, "limits"))
        self.bar.set_chosen.connect(self.open_set)
        self.bar.face_chosen.connect(self.show_face)
        self.bar.filtered.connect(self.view.filter)
        self.bar.asked.connect(self._do)
        foot.history.opened.connect(self.open_set)
        foot.editor.today = self._clock.today()
        foot.editor.limit_typed.connect(self.editing.type_limit)
        foot.editor.interval_typed.connect(self.editing.type_interval)
        foot.editor.left.connect(self.view.focus_table)
        for opened in (foot.box_opened, self.view.preview.box_opened):
            opened.connect(self.box_opened)

    def _connect_work(self) -> None:
        preview = self.view.preview
        self.editing.edited.connect(self._draft_edited)
        self.editing.saved.connect(self._tell_saved)
        self.editing.refused.connect(self._refuse_save)
        self.what_if.began.connect(lambda: preview.wait_for(self.tr("Judging the fleet...")))
        self.what_if.latest.connect(preview.show_latest)
        self.what_if.year.connect(preview.show_year)
        self.what_if.chance.connect(preview.show_chance)
        self.what_if.spread.connect(self.view.show_spread)
        self.what_if.refused.connect(self._refuse_trial)
        self.acts.set_wanted.connect(self._turn_to_set)
        self.force.activated.connect(self.answers.tell_activated)
        self.force.activated.connect(lambda done: self._turn_to_set(done.number))
        self.answers.told.connect(self._tell)
        self.answers.failed.connect(self._tell_failure)
        self.acts.changed.connect(self.changed)
        self.force.changed.connect(self.changed)
        self.acts.told.connect(self._tell)

    # --- what is on the page ----------------------------------------------------------------

    @property
    def sentence(self) -> str:
        """The page's sentence as shown."""
        return self._sentence.text()

    @property
    def draft(self) -> RuleDraft | None:
        """The draft on the page; ``None`` while a set is shown that is not edited."""
        draft, shown_set = self.editing.draft, self.limit_set
        if draft is None or shown_set is None or draft.number != shown_set.number:
            return None
        return draft

    @property
    def limit_set(self) -> LimitSet | None:
        """The set on the page, as it was read."""
        opened = None if self._facts is None else self._facts.opened
        return None if opened is None else opened.limit_set

    def _of_set(self, number: int) -> SetFacts | None:
        sets = () if self._facts is None else self._facts.sets
        return next((one for one in sets if one.number == number), None)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.acts.apply_theme(theme)
        for part in (self._sentence, self._about, self.notice, self._caution, self.bar, self.view):
            part.apply_theme(theme)

    # --- showing ----------------------------------------------------------------------------

    def refresh(self) -> None:
        """Read the sets in the background, once everything typed is saved."""
        self.editing.when_saved(self._read)

    def _read(self) -> None:
        today, wanted = self._clock.today(), self._wanted
        self._background.run(
            lambda _: self._calls.page(wanted, today=today),
            done=self.show_facts,
            failed=partial(self._tell_failure, title=self.tr("No limits to show")),
            label=self.tr("Reading the limit sets"),
            slot="limit rules",
        )

    def show_changes(self, changes: Changes) -> None:
        """Read anew when limits changed; forget the fleet's figures when results did."""
        if changes.subjects & {Subject.RESULTS, Subject.FLEET, Subject.LIMITS}:
            self.what_if.forget_fleet()
            self.acts.forget_boxes()
        if Subject.LIMITS in changes.subjects:
            self.refresh()

    def open_set(self, number: int) -> None:
        """Show a set by its number."""
        self._wanted = number
        self.refresh()

    def _turn_to_set(self, number: int) -> None:
        """Show a set that was just made; -1 shows the one in force."""
        self._wanted = None if number < 0 else number
        self.view.foot.show_problems(())
        self._read()

    def show_facts(self, facts: PageFacts) -> None:
        """Show the history and one set, keeping scope, filter and order."""
        if self._facts is None and self.bar.picker.hasFocus():
            # What one came for are the limits.
            self.view.limit_table.setFocus()
        self._facts = facts
        self.view.name_boxes(facts.box_names)
        opened = facts.opened
        number = None if opened is None else opened.number
        self.bar.show_sets(facts.sets, shown=number)
        self.view.foot.history.show_versions(facts.sets, shown=number)
        one = None if number is None else self._of_set(number)
        is_edited = one is not None and is_draft(one)
        is_held = one is not None and one.holds_today
        self.bar.show_mode(is_draft=is_edited, is_held=is_held, has_set=opened is not None)
        self.view.setVisible(opened is not None)
        self._blank.setVisible(opened is None)
        if opened is None:
            self._show_empty()
            return
        if is_edited:
            self.editing.begin(opened, base=facts.base)
        else:
            self.what_if.forget_draft()
            self.view.preview.forget()
        self._show_set(opened.limit_set)

    def _show_empty(self) -> None:
        self._sentence.setText(self.tr("There is no limit set yet, so nothing is judged."))
        self._about.hide()
        self.notice.say(
            self.tr("Begin with a limit file"),
            self.tr("It becomes a draft, to be read, changed and put in force by a named person."),
            [(self.tr("Import a file as a draft..."), self.acts.ask_import)],
        )

    def _show_set(self, limit_set: LimitSet) -> None:
        draft = self.draft
        written = limit_set if draft is None else draft.written
        before, catalogue = self.view.limit_set, self._place.catalogue
        if before is None or self._shown is None:
            facts = shown(written, catalogue)
        else:
            facts = shown_anew(self._shown, before, written, catalogue)
        self._shown = facts
        self.view.show_set(written, facts, draft)
        if draft is None:
            self._sentence.setText(set_sentence(facts, self._of_set(facts.number)))
            self.bar.state.setText("")
        else:
            self._sentence.setText(draft.sentence)
            self.bar.state.setText("" if self.editing.is_saved else self.tr("Not saved yet"))
            self.what_if.try_draft(draft.counting)
        self._about.setText(set_line(facts, self._of_set(facts.number)))
        self._about.show()

    def show_face(self, face: str) -> None:
        """Show the limits, the intervals and windows, or the settings."""
        self.view.show_face(face)
        self.bar.show_face(face)
        if face == "intervals":
            self.acts.with_boxes(self.view.interval_panel.offer)

    def choose_scope(self, label: str) -> None:
        """Show the limits of one scope by its words in the list."""
        self.view.choose_scope(label)

    def focus_filter(self) -> None:
        """Lead the keyboard to the filter."""
        self.bar.filter_box.setFocus()
        self.bar.filter_box.selectAll()

    # --- editing ----------------------------------------------------------------------------

    def _draft_edited(self, which: RuleList, key: int) -> None:
        if self.draft is None or self.limit_set is None:
            return
        self._show_set(self.limit_set)
        self.view.lead_to(which, key)

    def _tell_saved(self) -> None:
        if self.draft is not None:
            self.bar.state.setText(self.tr("Saved") if self.editing.undo_stack.count() else "")

    def _refuse_save(self, error: Exception) -> None:
        if isinstance(error, StaleEditError):
            read = (self.tr("Read the draft anew"), self._read_anew)
            self.notice.say(self.tr("Somebody else has changed this draft"), str(error), [read])
        else:
            self._tell_failure(error, title=self.tr("The draft was not saved"))

    def _read_anew(self) -> None:
        self.notice.clear()
        self.editing.forget()
        self._read()

    def _limit_chosen(self, limit: Limit | None) -> None:
        self.what_if.ask_spread(limit)
        is_off = limit is not None and limit.is_off
        words = self.tr("Switch on") if is_off else self.tr("Switch off...")
        self.bar.button("off").setText(words)

    # --- doing ------------------------------------------------------------------------------

    def _do(self, key: str) -> None:
        """Do what a button says."""
        acts = {
            "draft": self.acts.make_draft,
            "earlier": lambda: self.what_if.with_fleet(self._hold_earlier),
            "save": self.editing.save,
            "undo": self.editing.undo_stack.undo,
            "redo": self.editing.undo_stack.redo,
            "add": self.acts.add,
            "edit": self.view.edit_row,
            "off": self.acts.switch_off,
            "out": self.acts.take_out,
            "derive": lambda: self.answers.derive(can_take=self.draft is not None),
            "check": self.acts.check,
            "discard": self.acts.discard,
            "force": self._force,
            "export": self.acts.ask_export,
            "import": self.acts.ask_import,
        }
        if self.draft is not None or key in _ON_ANY_SET:
            acts[key]()

    def _force(self) -> None:
        draft = self.draft
        if draft is None:
            return
        wrong = draft.first_wrong
        if wrong is not None:
            which, key, problem = wrong
            self._tell(self.tr("Mend this row first"), problem)
            self.view.lead_to(which, key)
            return
        self.force.put_in_force(self.what_if.fleet)

    def _hold_earlier(self) -> None:
        self.force.hold_earlier(self.what_if.fleet)

    # --- telling ----------------------------------------------------------------------------

    def _tell(self, title: str, text: str) -> None:
        self.notice.say(title, text, [(self.tr("Close"), self.notice.clear)])

    def _refuse_trial(self, error: Exception) -> None:
        self.view.preview.wait_for(self.tr("The draft was not tried on the fleet."))
        self._tell_failure(error, self.tr("The fleet's figures were not read"))

    def _tell_failure(self, error: Exception, title: str) -> None:
        if isinstance(error, OperatorError):
            self._tell(title, str(error))
        else:
            self._background.failed.emit(title, error)

    @override
    def hideEvent(self, event: QHideEvent) -> None:
        super().hideEvent(event)
        # Another page came up; a window that closes has ended its background work by now.
        if self.window().isVisible():
            self.editing.save()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Refresh):
            self.refresh()
        elif event.matches(QKeySequence.StandardKey.Find):
            self.focus_filter()
        else:
            super().keyPressEvent(event)
