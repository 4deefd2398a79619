"""What a draft would change in the fleet, at the right of the limits."""

from typing import Final

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QHeaderView, QStyleOptionViewItem, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.charts.alarm_months import AlarmMonths
from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.models.limit_lists import FigureModel, MoveModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.limit_preview import (
    budget_note,
    count_lines,
    moves_sorted,
    year_lines,
)
from fluiddesk.desktop.widgets.fact_delegate import CELL_PADDING, FactDelegate
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules.facts import LastYear, Latest, WhatIfMove

_Index = QModelIndex | QPersistentModelIndex
PANEL_WIDTH: Final = 292
PANEL_ROOMY: Final = 380
_MARK: Final = 11
_ROW: Final = 21
_MOVE_ROW: Final = 42
_NUMBER_WIDTH: Final = 57


class FigureDelegate(FactDelegate):
    """Draws the mark of a severity before its word."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_content(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        severity = index.data(Qt.ItemDataRole.UserRole)
        if isinstance(severity, Severity):
            middle = cell.rect.center().y()
            box = QRectF(cell.rect.left() + CELL_PADDING, middle - _MARK / 2, _MARK, _MARK)
            paint_mark(painter, box, severity=severity, colors=self.theme.colors)
            cell.rect.setLeft(cell.rect.left() + _MARK + CELL_PADDING)
        super().paint_content(painter, cell, index)


class MovedBoxDelegate(FactDelegate):
    """Two lines a box: its name, then the verdict before and after and the reason."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.theme = theme

    @override
    def paint_content(self, painter: QPainter, cell: QStyleOptionViewItem, index: _Index) -> None:
        severities = index.sibling(index.row(), 1).data(Qt.ItemDataRole.UserRole)
        if severities is None:
            return
        area = QRectF(cell.rect).adjusted(CELL_PADDING, 3, -CELL_PADDING, -3)
        half = area.height() / 2
        upper = QRectF(area.left(), area.top(), area.width(), half)
        colors = self.theme.colors
        painter.setFont(self.theme.body)
        painter.setPen(QColor(colors.ink))
        name = cell.fontMetrics.elidedText(
            str(index.data()), Qt.TextElideMode.ElideRight, int(area.width())
        )
        painter.drawText(upper, int(Qt.AlignmentFlag.AlignVCenter), name)
        lower = QRectF(area.left(), area.top() + half, area.width(), half)
        before, after = severities
        left = self._paint_verdict(painter, lower, before, left=lower.left())
        painter.drawText(
            QRectF(left, lower.top(), 16, half), int(Qt.AlignmentFlag.AlignVCenter), "\u2192"
        )
        left = self._paint_verdict(painter, lower, after, left=left + 16)
        self._paint_why(painter, lower, str(index.sibling(index.row(), 2).data() or ""), left=left)

    def _paint_verdict(
        self, painter: QPainter, area: QRectF, severity: Severity, *, left: float
    ) -> float:
        box = QRectF(left, area.center().y() - _MARK / 2, _MARK, _MARK)
        paint_mark(painter, box, severity=severity, colors=self.theme.colors)
        painter.setFont(self.theme.small)
        painter.setPen(QColor(self.theme.colors.ink))
        width = painter.fontMetrics().horizontalAdvance(severity.word)
        word = QRectF(left + _MARK + STEP, area.top(), width + 2, area.height())
        painter.drawText(word, int(Qt.AlignmentFlag.AlignVCenter), severity.word)
        return word.right() + STEP

    def _paint_why(self, painter: QPainter, area: QRectF, why: str, *, left: float) -> None:
        painter.setPen(QColor(self.theme.colors.faint_ink))
        room = area.right() - left - GAP
        text = painter.fontMetrics().elidedText(why, Qt.TextElideMode.ElideRight, int(room))
        painter.drawText(
            QRectF(left + GAP, area.top(), max(room, 0), area.height()),
            int(Qt.AlignmentFlag.AlignVCenter),
            text,
        )


class LimitPreview(QWidget):
    """Boxes by severity before and after, alarms a month, findings, budget, and who moves.

    Signals:
        box_opened: the identifier of a box.
    """

    box_opened = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._title = QuietLabel("strong", theme, self.tr("If this draft held"))
        self._sentence = QuietLabel("body", theme)
        self._sentence.setWordWrap(True)
        self._chance = QuietLabel("body", theme)
        self._chance.setWordWrap(True)
        self._chance.hide()
        self._figures = FigureModel(theme=theme, parent=self)
        self.figure_table = FactTable(self._figures, name=self.tr("Before and after"))
        self._moves = MoveModel(theme=theme, parent=self)
        self.move_table = FactTable(self._moves, name=self.tr("Boxes that move"))
        self._months_caption = QuietLabel("small", theme)
        self.months = AlarmMonths(theme.colors, font=theme.small)
        self._note = QuietLabel("small", theme)
        self._figure_marks = FigureDelegate(theme, self)
        self._move_marks = MovedBoxDelegate(theme, self)
        self._latest: Latest | None = None
        self._year: LastYear | None = None
        self._set_up_tables()
        self._lay_out()
        self.move_table.row_opened.connect(
            lambda row: self.box_opened.emit(self._moves.rows[row].compartment_id)
        )
        self.wait_for(self.tr("Reading the fleet's figures..."))

    def _set_up_tables(self) -> None:
        figures = self.figure_table
        figures.setItemDelegateForColumn(0, self._figure_marks)
        figures.verticalHeader().setDefaultSectionSize(_ROW)
        figures.set_widths({1: _NUMBER_WIDTH, 2: _NUMBER_WIDTH, 3: _NUMBER_WIDTH - 4})
        figures.share_room(0)
        figures.grow_with_rows()
        figures.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        figures.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        moves = self.move_table
        moves.setItemDelegateForColumn(0, self._move_marks)
        moves.verticalHeader().setDefaultSectionSize(_MOVE_ROW)
        for column in (1, 2):
            moves.setColumnHidden(column, True)  # noqa: FBT003 - Qt's own signature
        moves.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        moves.horizontalHeader().hide()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP + STEP, 0, 0, 0)
        column.setSpacing(STEP)
        column.addWidget(self._title)
        column.addWidget(self._sentence)
        column.addWidget(self._chance)
        column.addWidget(self.figure_table)
        column.addSpacing(STEP)
        column.addWidget(self._months_caption)
        column.addWidget(self.months)
        column.addWidget(self._note)
        column.addSpacing(STEP)
        column.addWidget(self.move_table, 1)
        self.setMinimumWidth(PANEL_WIDTH)

    @property
    def text(self) -> str:
        """Heading, sentence and figures, line by line."""
        lines = [self._title.text(), self._sentence.text()]
        figures = [
            " | ".join((one.name, one.before, one.after, one.change)) for one in self._figures.rows
        ]
        return "\n".join([*lines, self._chance.text(), *figures, self._note.text()])

    @property
    def moves(self) -> tuple[WhatIfMove, ...]:
        """The boxes listed."""
        return tuple(self._moves.rows)

    def wait_for(self, words: str) -> None:
        """Say that an answer is on its way; the last one stays in view."""
        self._sentence.setText(words)

    def forget(self) -> None:
        """Show nothing of what was shown before."""
        self._latest = self._year = None
        self.show_chance("")
        self._show()

    def show_latest(self, latest: Latest) -> None:
        """Show the boxes by severity and those that move."""
        self._latest = latest
        self._sentence.setText(latest.sentence)
        self._show()
        self._moves.show(moves_sorted(latest))

    def show_chance(self, told: str) -> None:
        """Say what the intervals would do to the chance to catch a fault; "" says nothing."""
        self._chance.setText(told)
        self._chance.setVisible(bool(told))

    def show_year(self, year: LastYear) -> None:
        """Show what the last year would have looked like."""
        self._year = year
        self._show()

    def _show(self) -> None:
        lines = [] if self._latest is None else count_lines(self._latest)
        year = self._year
        if year is not None:
            lines += year_lines(year)
        self._figures.show(lines)
        if self._latest is None:
            self._moves.show([])
        has_year = year is not None
        for part in (self._months_caption, self.months, self._note):
            part.setVisible(has_year)
        if year is not None:
            self._months_caption.setText(self.tr("Alarms a month: in force faint, draft full"))
            self.months.show_months(year.months)
            self._note.setText(budget_note(year))

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        labels = (self._title, self._sentence, self._chance, self._months_caption, self._note)
        for part in labels:
            part.apply_theme(theme)
        self._figures.apply_theme(theme)
        self._moves.apply_theme(theme)
        self._figure_marks.theme = self._move_marks.theme = theme
        self.months.apply_colors(theme.colors)
