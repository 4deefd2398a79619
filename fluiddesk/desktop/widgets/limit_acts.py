"""What the buttons of the Rules page do: dialogs that block nothing, and work in the background."""

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Final

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from fluiddesk.desktop import messages
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.limit_calls import KnownBox, LimitCalls
from fluiddesk.desktop.viewstate.limit_draft import RuleList
from fluiddesk.desktop.viewstate.limit_forms import (
    draft_form,
    interval_form,
    interval_of,
    limit_of,
    off_form,
    row_form,
)
from fluiddesk.desktop.viewstate.limit_rules import limit_title
from fluiddesk.desktop.viewstate.record_form import RecordForm, Values
from fluiddesk.desktop.widgets.file_asking import ask_file
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.limit_editing import RuleEditing
from fluiddesk.desktop.widgets.limit_view import RulesView
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.changes import Changes
from fluiddesk.services.limit_rules.facts import Checked, DraftFacts, Imported
from fluiddesk.wiring import Clock

_FILES: Final = "*.toml"


class RuleActs(QObject):
    """Does what the buttons say.

    Signals:
        set_wanted: the number of the set that is to be shown now.
        checked: ``Checked``.
        changed: ``Changes``, for the other pages.
        told: (title, text) of what was done.
    """

    set_wanted = Signal(int)
    checked = Signal(object)
    changed = Signal(object)
    told = Signal(str, str)

    def __init__(
        self,
        page: RulesView,
        calls: LimitCalls,
        *,
        editing: RuleEditing,
        work: PageWork,
        clock: Clock,
        window: QWidget,
    ) -> None:
        super().__init__(window)
        self._page, self._calls, self._clock = page, calls, clock
        self._editing, self._work, self._window = editing, work, window
        self._theme: Theme | None = None
        self.dialog: FormDialog | None = None
        self._boxes: tuple[KnownBox, ...] | None = None

    def apply_theme(self, theme: Theme) -> None:
        """Open dialogs in another theme from now on."""
        self._theme = theme

    def forget_boxes(self) -> None:
        """Read the boxes of the fleet anew when they are next needed."""
        self._boxes = None

    # --- drafts -----------------------------------------------------------------------------

    def make_draft(self) -> None:
        """Ask for the name of a copy of the set shown."""
        shown = self._page.limit_set
        if shown is not None:
            form = draft_form(shown.number, shown.name)
            self.ask_form(form, lambda values: self._make_draft(shown.number, values))

    def _make_draft(self, number: int, values: Values) -> None:
        name, note, moment = str(values["name"]), str(values["note"]), self._clock.moment()
        self.close_form()
        self._work.start(
            lambda _: self._calls.draft_from(number, name=name, note=note, moment=moment),
            done=self._draft_made,
            refusal=self.tr("No draft was made"),
            label=self.tr("Making a draft"),
            saves=True,
        )

    def _draft_made(self, made: DraftFacts) -> None:
        self.set_wanted.emit(made.number)

    def discard(self) -> None:
        """Ask whether the draft is to be thrown away."""
        draft = self._editing.draft
        if draft is None:
            return
        name = self._page.limit_set.name if self._page.limit_set else ""
        changed = draft.changed_count
        messages.ask(
            self._window,
            self.tr('Discard the draft "{0}"?').format(name),
            action=self.tr("Discard the draft"),
            details=self.tr("{0} changed rows are given up. The set in force stays.").format(
                changed
            ),
            then=lambda: self._editing.when_saved(self._discard),
        )

    def _discard(self) -> None:
        draft = self._editing.draft
        if draft is None:
            return
        number, version, moment = draft.number, self._editing.version, self._clock.moment()

        def done(changes: Changes) -> None:
            self._editing.forget()
            self.set_wanted.emit(-1)
            self.changed.emit(changes)

        self._work.start(
            lambda _: self._calls.discard(number, version=version, moment=moment),
            done=done,
            refusal=self.tr("The draft was not discarded"),
            label=self.tr("Discarding the draft"),
            saves=True,
        )

    def check(self) -> None:
        """Check the draft as it is saved."""
        self._editing.when_saved(self._check)

    def _check(self) -> None:
        draft = self._editing.draft
        if draft is None:
            return
        number, today = draft.number, self._clock.today()
        self._work.start(
            lambda _: self._calls.check(number, today=today),
            done=self._tell_check,
            refusal=self.tr("The draft was not checked"),
            label=self.tr("Checking the draft"),
        )

    def _tell_check(self, checked: Checked) -> None:
        self.checked.emit(checked)

    # --- rows -------------------------------------------------------------------------------

    def add(self) -> None:
        """Ask for a new row, filled in like the chosen one."""
        self.with_boxes(self._ask_row)

    def _ask_row(self, boxes: Sequence[KnownBox]) -> None:
        catalogue, scope = self._calls.place.catalogue, self._page.scope
        if self._page.rule_list is RuleList.INTERVALS:
            form = interval_form(scope=scope, catalogue=catalogue, boxes=boxes)
        else:
            line = self._page.line
            like = None if line is None else line.limit
            form = row_form(like, scope=scope, catalogue=catalogue, boxes=boxes)
        self.ask_form(form, lambda values: self._add(values, boxes, form.key))

    def _add(self, values: Values, boxes: Sequence[KnownBox], key: str) -> None:
        who, line = self._calls.place.who, self._page.line
        like = None if line is None else line.limit
        try:
            rule = (
                interval_of(values, boxes=boxes, who=who)
                if key == "interval"
                else limit_of(values, like=like, boxes=boxes, who=who)
            )
        except OperatorError as wrong:
            if self.dialog is not None:
                self.dialog.refuse(str(wrong))
            return
        self.close_form()
        self._editing.add(rule)

    def switch_off(self) -> None:
        """Ask why and until when the chosen limit is off; switch one that is off on again."""
        key, line = self._page.row_key, self._page.line
        if key is None or line is None:
            return
        if line.limit.is_off:
            self._editing.switch_on(key)
            return
        self.ask_form(off_form(limit_title(line)), lambda values: self._off(key, values))

    def _off(self, key: int, values: Values) -> None:
        until = values["until"]
        if isinstance(until, date):
            self.close_form()
            self._editing.switch_off(key, reason=str(values["reason"]), until=until)

    def take_out(self) -> None:
        """Take the chosen row out of the draft; Undo brings it back."""
        key = self._page.row_key
        if key is not None:
            self._editing.take_out(self._page.rule_list, key)

    # --- files ------------------------------------------------------------------------------

    def ask_import(self) -> None:
        """Ask for a file that is to become a draft."""
        ask_file(
            self._window,
            self.tr("Import a limit file as a draft"),
            then=lambda path: self.import_file(Path(path)),
            filters=(self.tr("Limit files ({0})").format(_FILES), self.tr("All files (*)")),
        )

    def import_file(self, path: Path) -> None:
        """Read a file as a new draft."""
        today, moment = self._clock.today(), self._clock.moment()
        self._work.start(
            lambda _: self._calls.import_file(path, today=today, moment=moment),
            done=self._tell_import,
            refusal=self.tr("{0} was not taken in").format(path.name),
            label=self.tr("Reading {0}").format(path.name),
            saves=True,
        )

    def _tell_import(self, done: Imported) -> None:
        words = self.tr("Draft {0} holds {1} limits and {2} intervals. It judges nothing yet.")
        self.set_wanted.emit(done.number)
        self.told.emit(done.name, words.format(done.number, done.limits, done.intervals))
        if done.problems:
            self.checked.emit(Checked(number=done.number, name=done.name, problems=done.problems))

    def ask_export(self) -> None:
        """Ask where the set shown is to be written."""
        shown = self._page.limit_set
        if shown is None:
            return
        dialog = QFileDialog(self._window, self.tr("Export limit set {0}").format(shown.number))
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        dialog.setAcceptMode(QFileDialog.AcceptMode.AcceptSave)
        dialog.setDefaultSuffix("toml")
        dialog.setNameFilter(self.tr("Limit files ({0})").format(_FILES))
        dialog.selectFile(f"limit_set_{shown.number}.toml")
        dialog.fileSelected.connect(lambda path: self.export(Path(path)))
        dialog.open()

    def export(self, path: Path) -> None:
        """Write the set shown as a file."""
        shown = self._page.limit_set
        if shown is not None:
            self._editing.when_saved(lambda: self._export(shown.number, path))

    def _export(self, number: int, path: Path) -> None:
        title = self.tr("Exported")
        words = self.tr("Limit set {0} stands in {1}.").format(number, path)
        self._work.start(
            lambda _: self._calls.export(number, path),
            done=lambda _: self.told.emit(title, words),
            refusal=self.tr("Nothing was exported"),
            label=self.tr("Writing {0}").format(path.name),
        )

    # --- asking -----------------------------------------------------------------------------

    def with_boxes(self, then: Callable[[Sequence[KnownBox]], None]) -> None:
        """Go on with the boxes of the fleet, read in the background when first needed."""
        if self._boxes is not None:
            then(self._boxes)
            return
        today = self._clock.today()

        def done(boxes: tuple[KnownBox, ...]) -> None:
            self._boxes = boxes
            self._page.name_boxes({one.compartment.hex(): one.title for one in boxes})
            then(boxes)

        self._work.start(
            lambda _: self._calls.boxes(today=today),
            done=done,
            refusal=self.tr("The boxes were not read"),
            label=self.tr("Reading the boxes of the fleet"),
        )

    def ask_form(self, form: RecordForm, then: Callable[[Values], None]) -> None:
        """Open a form, and go on with what it says once it is agreed to."""
        if self._theme is None:
            return
        self.dialog = FormDialog(form, theme=self._theme, parent=self._window)
        self.dialog.agreed.connect(then)
        self.dialog.finished.connect(self._forget_dialog)
        self.dialog.open()

    def close_form(self) -> None:
        """Close the form that is open."""
        if self.dialog is not None:
            self.dialog.accept()

    def _forget_dialog(self) -> None:
        self.dialog = None
