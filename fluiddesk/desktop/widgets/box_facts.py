"""Why a box is judged as it is, and what was done to it: the column beside the charts."""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent
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
from fluiddesk.desktop.viewstate.compartment_history import (
    argument_lines,
    event_text,
    finding_lines,
    hours_text,
)
from fluiddesk.domain.limits.fired import FiredRule
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.facts import (
    CompartmentHistory,
    EventFacts,
    ReasonFacts,
)

_EVENTS: Final = 12
_EVENT_ROW: Final = 19
_LEFT: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


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


class EventList(QWidget):
    """Events with day and hours, one a line; drawn, as a label a word costs more than the charts.

    A line too long is cut; the tooltip and the accessible name tell all of them in full.
    """

    def __init__(
        self, events: Sequence[EventFacts], theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._lines = [
            (
                event.happened_on.isoformat(),
                event_text(event),
                "" if event.hours is None else f"{hours_text(event.hours)} h",
            )
            for event in events
        ]
        self.setFixedHeight(_EVENT_ROW * len(self._lines))
        told = "\n".join("  ".join(line) for line in self._lines)
        self.setToolTip(told)
        self.setAccessibleName(told)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        colors = self._theme.colors
        small, body = QFontMetrics(self._theme.small), QFontMetrics(self._theme.body)
        left = small.horizontalAdvance("2000-00-00") + GAP
        right = max(small.horizontalAdvance(hours) for *_, hours in self._lines) + GAP
        for number, (day, text, hours) in enumerate(self._lines):
            row = QRect(0, number * _EVENT_ROW, self.width(), _EVENT_ROW)
            painter.setFont(self._theme.small)
            painter.setPen(QColor(colors.faint_ink))
            # One point lower, so that both sizes stand on one base line.
            painter.drawText(row.translated(0, 1), _LEFT, day)
            painter.drawText(row.translated(0, 1), _RIGHT, hours)
            room = row.adjusted(left, 0, -right, 0)
            painter.setFont(self._theme.body)
            painter.setPen(QColor(colors.ink))
            cut = body.elidedText(text, Qt.TextElideMode.ElideRight, room.width())
            painter.drawText(room, _LEFT, cut)
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
        column.setContentsMargins(0, GAP, GAP, GAP)
        column.setSpacing(STEP)
        column.addWidget(self._heading(self.tr("Why")))
        if not history.reasons:
            column.addWidget(self._text(self._nothing_fired(history)))
        for reason in history.reasons:
            column.addWidget(self._reason(reason))
        if history.limit_set and history.samples:
            column.addWidget(self._faint(self.tr("Limit set {0}").format(history.limit_set)))
        self._add_arguments(column, history)
        lines = finding_lines(history)
        if lines:
            column.addSpacing(GAP)
            column.addWidget(self._heading(self.tr("Found")))
            column.addWidget(self._text("\n".join(lines)))
        column.addSpacing(MARGIN)
        column.addWidget(self._heading(self.tr("Events")))
        latest = list(reversed(history.events))[:_EVENTS]
        if latest:
            column.addWidget(EventList(latest, self._theme))
        else:
            column.addWidget(self._text(self.tr("No fluid change or other work is recorded.")))
        column.addStretch(1)
        self.setWidget(content)

    def _add_arguments(self, column: QVBoxLayout, history: CompartmentHistory) -> None:
        """What speaks for the verdict and against it."""
        for is_for, words in ((True, self.tr("Speaks for it")), (False, self.tr("Against it"))):
            lines = argument_lines(history, is_for=is_for)
            if lines:
                column.addSpacing(GAP)
                column.addWidget(self._heading(words))
                column.addWidget(self._text("\n".join(lines)))

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
        grid.addWidget(self._faint(self._origin(reason.rule)), 2, 1)
        grid.setColumnStretch(1, 1)
        return block

    def _origin(self, rule: FiredRule) -> str:
        """How far past the limit, and where the limit comes from."""
        origin = self.tr("Set for {scope} by {who}. Source: {source}").format(
            scope=rule.scope, source=rule.source, who=rule.set_by
        )
        if not rule.margin:
            return origin
        unit = " %" if rule.kind is LimitKind.CHANGE_PERCENT else ""
        past = self.tr("Past the limit by {0}.").format(f"{rule.margin:.4g}{unit}")
        return f"{past} {origin}"

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
