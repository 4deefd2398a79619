"""The compartment page: verdict, reasons, curves and samples of one box."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QColor
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.charts.trend_panels import TrendPanels
from fluiddesk.charts.trend_plot import Look
from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.models.compartment_history import SampleTableModel
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.compartment_history import due_text, place_text, trust_text
from fluiddesk.desktop.widgets.box_facts import BoxFactsColumn, SeverityMark
from fluiddesk.desktop.widgets.sample_table import SampleTableView
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.changes import Changes
from fluiddesk.services.compartment_history.facts import CompartmentHistory
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

_MARK = 18
_FACTS_WIDTH = 276
_TABLE_SHARE = 0.34


class CompartmentHistoryScreen(QWidget):
    """One box: what is said of it, why, and every value behind it.

    Signals:
        loaded: the ``CompartmentHistory`` just put on screen.
    """

    loaded = Signal(object)

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Compartment")
        self._place, self._clock, self._background = place, clock, background
        self._theme = theme
        self._compartment: CompartmentId | None = None
        self._history: CompartmentHistory | None = None
        self._where = QLabel()
        self._mark = SeverityMark(theme, _MARK)
        self.sentence = QLabel()
        self._due = QLabel()
        self._changed = QLabel()
        self._reasons = BoxFactsColumn(theme)
        self.panels = TrendPanels(_look(theme))
        self._model = SampleTableModel(self)
        self.table = SampleTableView(self._model, self._model, theme)
        self._empty = QLabel()
        self._body = QStackedWidget()
        self._upper = QSplitter(Qt.Orientation.Horizontal)
        self._splitter = QSplitter(Qt.Orientation.Vertical)
        self._lay_out()
        self.apply_theme(theme)
        self._show_nothing()

    @property
    def compartment(self) -> CompartmentId | None:
        """The box on show or being read."""
        return self._compartment

    @property
    def history(self) -> CompartmentHistory | None:
        """What is on show."""
        return self._history

    def open_compartment(self, compartment_id: CompartmentId) -> None:
        """Read a box and show it; what was on show stays until the answer comes."""
        self._compartment = compartment_id
        self.refresh()

    def refresh(self) -> None:
        """Read the box on show again."""
        compartment, today = self._compartment, self._clock.today()
        if compartment is None:
            return

        def read(_progress: Progress) -> CompartmentHistory:
            return compartment_history(self._place, compartment, today=today)

        self._background.run(
            read,
            done=self.show_facts,
            label=self.tr("Reading the compartment"),
            slot="compartment_history",
        )

    def show_changes(self, changes: Changes) -> None:
        """Read again where the change concerns the box on show."""
        if not changes.compartments or self._compartment in changes.compartments:
            self.refresh()

    def show_facts(self, history: CompartmentHistory) -> None:
        """Put a box on screen at once."""
        self._history = history
        self._compartment = history.compartment
        self._where.setText(place_text(history))
        self._mark.show_severity(history.severity, history.trust)
        self.sentence.setText(history.sentence)
        lines = [trust_text(history), due_text(history.due, today=self._clock.today())]
        self._due.setText("   \u00b7   ".join(line for line in lines if line))
        self._changed.setText(history.changed_since)
        for part, text in ((self._due, True), (self._changed, history.changed_since)):
            part.setVisible(bool(text))
        self._mark.show()
        self._reasons.show_history(history)
        self.panels.show_history(history)
        self._model.show_history(history)
        if not history.samples:
            self._empty.setText(
                self.tr(
                    "No sample of this box has been reported yet. Take its first sample, then take"
                    " in the laboratory's file on the Results page: curves and values follow."
                )
            )
        self._body.setCurrentIndex(1 if history.samples else 0)
        self.loaded.emit(history)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        faint = QColor(theme.colors.faint_ink)
        for label, font, ink in (
            (self._where, theme.small, faint),
            (self.sentence, theme.sentence, QColor(theme.colors.ink)),
            (self._due, theme.body, QColor(theme.colors.ink)),
            (self._changed, theme.body, faint),
            (self._empty, theme.body, faint),
        ):
            label.setFont(font)
            shade = label.palette()
            shade.setColor(label.foregroundRole(), ink)
            label.setPalette(shade)
        self._mark.apply_theme(theme)
        self._reasons.apply_theme(theme)
        self.panels.apply_look(_look(theme))
        self.table.apply_theme(theme)

    def _show_nothing(self) -> None:
        self._mark.hide()
        self._due.hide()
        self._changed.hide()
        self.sentence.setText(self.tr("No compartment chosen"))
        self._empty.setText(
            self.tr("Choose a compartment in the tree, or a cell on the Fleet condition page.")
        )
        self._body.setCurrentIndex(0)

    def _lay_out(self) -> None:
        for label in (self.sentence, self._due, self._changed, self._empty):
            label.setWordWrap(True)
        for label in (self._where, self.sentence, self._due, self._changed, self._empty):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self._empty.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self._upper.addWidget(self._reasons)
        self._upper.addWidget(self._padded(self.panels))
        self._upper.setSizes([_FACTS_WIDTH, 10 * _FACTS_WIDTH])
        self._upper.setStretchFactor(0, 0)
        self._upper.setStretchFactor(1, 1)
        self._splitter.addWidget(self._upper)
        self._splitter.addWidget(self.table)
        self._splitter.setStretchFactor(0, 2)
        self._splitter.setStretchFactor(1, 1)
        self._splitter.setSizes([1000, round(1000 * _TABLE_SHARE / (1 - _TABLE_SHARE))])
        for splitter in (self._upper, self._splitter):
            splitter.setHandleWidth(1)
            splitter.setChildrenCollapsible(False)
        self._body.addWidget(self._empty)
        self._body.addWidget(self._splitter)
        verdict = QHBoxLayout()
        verdict.setSpacing(GAP)
        verdict.addWidget(self._mark, 0, Qt.AlignmentFlag.AlignTop)
        verdict.addWidget(self.sentence, 1)
        page = QVBoxLayout(self)
        page.setContentsMargins(MARGIN, MARGIN, MARGIN, GAP)
        page.setSpacing(STEP)
        page.addWidget(self._where)
        page.addLayout(verdict)
        page.addWidget(self._due)
        page.addWidget(self._changed)
        page.addSpacing(GAP)
        page.addWidget(self._body, 1)

    @staticmethod
    def _padded(widget: QWidget) -> QWidget:
        """Room at the left, between the dividing line and the charts."""
        room = QWidget()
        row = QHBoxLayout(room)
        row.setContentsMargins(MARGIN, 0, 0, 0)
        row.addWidget(widget)
        return room


def _look(theme: Theme) -> Look:
    return Look(colors=theme.colors, body=theme.body, small=theme.small, strong=theme.strong)
