"""The clerk's desk: bottle-code box, queue, the report at hand, and the verdict after saving."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.held_rows import HeldCalls
from fluiddesk.desktop.viewstate.keying_calls import KeyingCalls
from fluiddesk.desktop.viewstate.keying_example import example_draft
from fluiddesk.desktop.viewstate.lab_intake import undone_sentence
from fluiddesk.desktop.viewstate.results_queue import QueuePart, QueueRow, queue_sentence
from fluiddesk.desktop.widgets.bottle_box import BottleBox
from fluiddesk.desktop.widgets.held_row_panel import HeldRowPanel
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.keying_desk import KeyingDesk
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.question_bar import QuestionBar
from fluiddesk.desktop.widgets.queue_panel import QueuePanel
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.saved_report import SavedPanel
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.event_questions import EventAnswer, EventQuestion
from fluiddesk.services.keyed_results.basis import SecondEntry
from fluiddesk.services.keyed_results.facts import (
    Draft,
    OpenReport,
    ResultsQueue,
    SavedReport,
)
from fluiddesk.services.lab_intake.facts import IntakeResult
from fluiddesk.wiring import Clock


class KeyingView(QWidget):
    """From a bottle code to a verdict.

    Signals:
        changed: what saving, an answer or an undo altered, as ``Changes``.
        box_opened: the box whose page is to be shown.
    """

    changed = Signal(object)
    box_opened = Signal(object)

    def __init__(
        self, calls: KeyingCalls, *, clock: Clock, theme: Theme, background: Background
    ) -> None:
        super().__init__()
        self.calls = calls
        self._clock, self._background = clock, background
        self._report: OpenReport | None = None
        self._second = SecondEntry()
        self.head = QuietLabel("sentence", theme)
        self.bottle = BottleBox(theme)
        self.questions = QuestionBar(theme)
        self.saved = SavedPanel(theme)
        self.queue = QueuePanel(theme)
        self.desk = KeyingDesk(clock=clock, theme=theme, background=background)
        self.held = HeldRowPanel(
            HeldCalls(place=calls.place), clock=clock, theme=theme, background=background
        )
        self.notice = InlineNotice(theme)
        self._strip = WorkStrip()
        self._work = PageWork(background, strip=self._strip, notice=self.notice, parent=self)
        self._stack = QStackedWidget()
        self._nothing = QWidget()
        self._stack.addWidget(self._nothing)
        self._stack.addWidget(self.queue)
        self._stack.addWidget(self.desk)
        self._stack.addWidget(self.held)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        parts = (self.bottle, self._strip, self.notice, self.saved, self.questions)
        for part in parts:
            column.addWidget(part)
        column.addWidget(self._stack, 1)
        self._stack.setCurrentWidget(self.queue)
        self._connect()

    def _connect(self) -> None:
        self.bottle.code_given.connect(self.open_bottle)
        self.bottle.confirmed.connect(self._confirm)
        self.bottle.refused.connect(self.to_queue)
        self.bottle.layout_chosen.connect(self._layout_chosen)
        self.queue.opened.connect(self._row_opened)
        self.queue.second_chosen.connect(self._second_chosen)
        self.questions.answered.connect(self._answered)
        self.saved.undo_button.clicked.connect(self._ask_undo)
        self.saved.box_button.clicked.connect(self._show_box)
        self.desk.saved.connect(self._saved)
        self.desk.left.connect(self.to_queue)
        self.desk.stale.connect(self._open_again)
        self.desk.other_asked.connect(self._move_to)
        self.held.left.connect(self.to_queue)
        self.held.changed.connect(self.changed)
        for keys, then in (("Ctrl+B", self.to_bottle), ("Esc", self._escape)):
            made = QShortcut(QKeySequence(keys), self)
            made.setContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            made.activated.connect(then)

    @property
    def is_busy(self) -> bool:
        """Whether something is being read or saved."""
        return self._work.is_under_way or self.held.is_busy or not self.desk.is_idle

    @property
    def is_keying(self) -> bool:
        """Whether a report is on the desk."""
        return self._stack.currentWidget() is self.desk

    def refresh(self) -> None:
        """Read the queue anew; a report on the desk stays as it is."""
        calls, today = self.calls, self._clock.today()
        self._background.run(
            lambda _: (calls.queue(today=today), calls.second_entry()),
            done=lambda read: self._queue_read(*read),
            label=self.tr("Reading the queue"),
            slot="queue of reports",
        )

    def _queue_read(self, queue: ResultsQueue, second: SecondEntry) -> None:
        self._second = second
        self.queue.show_second(second.mode)
        self.show_queue(queue)

    def _second_chosen(self, mode: str) -> None:
        calls, moment = self.calls, self._clock.moment()
        chosen = replace(self._second, mode=mode)

        def keep(_: object) -> None:
            calls.set_second_entry(chosen, moment=moment)

        self._work.start(
            keep,
            done=lambda _: self.refresh(),
            refusal=self.tr("The setting was not kept"),
            label=self.tr("Keeping the setting"),
            saves=True,
        )

    def show_queue(self, queue: ResultsQueue) -> None:
        """Show this reading of the queue."""
        self.head.setText(queue_sentence(queue))
        self.queue.show_queue(queue)
        self.questions.show_questions(queue.questions)
        self._show_question()

    def focus_first(self) -> None:
        """Give the keyboard to where work goes on: the field at hand, or the bottle-code box."""
        if self.is_keying:
            self.desk.grid.setFocus(Qt.FocusReason.OtherFocusReason)
        elif self._stack.currentWidget() is self.held:
            self.held.table.setFocus(Qt.FocusReason.OtherFocusReason)
        elif self.bottle.is_asking:
            self.bottle.confirm_button.setFocus(Qt.FocusReason.OtherFocusReason)
        else:
            self.bottle.code.setFocus(Qt.FocusReason.OtherFocusReason)

    # --- opening ------------------------------------------------------------------------------

    def open_bottle(self, code: str, *, layout: str = "", asks: bool = True) -> None:
        """Find the bottle of a code; the person confirms whose it is before anything is typed."""
        self._leave_desk(lambda: self._find(code, layout=layout, asks=asks))

    def resume(self, code: str, *, laboratory: str) -> None:
        """Take up the draft of a bottle where it was left."""
        calls, today = self.calls, self._clock.today()
        self._work.start(
            lambda _: calls.open_report(code, layout=calls.layout_of(laboratory), today=today),
            done=lambda report: self._found(report, asks=False, resumes=True),
            refusal=self.tr("This bottle cannot be keyed"),
            label=self.tr("Looking for bottle {0}").format(code),
        )

    def _leave_desk(self, then: Callable[[], None]) -> None:
        """Keep what is on the desk before something else takes its place."""
        if self.is_keying:
            self.desk.when_kept(then)
        else:
            then()

    def _find(self, code: str, *, layout: str, asks: bool) -> None:
        calls, today = self.calls, self._clock.today()
        self._work.start(
            lambda _: calls.open_report(code, layout=layout, today=today),
            done=lambda report: self._found(report, asks=asks),
            refusal=self.tr("This bottle cannot be keyed"),
            label=self.tr("Looking for bottle {0}").format(code),
        )

    def _found(self, report: OpenReport, *, asks: bool, resumes: bool = False) -> None:
        self._report = report
        self.saved.show_saved(None)
        if not asks:
            self._confirmed(resumes=resumes)
            return
        self.desk.close_report()
        self._stack.setCurrentWidget(self._nothing)
        self.bottle.show_report(report, asks=True)
        self._show_question()

    def _confirm(self) -> None:
        self._confirmed(resumes=False)

    def _confirmed(self, *, resumes: bool) -> None:
        report, calls, moment = self._report, self.calls, self._clock.moment()
        if report is None:
            return
        self.bottle.show_report(report)
        self._work.start(
            lambda _: calls.open_draft(report, moment=moment),
            done=lambda draft: self._key(report, draft, resumes=resumes),
            refusal=self.tr("The draft cannot be opened"),
            label=self.tr("Opening the draft"),
            saves=True,
        )

    def _key(self, report: OpenReport, draft: Draft, *, resumes: bool) -> None:
        if resumes and draft.layout and draft.layout != report.layout:
            # Begun on another form of the same laboratory: its fields have other names.
            self._find(report.bottle_code, layout=draft.layout, asks=False)
            return
        self._stack.setCurrentWidget(self.desk)
        self.desk.open(report, draft, calls=self.calls)
        self._show_question()

    def show_example(self) -> None:
        """Put a half-keyed report with a slip on the desk; nothing is kept of it."""
        state = self.queue.model.state
        lines = state.queue.waiting if state else ()
        if lines:
            calls, today = self.calls, self._clock.today()
            self._work.start(
                lambda _: calls.open_report(lines[0].bottle_code, layout="", today=today),
                done=self._show_example,
                refusal=self.tr("This bottle cannot be keyed"),
                label=self.tr("Looking for bottle {0}").format(lines[0].bottle_code),
            )

    def _show_example(self, report: OpenReport) -> None:
        self.bottle.show_report(report)
        self._key(report, example_draft(report), resumes=False)

    def _layout_chosen(self, name: str) -> None:
        report = self._report
        if report is not None and name != report.layout:
            self.open_bottle(report.bottle_code, layout=name, asks=self.bottle.is_asking)

    def _open_again(self) -> None:
        if self._report is not None:
            self.desk.close_report()
            self._find(self._report.bottle_code, layout=self._report.layout, asks=False)

    def _move_to(self, code: str) -> None:
        """Key what was typed for the bottle it belongs to."""
        state, calls = self.desk.state, self.calls
        if state is None:
            return
        report, draft = state.report, state.draft
        moment, today = self._clock.moment(), self._clock.today()
        self._work.start(
            lambda _: calls.move(report, draft, code, moment=moment, today=today),
            done=lambda moved: self._moved(*moved),
            refusal=self.tr("The report stays with bottle {0}").format(report.bottle_code),
            label=self.tr("Moving the report to bottle {0}").format(code),
            saves=True,
        )

    def _moved(self, report: OpenReport, draft: Draft) -> None:
        self._report = report
        self.bottle.show_report(report)
        self._key(report, draft, resumes=False)
        self.refresh()

    def _row_opened(self, row: QueueRow) -> None:
        line = row.line
        if line is None:
            return
        if row.part is QueuePart.HELD:
            self._open_held(line.intake_id, line.row)
        elif row.part is QueuePart.WAITING:
            self.open_bottle(line.bottle_code)
        else:
            self.resume(line.bottle_code, laboratory=line.laboratory)

    def _open_held(self, intake_id: bytes, row: int) -> None:
        self.saved.show_saved(None)
        self._stack.setCurrentWidget(self.held)
        self._show_question()
        self.held.open(intake_id, row)

    def _escape(self) -> None:
        if self.bottle.is_asking:
            self.to_queue()

    # --- leaving ------------------------------------------------------------------------------

    def to_queue(self) -> None:
        """Show the queue and lead the keyboard to the bottle-code box."""
        self.desk.close_report()
        self._report = None
        self.bottle.show_report(None)
        self._stack.setCurrentWidget(self.queue)
        self.bottle.ask_for_code()
        self.refresh()

    def to_bottle(self) -> None:
        """From anywhere to the bottle-code box; a report on the desk is put aside first."""
        if self.is_keying:
            self.desk.put_aside()
        else:
            self.to_queue()

    def keep_now(self) -> None:
        """Save what was typed last: the program is about to close."""
        self.desk.keep_now()

    def _show_question(self) -> None:
        """Ask only while nothing is being typed or confirmed."""
        is_free = self._stack.currentWidget() is self.queue and not self.bottle.is_asking
        self.questions.setVisible(is_free and self.questions.question is not None)

    # --- after saving -------------------------------------------------------------------------

    def _saved(self, saved: SavedReport) -> None:
        self.to_queue()
        self.saved.show_saved(saved)
        self.changed.emit(saved.changes)

    def _show_box(self) -> None:
        saved = self.saved.saved
        if saved is not None and saved.changes.compartments:
            self.box_opened.emit(next(iter(saved.changes.compartments)))

    def _ask_undo(self) -> None:
        saved = self.saved.saved
        if saved is not None:
            undo = (self.tr("Undo the report"), lambda: self._undo(saved))
            self.notice.say(
                self.tr("Undo the report of bottle {0}?").format(saved.bottle_code),
                self.tr("What stood before holds again, and the box is assessed anew."),
                [undo, (self.tr("Keep it"), self.notice.clear)],
            )

    def _undo(self, saved: SavedReport) -> None:
        calls, moment, today = self.calls, self._clock.moment(), self._clock.today()
        self._work.start(
            lambda _: calls.undo(saved.intake_id, moment=moment, today=today),
            done=self._undone,
            refusal=self.tr("The report was not undone"),
            label=self.tr("Undoing the report"),
            saves=True,
        )

    def _undone(self, result: IntakeResult) -> None:
        self.saved.show_undone(undone_sentence(result))
        self.refresh()
        self.changed.emit(result.changes)

    def _answered(self, question: EventQuestion, answer: EventAnswer, day: date | None) -> None:
        calls, moment, today = self.calls, self._clock.moment(), self._clock.today()
        self._work.start(
            lambda _: calls.answer_question(question, answer, on=day, moment=moment, today=today),
            done=self._answer_kept,
            refusal=self.tr("The answer was not kept"),
            label=self.tr("Keeping the answer"),
            saves=True,
        )

    def _answer_kept(self, changes: Changes) -> None:
        self.refresh()
        self.changed.emit(
            Changes(
                subjects=changes.subjects | {Subject.RESULTS}, compartments=changes.compartments
            )
        )

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        parts = (self.head, self.bottle, self.questions, self.saved, self.queue, self.desk)
        for part in parts:
            part.apply_theme(theme)
        self.held.apply_theme(theme)
        self.notice.apply_theme(theme)
