"""Hours left analyte by analyte on one axis."""

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
from fluiddesk.desktop.viewstate.hours_left import ClockRow, DueMark, axis_span

_ROW: Final = 28.0
_HEAD: Final = 24.0
_AXIS: Final = 24.0
_NAME: Final = 164.0
_LIMIT: Final = 142.0
_FIGURE: Final = 46.0
_CHANCE: Final = 84.0
_MARK: Final = 11.0
_LEFT_ALIGNED: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT_ALIGNED: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class ClockList(QWidget):
    """One row an analyte: name, limit, band on the axis, 10, 50 and 90 %, chance."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._rows: tuple[ClockRow, ...] = ()
        self._due: DueMark | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_rows(self, rows: tuple[ClockRow, ...], due: DueMark | None) -> None:
        """Show another box."""
        self._rows, self._due = rows, due
        self.setAccessibleName("\n".join(_spoken(row) for row in rows))
        self.updateGeometry()
        self.update()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        count = len(self._rows)
        return QSize(600, round(_HEAD + count * _ROW + _AXIS) if count else 0)

    def _plot(self) -> QRectF:
        left = _NAME + _LIMIT
        right = self.width() - 3 * _FIGURE - _CHANCE - GAP
        return QRectF(left, _HEAD, max(right - left, 60.0), len(self._rows) * _ROW)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._rows:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        theme, plot = self._theme, self._plot()
        look = Look(colors=theme.colors, body=theme.body, small=theme.small, strong=theme.strong)
        bands = [row.band for row in self._rows if row.band is not None]
        span = Scale(low=0.0, high=axis_span(bands, self._due))
        self._paint_heads(painter)
        taken = self._paint_due(painter, plot, span=span, look=look)
        paint_hours_ahead(painter, plot, span=span, look=look, taken=taken)
        y = _HEAD
        for row in self._rows:
            self._paint_row(painter, QRectF(0.0, y, self.width(), _ROW), row, span=span)
            y += _ROW
        painter.end()

    def _paint_due(
        self, painter: QPainter, plot: QRectF, *, span: Scale, look: Look
    ) -> list[QRectF]:
        due = self._due
        if due is None:
            return []
        paint_due(painter, plot, hours=due.hours, window=(due.low, due.high), span=span, look=look)
        at = plot.left() + min(max(span.share(due.hours), 0.0), 1.0) * plot.width()
        room = QRectF(plot.left() - 20.0, plot.bottom() + 5.0, plot.width() + 40.0, 14.0)
        ((box, text),) = placed_words([(at, self.tr("next sample"))], look=look, room=room)
        painter.setFont(self._theme.small)
        painter.setPen(QColor(self._theme.colors.ink))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        return [box]

    def _columns(self) -> tuple[float, float, float, float]:
        right = float(self.width())
        chance = right - _CHANCE
        return chance - 3 * _FIGURE, chance - 2 * _FIGURE, chance - _FIGURE, chance

    def _paint_heads(self, painter: QPainter) -> None:
        painter.setFont(self._theme.small)
        painter.setPen(QColor(self._theme.colors.faint_ink))
        widths = (_FIGURE, _FIGURE, _FIGURE, _CHANCE)
        words = ("10 %", self.tr("50 %, h"), "90 %", self.tr("before next"))
        for left, width, text in zip(self._columns(), widths, words, strict=True):
            painter.drawText(QRectF(left, 0.0, width, _HEAD), _RIGHT_ALIGNED, text)
        painter.drawText(QRectF(0.0, 0.0, _NAME, _HEAD), _LEFT_ALIGNED, self.tr("Analyte"))
        painter.drawText(QRectF(_NAME, 0.0, _LIMIT, _HEAD), _LEFT_ALIGNED, self.tr("Next limit"))

    def _paint_row(self, painter: QPainter, room: QRectF, row: ClockRow, *, span: Scale) -> None:
        theme = self._theme
        body = QFontMetricsF(theme.body)
        painter.setFont(theme.body)
        painter.setPen(QColor(theme.colors.ink))
        name = QRectF(0.0, room.top(), _NAME - GAP, _ROW)
        painter.drawText(
            name,
            _LEFT_ALIGNED,
            body.elidedText(row.title, Qt.TextElideMode.ElideRight, name.width()),
        )
        box = QRectF(_NAME, room.center().y() - _MARK / 2, _MARK, _MARK)
        paint_mark(painter, box, severity=row.severity, colors=theme.colors)
        painter.setFont(theme.body)
        painter.setPen(QColor(theme.colors.ink))
        limit = QRectF(_NAME + _MARK + 6.0, room.top(), _LIMIT - _MARK - 6.0 - GAP, _ROW)
        painter.drawText(
            limit,
            _LEFT_ALIGNED,
            body.elidedText(row.limit, Qt.TextElideMode.ElideRight, limit.width()),
        )
        band = row.band
        if band is None:
            return
        plot = self._plot()
        bar = QRectF(plot.left(), room.center().y() - 5.0, plot.width(), 10.0)
        ink = theme.colors.color(row.severity)
        paint_band(painter, bar, points=(band.low, band.middle, band.high), span=span, ink=ink)
        widths = (_FIGURE, _FIGURE, _FIGURE, _CHANCE)
        painter.setPen(QColor(theme.colors.ink))
        for left, width, text in zip(
            self._columns(), widths, (*row.figures, row.chance), strict=True
        ):
            painter.drawText(QRectF(left, room.top(), width, _ROW), _RIGHT_ALIGNED, text)


def _spoken(row: ClockRow) -> str:
    words = row.band.words if row.band is not None else row.why
    chance = f", {row.chance} before the next sample" if row.chance else ""
    return f"{row.title} to {row.limit}: {words}{chance}"
