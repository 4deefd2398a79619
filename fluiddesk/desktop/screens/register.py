"""The Register page: what the fleet consists of, what is incomplete, and changing it in place."""

from collections.abc import Callable, Mapping

from PySide6.QtCore import Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.register_tables import RegisterTables
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.first_hour import is_under_way, label_texts
from fluiddesk.desktop.viewstate.outside_forms import OutsideCalls
from fluiddesk.desktop.viewstate.outside_plan import prefill
from fluiddesk.desktop.viewstate.past_results import PastCalls
from fluiddesk.desktop.viewstate.record_trail import PaperCalls
from fluiddesk.desktop.viewstate.register import RegisterState, Section
from fluiddesk.desktop.viewstate.register_actions import FLUID_SAMPLE, WALK_UP
from fluiddesk.desktop.viewstate.register_calls import RegisterCalls
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.viewstate.register_services import RegisterServices
from fluiddesk.desktop.viewstate.register_words import Key, Record, key_of
from fluiddesk.desktop.widgets.file_asking import LastFolders, ask_paper
from fluiddesk.desktop.widgets.first_hour import FirstHourPanel
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.outside_view import OutsideTables, OutsideView
from fluiddesk.desktop.widgets.page_tools import PageTools
from fluiddesk.desktop.widgets.past_results_view import PastResultsView
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.record_editing import RecordEditing
from fluiddesk.desktop.widgets.record_panel import RecordPanel
from fluiddesk.desktop.widgets.record_reading import RecordTables
from fluiddesk.desktop.widgets.register_files_panel import RegisterFilesPanel
from fluiddesk.desktop.widgets.register_files_view import RegisterFilesView
from fluiddesk.desktop.widgets.register_list import RegisterList
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.register.facts import RegisterFacts
from fluiddesk.services.register_files.facts import RegisterPreview
from fluiddesk.services.search.facts import HitKind
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock


class RegisterScreen(QWidget):
    """Shows and edits the register.

    Signals:
        changed: what a save or an import altered, as ``Changes``.
        compartment_opened: the identifier of a box to open on its own page.
    """

    changed = Signal(object)
    compartment_opened = Signal(object)

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        calls: RegisterCalls | None = None,
        last_folders: LastFolders | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Register")
        self._place, self._clock, self._background = place, clock, background
        self._calls: RegisterCalls = calls or RegisterServices(place=place)
        self._folders = last_folders or LastFolders(None)
        self._state: RegisterState | None = None
        self._has_chosen_face = False
        self._make_parts(theme)
        self._lay_out()
        self._connect()

    def _make_parts(self, theme: Theme) -> None:
        tables = self._tables = RegisterTables(theme=theme, parent=self)
        self._sentence = QuietLabel("sentence", theme)
        self.notice = InlineNotice(theme)
        self.list = RegisterList(tables.records, theme=theme)
        self.panel = RecordPanel(tables.parts, tables.history, tables.trail, theme=theme)
        self.panel.hide()
        self.list.set_beside(self.panel)
        self.first_hour = FirstHourPanel(theme=theme)
        self.files = RegisterFilesView(
            self._calls,
            RegisterFilesPanel(tables.files, tables.problems, theme=theme),
            clock=self._clock,
            background=self._background,
            notice=self.notice,
            folders=self._folders,
        )
        self.editing = RecordEditing(
            self.panel,
            RecordTables(tables.parts, tables.history, tables.trail),
            calls=self._calls,
            clock=self._clock,
            background=self._background,
            notice=self.notice,
        )
        self._make_faces(theme, tables)
        self.stack = QStackedWidget()
        for one in (self.list, self.first_hour, self.files, self.past, self.outside):
            self.stack.addWidget(one)

    def _make_faces(self, theme: Theme, tables: RegisterTables) -> None:
        self.past = PastResultsView(
            tables.past,
            tables.past,
            calls=PastCalls(place=self._place),
            clock=self._clock,
            theme=theme,
            background=self._background,
            notice=self.notice,
            folders=self._folders,
        )
        shown, values, papers = tables.outside, tables.fluid_values, tables.sample_papers
        self.outside = OutsideView(
            OutsideTables(shown, shown, values, values, papers, papers),
            calls=OutsideCalls(place=self._place),
            papers=PaperCalls(place=self._place),
            tools=PageTools(self._clock, theme, self._background, self.notice, self._folders),
        )

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP + STEP)
        column.setSpacing(GAP)
        column.addWidget(self._sentence)
        column.addWidget(self.notice)
        column.addSpacing(STEP)
        column.addWidget(self.stack, 1)

    def _connect(self) -> None:
        self.list.section_chosen.connect(self.show_section)
        self.list.filtered.connect(self._filter)
        self.list.record_chosen.connect(self._row_chosen)
        for part in (self.list, self.first_hour, self.panel):
            part.action_pressed.connect(self._do)
        self.editing.pointed.connect(self._point)
        self.editing.saved.connect(self._saved)
        self.editing.read_anew.connect(self.show_facts)
        self.files.previewed.connect(self._show_preview)
        self.files.opened.connect(self._files_opened)
        self.files.closed.connect(self._files_closed)
        self.files.changed.connect(self._saved)
        self.past.told.connect(self._sentence.setText)
        self.past.closed.connect(lambda: self._files_closed(""))
        self.past.changed.connect(self.changed)
        self.outside.told.connect(self._sentence.setText)
        self.outside.closed.connect(lambda: self._files_closed(""))
        self.outside.changed.connect(self.changed)
        self.outside.compartment_opened.connect(self.compartment_opened)

    @property
    def sentence(self) -> str:
        """The page's sentence as shown."""
        return self._sentence.text()

    @property
    def record(self) -> Record | None:
        """The record on screen."""
        return self.editing.record

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (
            self._tables, self.past, self.outside, self._sentence, self.notice, self.list,
            self.panel, self.first_hour, self.files,
        ):  # fmt: skip
            part.apply_theme(theme)

    # --- reading ----------------------------------------------------------------------------

    def refresh(self) -> None:
        """Read the register in the background."""
        today = self._clock.today()
        self._background.run(
            lambda _: RegisterState(self._calls.facts(today=today), self._place.catalogue),
            done=self._show_state,
            failed=self._refuse,
            label=self.tr("Reading the register"),
            slot="register",
        )

    def show_changes(self, changes: Changes) -> None:
        """Read anew what others changed."""
        if Subject.FLEET in changes.subjects:
            self.refresh()

    def show_facts(self, facts: RegisterFacts) -> None:
        """Show a register, keeping section, filter and the record on screen."""
        self._show_state(RegisterState(facts, self._place.catalogue))

    def _show_state(self, made: RegisterState) -> None:
        old, facts = self._state, made.facts
        if old is not None:
            made.section, made.wanted = old.section, old.wanted
            made.only_incomplete = old.only_incomplete
            made.arrange()
        self._state = made
        self.first_hour.show_steps(made.steps)
        self.past.offer_boxes(facts.compartments)
        self.outside.offer(Offers(facts=facts, catalogue=made.catalogue))
        self._show_rows()
        self.editing.show_state(made)
        if self.stack.currentWidget() in (self.files, self.past, self.outside):
            return
        self._sentence.setText(made.sentence)
        is_first_machine = old is not None and not old.facts.machines and bool(facts.machines)
        if is_first_machine or not (facts.machines or self._has_chosen_face):
            self.stack.setCurrentWidget(self.first_hour)
        elif not self._has_chosen_face:
            self.stack.setCurrentWidget(self.list)

    def _show_rows(self) -> None:
        state = self._state
        if state is not None:
            self._tables.records.show(state.rows)
            self.list.show_state(state, is_first_hour=is_under_way(state.facts, state.steps))

    # --- the list ---------------------------------------------------------------------------

    def show_section(self, section: Section) -> None:
        """Show another list, with its first record."""
        state = self._state
        if state is None:
            return

        def turn() -> None:
            state.section = section
            state.arrange()
            self._show_rows()
            first = next((row.record for row in state.rows if row.record is not None), None)
            if first is None:
                self.panel.hide()
            else:
                self.editing.show(first)

        self.list.chips.press(state.section.value)
        self.editing.leave(turn)

    def open_machine(self, machine: bytes) -> None:
        """Show one machine, whatever was filtered."""
        self._open(("machine", machine), Section.MACHINES)

    def open_store(self, kind: str, key: bytes) -> None:
        """Show one tank, delivery or fluid sample, as a search found it."""
        if kind == HitKind.FLUID_SAMPLE:
            self.outside.want(key)
            self.editing.leave(self.open_outside)
        else:
            self._open(("tank" if kind == HitKind.TANK else "batch", key), Section.STORES)

    def _open(self, key: Key, section: Section) -> None:
        state = self._state
        if state is None:
            # The page was made a moment ago: it is shown once the register is read.
            self.editing.want(key)
        found = None if state is None else state.find(key)
        self._show_face(self.list)
        if state is None or found is None:
            return
        state.section = section
        self.list.filter_box.clear()
        self.list.incomplete.setChecked(False)
        self._filter()
        self.editing.leave(lambda: self.editing.show(found))

    def _filter(self) -> None:
        state = self._state
        if state is None:
            return
        state.wanted = self.list.filter_box.text()
        state.only_incomplete = self.list.incomplete.isChecked()
        state.arrange()
        self._show_rows()
        if self.record is not None:
            self._point(key_of(state.machine_of(self.record) or self.record))

    def _row_chosen(self, row: int) -> None:
        record, state = self._tables.records.record(row), self._state
        if record is None or state is None:
            return
        shown = None if self.record is None else state.machine_of(self.record) or self.record
        if shown is None or key_of(shown) != key_of(record):
            self.editing.leave(lambda: self.editing.show(record))

    def _point(self, key: Key) -> None:
        if self._state is not None:
            self.list.point_to(self._state.row_of(key))

    # --- doing ------------------------------------------------------------------------------

    def _do(self, key: str) -> None:
        """Do what a button says."""
        state = self._state
        if state is None:
            return
        turns: Mapping[str, Callable[[], None]] = {
            "register": lambda: self._show_face(self.list),
            "first_hour": lambda: self._show_face(self.first_hour),
            "files": lambda: self.editing.leave(self.files.choose_files),
            "export": self.files.choose_folder,
            "attach": lambda: self.editing.leave(self._ask_paper),
            "past": lambda: self.editing.leave(self._show_past),
            "outside": lambda: self.editing.leave(self.open_outside),
            "labels": lambda: self._copy_labels(state),
        }
        if key in turns:
            turns[key]()
        elif key in (WALK_UP, FLUID_SAMPLE):
            known = prefill(self.record, Offers(facts=state.facts, catalogue=state.catalogue))
            self.editing.leave(lambda: self.open_outside(key, known))
        elif key.startswith("lacking_"):
            self._show_lacking(state, key)
        else:
            self._show_face(self.list)
            self.editing.leave(lambda: self.editing.begin(key))

    def _copy_labels(self, state: RegisterState) -> None:
        QGuiApplication.clipboard().setText(label_texts(state.facts, state.catalogue))
        self.first_hour.note.setText(self.tr("The label texts are on the clipboard."))

    def _ask_paper(self) -> None:
        ask_paper(self, then=self.editing.attach, folders=self._folders)

    def _show_past(self) -> None:
        self._show_face(self.past)
        self.past.refresh()

    def open_outside(self, key: str = "", known: Mapping[str, str] | None = None) -> None:
        """Show the samples outside the plan, with one of their forms where it is named."""
        self._show_face(self.outside)
        self.outside.refresh()
        if key:
            self.outside.begin(key, known)

    def _show_lacking(self, state: RegisterState, key: str) -> None:
        found = state.first_lacking(key)
        if found is None:
            return

        def turn() -> None:
            self._show_face(self.list)
            self.editing.show(found)
            if key == "lacking_meter":
                self.editing.begin("reading")
            else:
                self.panel.editor.focus_first()

        self.editing.leave(turn)

    def _show_face(self, face: QWidget) -> None:
        self._has_chosen_face = True
        self.stack.setCurrentWidget(face)

    def _saved(self, changes: Changes) -> None:
        if self._state is not None and not self._state.facts.machines:
            # The first hour goes on with its next step.
            self._has_chosen_face = False
        self.refresh()
        self.changed.emit(changes)

    def _show_preview(self, preview: RegisterPreview) -> None:
        self._tables.files.show(preview.files)
        self._tables.problems.show(preview.problems)

    def _files_opened(self, told: str) -> None:
        self.stack.setCurrentWidget(self.files)
        self._sentence.setText(told)

    def _files_closed(self, told: str) -> None:
        state = self._state
        if state is not None:
            self._sentence.setText(told or state.sentence)
            is_empty = not state.facts.machines and not told
            self.stack.setCurrentWidget(self.first_hour if is_empty else self.list)

    def _refuse(self, error: Exception) -> None:
        title = self.tr("The register was not read")
        if isinstance(error, OperatorError):
            self.notice.say(title, str(error), [(self.tr("Close"), self.notice.clear)])
        else:
            self._background.failed.emit(title, error)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Refresh):
            self.refresh()
        elif event.matches(QKeySequence.StandardKey.Find):
            self._show_face(self.list)
            self.list.filter_box.setFocus()
            self.list.filter_box.selectAll()
        else:
            super().keyPressEvent(event)
