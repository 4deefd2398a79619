"""A visit recorded from its sheet: what stands once, then each bottle, keyed cell by cell."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final, Protocol

from PySide6.QtCore import QAbstractItemModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPalette, QPen
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.theme import GAP, STEP, Theme, give_look
from fluiddesk.desktop.viewstate.round_plan import Planned, RoundPlan, Standing
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.desktop.viewstate.taking_draft import FIRST_KEYED, Cell, TakingDraft
from fluiddesk.desktop.widgets.fact_delegate import FactDelegate
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.errors import OperatorError
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.wiring import Clock

if TYPE_CHECKING:
    from fluiddesk.services.takings.facts import Recorded

_VISIT_WIDTH: Final = 340
_TOLD: Final = 4


class SheetLines(Protocol):
    """The table of a sheet's bottles."""

    def show(self, draft: TakingDraft | None) -> None:
        """Show another sheet."""

    def tell_change(self) -> None:
        """Tell that cells were written by other ways."""


class _SheetDelegate(FactDelegate):
    """Underlines the cells that are wrong."""

    @override
    def paint_content(
        self,
        painter: QPainter,
        cell: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        super().paint_content(painter, cell, index)
        has_focus = cell.widget is not None and cell.widget.hasFocus()
        accent = cell.palette.color(QPalette.ColorRole.Accent)
        if index.data(Qt.ItemDataRole.UserRole):
            box = cell.rect.adjusted(4, 0, -4, -3)
            painter.setPen(QPen(accent, 2, Qt.PenStyle.DotLine))
            painter.drawLine(box.bottomLeft(), box.bottomRight())
        view = cell.widget
        current = view.currentIndex() if isinstance(view, QAbstractItemView) else None
        if has_focus and current == index:
            painter.setPen(QPen(accent, 1))
            painter.drawRect(cell.rect.adjusted(1, 1, -2, -2))


class SheetTable(FactTable):
    """Keyed like the sheet: typing writes, Enter and Tab go on, Space turns yes and no."""

    def __init__(self, lines: SheetLines, model: QAbstractItemModel, *, name: str) -> None:
        super().__init__(model, name=name)
        self._lines = lines
        self.draft: TakingDraft | None = None
        self.setItemDelegate(_SheetDelegate(self))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(
            triggers.AnyKeyPressed | triggers.DoubleClicked | triggers.EditKeyPressed
        )
        self.setTabKeyNavigation(True)
        # A sheet is keyed cell by cell: it looks like the paper it comes from.
        self.setShowGrid(True)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        at, draft = self.currentIndex(), self.draft
        is_control = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if draft is None or not at.isValid():
            super().keyPressEvent(event)
        elif event.key() == Qt.Key.Key_Space and at.column() != Cell.NOTE:
            draft.turn(at.row(), at.column())
            self._lines.tell_change()
        elif event.key() == Qt.Key.Key_D and is_control:
            draft.fill_down(at.row(), at.column())
            self._lines.tell_change()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            # A line being typed passes Enter on; it goes on by itself once it is written.
            if self.state() is not QAbstractItemView.State.EditingState:
                self.go_on()
        elif event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            draft.write(at.row(), at.column(), "")
            self._lines.tell_change()
        else:
            super().keyPressEvent(event)

    def go_on(self) -> None:
        """Lead the keyboard to the next cell that is keyed."""
        at, draft, model = self.currentIndex(), self.draft, self.model()
        if draft is None or not at.isValid():
            return
        row, column = at.row(), at.column() + 1
        while row < model.rowCount():
            while column < model.columnCount():
                if draft.can_write(row, column) and not self.isColumnHidden(column):
                    self.setCurrentIndex(model.index(row, column))
                    return
                column += 1
            row, column = row + 1, int(FIRST_KEYED)

    @override
    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:
        super().closeEditor(editor, QAbstractItemDelegate.EndEditHint.NoHint)
        hints = QAbstractItemDelegate.EndEditHint
        if hint in (hints.EditNextItem, hints.SubmitModelCache):
            self.go_on()


class TakingView(QWidget):
    """Records visits.

    Signals:
        recorded: ``Recorded``.
        told: (title, text) of what is wrong.
    """

    recorded = Signal(object)
    told = Signal(str, str)

    def __init__(
        self,
        lines: SheetLines,
        model: QAbstractItemModel,
        calls: SamplingCalls,
        *,
        work: PageWork,
        clock: Clock,
        theme: Theme,
    ) -> None:
        super().__init__()
        self._lines, self._calls, self._work, self._clock = lines, calls, work, clock
        self._plan: RoundPlan | None = None
        self._last_by = calls.place.who
        self.draft: TakingDraft | None = None
        self.visit = QComboBox()
        self.visit.setFixedWidth(_VISIT_WIDTH)
        self.visit.setAccessibleName(self.tr("Visit to record"))
        self.fields = {
            "taken_on": self._field(self.tr("Day"), 100),
            "taken_at": self._field(self.tr("Time"), 64, "14:30"),
            "taken_by": self._field(self.tr("Taken by"), 148),
            "meter": self._field(self.tr("Meter"), 96),
        }
        self.unreadable = QCheckBox(self.tr("Meter not readable"))
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
        self.table.set_widths(
            {
                Cell.NUMBER: 34,
                Cell.BOX: 172,
                Cell.BOTTLE: 104,
                Cell.TAKEN: 54,
                Cell.METHOD: 64,
                Cell.FLUSHED: 62,
                Cell.WARM: 54,
                Cell.MIXED: 54,
                Cell.FILL: 60,
                Cell.MARKED: 78,
                Cell.LITRES: 66,
                Cell.CHANGED: 70,
                Cell.FILTER: 52,
            }
        )
        self.table.share_room(Cell.NOTE)

    def _field(self, name: str, width: int, hint: str = "") -> QLineEdit:
        edit = QLineEdit()
        edit.setAccessibleName(name)
        edit.setFixedWidth(width)
        edit.setPlaceholderText(hint)
        return edit

    def _lay_out(self) -> None:
        self._sheet = QWidget()
        head = QHBoxLayout()
        head.setSpacing(GAP)
        for edit in self.fields.values():
            label = QLabel(edit.accessibleName())
            give_look(label, "faint")
            label.setBuddy(edit)
            head.addWidget(label)
            head.addWidget(edit)
        head.addWidget(self.unreadable)
        head.addStretch(1)
        foot = QHBoxLayout()
        foot.addWidget(self.save_button)
        foot.addSpacing(GAP)
        foot.addWidget(self._hint, 1)
        inside = QVBoxLayout(self._sheet)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.setSpacing(GAP)
        inside.addLayout(head)
        inside.addSpacing(STEP)
        inside.addWidget(self.table, 1)
        inside.addLayout(foot)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(self.visit)
        column.addWidget(self._sheet, 1)
        column.addWidget(self._none, 1, Qt.AlignmentFlag.AlignTop)

    def _connect(self) -> None:
        self.visit.activated.connect(lambda _: self.open_visit(bytes(self.visit.currentData())))
        self.save_button.clicked.connect(self.save)
        for key, edit in self.fields.items():
            edit.textEdited.connect(lambda text, key=key: self._type(key, text))
        self.unreadable.toggled.connect(self._set_unreadable)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._hint.apply_theme(theme)
        self._none.apply_theme(theme)

    # --- showing ----------------------------------------------------------------------------

    def show_plan(self, plan: RoundPlan) -> None:
        """Offer the visits that can be recorded; a sheet that is being keyed stays."""
        self._plan = plan
        issued = [one for one in plan.visits if one.standing is Standing.ISSUED]
        issued.sort(key=lambda one: (one.visit.planned_on, one.visit.machine))
        shown = b"" if self.draft is None else self.draft.planned.key
        self.visit.clear()
        for one in issued:
            self.visit.addItem(_offered(one), one.key)
        keys = [one.key for one in issued]
        self._sheet.setVisible(bool(issued))
        self.visit.setVisible(bool(issued))
        self._none.setVisible(not issued)
        self._none.setText(
            self.tr(
                "No visit waits to be recorded. Keep a visit, issue its bottles and print its "
                "sheet; when the sheet comes back, it is keyed here."
            )
        )
        if shown in keys:
            self.visit.setCurrentIndex(keys.index(shown))
            if self.draft is not None and self.draft.is_touched:
                return
        self.open_visit(shown if shown in keys else next(iter(keys), b""))

    def open_visit(self, key: bytes) -> None:
        """Show the sheet of a visit."""
        one = None if self._plan is None else self._plan.visit(key)
        today = self._clock.today()
        self.draft = None if one is None else TakingDraft(one, today=today, by=self._last_by)
        self.table.draft = self.draft
        self._lines.show(self.draft)
        if self.draft is None:
            return
        self.visit.setCurrentIndex(self.visit.findData(key))
        head = self.draft.head
        for name, edit in self.fields.items():
            edit.setText(str(getattr(head, name)))
        self.unreadable.setChecked(False)
        self.save_button.setText(self.tr("Record {0}").format(counted(len(self.draft), "bottle")))
        self.table.setCurrentIndex(self.table.model().index(0, int(Cell.FLUSHED)))

    def focus_first(self) -> None:
        """Lead the keyboard to the meter, which comes first at the machine."""
        (self.fields["meter"] if self.draft is not None else self.visit).setFocus()

    def _type(self, key: str, text: str) -> None:
        if self.draft is not None:
            setattr(self.draft.head, key, text)
            self.draft.is_touched = True

    def _set_unreadable(self, is_unreadable: bool) -> None:  # noqa: FBT001 - a Qt slot
        self.fields["meter"].setEnabled(not is_unreadable)
        if self.draft is not None:
            self.draft.head.meter_unreadable = is_unreadable

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
        self._work.start(
            lambda _: self._calls.record(done, today=today, moment=moment),
            done=self._answered,
            refusal=self.tr("Nothing was recorded"),
            label=self.tr("Recording the visit"),
            saves=True,
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
        self.draft = None
        self.recorded.emit(answer)


def _offered(one: Planned) -> str:
    visit = one.visit
    return f"{visit.machine}, {visit.planned_on.isoformat()}, {counted(one.bottles, 'bottle')}"


def _shortened(texts: Sequence[str]) -> str:
    """The first few of what is wrong."""
    shown = list(dict.fromkeys(texts))
    more = len(shown) - _TOLD
    return "\n".join([*shown[:_TOLD], *([f"{more} more."] if more > 0 else [])])
