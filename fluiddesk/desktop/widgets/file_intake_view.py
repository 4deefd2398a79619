"""A laboratory's file is read, looked over, taken in, and undone if need be."""

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.lab_intake import (
    MovedModel,
    PastIntakeModel,
    PreviewModel,
    ProblemModel,
)
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.intake_calls import IntakeCalls
from fluiddesk.desktop.viewstate.lab_intake import (
    RowFilter,
    already_line,
    idle_sentence,
    preview_sentence,
    problems_heading,
    result_sentence,
    take_in_label,
    undone_sentence,
    why_not_taken_in,
)
from fluiddesk.desktop.widgets.drop_area import FileDrop
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_lab_file
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.intake_panels import (
    IdlePanel,
    PreviewPanel,
    ResultPanel,
    ask_undo,
)
from fluiddesk.desktop.widgets.layout_picker import LayoutPicker
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.problem_link import ProblemLink
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.domain.errors import StaleEditError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.lab_intake.facts import IntakePreview, IntakeResult, PastIntake
from fluiddesk.wiring import Clock


class FileIntakeView(QWidget):
    """Takes a laboratory's file in, after showing what that would do.

    ``head`` is the sentence of the page, which lays it out.

    Signals:
        changed: what an intake or an undo altered, as ``Changes``.
        describe_asked: path of a file whose form is to be described.
    """

    changed = Signal(object)
    describe_asked = Signal(object)

    def __init__(
        self,
        calls: IntakeCalls,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        last_folders: LastFolders | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.calls = calls
        self._clock = clock
        self._background = background
        self._last_folders = last_folders or LastFolders(None)
        self._path: Path | None = None
        self._is_opening = self._offers_rereading = False
        self._preview: IntakePreview | None = None
        self._result: IntakeResult | None = None
        self._past: tuple[PastIntake, ...] = ()
        self._make_models(theme)
        self._make_parts(theme)
        self._lay_out()
        self._connect()
        self.show_past(())
        self.show_facts(None)

    def _make_models(self, theme: Theme) -> None:
        self._rows = PreviewModel(theme=theme, parent=self)
        self._problems = ProblemModel(theme=theme, parent=self)
        self._moved = MovedModel(theme=theme, parent=self)
        self._past_model = PastIntakeModel(theme=theme, parent=self)

    def _make_parts(self, theme: Theme) -> None:
        self.head = QuietLabel("sentence", theme)
        self._about = QuietLabel("body", theme)
        self.layouts = LayoutPicker()
        self.describe_button = QPushButton(self.tr("Describe this file…"))
        self.describe_button.setToolTip(self.tr("Say what its columns carry, and keep that"))
        self._notice = InlineNotice(theme)
        self._strip = WorkStrip()
        self._work = PageWork(self._background, strip=self._strip, notice=self._notice, parent=self)
        self.idle = IdlePanel(self._past_model, theme=theme)
        self.preview = PreviewPanel(self._rows, self._problems, theme=theme)
        self.result = ResultPanel(
            self._moved, self._problems, condition_column=MovedModel.CONDITION, theme=theme
        )
        ProblemLink(self.preview, self._rows, self._problems, self)
        self._drop = FileDrop(self)
        self._stack = QStackedWidget()
        for panel in (self.idle, self.preview, self.result):
            self._stack.addWidget(panel)

    def _lay_out(self) -> None:
        about = QHBoxLayout()
        about.setSpacing(GAP)
        about.addWidget(self._about, 1)
        about.addWidget(self.describe_button)
        about.addWidget(self.layouts)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(about)
        column.addWidget(self._strip)
        column.addWidget(self._notice)
        column.addSpacing(STEP)
        column.addWidget(self._stack, 1)

    def _connect(self) -> None:
        self.idle.drop_area.choose_pressed.connect(self.choose_file)
        self.idle.table.selectionModel().selectionChanged.connect(self._past_selected)
        self.idle.undo_button.clicked.connect(self._ask_undo_of_past)
        self.preview.take_in_button.clicked.connect(self.take_in)
        self.preview.aside_button.clicked.connect(self.put_aside)
        self.result.again_button.clicked.connect(self.put_aside)
        self.result.undo_button.clicked.connect(self._ask_undo_of_result)
        self.layouts.picked.connect(self._layout_picked)
        self.describe_button.clicked.connect(self._ask_describe)
        self._drop.entered.connect(self.idle.drop_area.light_up)
        self._drop.left.connect(self.idle.drop_area.calm_down)
        self._drop.dropped.connect(self._file_dropped)
        self._work.ended.connect(self._work_ended)
        self._work.refused.connect(self._work_refused)

    @property
    def sentence(self) -> str:
        """The page's sentence as shown."""
        return self.head.text()

    @property
    def notice(self) -> InlineNotice:
        """The message on the page, if there is one."""
        return self._notice

    @property
    def is_busy(self) -> bool:
        """Whether a file is being read or taken in."""
        return self._work.is_under_way

    def focus_first(self) -> None:
        """Give the keyboard to where work begins."""
        if self._preview is not None:
            self.preview.table.setFocus()
        elif self._result is not None:
            self.result.again_button.setFocus()
        else:
            self.idle.drop_area.button.setFocus()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for model in (self._rows, self._problems, self._moved, self._past_model):
            model.apply_theme(theme)
        for label in (self.head, self._about):
            label.apply_theme(theme)
        for panel in (self.idle, self.preview, self.result):
            panel.apply_theme(theme)
        self._notice.apply_theme(theme)

    def refresh(self) -> None:
        """Read the list of past intakes anew; an open file stays as it is."""
        self._background.run(
            lambda _: self.calls.past(),
            done=self.show_past,
            label=self.tr("Reading past intakes"),
            slot="past intakes",
        )

    def show_changes(self, changes: Changes) -> None:
        """Read anew what others changed: the list, and a file that is open but not taken in."""
        if Subject.RESULTS in changes.subjects:
            self.refresh()
        is_free = not self.is_busy and not self._offers_rereading
        if self._preview is not None and self._path is not None and is_free:
            self.open_file(self._path, layout_name=self._preview.layout)

    def show_past(self, past: tuple[PastIntake, ...]) -> None:
        """Show these past intakes."""
        self._past = past
        self._past_model.show(past)
        self.idle.show_count(len(past))
        self._past_selected()
        if self._preview is None and self._result is None:
            self.head.setText(idle_sentence(past))

    def show_facts(self, facts: IntakePreview | IntakeResult | None) -> None:
        """Show a file under preview, a file taken in, or the empty page."""
        self._notice.clear()
        self._offers_rereading = False
        self._preview = facts if isinstance(facts, IntakePreview) else None
        self._result = facts if isinstance(facts, IntakeResult) else None
        if isinstance(facts, IntakePreview):
            self._show_preview(facts)
        elif isinstance(facts, IntakeResult):
            self._show_result(facts, sentence=result_sentence(facts))
        else:
            self._show_idle()

    def choose_file(self) -> None:
        """Let the person choose a laboratory's file."""
        ask_lab_file(self, then=self.open_file, folders=self._last_folders)

    def open_file(self, path: Path | str, layout_name: str | None = None) -> None:
        """Read a laboratory's file in the background and show what taking it in would do."""
        if self._work.is_saving:
            # Reading another file now would call off what is being saved.
            return
        self._is_opening, self._offers_rereading = True, False
        self._path = Path(path)
        today, chosen = self._clock.today(), self._path
        label = self.tr("Reading {0}").format(chosen.name)
        self._work.start(
            lambda progress: self.calls.preview(
                chosen, layout_name=layout_name, today=today, progress=progress
            ),
            done=self.show_facts,
            refusal=self.tr("{0} was not read").format(chosen.name),
            label=label,
        )

    def take_in(self) -> None:
        """Take in what is sound in the file shown."""
        preview = self._preview
        if preview is None or self.is_busy or why_not_taken_in(preview):
            return
        self._is_opening = False
        moment, today = self._clock.moment(), self._clock.today()
        self._work.start(
            lambda progress: self.calls.take_in(
                preview, moment=moment, today=today, progress=progress
            ),
            done=self._taken_in,
            refusal=self.tr("Nothing was taken in"),
            label=self.tr("Taking in {0}").format(preview.file_name),
            saves=True,
        )

    def put_aside(self) -> None:
        """Close the file; nothing is changed."""
        self._path = None
        self.show_facts(None)
        self.idle.drop_area.button.setFocus()
        self.refresh()

    def _work_ended(self) -> None:
        if self._is_opening:
            # What was open before must not stand under the name of a file that was not read.
            self._is_opening = False
            self._preview = self._result = None
            self._show_idle()
        if self._preview is not None:
            self.preview.show_reason(why_not_taken_in(self._preview))

    def _work_refused(self, error: object) -> None:
        if isinstance(error, StaleEditError) and self._path is not None:
            self._offer_rereading(self._path, error)
            return
        # Another layout may be the remedy, so it can be picked though nothing could be read.
        if self._result is None and self._path is not None:
            current = self._preview.layout if self._preview else None
            self.layouts.offer(self.calls.layouts(), current=current)
            self.describe_button.show()

    def _ask_describe(self) -> None:
        if self._path is not None:
            self.describe_asked.emit(self._path)

    def _offer_rereading(self, path: Path, error: StaleEditError) -> None:
        layout = self._preview.layout if self._preview else None
        again = (self.tr("Read the file again"), lambda: self.open_file(path, layout_name=layout))
        close = (self.tr("Close"), self._notice.clear)
        self._notice.say(self.tr("Nothing was taken in"), str(error), [again, close])
        self._offers_rereading = True
        self.changed.emit(Changes(subjects=frozenset({Subject.FLEET, Subject.RESULTS})))

    def _show_idle(self) -> None:
        self.head.setText(idle_sentence(self._past))
        self._about.setText("")
        self.layouts.hide()
        self.describe_button.hide()
        self._stack.setCurrentWidget(self.idle)

    def _show_preview(self, facts: IntakePreview) -> None:
        self._path = Path(facts.file_path)
        self.head.setText(preview_sentence(facts))
        self._show_about(facts.file_name, facts.laboratory, already_line(facts))
        self.describe_button.show()
        self.layouts.offer(self.calls.layouts(), current=facts.layout)
        self._rows.show(facts)
        self._problems.show(facts.problems)
        for one in RowFilter:
            count = self._rows.state.count(one) if self._rows.state else 0
            self.preview.chips.show_count(one.value, count)
        self.preview.chips.press(RowFilter.ALL.value)
        header = self.preview.table.horizontalHeader()
        self._rows.sort(header.sortIndicatorSection(), header.sortIndicatorOrder())
        self.preview.show_problems(problems_heading(facts.problems), len(facts.problems))
        self.preview.take_in_button.setText(take_in_label(facts))
        self.preview.show_reason(why_not_taken_in(facts))
        self._stack.setCurrentWidget(self.preview)
        self.preview.table.choose(0)
        self.preview.table.setFocus()

    def _show_result(self, facts: IntakeResult, *, sentence: str) -> None:
        self.head.setText(sentence)
        self._show_about(facts.file_name, facts.layout)
        self.layouts.hide()
        self.describe_button.hide()
        self._moved.show(facts.moved)
        self._problems.show(facts.problems)
        self.result.show_moved(len(facts.moved))
        heading = problems_heading(facts.problems)
        self.result.problems.show_count(heading, len(facts.problems))
        self.result.undo_button.setVisible(facts.intake_id is not None)
        self._stack.setCurrentWidget(self.result)
        self.result.again_button.setFocus()

    def _show_about(self, *parts: str) -> None:
        self._about.setText("  ·  ".join(part for part in parts if part))

    def _layout_picked(self, name: str | None) -> None:
        if self._path is not None:
            self.open_file(self._path, layout_name=name)

    def _file_dropped(self, path: Path) -> None:
        if not self.is_busy:
            self.open_file(path)

    def _taken_in(self, result: IntakeResult) -> None:
        self.show_facts(result)
        self.refresh()
        self.changed.emit(result.changes)

    def _past_selected(self) -> None:
        rows = self.idle.table.selectionModel().selectedRows()
        can_undo = bool(rows) and not self._past_model.intake(rows[0].row()).is_undone
        self.idle.undo_button.setEnabled(can_undo)

    def _ask_undo_of_past(self) -> None:
        self._ask_undo(self._past_model.intake(self.idle.table.currentIndex().row()))

    def _ask_undo_of_result(self) -> None:
        if self._result is not None:
            self._ask_undo(self._result)

    def _ask_undo(self, one: PastIntake | IntakeResult) -> None:
        intake_id = one.intake_id
        if intake_id is not None:
            ask_undo(
                self._notice,
                file_name=one.file_name,
                taken_in=one.taken_in,
                then=lambda: self._undo(intake_id),
            )

    def _undo(self, intake_id: bytes) -> None:
        self._is_opening = False
        moment, today = self._clock.moment(), self._clock.today()
        self._work.start(
            lambda _: self.calls.undo(intake_id, moment=moment, today=today),
            done=self._undone,
            refusal=self.tr("The intake was not undone"),
            label=self.tr("Undoing an intake"),
            saves=True,
        )

    def _undone(self, result: IntakeResult) -> None:
        self.show_facts(result)
        self._show_result(result, sentence=undone_sentence(result))
        self.result.undo_button.hide()
        self.refresh()
        self.changed.emit(result.changes)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Refresh):
            self.refresh()
        else:
            super().keyPressEvent(event)
