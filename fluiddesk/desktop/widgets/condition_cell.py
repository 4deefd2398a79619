"""Paints one cell of the traffic view: marks, age of the last sample, and which way it goes.

A cell with one or two boxes gives each its mark, age and tick side by side; with more, the marks
stand in a row, followed by the age and tick of the worst. Act and Urgent alone tint the ground.
"""

from collections.abc import Sequence
from typing import Final

from PySide6.QtCore import QLineF, QModelIndex, QPersistentModelIndex, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem, QWidget
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.box_words import BoxCell

CELL_ROLE: Final = Qt.ItemDataRole.UserRole
"""The model's role that gives a tuple of ``BoxCell``; of a row's header, its ``MachineHead``."""

MARK: Final = 13
_SIDE: Final = 6
_GAP: Final = 3
_TICK_GAP: Final = 5
_ROOM_FOR_DOUBT: Final = 3
"""Beside a mark, so that its question mark stands clear of what follows."""
_TICK: Final = 7
_AGE: Final = 23
_LETTERS: Final = 19
_MARK_STEP: Final = 20
_SINGLE: Final = 2 * _SIDE + MARK + _ROOM_FOR_DOUBT + _GAP + _AGE + _TICK_GAP + _TICK
_HALF: Final = _SINGLE + _LETTERS
_SIDE_BY_SIDE: Final = 2


def cell_width(boxes: int) -> int:
    """How wide a column must be whose fullest cell has so many boxes."""
    if boxes <= 1:
        return _SINGLE
    if boxes == _SIDE_BY_SIDE:
        return 2 * _HALF
    return 2 * _SIDE + boxes * _MARK_STEP + _AGE + _GAP + _TICK_GAP + _TICK


def box_at(x: int, boxes: int) -> int:
    """Which box of a cell lies under a distance from the cell's left edge."""
    if boxes <= 1:
        return 0
    if boxes == _SIDE_BY_SIDE:
        return min(1, x // _HALF)
    return max(0, min(boxes - 1, (x - _SIDE) // _MARK_STEP))


class ConditionCell(QStyledItemDelegate):
    """The delegate of the traffic view; ``current_box`` counts within the ``current`` cell."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.theme = theme
        self.current = QPersistentModelIndex()
        self.current_box = 0

    @override
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex | QPersistentModelIndex,
    ) -> None:
        rect: QRect = option.rect
        state: QStyle.StateFlag = option.state
        cells: tuple[BoxCell, ...] = index.data(CELL_ROLE) or ()
        is_selected = bool(state & QStyle.StateFlag.State_Selected)
        is_current = bool(state & QStyle.StateFlag.State_HasFocus)
        if is_selected:
            painter.fillRect(rect.adjusted(0, 0, -1, -1), QColor(self.theme.colors.accent_ground))
        rooms = _rooms(rect, len(cells))
        if len(cells) <= _SIDE_BY_SIDE:
            for cell, room in zip(cells, rooms, strict=True):
                self._paint_single(painter, room, cell)
        else:
            self._paint_row(painter, rect, cells)
        if index == self.current:
            self._paint_focus(painter, rooms or [rect], thickness=2 if is_current else 1)

    def _paint_single(self, painter: QPainter, room: QRect, cell: BoxCell) -> None:
        self._paint_ground(painter, room, cell)
        left = room.left() + _SIDE
        if cell.letter:
            painter.setFont(self.theme.small)
            painter.setPen(QColor(self.theme.colors.faint_ink))
            where = QRect(left, room.top(), _LETTERS, room.height())
            painter.drawText(where, Qt.AlignmentFlag.AlignVCenter, cell.letter)
            left += _LETTERS
        self._paint_mark(painter, left, room, cell)
        self._paint_age(painter, left + MARK + _ROOM_FOR_DOUBT + _GAP, room, cell)

    def _paint_row(self, painter: QPainter, rect: QRect, cells: Sequence[BoxCell]) -> None:
        worst = max(cells, key=lambda cell: (cell.severity, cell.age_days))
        self._paint_ground(painter, rect, worst)
        left = rect.left() + _SIDE
        for cell in cells:
            self._paint_mark(painter, left, rect, cell)
            left += _MARK_STEP
        self._paint_age(painter, left + _GAP, rect, worst)

    def _paint_ground(self, painter: QPainter, room: QRect, cell: BoxCell) -> None:
        tint = self.theme.colors.tint.get(cell.severity)
        if tint:
            painter.fillRect(room.adjusted(0, 0, -1, -1), QColor(tint))

    def _paint_mark(self, painter: QPainter, left: int, room: QRect, cell: BoxCell) -> None:
        paint_mark(
            painter,
            QRectF(left, room.top() + (room.height() - MARK) / 2, MARK, MARK),
            severity=cell.severity,
            colors=self.theme.colors,
            trust=cell.trust,
            is_stale=cell.is_stale,
        )

    def _paint_age(self, painter: QPainter, left: int, room: QRect, cell: BoxCell) -> None:
        colors = self.theme.colors
        font = self.theme.small_strong if cell.is_overdue else self.theme.small
        painter.setFont(font)
        painter.setPen(QColor(colors.ink if cell.is_overdue else colors.faint_ink))
        is_known = cell.age_days >= 0
        where = QRect(left, room.top(), _AGE if is_known else _AGE + _TICK, room.height())
        side = Qt.AlignmentFlag.AlignRight if is_known else Qt.AlignmentFlag.AlignLeft
        painter.drawText(where, side | Qt.AlignmentFlag.AlignVCenter, cell.age_text)
        if cell.is_overdue and is_known:
            width = QFontMetrics(font).horizontalAdvance(cell.age_text)
            under = room.center().y() + 7
            painter.drawLine(where.right() + 1 - width, under, where.right(), under)
        if is_known:
            self._paint_tick(painter, where.right() + _TICK_GAP, room, cell.direction)

    def _paint_tick(self, painter: QPainter, left: int, room: QRect, direction: int) -> None:
        colors = self.theme.colors
        paint_tick(
            painter,
            QRectF(left, room.center().y() - _TICK / 2 + 0.5, _TICK, _TICK),
            direction=direction,
            color=QColor(colors.ink if direction > 0 else colors.faint_ink),
        )

    def _paint_focus(self, painter: QPainter, rooms: Sequence[QRect], *, thickness: int) -> None:
        painter.save()
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(self.theme.colors.accent), thickness))
        room = rooms[min(self.current_box, len(rooms) - 1)]
        inset = thickness / 2
        painter.drawRect(QRectF(room).adjusted(inset, inset, -1 - inset, -1 - inset))
        painter.restore()


def paint_tick(painter: QPainter, box: QRectF, *, direction: int, color: QColor) -> None:
    """Draw a short line that rises, is level, or falls from left to right."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(QPen(color, 1.4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap))
    lift = direction * box.height() * 0.36
    middle = box.center().y()
    painter.drawLine(QLineF(box.left(), middle + lift, box.right(), middle - lift))
    painter.restore()


def _rooms(rect: QRect, boxes: int) -> list[QRect]:
    """The part of the cell that belongs to each box."""
    if boxes <= 1:
        return [rect] * boxes
    if boxes == _SIDE_BY_SIDE:
        return [
            QRect(rect.left() + number * _HALF, rect.top(), _HALF, rect.height())
            for number in range(boxes)
        ]
    top, height = rect.top(), rect.height()
    return [
        QRect(rect.left() + _SIDE - 2 + number * _MARK_STEP, top, _MARK_STEP, height)
        for number in range(boxes)
    ]
