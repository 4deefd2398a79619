"""A severity as mark and word, and the same as a button that filters by it."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QWidget
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import CONTROL_HEIGHT, Theme
from fluiddesk.domain.severity import Severity, Trust

_MARK = 13
_GAP = 6
_SIDE = 8


class SeverityBadge(QWidget):
    """The mark and the word of one severity, in the text's ink."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._severity = Severity.NO_VERDICT
        self._trust = Trust.GOOD
        self.show_severity(Severity.NO_VERDICT)

    def show_severity(self, severity: Severity, trust: Trust = Trust.GOOD) -> None:
        """Show this severity; a sample in doubt adds a question mark."""
        self._severity, self._trust = severity, trust
        self.setAccessibleName(f"{severity.word}, {trust.word}" if trust else severity.word)
        self.updateGeometry()
        self.update()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        width = QFontMetrics(self._theme.strong).horizontalAdvance(self._severity.word)
        room = _GAP if self._trust is Trust.GOOD else _GAP + 8
        return QSize(_MARK + room + width + 2, CONTROL_HEIGHT)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        box = QRectF(1, (self.height() - _MARK) / 2, _MARK, _MARK)
        colors = self._theme.colors
        paint_mark(painter, box, severity=self._severity, colors=colors, trust=self._trust)
        painter.setFont(self._theme.strong)
        painter.setPen(QColor(colors.ink))
        left = _MARK + (_GAP if self._trust is Trust.GOOD else _GAP + 8)
        room = self.rect().adjusted(left, 0, 0, 0)
        painter.drawText(room, Qt.AlignmentFlag.AlignVCenter, self._severity.word)


class SeverityChip(QAbstractButton):
    """Mark, word and count of one severity; pressed in, it filters by it."""

    def __init__(self, severity: Severity, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.severity = severity
        self._theme = theme
        self._count = 0
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.show_count(0)

    def show_count(self, count: int) -> None:
        """Say how many boxes have this severity."""
        self._count = count
        self.setAccessibleName(self.tr("{0}: {1} boxes").format(self.severity.word, count))
        self.setToolTip(self.tr("Show machines with a box at {0}").format(self.severity.word))
        self.updateGeometry()
        self.update()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        word = QFontMetrics(self._theme.body).horizontalAdvance(self.severity.word)
        count = QFontMetrics(self._theme.strong).horizontalAdvance(str(self._count))
        return QSize(2 * _SIDE + _MARK + 2 * _GAP + word + count, CONTROL_HEIGHT)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        colors = self._theme.colors
        frame = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        if self.isChecked() or self.underMouse():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(colors.accent_ground if self.isChecked() else colors.raised))
            painter.drawRoundedRect(frame, 3, 3)
        if self.hasFocus() or self.isChecked():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(colors.accent), 2 if self.hasFocus() else 1))
            painter.drawRoundedRect(frame, 3, 3)
        self._paint_words(painter)

    def _paint_words(self, painter: QPainter) -> None:
        colors, middle = self._theme.colors, Qt.AlignmentFlag.AlignVCenter
        box = QRectF(_SIDE, (self.height() - _MARK) / 2, _MARK, _MARK)
        paint_mark(painter, box, severity=self.severity, colors=colors)
        painter.setFont(self._theme.body)
        painter.setPen(QColor(colors.ink))
        left = _SIDE + _MARK + _GAP
        painter.drawText(self.rect().adjusted(left, 0, 0, 0), middle, self.severity.word)
        left += QFontMetrics(self._theme.body).horizontalAdvance(self.severity.word) + _GAP
        painter.setFont(self._theme.strong)
        painter.drawText(self.rect().adjusted(left, 0, 0, 0), middle, str(self._count))
