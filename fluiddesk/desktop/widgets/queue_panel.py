"""The clerk's queue on the page: chips with counts over one list."""

from typing import Final

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QVBoxLayout, QWidget

from fluiddesk.desktop.models.results_queue import ResultsQueueModel
from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.results_queue import (
    HEADINGS,
    SECOND_WORDS,
    QueueColumn,
    QueuePart,
    QueueRow,
)
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.severity_move import SeverityMoveDelegate
from fluiddesk.services.keyed_results.facts import ResultsQueue

_NOTE_WIDTH: Final = 300


class QueuePanel(QWidget):
    """What waits for the clerk.

    Signals:
        opened: the ``QueueRow`` a person wants to work on.
        second_chosen: how deciding values are entered twice, as a mode of ``SecondEntry``.
    """

    opened = Signal(object)
    second_chosen = Signal(str)

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__()
        self.model = ResultsQueueModel(theme=theme, parent=parent or self)
        words = [(QueuePart.ALL.value, self.tr("All"))]
        words += [(part.value, title) for part, title in HEADINGS.items()]
        self.chips = FilterChips(words, name=self.tr("Lists of the queue"))
        self.table = FactTable(self.model, name=self.tr("Queue of reports"))
        self.table.set_widths(
            {
                QueueColumn.BOTTLE: 112,
                QueueColumn.MACHINE: 84,
                QueueColumn.COMPARTMENT: 184,
                QueueColumn.SITE: 164,
                QueueColumn.DRAWN: 92,
                QueueColumn.DAYS: 52,
                QueueColumn.LAST: 116,
            }
        )
        self._fit(has_notes=False)
        self._verdicts = SeverityMoveDelegate(theme, self)
        self.table.setItemDelegateForColumn(QueueColumn.LAST, self._verdicts)
        self._empty = QuietLabel(
            "faint",
            theme,
            self.tr(
                "No bottle is at the laboratory. Scan a bottle code above to key a report, or take "
                "a laboratory's file in under Files."
            ),
        )
        self._empty.setWordWrap(True)
        self._make_second(theme)
        self._lay_out()
        self.chips.chosen.connect(lambda key: self.show_part(QueuePart(key)))
        self.table.row_opened.connect(self._opened)
        self.show_queue(None)

    def _make_second(self, theme: Theme) -> None:
        """The setting of the second entry stands where reports are begun."""
        self._second_label = QuietLabel("small", theme, self.tr("Values that decide are entered"))
        self._second_label.setWordWrap(False)
        self.second = QComboBox()
        self.second.setAccessibleName(self._second_label.text())
        for mode, told in SECOND_WORDS.items():
            self.second.addItem(told, mode)
        self.second.activated.connect(
            lambda at: self.second_chosen.emit(str(self.second.itemData(at)))
        )

    def _lay_out(self) -> None:
        line = QHBoxLayout()
        line.setSpacing(GAP)
        line.addWidget(self.chips)
        line.addStretch(1)
        line.addWidget(self._second_label)
        line.addWidget(self.second)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(line)
        column.addWidget(self._empty)
        column.addWidget(self.table, 1)
        column.addStretch(0)

    def show_queue(self, queue: ResultsQueue | None) -> None:
        """Show another reading of the queue."""
        kept = self._chosen_code()
        self.model.show_queue(queue)
        state = self.model.state
        is_empty = state is None or state.count(QueuePart.ALL) == 0
        self._empty.setVisible(queue is not None and is_empty)
        self.table.setVisible(not is_empty)
        self.chips.setVisible(not is_empty)
        if state is None:
            return
        if state.part is not QueuePart.ALL and not state.count(state.part):
            self.model.show_part(QueuePart.ALL)
        self.chips.press(state.part.value)
        for part in QueuePart:
            self.chips.show_count(part.value, state.count(part))
        self._fit(has_notes=any(row.line and row.line.note for row in state.rows))
        self._span()
        self._choose(kept)

    def _fit(self, *, has_notes: bool) -> None:
        """Why something waits is worth more room than its site."""
        self.table.fit_columns(
            stretch=QueueColumn.NOTE,
            least=_NOTE_WIDTH if has_notes else _NOTE_WIDTH // 3,
            optional={QueueColumn.DRAWN: 92, QueueColumn.SITE: 164},
        )

    def show_second(self, mode: str) -> None:
        """Show how deciding values are entered."""
        self.second.setCurrentIndex(self.second.findData(mode))

    def show_part(self, part: QueuePart) -> None:
        """Show one list, or all."""
        self.chips.press(part.value)
        self.model.show_part(part)
        self._span()
        self._choose("")

    def _span(self) -> None:
        rows = range(self.model.rowCount())
        self.table.span_headings([row for row in rows if self.model.is_heading(row)])

    def _chosen_code(self) -> str:
        row = self.table.currentIndex().row()
        line = self.model.row(row).line if 0 <= row < self.model.rowCount() else None
        return line.bottle_code if line else ""

    def _choose(self, code: str) -> None:
        state = self.model.state
        rows = state.rows if state else ()
        plain = [at for at, row in enumerate(rows) if row.line is not None]
        same = [at for at in plain if (line := rows[at].line) and line.bottle_code == code]
        if plain:
            self.table.choose((same or plain)[0])

    def _opened(self, row: int) -> None:
        found: QueueRow = self.model.row(row)
        if found.line is not None:
            self.opened.emit(found)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.model.apply_theme(theme)
        self._verdicts.theme = theme
        self._empty.apply_theme(theme)
        self._second_label.apply_theme(theme)
