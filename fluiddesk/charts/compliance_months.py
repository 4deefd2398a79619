"""Compliance month by month: on time, taken, and taken too early, as thin lines."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget
from typing_extensions import override

from fluiddesk.charts.palette import Palette

_LEFT: Final = 30.0
_TOP: Final = 10.0
_BOTTOM: Final = 22.0
_LABEL_GAP: Final = 14.0
_POINT: Final = 2.2


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthShares:
    """One month: its name as "2026-05", and shares in percent, ``None`` where nothing was owed."""

    month: str
    on_time: float | None
    taken: float | None
    early: float | None
    due: int


class ComplianceMonths(QWidget):
    """Three lines over the months, named at their ends; the tooltip tells a month's figures."""

    def __init__(self, colors: Palette, *, font: QFont, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._colors, self._font = colors, font
        self._months: tuple[MonthShares, ...] = ()
        self.setMinimumHeight(140)
        self.setMouseTracking(True)
        self.setAccessibleName(self.tr("Compliance by month"))

    def show_months(self, months: Sequence[MonthShares]) -> None:
        """Draw other months, oldest first."""
        self._months = tuple(months)
        self.setAccessibleDescription("; ".join(self._told(one) for one in self._months))
        self.setToolTip("\n".join(self._told(one) for one in self._months[-12:]))
        self.update()

    def apply_colors(self, colors: Palette) -> None:
        """Draw in another theme."""
        self._colors = colors
        self.update()

    def _told(self, one: MonthShares) -> str:
        def words(share: float | None) -> str:
            return self.tr("none owed") if share is None else f"{share:.0f} %"

        return self.tr("{0}: {1} on time, {2} taken, {3} too early, of {4} due").format(
            one.month, words(one.on_time), words(one.taken), words(one.early), one.due
        )

    @override
    def sizeHint(self) -> QSize:
        return QSize(380, 190)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        if not self._months:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(self._font)
        metrics = QFontMetricsF(self._font)
        lines: tuple[tuple[str, Callable[[MonthShares], float | None], float, bool], ...] = (
            (self.tr("taken"), lambda one: one.taken, 0.5, False),
            (self.tr("on time"), lambda one: one.on_time, 1.0, False),
            (self.tr("early"), lambda one: one.early, 0.5, True),
        )
        room = max(metrics.horizontalAdvance(f"{name} 100 %") for name, *_ in lines) + 10
        area = QRectF(_LEFT, _TOP, self.width() - _LEFT - room, self.height() - _TOP - _BOTTOM)
        self._axes(painter, area, metrics)
        ends: list[tuple[float, str]] = []
        for name, share, strength, is_dotted in lines:
            points = self._points(area, share)
            if points:
                self._line(painter, points, strength=strength, is_dotted=is_dotted)
                last = next(s for s in map(share, reversed(self._months)) if s is not None)
                ends.append((points[-1].y(), f"{name} {last:.0f} %"))
        self._labels(painter, area, ends)
        painter.end()

    def _x(self, area: QRectF, place: int) -> float:
        step = area.width() / max(len(self._months) - 1, 1)
        return area.left() + place * step

    def _points(self, area: QRectF, share: Callable[[MonthShares], float | None]) -> list[QPointF]:
        shares = [(place, share(one)) for place, one in enumerate(self._months)]
        return [
            QPointF(self._x(area, place), area.bottom() - area.height() * value / 100.0)
            for place, value in shares
            if value is not None
        ]

    def _axes(self, painter: QPainter, area: QRectF, metrics: QFontMetricsF) -> None:
        line, faint = QColor(self._colors.hairline), QColor(self._colors.faint_ink)
        for percent in (0, 50, 100):
            y = area.bottom() - area.height() * percent / 100.0
            painter.fillRect(QRectF(area.left(), y, area.width(), 1), line)
            painter.setPen(faint)
            box = QRectF(0, y - 8, _LEFT - 6, 16)
            middle = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(box, int(middle), str(percent))
        width, last = metrics.horizontalAdvance("2026-12") + 12, -1e9
        for place, one in enumerate(self._months):
            # Januaries and Julys are round months; the first one begins the axis.
            is_round = one.month[-2:] in ("01", "07") or place == 0
            x = self._x(area, place)
            if is_round and x - last >= width:
                last = x
                left = min(x - width / 2, self.width() - width)
                box = QRectF(max(0.0, left), area.bottom() + 4, width, 16)
                painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), one.month)

    def _line(
        self, painter: QPainter, points: list[QPointF], *, strength: float, is_dotted: bool
    ) -> None:
        ink = QColor(self._colors.data)
        ink.setAlphaF(strength)
        style = Qt.PenStyle.DotLine if is_dotted else Qt.PenStyle.SolidLine
        painter.setPen(QPen(ink, 1.4, style))
        painter.drawPolyline(points)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        for point in points:
            painter.drawEllipse(point, _POINT, _POINT)

    def _labels(self, painter: QPainter, area: QRectF, ends: Sequence[tuple[float, str]]) -> None:
        """Name the lines at their ends, apart from one another."""
        painter.setPen(QColor(self._colors.ink))
        before = -1e9
        for y, words in sorted(ends):
            at = max(y, before + _LABEL_GAP)
            before = at
            box = QRectF(area.right() + 8, at - 8, self.width() - area.right() - 8, 16)
            side = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(box, int(side), words)
