"""Draws the bands of a limit on a number line: small in a table cell, larger with its bounds."""

from typing import Final

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QStyleOptionViewItem, QWidget
from typing_extensions import override

from fluiddesk.charts.palette import Palette
from fluiddesk.desktop.theme import STEP, Theme
from fluiddesk.desktop.viewstate.limit_ruler import Ruler
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING, FactDelegate
from fluiddesk.domain.severity import Severity

BANDS_WIDTH: Final = 96
"""The width a column of small rulers needs, in pixels."""
_TICKS_HEIGHT: Final = 12
_STROKE: Final = 3
_BEHIND: Final = 0.3
"""Opacity of the bars of the fleet's own figures."""
_FAINT: Final = 0.5
"""Opacity where the row is written in faint ink."""

_THICK: Final = {Severity.NORMAL: 0.25, Severity.WATCH: 0.5, Severity.ACT: 0.75}
"""Share of the full thickness: a worse band is also thicker, so that colour is not alone."""


def paint_bands(painter: QPainter, area: QRectF, drawn: Ruler, colors: Palette) -> None:
    """Draw the bands into an area, standing on its lower edge."""
    for severity, start, end in drawn.bands:
        height = area.height() * _THICK.get(severity, 1.0)
        left = area.left() + start * area.width()
        right = area.left() + end * area.width()
        # A pixel of ground between two bands: neighbours stay apart without their colours.
        gap = 1.0 if end < 1 else 0.0
        band = QRectF(left, area.bottom() - height, max(1.0, right - left - gap), height)
        color = colors.hairline if severity is Severity.NORMAL else colors.severity[severity]
        painter.fillRect(band, QColor(color))


def paint_starts(painter: QPainter, area: QRectF, drawn: Ruler, colors: Palette) -> None:
    """Draw the line and a stroke where each band starts: the quiet form for many rows."""
    line = QRectF(area.left(), area.bottom() - 1, area.width(), 1)
    painter.fillRect(line, QColor(colors.hairline))
    for severity, start, end in drawn.bands:
        if severity is Severity.NORMAL:
            continue
        place = end if drawn.is_falling else start
        height = area.height() * _THICK.get(severity, 1.0)
        left = area.left() + place * area.width() - _STROKE / 2
        stroke = QRectF(left, area.bottom() - height, _STROKE, height)
        painter.fillRect(stroke, QColor(colors.severity[severity]))


class LimitRulerDelegate(FactDelegate):
    """Draws the ruler of a cell's plain value."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_content(
        self,
        painter: QPainter,
        cell: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        drawn = index.data(Qt.ItemDataRole.UserRole)
        if isinstance(drawn, Ruler):
            middle = cell.rect.center().y()
            left, width = cell.rect.left() + CELL_PADDING, cell.rect.width() - 2 * CELL_PADDING
            area = QRectF(left, middle - _TICKS_HEIGHT / 2, width, _TICKS_HEIGHT)
            if index.data(Qt.ItemDataRole.ForegroundRole) is not None:
                painter.setOpacity(_FAINT)
            paint_starts(painter, area, drawn, self.theme.colors)


def paint_bars(painter: QPainter, area: QRectF, drawn: Ruler, colors: Palette) -> None:
    """Draw the fleet's own figures as bars that stand on the lower edge of an area.

    The tallest bar would dwarf all others, so that heights follow the square root of the counts.
    """
    ink = QColor(colors.data)
    ink.setAlphaF(_BEHIND)
    for start, end, share in drawn.bars:
        left = area.left() + start * area.width()
        width = max(1.0, (end - start) * area.width() - 1.0)
        height = max(1.0, area.height() * share**0.5)
        painter.fillRect(QRectF(left, area.bottom() - height, width, height), ink)


class LimitRuler(QWidget):
    """The bands of one limit with each bound under its place, over the fleet's own figures."""

    _BAR: Final = 12
    _FIGURES: Final = 44

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._drawn = Ruler((), ())
        self.setAccessibleName(self.tr("Bands of the limit"))

    def show_ruler(self, drawn: Ruler) -> None:
        """Draw another limit."""
        self._drawn = drawn
        words = [f"{text}" for _, text in drawn.ticks]
        self.setAccessibleDescription(", ".join(words))
        self.updateGeometry()
        self.update()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.update()

    @override
    def sizeHint(self) -> QSize:
        return QSize(280, self._height())

    @override
    def minimumSizeHint(self) -> QSize:
        return QSize(160, self._height())

    def _height(self) -> int:
        return self._BAR + 24 + (self._FIGURES if self._drawn.bars else 0)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        above = self._FIGURES if self._drawn.bars else 0
        paint_bars(painter, QRectF(0, 0, self.width(), above), self._drawn, self._theme.colors)
        area = QRectF(0, 2 + above, self.width(), self._BAR)
        paint_bands(painter, area, self._drawn, self._theme.colors)
        painter.setFont(self._theme.small)
        painter.setPen(QColor(self._theme.colors.faint_ink))
        self._paint_bounds(painter, top=area.bottom() + STEP)
        painter.end()

    def _paint_bounds(self, painter: QPainter, *, top: float) -> None:
        metrics = QFontMetricsF(self._theme.small)
        free_from = self._paint_ends(painter, top=top, metrics=metrics)
        for place, text in self._drawn.ticks:
            width = metrics.horizontalAdvance(text)
            left = min(max(place * self.width() - width / 2, free_from), self.width() - width)
            painter.drawText(
                QRectF(left, top, width + 2, 16), int(Qt.AlignmentFlag.AlignLeft), text
            )
            free_from = left + width + STEP

    def _paint_ends(self, painter: QPainter, *, top: float, metrics: QFontMetricsF) -> float:
        """Write the figures at both ends where no bound stands there; where bounds may begin."""
        places = [place for place, _ in self._drawn.ticks]
        first, last = (metrics.horizontalAdvance(text) for text in self._drawn.ends)
        width = max(self.width(), 1)
        aligned_right = int(Qt.AlignmentFlag.AlignRight)
        if last and max(places, default=0.0) * width < width - last - 4 * STEP - last:
            painter.drawText(QRectF(0, top, width, 16), aligned_right, self._drawn.ends[1])
        if first and min(places, default=1.0) * width > 2 * first + 3 * STEP:
            painter.drawText(QRectF(0, top, first + 2, 16), self._drawn.ends[0])
            return first + STEP
        return 0.0
