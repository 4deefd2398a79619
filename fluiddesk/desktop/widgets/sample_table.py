"""Samples side by side: analytes stay in view at the left, decimals stand in line."""

from typing import Final, Protocol

from PySide6.QtCore import (
    QAbstractItemModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QRectF,
    Qt,
)
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QFontMetricsF,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QPainter,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.compartment_history import (
    CHANGE,
    FIRST_SAMPLE,
    LIMITS,
    SampleTable,
    ValueCell,
)
from fluiddesk.domain.severity import Severity
from fluiddesk.services.compartment_history.short_names import short_name

_Index = QModelIndex | QPersistentModelIndex
_ROW: Final = 22
_MARK: Final = 10
_ARROW: Final = 10
_SAMPLE_WIDTH: Final = 118
_LIMITS_WIDTH: Final = 150
_HEAD_SIDE: Final = 6
_NARROW_WIDTH: Final = 60
_TITLE_WIDTH: Final = 204
_LINES: Final = 4
_RIGHT: Final = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT: Final = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter


class TableSource(Protocol):
    """What holds the cells on show: the model.

    Widgets hold on to it, never to a page: what refers to itself in a circle is destroyed in an
    order that nobody chooses, while Qt still asks it for sizes.
    """

    @property
    def table(self) -> SampleTable: ...


class _ValueCells(QStyledItemDelegate):
    """Draws a value with its decimal sign in line with its neighbours above and below."""

    def __init__(self, source: TableSource, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._source = source
        self.theme = theme

    @override
    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _Index) -> None:
        cell = index.data(Qt.ItemDataRole.UserRole)
        if not isinstance(cell, ValueCell):
            return
        colors, rect = self.theme.colors, QRect(option.rect)
        is_chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        tint = colors.tint.get(cell.severity)
        if is_chosen:
            painter.fillRect(rect, QColor(colors.accent_ground))
        elif tint is not None:
            painter.fillRect(rect, QColor(tint))
        if option.state & QStyle.StateFlag.State_HasFocus:
            painter.setPen(QColor(colors.accent))
            painter.drawRect(rect.adjusted(0, 0, -1, -1))
        if cell.severity >= Severity.WATCH:
            top = rect.center().y() - _MARK / 2 + 0.5
            box = QRectF(rect.left() + GAP, top, _MARK, _MARK)
            paint_mark(painter, box, severity=cell.severity, colors=colors)
        if cell.moved:
            self._paint_move(painter, rect, rises=cell.moved > 0)
        self._paint_text(painter, rect.adjusted(GAP, 0, -GAP, 0), cell, column=index.column())

    def _paint_move(self, painter: QPainter, rect: QRect, *, rises: bool) -> None:
        """A faint arrow beside a value that moved by more than the method explains."""
        painter.setFont(self.theme.small)
        painter.setPen(QColor(self.theme.colors.faint_ink))
        place = QRect(rect.left() + GAP + _MARK + STEP, rect.top(), _ARROW, rect.height())
        painter.drawText(place, _LEFT, "\u2191" if rises else "\u2193")

    def _paint_text(self, painter: QPainter, room: QRect, cell: ValueCell, *, column: int) -> None:
        colors = self.theme.colors
        painter.setFont(self.theme.small if column in (LIMITS, CHANGE) else self.theme.body)
        painter.setPen(QColor(colors.faint_ink if cell.is_faint else colors.ink))
        if not cell.is_number:
            text = QFontMetrics(painter.font()).elidedText(
                cell.text, Qt.TextElideMode.ElideRight, room.width()
            )
            painter.drawText(room, _LEFT if column == LIMITS else _RIGHT, text)
            return
        metrics = QFontMetricsF(painter.font())
        whole, point, fraction = cell.text.partition(".")
        places = self._source.table.places
        after = metrics.horizontalAdvance("." + "0" * places) if places else 0.0
        edge = room.right() + 1 - round(after)
        painter.drawText(
            QRect(room.left() - GAP, room.top(), edge - room.left() + GAP, room.height()),
            _RIGHT,
            whole,
        )
        if point:
            rest = QRect(edge, room.top(), room.right() + GAP - edge, room.height())
            painter.drawText(rest, _LEFT, point + fraction)


class _SampleHeads(QHeaderView):
    """Heads of four lines: mark and date, hours, bottle, report."""

    def __init__(self, source: TableSource, theme: Theme, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Horizontal, parent)
        self._source = source
        self.theme = theme
        self.setSectionsClickable(True)
        self.setHighlightSections(False)
        self.setFixedHeight(QFontMetrics(theme.body).height() * _LINES + GAP)

    @override
    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:
        table, colors = self._source.table, self.theme.colors
        painter.fillRect(rect, QColor(colors.ground))
        painter.setPen(QColor(colors.hairline))
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        room = rect.adjusted(_HEAD_SIDE, STEP, -GAP, -STEP)
        sample = table.sample(logicalIndex)
        if sample is None:
            painter.setFont(self.theme.small)
            painter.setPen(QColor(colors.faint_ink))
            side = _LEFT if logicalIndex == LIMITS else _RIGHT
            foot = QRect(room.left(), room.bottom() - 18, room.width(), 18)
            painter.drawText(foot, side, table.head(logicalIndex))
            return
        height = room.height() / _LINES
        box = QRectF(room.left(), room.top() + (height - _MARK) / 2, _MARK, _MARK)
        paint_mark(painter, box, severity=sample.severity, colors=colors, trust=sample.trust)
        for number, text in enumerate(table.head_lines(logicalIndex)):
            is_first = number == 0
            painter.setFont(self.theme.body if is_first else self.theme.small)
            painter.setPen(QColor(colors.ink if is_first else colors.faint_ink))
            line = QRectF(
                room.left() - GAP, room.top() + number * height, room.width() + GAP, height
            )
            painter.drawText(line, _RIGHT, text)


class _AnalyteHeads(QHeaderView):
    """Name and unit of an analyte, or the heading of a family."""

    def __init__(self, source: TableSource, theme: Theme, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self._source = source
        self.theme = theme
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setDefaultSectionSize(_ROW)
        self.setMinimumSectionSize(_ROW)
        self.setSectionsClickable(True)
        self.setHighlightSections(False)
        self.setFixedWidth(_TITLE_WIDTH)

    @override
    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:
        rows = self._source.table.rows
        if logicalIndex >= len(rows):
            return
        colors, row = self.theme.colors, rows[logicalIndex]
        painter.fillRect(rect, QColor(colors.ground))
        room = rect.adjusted(0, 0, -GAP, 0)
        if row.series is None:
            painter.setFont(self.theme.small_strong)
            painter.setPen(QColor(colors.faint_ink))
            painter.drawText(room.adjusted(0, STEP, 0, 0), _LEFT, row.title)
            return
        small = QFontMetrics(self.theme.small)
        unit = small.horizontalAdvance(row.unit)
        body = QFontMetrics(self.theme.body)
        space = room.width() - unit - (GAP if unit else 0)
        fits = body.horizontalAdvance(row.title) <= space
        name = row.title if fits else short_name(row.title)
        name = body.elidedText(name, Qt.TextElideMode.ElideRight, space)
        painter.setFont(self.theme.body)
        painter.setPen(QColor(colors.ink))
        painter.drawText(room, _LEFT, name)
        painter.setFont(self.theme.small)
        painter.setPen(QColor(colors.faint_ink))
        painter.drawText(room, _RIGHT, row.unit)


class SampleTableView(QTableView):
    """The samples of one box side by side. Ctrl+C copies cells, Ctrl+Shift+C with heads."""

    def __init__(
        self,
        model: QAbstractItemModel,
        source: TableSource,
        theme: Theme,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._source = source
        self._theme = theme
        self.setAccessibleName(self.tr("Samples side by side"))
        self._cells = _ValueCells(source, theme, self)
        self._across = _SampleHeads(source, theme, self)
        self._upright = _AnalyteHeads(source, theme, self)
        self.setHorizontalHeader(self._across)
        self.setVerticalHeader(self._upright)
        self.setItemDelegate(self._cells)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setModel(model)
        model.modelReset.connect(self._set_widths)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for part in (self._cells, self._across, self._upright):
            part.theme = theme
        self.viewport().update()
        self._across.viewport().update()
        self._upright.viewport().update()

    def copy(self, *, with_header: bool) -> str:
        """Put the chosen cells on the clipboard as tab-separated text, and give that text."""
        chosen = self.selectionModel().selectedIndexes()
        rows = sorted({index.row() for index in chosen})
        columns = sorted({index.column() for index in chosen})
        text = self._source.table.as_text(rows, columns, with_header=with_header)
        QGuiApplication.clipboard().setText(text)
        return text

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        pressed = event.keyCombination().toCombined()
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy(with_header=False)
        elif QKeySequence(pressed) == QKeySequence("Ctrl+Shift+C"):
            self.copy(with_header=True)
        else:
            super().keyPressEvent(event)

    def _change_width(self, metrics: QFontMetrics) -> int:
        """Room for every change with its sign, decimals in line: a cut sign would mislead."""
        table = self._source.table
        whole = max(
            (
                metrics.horizontalAdvance(table.cell(row, CHANGE).text.partition(".")[0])
                for row in range(len(table.rows))
            ),
            default=0,
        )
        after = metrics.horizontalAdvance("." + "0" * table.places) if table.places else 0
        return whole + after + 2 * GAP

    def _set_widths(self) -> None:
        metrics = QFontMetrics(self._theme.small)
        table = self._source.table
        texts = [table.cell(row, LIMITS).text for row in range(len(table.rows))]
        widest = max((metrics.horizontalAdvance(text) for text in texts), default=0)
        for column in range(self.model().columnCount()):
            self.setColumnWidth(column, _SAMPLE_WIDTH if column >= FIRST_SAMPLE else _NARROW_WIDTH)
        if table.column_count:
            self.setColumnWidth(LIMITS, min(max(widest, 40) + 2 * GAP, _LIMITS_WIDTH))
            self.setColumnWidth(CHANGE, max(_NARROW_WIDTH, self._change_width(metrics)))
        self.horizontalScrollBar().setValue(0)
        self.scrollTo(self.model().index(0, 0))
