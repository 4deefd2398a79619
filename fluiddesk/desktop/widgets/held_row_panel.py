"""A row that was put aside is looked at, corrected and taken in, or given up with a reason."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.models.held_rows import HeldColumn, HeldRowModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.held_rows import (
    HeldCalls,
    HeldRowState,
    held_since,
    held_title,
)
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.inline_notice import InlineNotice
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.work_strip import WorkStrip
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.lab_intake.held import HeldRowFacts
from fluiddesk.wiring import Clock


class HeldRowPanel(QWidget):
    """One row that waits for a person.

    Signals:
        changed: what taking it in altered, as ``Changes``.
        left: back to the queue.
    """

    changed = Signal(object)
    left = Signal()

    def __init__(
        self, calls: HeldCalls, *, clock: Clock, theme: Theme, background: Background
    ) -> None:
        super().__init__()
        self.calls = calls
        self._clock = clock
        self.model = HeldRowModel(theme=theme, parent=self)
        self._title = QuietLabel("sentence", theme)
        self._since = QuietLabel("faint", theme)
        self._reason = QuietLabel("body", theme)
        self._reason.setWordWrap(True)
        self.table = FactTable(self.model, name=self.tr("Cells of the row"))
        self.table.set_widths({HeldColumn.HEADING: 200, HeldColumn.PRINTED: 200})
        triggers = QAbstractItemView.EditTrigger
        self.table.setEditTriggers(
            triggers.DoubleClicked | triggers.AnyKeyPressed | triggers.EditKeyPressed
        )
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.table.row_opened.connect(self._edit)
        self.release_button = QPushButton(self.tr("Take this row in"))
        self.release_button.setDefault(True)
        self.outcome = QLineEdit()
        self.outcome.setPlaceholderText(self.tr("Why it is given up"))
        self.outcome.setAccessibleName(self.outcome.placeholderText())
        self.settle_button = QPushButton(self.tr("Give the row up"))
        self.back_button = QPushButton(self.tr("Back to the queue"))
        self.notice = InlineNotice(theme)
        strip = WorkStrip()
        self._work = PageWork(background, strip=strip, notice=self.notice, parent=self)
        self._lay_out(strip)
        self.release_button.clicked.connect(self.release)
        self.settle_button.clicked.connect(self.settle)
        self.back_button.clicked.connect(self.left)

    def _lay_out(self, strip: WorkStrip) -> None:
        deeds = QHBoxLayout()
        deeds.setSpacing(GAP)
        deeds.addWidget(self.release_button)
        deeds.addSpacing(GAP)
        deeds.addWidget(self.outcome, 1)
        deeds.addWidget(self.settle_button)
        deeds.addSpacing(GAP)
        deeds.addWidget(self.back_button)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        for part in (strip, self.notice, self._title, self._since, self._reason):
            column.addWidget(part)
        column.addSpacing(GAP)
        column.addWidget(self.table, 1)
        column.addLayout(deeds)

    @property
    def reason(self) -> str:
        """Why the row waits, as shown."""
        return self._reason.text()

    @property
    def is_busy(self) -> bool:
        """Whether the row is being read or taken in."""
        return self._work.is_under_way

    def open(self, intake_id: bytes, row: int) -> None:
        """Show a row by its intake and its number in the file."""
        self.model.show_state(None)
        self._work.start(
            lambda _: self.calls.find(intake_id, row),
            done=self._found,
            refusal=self.tr("The row cannot be shown"),
            label=self.tr("Reading the row"),
        )

    def _found(self, held: HeldRowFacts | None) -> None:
        if held is None:
            self.left.emit()
            return
        self.show_held(held)

    def show_held(self, held: HeldRowFacts) -> None:
        """Show this row."""
        self.model.show_state(HeldRowState(held))
        self._title.setText(held_title(held))
        self._since.setText(held_since(held))
        self._reason.setText(held.reason)
        self.outcome.clear()
        self.table.setFocus(Qt.FocusReason.OtherFocusReason)
        self.table.setCurrentIndex(self.model.index(0, HeldColumn.TAKEN))

    def _edit(self, row: int) -> None:
        if self.table.viewport().findChildren(QLineEdit):
            # Enter ends the typing; the field hands it on to the table.
            return
        self.table.setCurrentIndex(self.model.index(row, HeldColumn.TAKEN))
        self.table.edit(self.model.index(row, HeldColumn.TAKEN))

    def release(self) -> None:
        """Take the row in with what was corrected."""
        state = self.model.state
        if state is None:
            return
        moment, today = self._clock.moment(), self._clock.today()
        self._work.start(
            lambda _: self.calls.release(state, moment=moment, today=today),
            done=self._done,
            refusal=self.tr("The row still waits"),
            label=self.tr("Taking the row in"),
            saves=True,
        )

    def settle(self) -> None:
        """Give the row up."""
        state, outcome, moment = self.model.state, self.outcome.text(), self._clock.moment()
        if state is None:
            return
        nothing = Changes(subjects=frozenset({Subject.RESULTS}))

        def work(_: object) -> Changes:
            self.calls.settle(state.held, outcome=outcome, moment=moment)
            return nothing

        self._work.start(
            work,
            done=self._done,
            refusal=self.tr("The row still waits"),
            label=self.tr("Giving the row up"),
            saves=True,
        )

    def _done(self, changes: Changes) -> None:
        self.model.show_state(None)
        self.left.emit()
        self.changed.emit(changes)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.model.apply_theme(theme)
        for part in (self._title, self._since, self._reason, self.notice):
            part.apply_theme(theme)
