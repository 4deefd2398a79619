"""How the time bar is drawn: where things stand, and each kind of row."""

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from PySide6.QtCore import QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen

from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.round_plan import (
    BoardRow,
    DayLoad,
    LoadRow,
    MachineRow,
    Planned,
    SiteRow,
    Standing,
)

NAME_WIDTH: Final = 188
HEAD_HEIGHT: Final = 40
_MACHINE_HEIGHT: Final = 28
_LOAD_HEIGHT: Final = 22
_SITE_HEIGHT: Final = 30
_CHIP_HEIGHT: Final = 18
_GROWING_WIDTH: Final = 34
_CODE_WIDTH: Final = 62
_SATURDAY: Final = 5

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_MIDDLE = Qt.AlignmentFlag.AlignCenter


def row_height(row: BoardRow) -> int:
    """The height of a row in pixels."""
    if isinstance(row, SiteRow):
        return _SITE_HEIGHT
    return _LOAD_HEIGHT if isinstance(row, LoadRow) else _MACHINE_HEIGHT


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardDrawing:
    """Where days and rows stand in the viewport, as it is scrolled now."""

    days: tuple[date, ...]
    day_width: int
    left: int
    top: int

    def day_left(self, day: date) -> int:
        """The left edge of a day's column; days outside stand beyond the edges."""
        first = self.days[0] if self.days else day
        return self.left + (day - first).days * self.day_width

    def day_at(self, x: int) -> date:
        """The day of a column."""
        place = (x - self.left) // self.day_width
        place = max(0, min(len(self.days) - 1, place))
        return self.days[0] + timedelta(days=place)

    def chip(self, one: Planned, row_top: int, day: date | None = None) -> QRect:
        """Where a visit stands in its row."""
        wanted = day or one.visit.planned_on
        shown = max(self.days[0], min(self.days[-1], wanted))
        y = self.top + row_top + (_MACHINE_HEIGHT - _CHIP_HEIGHT) // 2
        chip = QRect(self.day_left(shown) + 3, y, self.day_width - 6, _CHIP_HEIGHT)
        # "4+2" needs more room than the narrowest day has.
        more = (_GROWING_WIDTH - chip.width() + 1) // 2 if one.joining is not None else 0
        return chip.adjusted(-max(more, 0), 0, max(more, 0), 0)


class BoardPainter:
    """Draws one picture of the board."""

    def __init__(
        self, painter: QPainter, theme: Theme, drawing: BoardDrawing, *, size: QSize, today: date
    ) -> None:
        self._p, self._theme, self._at = painter, theme, drawing
        self._size, self._today = size, today
        self._colors = theme.colors
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)

    def paint_ground(self, height: int) -> None:
        """Weekends as a raised ground, one hairline at the left of every Monday and at today."""
        bottom = min(self._size.height(), self._at.top + height)
        for day in self._at.days:
            x = self._at.day_left(day)
            column = QRect(x, HEAD_HEIGHT, self._at.day_width, bottom - HEAD_HEIGHT)
            if day.weekday() >= _SATURDAY:
                self._p.fillRect(column, QColor(self._colors.raised))

    def paint_head(self) -> None:
        """The days, over whatever was scrolled below them."""
        colors, width = self._colors, self._at.day_width
        self._p.fillRect(0, 0, self._size.width(), HEAD_HEIGHT, QColor(colors.ground))
        for day in self._at.days:
            x = self._at.day_left(day)
            is_today = day == self._today
            ink = QColor(colors.ink if is_today else colors.faint_ink)
            self._p.setPen(ink)
            self._p.setFont(self._theme.small_strong if is_today else self._theme.small)
            self._p.drawText(QRect(x, 4, width, 16), _MIDDLE, f"{day:%a}"[:2])
            self._p.setFont(self._theme.strong if is_today else self._theme.body)
            self._p.drawText(QRect(x, 18, width, 18), _MIDDLE, str(day.day))
            if is_today:
                self._p.fillRect(x + 3, HEAD_HEIGHT - 3, width - 6, 2, QColor(colors.accent))
        self._p.fillRect(0, 0, NAME_WIDTH, HEAD_HEIGHT, QColor(colors.ground))
        self._p.setPen(QColor(colors.faint_ink))
        self._p.setFont(self._theme.small)
        if self._at.days:
            first, last = (f"{day:%Y-%m}" for day in (self._at.days[0], self._at.days[-1]))
            span = first if first == last else f"{first} to {last}"
            self._p.drawText(QRect(8, 18, NAME_WIDTH - 16, 18), _LEFT, span)
        line = QColor(colors.hairline)
        self._p.fillRect(0, HEAD_HEIGHT - 1, self._size.width(), 1, line)

    def paint_heading(self, row: SiteRow | LoadRow, top: int) -> None:
        """The name of a site, or a crew with its hours on each day."""
        y = self._at.top + top
        if isinstance(row, SiteRow):
            # Reaches across the days: the ground of weekends would cut through the words.
            box = QRect(0, y, self._size.width(), _SITE_HEIGHT)
            self._p.fillRect(box, QColor(self._colors.ground))
            self._p.setFont(self._theme.small_strong)
            self._p.setPen(QColor(self._colors.faint_ink))
            self._p.drawText(box.adjusted(8, 6, -8, 0), _LEFT, row.words)
            return
        for day, load in row.days.items():
            self._load(load, QRect(self._at.day_left(day), y, self._at.day_width, _LOAD_HEIGHT))
        self._p.fillRect(0, y, NAME_WIDTH, _LOAD_HEIGHT, QColor(self._colors.ground))
        name = QRect(8, y, NAME_WIDTH - 16, _LOAD_HEIGHT)
        self._p.setFont(self._theme.small)
        self._p.setPen(QColor(self._colors.faint_ink))
        if row.hours_per_day is None:
            self._p.drawText(name, _LEFT, "Hours of work, no crew")
        else:
            self._p.drawText(name, _LEFT, f"{row.crew}, {row.hours_per_day:g} h a day")

    def _load(self, load: DayLoad, box: QRect) -> None:
        """The hours of a day; an overfull one is written in the ground's colour on ink."""
        if load.is_overfull:
            self._p.fillRect(box.adjusted(3, 2, -3, -3), QColor(self._colors.ink))
            self._p.setPen(QColor(self._colors.ground))
            self._p.setFont(self._theme.small_strong)
        else:
            self._p.setPen(QColor(self._colors.faint_ink))
            self._p.setFont(self._theme.small)
        hours = math.ceil(10 * load.hours) / 10 if load.is_overfull else load.hours
        self._p.drawText(box, _MIDDLE, f"{hours:.1f}")

    def paint_row_ground(self, top: int, *, is_current: bool) -> None:
        """The row that the keyboard is at."""
        if is_current:
            y, width = self._at.top + top, self._size.width()
            self._p.fillRect(0, y, width, _MACHINE_HEIGHT, QColor(self._colors.accent_ground))

    def paint_machine(self, row: MachineRow, top: int, *, kind: str, is_current: bool) -> None:
        """Machine, kind, and how many of its boxes are late."""
        y = self._at.top + top
        box = QRect(0, y, NAME_WIDTH, _MACHINE_HEIGHT)
        ground = self._colors.accent_ground if is_current else self._colors.ground
        self._p.fillRect(box, QColor(ground))
        self._p.setFont(self._theme.strong)
        self._p.setPen(QColor(self._colors.ink))
        self._p.drawText(box.adjusted(8, 0, 0, 0), _LEFT, row.machine)
        self._p.setFont(self._theme.small)
        metrics = QFontMetrics(self._theme.small)
        late = sum(one.overdue for one in row.visits)
        told = f"{late} late" if late else ""
        room = box.adjusted(8, 0, -8, 0)
        self._p.drawText(room, _RIGHT, told)
        code = QFontMetrics(self._theme.strong).horizontalAdvance(row.machine) + 8
        left = max(_CODE_WIDTH, code)
        width = room.width() - left - (metrics.horizontalAdvance(told) + 8 if told else 0)
        self._p.setPen(QColor(self._colors.faint_ink))
        words = metrics.elidedText(kind, Qt.TextElideMode.ElideRight, width)
        self._p.drawText(room.adjusted(left, 0, 0, 0), _LEFT, words)

    def paint_visit(
        self, one: Planned, top: int, *, is_chosen: bool, has_keyboard: bool, ghost: date | None
    ) -> None:
        """The visit on its day with the number of its bottles."""
        chip = self._at.chip(one, top)
        if ghost is not None:
            self._p.setOpacity(0.35)
            self._chip(one, chip)
            self._p.setOpacity(1.0)
            chip = self._at.chip(one, top, ghost)
        self._chip(one, chip)
        if is_chosen:
            pen = QPen(QColor(self._colors.ink if has_keyboard else self._colors.accent), 2)
            self._p.setPen(pen)
            self._p.setBrush(Qt.BrushStyle.NoBrush)
            self._p.drawRoundedRect(QRectF(chip).adjusted(-2, -2, 2, 2), 4, 4)

    def paint_window(self, one: Planned, top: int) -> None:
        """The days when every window is open, and how far the visit lies outside them."""
        middle = self._at.top + top + _MACHINE_HEIGHT // 2
        edge = self._at.day_left(self._at.days[0]) + 3
        left = max(self._at.day_left(one.first_day) + 3, edge)
        right = self._at.day_left(one.last_day) + self._at.day_width - 3
        if right <= edge or right <= left:
            return
        ink = QColor(self._colors.faint_ink)
        ink.setAlphaF(0.35)
        self._p.fillRect(QRect(left, middle - 2, right - left, 4), ink)
        if one.is_late or one.is_early:
            chip = self._at.chip(one, top)
            start, end = (right, chip.left()) if one.is_late else (chip.right(), left)
            self._p.setPen(QPen(QColor(self._colors.ink), 1, Qt.PenStyle.DotLine))
            self._p.drawLine(start, middle, end, middle)

    def _chip(self, one: Planned, chip: QRect) -> None:
        colors = self._colors
        grounds = {
            Standing.PROPOSED: colors.ground,
            Standing.KEPT: colors.accent_ground,
            Standing.ISSUED: colors.accent,
            Standing.DONE: colors.hairline,
        }
        pen = QPen(QColor(colors.accent), 1)
        if one.standing is Standing.PROPOSED:
            pen.setStyle(Qt.PenStyle.DashLine)
        self._p.setPen(pen)
        self._p.setBrush(QColor(grounds[one.standing]))
        self._p.drawRoundedRect(QRectF(chip).adjusted(0.5, 0.5, -0.5, -0.5), 3, 3)
        is_dark = one.standing is Standing.ISSUED
        self._p.setPen(QColor(colors.ground if is_dark else colors.ink))
        self._p.setFont(self._theme.small_strong)
        joining = len(one.joining_boxes)
        bottles = one.bottles - joining or len(one.visit.boxes)
        self._p.drawText(chip, _MIDDLE, f"{bottles}+{joining}" if joining else str(bottles))
        if joining:
            # What is not kept yet is dashed, as a proposal is.
            self._p.setBrush(Qt.BrushStyle.NoBrush)
            self._p.setPen(QPen(QColor(colors.accent), 1, Qt.PenStyle.DashLine))
            self._p.drawRoundedRect(QRectF(chip).adjusted(-1.5, -1.5, 1.5, 1.5), 4, 4)
