"""The time bar: machines as rows, days as columns, each visit a bar in its window."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Final

from PySide6.QtCore import QEvent, QPoint, QRect, Qt, Signal
from PySide6.QtGui import QHelpEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.round_plan import BoardRow, MachineRow, Planned, RoundPlan
from fluiddesk.desktop.viewstate.sampling_words import spoken
from fluiddesk.desktop.widgets.row_tip import show_beside_row
from fluiddesk.desktop.widgets.visit_board_paint import (
    HEAD_HEIGHT,
    NAME_WIDTH,
    BoardDrawing,
    BoardPainter,
    row_height,
)

_LEAST_DAY: Final = 26
_WIDEST_DAY: Final = 64
_DRAG_AFTER: Final = 4


class VisitBoard(QAbstractScrollArea):
    """Up and Down go from visit to visit, Left and Right move the chosen one by a day.

    Shift extends what is chosen, Ctrl+A chooses every visit. A visit can be dragged to its day.

    Signals:
        chosen_changed: other visits are chosen.
        move_asked: (key, day), a visit is wanted on another day.
        opened: Enter on a visit.
        refused_move: a move to a day that has passed was asked for.
    """

    chosen_changed = Signal()
    move_asked = Signal(object, object)
    opened = Signal()
    refused_move = Signal()

    def __init__(
        self, theme: Theme, *, kind_name: Callable[[str], str], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme, self._kind_name = theme, kind_name
        self._plan: RoundPlan | None = None
        self._rows: tuple[BoardRow, ...] = ()
        self._tops: list[int] = []
        self._days: tuple[date, ...] = ()
        self._order: list[Planned] = []
        self._current = b""
        self._anchor = b""
        self._chosen: set[bytes] = set()
        self._pressed: tuple[bytes, QPoint] | None = None
        self._ghost: tuple[bytes, date] | None = None
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(self.tr("Visits on their days"))
        self.viewport().setMouseTracking(True)

    # --- what is shown ----------------------------------------------------------------------

    def show_plan(self, plan: RoundPlan) -> None:
        """Show a plan, keeping what is chosen as far as it is still there."""
        self._plan = plan
        self._rows, self._days = plan.rows, plan.days
        self._order = [
            one for row in self._rows if isinstance(row, MachineRow) for one in row.visits
        ]
        there = {one.key for one in self._order}
        before = (self._current, frozenset(self._chosen))
        self._chosen &= there
        if self._current not in there:
            self._current = self._order[0].key if self._order else b""
        if not self._chosen and self._current:
            self._chosen = {self._current}
        self._tops = []
        top = 0
        for row in self._rows:
            self._tops.append(top)
            top += row_height(row)
        self._tops.append(top)
        self._fit()
        self._tell()
        if before != (self._current, frozenset(self._chosen)):
            self.chosen_changed.emit()

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.viewport().update()

    @property
    def chosen(self) -> frozenset[bytes]:
        """The keys of the chosen visits."""
        return frozenset(self._chosen)

    @property
    def current(self) -> bytes:
        """The key of the visit that the keyboard is at; empty without one."""
        return self._current

    def choose(self, *keys: bytes) -> None:
        """Choose visits; the first is where the keyboard is."""
        if keys:
            self._choose(keys[0], set(keys))

    def choose_all(self) -> None:
        """Choose every visit."""
        if self._order:
            self._choose(self._current, {one.key for one in self._order})

    def rect_of(self, key: bytes) -> QRect:
        """Where a visit is drawn in the viewport; empty where it is not."""
        drawing = self._drawing()
        for row, top in zip(self._rows, self._tops, strict=False):
            if isinstance(row, MachineRow):
                for one in row.visits:
                    if one.key == key:
                        return drawing.chip(one, top)
        return QRect()

    def day_x(self, day: date) -> int:
        """The middle of a day's column in the viewport."""
        return self._drawing().day_left(day) + self._drawing().day_width // 2

    def _choose(self, current: bytes, chosen: set[bytes]) -> None:
        self._current, self._chosen = current, chosen
        self._tell()
        self._bring_into_view()
        self.viewport().update()
        self.chosen_changed.emit()

    def _tell(self) -> None:
        one = None if self._plan is None else self._plan.visit(self._current)
        self.setAccessibleDescription("" if one is None else spoken(one))
        self.viewport().update()

    # --- geometry ---------------------------------------------------------------------------

    def _day_width(self) -> int:
        room = self.viewport().width() - NAME_WIDTH
        return max(_LEAST_DAY, min(_WIDEST_DAY, room // max(len(self._days), 1)))

    def _drawing(self) -> BoardDrawing:
        return BoardDrawing(
            days=self._days,
            day_width=self._day_width(),
            left=NAME_WIDTH - self.horizontalScrollBar().value(),
            top=HEAD_HEIGHT - self.verticalScrollBar().value(),
        )

    def _fit(self) -> None:
        height = (self._tops[-1] if self._tops else 0) + HEAD_HEIGHT
        upright, across = self.verticalScrollBar(), self.horizontalScrollBar()
        upright.setRange(0, max(0, height - self.viewport().height()))
        upright.setPageStep(max(1, self.viewport().height() - HEAD_HEIGHT))
        upright.setSingleStep(28)
        width = NAME_WIDTH + len(self._days) * self._day_width()
        across.setRange(0, max(0, width - self.viewport().width()))
        across.setPageStep(max(1, self.viewport().width() - NAME_WIDTH))
        across.setSingleStep(self._day_width())

    def _row_at(self, y: int) -> int:
        inside = y - HEAD_HEIGHT + self.verticalScrollBar().value()
        if y < HEAD_HEIGHT or not self._rows or inside >= self._tops[-1]:
            return -1
        return max(n for n, top in enumerate(self._tops[:-1]) if top <= inside)

    def _visit_at(self, at: QPoint) -> Planned | None:
        place = self._row_at(at.y())
        row = self._rows[place] if place >= 0 else None
        if not isinstance(row, MachineRow):
            return None
        drawing = self._drawing()
        hit = [one for one in row.visits if drawing.chip(one, self._tops[place]).contains(at)]
        if hit:
            return hit[-1]
        return row.visits[0] if at.x() < NAME_WIDTH else None

    def _bring_into_view(self) -> None:
        box = self.rect_of(self._current)
        if box.isNull():
            return
        upright, across = self.verticalScrollBar(), self.horizontalScrollBar()
        low, high = HEAD_HEIGHT + 4, self.viewport().height() - 4
        if box.top() < low:
            upright.setValue(upright.value() + box.top() - low)
        elif box.bottom() > high:
            upright.setValue(upright.value() + box.bottom() - high)
        if box.left() < NAME_WIDTH:
            across.setValue(across.value() + box.left() - NAME_WIDTH)
        elif box.right() > self.viewport().width():
            across.setValue(across.value() + box.right() - self.viewport().width())

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    # --- drawing ----------------------------------------------------------------------------

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        if self._plan is None:
            return
        painter = QPainter(self.viewport())
        pen = BoardPainter(
            painter,
            self._theme,
            self._drawing(),
            size=self.viewport().size(),
            today=self._plan.today,
        )
        pen.paint_ground(self._tops[-1] if self._tops else 0)
        low = self.verticalScrollBar().value()
        high = low + self.viewport().height()
        for row, top in zip(self._rows, self._tops, strict=False):
            if top + row_height(row) >= low and top <= high:
                self._paint_row(pen, row, top)
        pen.paint_head()
        painter.end()

    def _paint_row(self, pen: BoardPainter, row: BoardRow, top: int) -> None:
        if not isinstance(row, MachineRow):
            pen.paint_heading(row, top)
            return
        is_current = any(one.key == self._current for one in row.visits)
        pen.paint_row_ground(top, is_current=is_current)
        for one in row.visits:
            pen.paint_window(one, top)
        for one in row.visits:
            ghost = self._ghost[1] if self._ghost and self._ghost[0] == one.key else None
            pen.paint_visit(
                one,
                top,
                is_chosen=one.key in self._chosen,
                has_keyboard=one.key == self._current and self.hasFocus(),
                ghost=ghost,
            )
        pen.paint_machine(row, top, kind=self._kind_name(row.machine_kind), is_current=is_current)

    # --- keyboard and mouse -----------------------------------------------------------------

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        key = event.key()
        extends = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        steps = {
            Qt.Key.Key_Up: -1,
            Qt.Key.Key_Down: 1,
            Qt.Key.Key_PageUp: -10,
            Qt.Key.Key_PageDown: 10,
            Qt.Key.Key_Home: -len(self._order),
            Qt.Key.Key_End: len(self._order),
        }
        if key in steps:
            self._step(steps[Qt.Key(key)], extends=extends)
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self._move(1 if key == Qt.Key.Key_Right else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.opened.emit()
        elif key == Qt.Key.Key_A and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.choose_all()
        else:
            super().keyPressEvent(event)

    def _place(self, key: bytes) -> int:
        return next((n for n, one in enumerate(self._order) if one.key == key), 0)

    def _step(self, step: int, *, extends: bool) -> None:
        if not self._order:
            return
        at = max(0, min(len(self._order) - 1, self._place(self._current) + step))
        current = self._order[at].key
        if extends:
            start = self._place(self._anchor or self._current)
            low, high = sorted((start, at))
            self._anchor = self._order[start].key
            self._choose(current, {one.key for one in self._order[low : high + 1]})
        else:
            self._anchor = current
            self._choose(current, {current})

    def _move(self, days: int) -> None:
        plan = self._plan
        one = None if plan is None else plan.visit(self._current)
        if plan is None or one is None:
            return
        to = one.visit.planned_on + timedelta(days=days)
        if to < plan.today:
            self.refused_move.emit()
        else:
            self.move_asked.emit(one.key, to)

    @override
    def mousePressEvent(self, event: QMouseEvent) -> None:
        at = event.position().toPoint()
        one = self._visit_at(at)
        if one is None or event.button() != Qt.MouseButton.LeftButton:
            return
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._choose(one.key, self._chosen ^ {one.key} or {one.key})
            return
        self._anchor = one.key
        self._choose(one.key, {one.key})
        if at.x() >= NAME_WIDTH:
            self._pressed = (one.key, at)

    @override
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        at = event.position().toPoint()
        if self._pressed is None:
            over = at.x() >= NAME_WIDTH and self._visit_at(at) is not None
            shape = Qt.CursorShape.OpenHandCursor if over else Qt.CursorShape.ArrowCursor
            self.viewport().setCursor(shape)
            return
        key, start = self._pressed
        if self._ghost is None and abs(at.x() - start.x()) < _DRAG_AFTER:
            return
        self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
        self._ghost = (key, self._drawing().day_at(at.x()))
        self.viewport().update()

    @override
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        ghost, self._ghost, self._pressed = self._ghost, None, None
        self.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        self.viewport().update()
        if ghost is None or self._plan is None:
            return
        if ghost[1] < self._plan.today:
            self.refused_move.emit()
        else:
            self.move_asked.emit(*ghost)

    @override
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self._visit_at(event.position().toPoint()) is not None:
            self.opened.emit()

    @override
    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() is QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            one = self._visit_at(event.pos())
            if one is None:
                show_beside_row(self, "", QRect(), event.globalPos())
            else:
                box = self.rect_of(one.key)
                show_beside_row(self, spoken(one), box, event.globalPos())
            return True
        return super().viewportEvent(event)
