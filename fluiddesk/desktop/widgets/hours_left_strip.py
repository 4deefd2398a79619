"""Hours left at a glance: the band in figures, drawn from now on, and the next planned sample."""

from typing import Final

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget
from typing_extensions import override

from fluiddesk.charts.forecast_band import paint_band, paint_due, paint_hours_ahead, placed_words
from fluiddesk.charts.look import Look
from fluiddesk.charts.palette import paint_mark
from fluiddesk.charts.scales import Scale
from fluiddesk.desktop.theme import GAP, Theme
from fluiddesk.desktop.viewstate.hours_left import Band, HoursLeftWords
from fluiddesk.domain.severity import Severity

_HEIGHT: Final = 62
_LEFT: Final = 250.0
_RIGHT: Final = 150.0
_NARROW: Final = 560
_MARK: Final = 12.0
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_WORDS: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop | Qt.TextFlag.TextWordWrap


class HoursLeftStrip(QWidget):
    """Drawn in one piece; the tooltip and the accessible name say all of it in words."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._words = HoursLeftWords(answer="")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    @property
    def words(self) -> HoursLeftWords:
        """What it says."""
        return self._words

    def show_words(self, words: HoursLeftWords) -> None:
        """Say this of another box."""
        self._words = words
        self.setToolTip(words.spoken)
        self.setAccessibleName(words.spoken)
        self.update()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        return QSize(600, _HEIGHT)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        words = self._words
        self._paint_answer(painter)
        has_chance = bool(words.chance) and self.width() > _NARROW
        right = self.width() - (_RIGHT if has_chance else 14.0)
        middle = QRectF(_LEFT, 0.0, right - _LEFT, _HEIGHT)
        if words.band is not None:
            self._paint_strip(painter, middle, words.band)
        else:
            painter.setFont(self._theme.body)
            painter.setPen(QColor(self._theme.colors.faint_ink))
            painter.drawText(middle.adjusted(0.0, 15.0, 0.0, 0.0), _WORDS, words.why)
        if has_chance:
            self._paint_chance(painter, QRectF(right + GAP, 0.0, _RIGHT - GAP, _HEIGHT))
        painter.end()

    def _paint_answer(self, painter: QPainter) -> None:
        words, theme = self._words, self._theme
        painter.setFont(theme.small)
        painter.setPen(QColor(theme.colors.faint_ink))
        head = self.tr("Hours left, 10 to 90 %") if words.band else self.tr("Hours left")
        painter.drawText(QRectF(0.0, 0.0, _LEFT - GAP, 15.0), _LEFT_ALIGNED, head)
        painter.setFont(theme.sentence)
        painter.setPen(QColor(theme.colors.ink))
        painter.drawText(QRectF(0.0, 15.0, _LEFT - GAP, 25.0), _LEFT_ALIGNED, words.answer)
        if not words.limits:
            return
        box = QRectF(0.0, 43.0 - 0.5, _MARK, _MARK)
        paint_mark(painter, box, severity=words.severity, colors=theme.colors)
        painter.setFont(theme.body)
        painter.setPen(QColor(theme.colors.ink))
        room = QRectF(_MARK + 6.0, 40.0, _LEFT - _MARK - 6.0 - GAP, 17.0)
        metrics = QFontMetricsF(theme.body)
        fitting = (one for one in words.limits if metrics.horizontalAdvance(one) <= room.width())
        text = next(fitting, words.limits[-1])
        text = metrics.elidedText(text, Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, _LEFT_ALIGNED, text)

    def _paint_strip(self, painter: QPainter, room: QRectF, band: Band) -> None:
        words, theme = self._words, self._theme
        look = Look(colors=theme.colors, body=theme.body, small=theme.small, strong=theme.strong)
        span = Scale(low=0.0, high=words.span)
        plot = QRectF(room.left() + 10.0, 16.0, room.width() - 34.0, 24.0)
        ink = theme.colors.color(
            words.severity if words.severity > Severity.NORMAL else Severity.NO_VERDICT
        )
        taken: list[QRectF] = []
        if words.due is not None:
            due = words.due
            paint_due(
                painter, plot, hours=due.hours, window=(due.low, due.high), span=span, look=look
            )
            day = due.on.strftime(" %m-%d") if due.on else ""
            words_due = self.tr("next sample") if due.hours > 0 else self.tr("sample overdue,")
            at = plot.left() + min(max(span.share(due.hours), 0.0), 1.0) * plot.width()
            foot = QRectF(room.left(), plot.bottom() + 5.0, room.width(), 14.0)
            ((box, text),) = placed_words([(at, words_due + day)], look=look, room=foot)
            painter.setFont(theme.small)
            painter.setPen(QColor(theme.colors.ink))
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
            taken.append(box)
        bar = QRectF(plot.left(), plot.top() + 6.0, plot.width(), 12.0)
        paint_band(painter, bar, points=(band.low, band.middle, band.high), span=span, ink=ink)
        paint_hours_ahead(painter, plot, span=span, look=look, taken=taken)
        self._paint_days(painter, plot, band, span=span, look=look)

    def _paint_days(
        self, painter: QPainter, plot: QRectF, band: Band, *, span: Scale, look: Look
    ) -> None:
        low, middle, high = self._words.dates
        order = ((band.middle, middle), (band.low, low), (band.high, high))
        wanted = [
            (plot.left() + min(span.share(hours), 1.0) * plot.width(), day.isoformat())
            for hours, day in order
            if hours is not None and day is not None
        ]
        room = QRectF(plot.left() - 10.0, 0.0, plot.width() + 20.0, 14.0)
        painter.setFont(self._theme.small)
        painter.setPen(QColor(self._theme.colors.faint_ink))
        for box, text in placed_words(wanted, look=look, room=room):
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_chance(self, painter: QPainter, room: QRectF) -> None:
        theme = self._theme
        painter.setFont(theme.small)
        painter.setPen(QColor(theme.colors.faint_ink))
        row = QRectF(room.left(), 0.0, room.width(), 15.0)
        painter.drawText(row, _LEFT_ALIGNED, self.tr("Before the next sample"))
        painter.setFont(theme.sentence)
        painter.setPen(QColor(theme.colors.ink))
        painter.drawText(
            QRectF(room.left(), 15.0, room.width(), 25.0), _LEFT_ALIGNED, self._words.chance
        )
        painter.setFont(theme.small)
        painter.setPen(QColor(theme.colors.faint_ink))
        painter.drawText(
            QRectF(room.left(), 41.0, room.width(), 15.0),
            _LEFT_ALIGNED,
            self.tr("chance to reach it"),
        )
