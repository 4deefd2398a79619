"""The traffic view's table: machines stay in view at the left, keys step from box to box."""

from typing import Protocol, cast

from PySide6.QtCore import (
    QAbstractItemModel,
    QEvent,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    QRectF,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QGuiApplication,
    QHelpEvent,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QLabel, QTableView, QWidget
from typing_extensions import override

from fluiddesk.charts.palette import paint_mark
from fluiddesk.desktop.theme import ROW_HEIGHT, Theme
from fluiddesk.desktop.viewstate.fleet_condition import FleetMatrix, MachineHead, Spot
from fluiddesk.desktop.widgets.condition_cell import (
    CELL_ROLE,
    MARK,
    ConditionCell,
    box_at,
    cell_width,
)
from fluiddesk.desktop.widgets.row_tip import show_beside_row

Index = QModelIndex | QPersistentModelIndex

_HEAD_SIDE = 12
_HEAD_WIDTH = 216
_CODE_LEFT = _HEAD_SIDE + MARK + 8


class MatrixHolder(Protocol):
    """A model that shows a fleet; ``None`` before the first one came."""

    matrix: FleetMatrix | None


class MachineHeader(QHeaderView):
    """The machine column: mark of the worst, code, kind."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(Qt.Orientation.Vertical, parent)
        self.theme = theme
        self.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setDefaultSectionSize(ROW_HEIGHT)
        self.setSectionsClickable(True)
        self.setAccessibleName(self.tr("Machines"))
        # A fixed width instead of a size hint of ours: Qt asks for hints while Python collects.
        self.setFixedWidth(_HEAD_WIDTH)

    @override
    def paintSection(self, painter: QPainter, rect: QRect, logicalIndex: int) -> None:
        head = self.model().headerData(logicalIndex, Qt.Orientation.Vertical, CELL_ROLE)
        if not isinstance(head, MachineHead):
            return
        colors, middle = self.theme.colors, Qt.AlignmentFlag.AlignVCenter
        current = cast("QAbstractItemView", self.parent()).currentIndex()
        is_current = current.isValid() and current.row() == logicalIndex
        painter.fillRect(rect, QColor(colors.accent_ground if is_current else colors.ground))
        top = rect.top() + (rect.height() - MARK) / 2
        box = QRectF(rect.left() + _HEAD_SIDE, top, MARK, MARK)
        paint_mark(painter, box, severity=head.severity, colors=colors)
        painter.setFont(self.theme.strong)
        painter.setPen(QColor(colors.ink))
        painter.drawText(rect.adjusted(_CODE_LEFT, 0, 0, 0), middle, head.code)
        code_width = max(64, QFontMetrics(self.theme.strong).horizontalAdvance(head.code) + 10)
        painter.setFont(self.theme.small)
        painter.setPen(QColor(colors.faint_ink))
        room = rect.adjusted(_CODE_LEFT + code_width, 0, -8, 0)
        metrics = QFontMetrics(self.theme.small)
        told = head.worst or head.kind
        if head.state != "working":
            told = f"{head.state}, {told.lower()}"
        more = self.tr(", {0} more").format(head.others) if head.others else ""
        left = room.width() - metrics.horizontalAdvance(more)
        shown = metrics.elidedText(told, Qt.TextElideMode.ElideRight, left)
        painter.drawText(room, middle, f"{shown}{more}")

    @override
    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() is QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            row = self.logicalIndexAt(event.pos())
            tip = self.model().headerData(row, Qt.Orientation.Vertical, Qt.ItemDataRole.ToolTipRole)
            top = self.sectionViewportPosition(row)
            around = QRect(0, top, self.width(), self.sectionSize(row))
            show_beside_row(self, str(tip or ""), around, event.globalPos())
            return True
        return super().viewportEvent(event)


class FleetTable(QTableView):
    """The matrix with its frozen machine column.

    Signals:
        box_opened: number of the box whose page is asked for.
        box_pointed: number of the box that keys or pointer rest on; -1 for none.
        kind_clicked: code of the compartment kind whose header was clicked.

    """

    box_opened = Signal(int)
    box_pointed = Signal(int)
    kind_clicked = Signal(str)

    def __init__(self, model: QAbstractItemModel, theme: Theme, parent: QWidget) -> None:
        """Show a model that gives ``CELL_ROLE`` and holds a ``matrix``, the fleet it shows."""
        super().__init__(parent)
        self._fleet = model
        self._cells = ConditionCell(theme, self)
        self._heads = MachineHeader(theme, self)
        self._corner = QLabel(self.tr("Machine"), self)
        self._corner.setIndent(_CODE_LEFT)
        self.setVerticalHeader(self._heads)
        self.setItemDelegate(self._cells)
        self.setModel(model)
        self.setAccessibleName(self.tr("Condition of machines by compartment"))
        self.setShowGrid(False)
        self.setMouseTracking(True)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setWordWrap(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        top = self.horizontalHeader()
        top.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        top.setSectionsClickable(True)
        top.setHighlightSections(False)
        top.setAccessibleName(self.tr("Compartment kinds"))
        top.sectionClicked.connect(self._click_kind)
        self._heads.sectionClicked.connect(self.selectRow)
        model.modelReset.connect(self._fit_columns)
        self.apply_theme(theme)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._cells.theme = self._heads.theme = theme
        self._corner.setStyleSheet(
            f"font-size: 11px; color: {theme.colors.faint_ink}; background: {theme.colors.ground};"
            f"border-bottom: 1px solid {theme.colors.hairline};"
        )
        self.viewport().update()

    @property
    def _matrix(self) -> FleetMatrix | None:
        return cast("MatrixHolder", self._fleet).matrix

    @property
    def spot(self) -> Spot | None:
        """Where the keys rest, to be found again; ``None`` for nowhere."""
        index = self.currentIndex()
        if self._matrix is None or not index.isValid():
            return None
        return self._matrix.spot(index.row(), index.column(), self._cells.current_box)

    def shows_column(self, column: int) -> bool:
        """Whether a column is in view as a whole while the table is scrolled to its left end."""
        end = sum(self.columnWidth(one) for one in range(column + 1))
        return end <= self.viewport().width()

    @property
    def current_box(self) -> int:
        """Number of the box the keys rest on; -1 for none."""
        index = self.currentIndex()
        if self._matrix is None or not index.isValid():
            return -1
        boxes = self._matrix.boxes(index.row(), index.column())
        return int(boxes[min(self._cells.current_box, len(boxes) - 1)]) if len(boxes) else -1

    def point_to(self, row: int, column: int, number: int = 0) -> None:
        """Put the keys' place on a box."""
        self.setCurrentIndex(self._fleet.index(row, column))
        self._rest_on(number)

    def _rest_on(self, number: int) -> None:
        self._cells.current_box = number
        self.update(self.currentIndex())
        self.box_pointed.emit(self.current_box)

    def _count_in(self, index: QModelIndex) -> int:
        if self._matrix is None or not index.isValid():
            return 0
        return len(self._matrix.boxes(index.row(), index.column()))

    def _fit_columns(self) -> None:
        matrix = self._matrix
        self._cells.current_box = 0
        if matrix is None:
            return
        metrics = QFontMetrics(self._cells.theme.small)
        for column in range(matrix.shape[1]):
            text = self._fleet.headerData(column, Qt.Orientation.Horizontal)
            needed = metrics.horizontalAdvance(str(text)) + 20
            self.setColumnWidth(column, max(needed, cell_width(matrix.most_boxes(column))))

    def _click_kind(self, section: int) -> None:
        if self._matrix is not None:
            self.kind_clicked.emit(self._matrix.kind_at(section))

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_corner()

    @override
    def updateGeometries(self) -> None:
        super().updateGeometries()
        self._place_corner()

    def _place_corner(self) -> None:
        height = self.horizontalHeader().height()
        self._corner.setGeometry(0, 0, self._heads.width(), height)
        self._corner.raise_()

    @override
    def currentChanged(self, current: Index, previous: Index) -> None:
        super().currentChanged(current, previous)
        self._cells.current = QPersistentModelIndex(current)
        if current.row() != previous.row():
            self._heads.viewport().update()
        self.box_pointed.emit(self.current_box)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        is_plain = event.modifiers() in (
            Qt.KeyboardModifier.NoModifier,
            Qt.KeyboardModifier.KeypadModifier,
        )
        shifted = QKeySequence(Qt.Modifier.CTRL | Qt.Modifier.SHIFT | Qt.Key.Key_C)
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy(with_header=False)
        elif QKeySequence(event.keyCombination()) == shifted:
            self.copy(with_header=True)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open_current(or_worst=True)
        elif is_plain and event.key() in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            if not self._step_in_cell(1 if event.key() == Qt.Key.Key_Right else -1):
                super().keyPressEvent(event)
        elif is_plain and event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            super().keyPressEvent(event)
            self._rest_on(
                min(self._cells.current_box, max(0, self._count_in(self.currentIndex()) - 1))
            )
        else:
            super().keyPressEvent(event)

    def _step_in_cell(self, step: int) -> bool:
        """Move to the next box, in this cell or, passing over empty cells, in another."""
        index = self.currentIndex()
        number = min(self._cells.current_box, self._count_in(index) - 1) + step
        if 0 <= number < self._count_in(index):
            self._rest_on(number)
            return True
        column = index.column() + step
        while 0 <= column < self._fleet.columnCount():
            count = self._count_in(self._fleet.index(index.row(), column))
            if count:
                self.point_to(index.row(), column, 0 if step > 0 else count - 1)
                return True
            column += step
        return index.isValid()

    @override
    def keyboardSearch(self, search: str) -> None:
        """Type-ahead finds the next machine whose code begins so."""
        matrix = self._matrix
        if matrix is None:
            return
        first = max(0, self.currentIndex().row()) + (1 if len(search) == 1 else 0)
        rows = matrix.shape[0]
        for row in (*range(first, rows), *range(min(first, rows))):
            if matrix.head(row).code.casefold().startswith(search.casefold()):
                self.point_to(row, max(0, self.currentIndex().column()))
                return

    def copy(self, *, with_header: bool) -> None:
        """Put the selected cells on the clipboard as tab-separated lines."""
        matrix, chosen = self._matrix, self.selectedIndexes()
        if matrix is None or not chosen:
            return
        rows = sorted({index.row() for index in chosen})
        columns = sorted({index.column() for index in chosen})
        text = matrix.tsv(rows, columns, with_header=with_header)
        QGuiApplication.clipboard().setText(text)

    @override
    def mousePressEvent(self, event: QMouseEvent) -> None:
        super().mousePressEvent(event)
        self._rest_on(self._number_under(event))

    @override
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self._rest_on(self._number_under(event))
        self._open_current()

    @override
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        super().mouseMoveEvent(event)
        index = self.indexAt(event.position().toPoint())
        if self._matrix is not None and self._count_in(index):
            boxes = self._matrix.boxes(index.row(), index.column())
            self.box_pointed.emit(int(boxes[self._number_under(event)]))

    @override
    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() is QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            index = self.indexAt(event.pos())
            tip = str(index.data(Qt.ItemDataRole.ToolTipRole) or "") if index.isValid() else ""
            show_beside_row(self, tip, self.visualRect(index), event.globalPos())
            return True
        return super().viewportEvent(event)

    @override
    def leaveEvent(self, event: QEvent) -> None:
        super().leaveEvent(event)
        self.box_pointed.emit(self.current_box)

    def _number_under(self, event: QMouseEvent) -> int:
        spot = event.position().toPoint()
        index = self.indexAt(spot)
        count = self._count_in(index)
        return box_at(spot.x() - self.visualRect(index).left(), count) if count else 0

    def _open_current(self, *, or_worst: bool = False) -> None:
        box, row = self.current_box, self.currentIndex().row()
        if box < 0 and or_worst and self._matrix is not None and row >= 0:
            box = self._matrix.worst_box(row)
        if box >= 0:
            self.box_opened.emit(box)
