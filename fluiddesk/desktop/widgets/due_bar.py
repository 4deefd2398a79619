"""The bar of a due list's row: window, band and due day on the one time scale of all rows."""

from typing import Final

from PySide6.QtCore import QLineF, QModelIndex, QObject, QPersistentModelIndex, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QStyleOptionViewItem
from typing_extensions import override

from fluiddesk.charts.limit_bands import with_alpha
from fluiddesk.charts.palette import Palette
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.due_cells import DueBar
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING, FactDelegate

_WINDOW_ALPHA: Final = 0.14
_BAND_ALPHA: Final = 0.55
_WINDOW: Final = 14.0
_BAND: Final = 4.0
_ARROW: Final = 4.0


class DueBarDelegate(FactDelegate):
    """Draws the bar of a cell's plain value."""

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
        bar = index.data(Qt.ItemDataRole.UserRole)
        if isinstance(bar, DueBar):
            room = QRectF(cell.rect).adjusted(CELL_PADDING, 0, -CELL_PADDING, 0)
            paint_due_bar(painter, room, bar, self.theme.colors)


def paint_due_bar(painter: QPainter, room: QRectF, bar: DueBar, colors: Palette) -> None:
    """Draw a row: today as a hairline, the window as a light ground, the band, the due day.

    What lies outside the scale is an arrow at its end.
    """
    ink, middle = QColor(colors.data), room.center().y()
    painter.setPen(QPen(QColor(colors.hairline), 1.0))
    at = round(_x(room, bar.today)) + 0.5
    painter.drawLine(QLineF(at, room.top(), at, room.bottom() + 1.0))
    for span, height, alpha in (
        (bar.window, _WINDOW, _WINDOW_ALPHA),
        (bar.band, _BAND, _BAND_ALPHA),
    ):
        if span is not None and span[1] > 0.0 and span[0] < 1.0:
            left, right = _x(room, max(span[0], 0.0)), _x(room, min(span[1], 1.0))
            box = QRectF(left, middle - height / 2, max(right - left, 1.0), height)
            painter.fillRect(box, with_alpha(ink, alpha))
    if 0.0 <= bar.due <= 1.0:
        at = round(_x(room, bar.due)) + 0.5
        painter.setPen(QPen(ink, 2.0 if bar.is_pressing else 1.0))
        painter.drawLine(QLineF(at, middle - _WINDOW / 2, at, middle + _WINDOW / 2))
    else:
        _paint_arrow(painter, room, is_past=bar.due < 0.0, ink=ink)


def _paint_arrow(painter: QPainter, room: QRectF, *, is_past: bool, ink: QColor) -> None:
    x, step = (room.left(), _ARROW) if is_past else (room.right(), -_ARROW)
    tip = QPointF(x, room.center().y())
    corners = [tip, tip + QPointF(step, -_ARROW), tip + QPointF(step, _ARROW)]
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(ink)
    painter.drawPolygon(QPolygonF(corners))
    painter.restore()


def _x(room: QRectF, share: float) -> float:
    return room.left() + share * room.width()
