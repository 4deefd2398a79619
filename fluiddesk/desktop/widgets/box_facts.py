"""Why a box is judged as it is, and what was done to it: the column beside the charts."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QLabel,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.compartment_history import event_text, hours_text
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    CompartmentHistory,
    EventFacts,
    ReasonFacts,
)

_EVENTS: Final = 12


class SeverityMark(QWidget):
    """The mark of one severity, to stand beside its word."""

    def __init__(self, theme: Theme, size: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._side = theme, size
        self._severity, self._trust = Severity.NO_VERDICT, Trust.GOOD
        self.show_severity(self._severity)

    def show_severity(self, severity: Severity, trust: Trust = Trust.GOOD) -> None:
        """Draw this severity; a sample in doubt adds a question mark."""
        self._severity, self._trust = severity, trust
        self.setAccessibleName(severity.word)
        room = 0 if trust is Trust.GOOD else self._side // 2 + 2
        self.setFixedSize(self._side + room + 2, self._side + 2)
        self.update()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        box = QRectF(1.0, 1.0, self._side, self._side)
        paint_mark(
            painter, box, severity=self._severity, colors=self._theme.colors, trust=self._trust
        )
        painter.end()


class BoxFactsColumn(QScrollArea):
    """Reasons first, then the latest events. Built anew for each box."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._history: CompartmentHistory | None = None
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(self.tr("Reasons and events"))

    def show_history(self, history: CompartmentHistory) -> None:
        """Show another box."""
        self._history = history
        content = QWidget()
        column = QVBoxLayout(content)
        column.setContentsMargins(0, 0, GAP, GAP)
        column.setSpacing(STEP)
        column.addWidget(self._heading(self.tr("Why")))
        if not history.reasons:
            column.addWidget(self._text(self._nothing_fired(history)))
        for reason in history.reasons:
            column.addWidget(self._reason(reason))
        if history.limit_set and history.samples:
            column.addWidget(self._faint(self.tr("Limits: {0}").format(history.limit_set)))
        column.addSpacing(MARGIN)
        column.addWidget(self._heading(self.tr("Events")))
        latest = list(reversed(history.events))[:_EVENTS]
        if latest:
            column.addWidget(self._events(latest))
        else:
            column.addWidget(self._text(self.tr("No fluid change or other work is recorded.")))
        column.addStretch(1)
        self.setWidget(content)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        if self._history is not None:
            self.show_history(self._history)

    def _nothing_fired(self, history: CompartmentHistory) -> str:
        if not history.samples:
            return self.tr("Nothing has been judged yet.")
        if history.severity is Severity.NO_VERDICT:
            return self.tr("No limit could be held against the last sample.")
        return self.tr("No limit was reached by the last sample.")

    def _reason(self, reason: ReasonFacts) -> QWidget:
        block = QWidget()
        grid = QGridLayout(block)
        grid.setContentsMargins(0, STEP, 0, STEP)
        grid.setHorizontalSpacing(GAP)
        grid.setVerticalSpacing(2)
        mark = SeverityMark(self._theme, 12)
        mark.show_severity(reason.rule.severity)
        grid.addWidget(mark, 0, 0, Qt.AlignmentFlag.AlignTop)
        title = self._text(reason.title)
        title.setFont(self._theme.strong)
        grid.addWidget(title, 0, 1)
        grid.addWidget(self._text(reason.text), 1, 1)
        told = self.tr(
            "Past the limit by {margin}; {scope}. Source: {source}; set by {who}"
        ).format(
            margin=f"{reason.rule.margin:.4g}",
            scope=reason.rule.scope,
            source=reason.rule.source,
            who=reason.rule.set_by,
        )
        grid.addWidget(self._faint(told), 2, 1)
        grid.setColumnStretch(1, 1)
        return block

    def _events(self, events: Sequence[EventFacts]) -> QWidget:
        block = QWidget()
        grid = QGridLayout(block)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(GAP)
        grid.setVerticalSpacing(2)
        for row, event in enumerate(events):
            day = self._faint(event.happened_on.isoformat())
            day.setWordWrap(False)
            hours = "" if event.hours is None else f"{hours_text(event.hours)} h"
            told = self._text(event_text(event))
            told.setToolTip(event.fluid)
            grid.addWidget(day, row, 0, Qt.AlignmentFlag.AlignTop)
            grid.addWidget(told, row, 1)
            at = self._faint(hours)
            at.setWordWrap(False)
            at.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignTop)
            grid.addWidget(at, row, 2)
        grid.setColumnStretch(1, 1)
        return block

    def _heading(self, text: str) -> QLabel:
        label = self._faint(text)
        label.setFont(self._theme.small_strong)
        return label

    def _faint(self, text: str) -> QLabel:
        label = self._text(text)
        label.setFont(self._theme.small)
        shade = label.palette()
        shade.setColor(label.foregroundRole(), QColor(self._theme.colors.faint_ink))
        label.setPalette(shade)
        return label

    def _text(self, text: str) -> QLabel:
        label = QLabel(text)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setFont(self._theme.body)
        label.setWordWrap(True)
        return label
