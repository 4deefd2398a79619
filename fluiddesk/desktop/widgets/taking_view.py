"""A visit recorded from its sheet: what stands once, then each bottle, keyed cell by cell."""

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.record_form import Values
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan, Standing
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.sampling_forms import drop_sheet_form
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.desktop.viewstate.taking_draft import Cell, TakingDraft
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.sheet_head import SheetHeadFields
from fluiddesk.desktop.widgets.sheet_keeper import SheetKeeper
from fluiddesk.desktop.widgets.sheet_table import SheetLines, SheetTable
from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.takings.drafts import SheetDraft
from fluiddesk.wiring import Clock

if TYPE_CHECKING:
    from fluiddesk.services.takings.facts import Recorded

_VISIT_WIDTH: Final = 340
_TOLD: Final = 4
_MARK: Final = "\u270e"


class TakingView(QWidget):
    """Records visits. What is typed is kept as it is typed, and taken up again later.

    Signals:
        recorded: ``Recorded``.
        told: (title, text) of what is wrong.
        asked: (title, text, actions) of what somebody has to choose.
    """

    recorded = Signal(object)
    told = Signal(str, str)
    asked = Signal(str, str, object)

    def __init__(
        self,
        lines: SheetLines,
        model: QAbstractItemModel,
        calls: SamplingCalls,
        *,
        work: PageWork,
        background: Background,
        clock: Clock,
        theme: Theme,
    ) -> None:
        super().__init__()
        self._lines, self._calls, self._work, self._clock = lines, calls, work, clock
        self._background, self._theme = background, theme
        self.keeper = SheetKeeper(calls, background=background, clock=clock, parent=self)
        self._drafts: dict[bytes, SheetDraft] = {}
        self.dialog: FormDialog | None = None
        self._plan: RoundPlan | None = None
        self._last_by = calls.place.who
        self.draft: TakingDraft | None = None
        self.visit = QComboBox()
        self.visit.setFixedWidth(_VISIT_WIDTH)
        self.visit.setAccessibleName(self.tr("Visit to record"))
        self._keyed = QuietLabel("small", theme)
        self._keyed.setWordWrap(False)
        self.drop_button = QPushButton(self.tr("Drop..."))
        self.drop_button.setAutoDefault(True)
        self.drop_button.setToolTip(self.tr("Drop what is keyed of this sheet so far"))
        self._head = SheetHeadFields()
        self.fields, self.unreadable = self._head.fields, self._head.unreadable
        self._make_table(model)
        self.save_button = QPushButton()
        self.save_button.setAutoDefault(True)
        self._hint = QuietLabel(
            "small",
            theme,
            self.tr(
                "Type as on the sheet: y or n, p for probe, t for tube, a for above the line. "
                "Enter goes on, Space turns yes and no, Ctrl+D fills the blanks below. "
                "Litres added and whether the fluid was changed must be said of every bottle."
            ),
        )
        self._none = QuietLabel("body", theme)
        self._none.setWordWrap(True)
        self._lay_out()
        self._connect()

    def _make_table(self, model: QAbstractItemModel) -> None:
        self.table = SheetTable(self._lines, model, name=self.tr("Bottles of the sheet"))

    def _lay_out(self) -> None:
        self._sheet = QWidget()
        foot = QHBoxLayout()
        foot.addWidget(self.save_button)
        foot.addSpacing(GAP)
        foot.addWidget(self._hint, 1)
        inside = QVBoxLayout(self._sheet)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.setSpacing(GAP)
        inside.addWidget(self._head)
        inside.addSpacing(STEP)
        inside.addWidget(self.table, 1)
        inside.addLayout(foot)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.visit)
        top.addWidget(self._keyed)
        top.addWidget(self.drop_button)
        top.addStretch(1)
        column.addLayout(top)
        column.addWidget(self._sheet, 1)
        column.addWidget(self._none, 1, Qt.AlignmentFlag.AlignTop)

    def _connect(self) -> None:
        self.visit.activated.connect(lambda _: self._read_visit(bytes(self.visit.currentData())))
        self.save_button.clicked.connect(self.save)
        self.drop_button.clicked.connect(self.ask_drop)
        self._head.typed.connect(self._head_typed)
        self.table.model().dataChanged.connect(self._cell_written)
        self.table.letter_typed.connect(self.keeper.typed)
        self.keeper.kept.connect(self._sheet_kept)
        self.keeper.refused.connect(self._sheet_refused)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for label in (self._hint, self._none, self._keyed):
            label.apply_theme(theme)

    # --- showing ----------------------------------------------------------------------------

    def show_drafts(self, drafts: Mapping[bytes, SheetDraft]) -> None:
        """Take over which sheets are half keyed, as just read."""
        mine = self.keeper.saved
        self._drafts = dict(drafts)
        if mine is not None and not self.keeper.is_settled:
            # What is typed right now is newer than what was read.
            self._drafts[mine.visit_id] = mine

    def show_plan(self, plan: RoundPlan) -> None:
        """Offer the visits that can be recorded, half-keyed ones first; what is typed stays."""
        self._plan = plan
        offered = [one for one in plan.visits if self._is_offered(one)]
        offered.sort(
            key=lambda one: (one.key not in self._drafts, one.visit.planned_on, one.visit.machine)
        )
        shown = b"" if self.draft is None else self.draft.planned.key
        keys = [one.key for one in offered]
        self._offer(offered)
        self._sheet.setVisible(bool(offered))
        self.visit.setVisible(bool(offered))
        self._none.setVisible(not offered)
        self._none.setText(
            self.tr(
                "No visit waits to be recorded. Keep a visit, issue its bottles and print its "
                "sheet; when the sheet comes back, it is keyed here."
            )
        )
        if shown in keys and self.draft is not None and self.draft.is_touched:
            self.visit.setCurrentIndex(keys.index(shown))
            self._go_on_with(shown, self.draft)
            return
        self.open_visit(shown if shown in keys else next(iter(keys), b""))

    def _is_offered(self, one: Planned) -> bool:
        has_draft = one.key in self._drafts and one.standing is Standing.KEPT
        return one.standing is Standing.ISSUED or has_draft

    def _offer(self, some: Sequence[Planned]) -> None:
        self.visit.clear()
        for one in some:
            self.visit.addItem(_offered(one, is_keyed=one.key in self._drafts), one.key)

    def _place_of(self, key: bytes) -> int:
        """Where a visit is offered; -1 where it is not."""
        # findData finds bytes by their identity alone.
        places = range(self.visit.count())
        return next((at for at in places if self.visit.itemData(at) == key), -1)

    def _go_on_with(self, key: bytes, draft: TakingDraft) -> None:
        """Keep what is typed, unless somebody else's is newer or the visit has other bottles."""
        one = None if self._plan is None else self._plan.visit(key)
        newest, mine = self._drafts.get(key), self.keeper.saved
        if newest and mine and self.keeper.is_settled and newest.version > mine.version:
            self.open_visit(key)
        elif one is not None and one.visit.open_boxes != draft.boxes:
            self.keeper.when_settled(lambda: self.open_visit(key, typed=draft))

    def _read_visit(self, key: bytes) -> None:
        """Read how far a sheet is keyed, on whatever desk, and show it."""

        def done(found: SheetDraft | None) -> None:
            if found is None:
                self._drafts.pop(key, None)
            else:
                self._drafts[key] = found
            self.open_visit(key)

        def read() -> None:
            self._background.run(
                lambda _: self._calls.sheet_draft(key),
                done=done,
                label=self.tr("Reading the sheet"),
                slot="sheet of a visit",
            )

        self.keeper.when_settled(read)

    def open_visit(self, key: bytes, *, typed: TakingDraft | None = None) -> None:
        """Show the sheet of a visit with what is keyed of it; ``typed`` is newer than that."""
        one = None if self._plan is None else self._plan.visit(key)
        today = self._clock.today()
        self.draft = None if one is None else TakingDraft(one, today=today, by=self._last_by)
        kept = self._drafts.get(key)
        if self.draft is not None and (typed is not None or kept is not None):
            self.draft.take_up(typed.cells if typed is not None else kept.cells if kept else {})
        self.keeper.take(self.draft, kept)
        self.table.draft = self.draft
        self._lines.show(self.draft)
        self._tell_keyed()
        if self.draft is None:
            return
        self.visit.setCurrentIndex(self._place_of(key))
        self._head.show_head(self.draft.head)
        self.save_button.setText(self.tr("Record {0}").format(counted(len(self.draft), "bottle")))
        self.table.setCurrentIndex(self.table.model().index(0, int(Cell.FLUSHED)))

    def _tell_keyed(self) -> None:
        kept = None if self.draft is None else self._drafts.get(self.draft.planned.key)
        told = "" if kept is None else kept.told
        self._keyed.setText(told[:1].upper() + told[1:])
        self._keyed.setVisible(bool(told))
        self.drop_button.setVisible(bool(told))

    def focus_first(self) -> None:
        """Lead the keyboard to the meter, which comes first at the machine."""
        (self.fields["meter"] if self.draft is not None else self.visit).setFocus()

    # --- keeping what is typed --------------------------------------------------------------

    def _head_typed(self) -> None:
        if self.draft is not None:
            self.draft.is_touched = True
            self.keeper.typed()

    def _cell_written(self) -> None:
        if self.draft is not None and self.draft.is_touched:
            self.keeper.typed()

    def _sheet_kept(self, made: SheetDraft) -> None:
        is_first = made.visit_id not in self._drafts
        self._drafts[made.visit_id] = made
        at = self._place_of(made.visit_id)
        one = None if self._plan is None else self._plan.visit(made.visit_id)
        if is_first and at >= 0 and one is not None:
            self.visit.setItemText(at, _offered(one, is_keyed=True))
        self._tell_keyed()

    def _sheet_refused(self, error: Exception) -> None:
        title = self.tr("What was typed is not saved")
        if not isinstance(error, StaleEditError) or self.draft is None:
            self._work.tell_failure(error, refusal=title, label=title)
            return
        key = self.draft.planned.key
        actions: list[tuple[str, Callable[[], None]]] = [
            (self.tr("Show what is saved"), lambda: self._show_saved(key)),
            (self.tr("Save mine over it"), self.keeper.write_over),
        ]
        self.asked.emit(title, str(error), actions)

    def _show_saved(self, key: bytes) -> None:
        self.keeper.forget()
        self._read_visit(key)

    def keep_now(self) -> None:
        """Save what was typed last: the program is about to close."""
        self.keeper.keep_now()

    def ask_drop(self) -> None:
        """Ask why what is keyed of the sheet is dropped."""
        draft, saved = self.draft, self.keeper.saved
        if draft is None or saved is None:
            return
        form = drop_sheet_form(draft.planned, saved.told)
        self.dialog = FormDialog(form, theme=self._theme, parent=self)
        self.dialog.agreed.connect(lambda values: self.keeper.when_settled(lambda: drop(values)))
        self.dialog.open()

        def drop(values: Values) -> None:
            self._drop(draft.planned.key, str(values["why"]))

    def _drop(self, key: bytes, why: str) -> None:
        dialog, self.dialog = self.dialog, None
        if dialog is not None:
            dialog.accept()
        saved, moment = self.keeper.saved, self._clock.moment()
        if saved is None:
            return

        def done(_: None) -> None:
            self._drafts.pop(key, None)
            self.keeper.forget()
            self.draft = None
            if self._plan is not None:
                self.show_plan(self._plan)
                self.open_visit(key)

        self._work.start(
            lambda _: self._calls.drop_sheet(saved, why=why, moment=moment),
            done=done,
            refusal=self.tr("Not dropped"),
            label=self.tr("Dropping a half-keyed sheet"),
            saves=True,
        )

    # --- saving -----------------------------------------------------------------------------

    def save(self) -> None:
        """Record the visit."""
        draft = self.draft
        if draft is None:
            return
        draft.forget_refusal()
        try:
            done = draft.done()
        except OperatorError as wrong:
            self.told.emit(self.tr("Nothing was recorded"), str(wrong))
            return
        today, moment = self._clock.today(), self._clock.moment()
        self.keeper.when_settled(
            lambda: self._work.start(
                lambda _: self._calls.record(done, today=today, moment=moment),
                done=self._answered,
                refusal=self.tr("Nothing was recorded"),
                label=self.tr("Recording the visit"),
                saves=True,
            )
        )

    def _answered(self, answer: "Recorded | RegisterFaultsError") -> None:
        draft = self.draft
        if isinstance(answer, RegisterFaultsError):
            at = None if draft is None else draft.take_faults(answer.faults)
            self._lines.tell_change()
            texts = [one.text for one in answer.faults]
            self.told.emit(self.tr("Nothing was recorded"), _shortened(texts))
            if at is not None:
                self.table.setCurrentIndex(self.table.model().index(*at))
                self.table.setFocus()
            return
        if draft is not None:
            self._last_by = draft.head.taken_by
            self._drafts.pop(draft.planned.key, None)
        self.keeper.forget()
        self.draft = None
        self.recorded.emit(answer)


def _offered(one: Planned, *, is_keyed: bool) -> str:
    visit = one.visit
    bottles = counted(len(visit.open_boxes), "bottle")
    told = f"{visit.machine}, {visit.planned_on.isoformat()}, {bottles}"
    return f"{_MARK} {told}, half keyed" if is_keyed else told


def _shortened(texts: Sequence[str]) -> str:
    """The first few of what is wrong."""
    shown = list(dict.fromkeys(texts))
    more = len(shown) - _TOLD
    return "\n".join([*shown[:_TOLD], *([f"{more} more."] if more > 0 else [])])
