"""A quiet table of facts: whole rows, no grid, copied as text, headings stepped over."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import QAbstractItemModel, QModelIndex, QPersistentModelIndex, QSize, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import CONTROL_HEIGHT
from fluiddesk.desktop.widgets.fact_delegate import FactDelegate
from fluiddesk.desktop.widgets.fact_header import FactHeader

_Index = QModelIndex | QPersistentModelIndex


class FactTable(QTableView):
    """Shows a table of facts by whole rows.

    Signals:
        row_chosen: the current row changed to this one, by key, mouse or program; -1 for none.
        row_opened: Enter or a double click on this row.
    """

    row_chosen = Signal(int)
    row_opened = Signal(int)

    def __init__(
        self, model: QAbstractItemModel, *, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        upright = self.verticalHeader()
        upright.hide()
        upright.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        upright.setDefaultSectionSize(CONTROL_HEIGHT)
        across = FactHeader(self)
        across.setStretchLastSection(True)
        self.setHorizontalHeader(across)
        self.setItemDelegate(FactDelegate(self))
        self._least = 0
        self._optional: dict[int, int] = {}
        self._roomy: dict[int, int] = {}
        self._slim: dict[int, int] = {}
        self._unwanted: set[int] = set()
        self._grows = False
        self.setModel(model)
        model.modelReset.connect(self._after_reset)
        self.activated.connect(self._open)

    def set_widths(self, widths: Mapping[int, int]) -> None:
        """Give columns their widths in pixels; the last one takes what is left."""
        for column, width in widths.items():
            self.setColumnWidth(column, width)

    def share_room(self, *columns: int) -> None:
        """Let these columns take what is left in equal parts."""
        across = self.horizontalHeader()
        across.setStretchLastSection(False)
        for column in columns:
            across.setSectionResizeMode(column, QHeaderView.ResizeMode.Stretch)

    def fit_columns(
        self,
        *,
        stretch: int,
        least: int,
        optional: Mapping[int, int],
        roomy: Mapping[int, int] | None = None,
    ) -> None:
        """Let one column take what is left, and show others only where there is room for them.

        Args:
            stretch: the column that grows.
            least: pixels it must have before an optional column is shown.
            optional: columns with their widths, the most wanted first.
            roomy: wider widths of columns, for when every optional column is shown.
        """
        self.share_room(stretch)
        across = self.horizontalHeader()
        self.set_widths(optional)
        self._least = least
        self._optional = dict(optional)
        self._roomy = dict(roomy or {})
        self._slim = {column: across.sectionSize(column) for column in self._roomy}
        self._fit()

    def want_column(self, column: int, *, is_wanted: bool) -> None:
        """Say whether an optional column has anything to tell."""
        (self._unwanted.discard if is_wanted else self._unwanted.add)(column)
        self._fit()

    def grow_with_rows(self) -> None:
        """Be only as high as the rows ask, so that what follows stands right below."""
        self._grows = True
        self._fit_height()

    def make_sortable(self, *, column: int = -1) -> None:
        """Sort by a click on a header; a third click brings back the first order.

        Args:
            column: the column the rows come sorted by; -1 for an order of the subject's own.
        """
        across = self.horizontalHeader()
        across.setSortIndicator(column, Qt.SortOrder.AscendingOrder)
        across.setSortIndicatorClearable(column < 0)
        across.setSectionsClickable(True)
        self.setSortingEnabled(True)

    def choose(self, row: int) -> None:
        """Select a row and bring it into view."""
        index = self.model().index(row, 0)
        if index.isValid() and row != self.currentIndex().row():
            self.selectRow(row)
            self.scrollTo(index, QAbstractItemView.ScrollHint.EnsureVisible)

    def copy(self, *, with_header: bool) -> str:
        """Put the selected rows on the clipboard as tab-separated text, and give that text."""
        model = self.model()
        columns = [n for n in range(model.columnCount()) if not self.isColumnHidden(n)]
        rows = sorted(index.row() for index in self.selectionModel().selectedRows())
        lines = [[str(model.index(row, column).data() or "") for column in columns] for row in rows]
        if with_header:
            flat = Qt.Orientation.Horizontal
            lines.insert(0, [str(model.headerData(column, flat)) for column in columns])
        text = "\n".join("\t".join(cell.strip() for cell in line) for line in lines)
        QGuiApplication.clipboard().setText(text)
        return text

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        pressed = event.keyCombination().toCombined()
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy(with_header=False)
        elif QKeySequence(pressed) == QKeySequence("Ctrl+Shift+C"):
            self.copy(with_header=True)
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open(self.currentIndex())
        else:
            super().keyPressEvent(event)

    @override
    def moveCursor(
        self, action: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier
    ) -> QModelIndex:
        before = self.currentIndex().row()
        target = super().moveCursor(action, modifiers)
        step = 1 if target.row() >= before else -1
        row = self._next_plain(target.row(), step)
        if row is None:
            row = self._next_plain(target.row(), -step)
        return target if row is None else self.model().index(row, target.column())

    @override
    def currentChanged(self, current: _Index, previous: _Index) -> None:
        super().currentChanged(current, previous)
        if current.row() != previous.row() or not previous.isValid():
            self.row_chosen.emit(current.row())

    def _next_plain(self, row: int, step: int) -> int | None:
        """The nearest row in one direction that can be selected."""
        model = self.model()
        while 0 <= row < model.rowCount():
            if model.index(row, 0).flags() & Qt.ItemFlag.ItemIsSelectable:
                return row
            row += step
        return None

    def _open(self, index: QModelIndex) -> None:
        if index.isValid():
            self.row_opened.emit(index.row())

    def _after_reset(self) -> None:
        self._fit_height()
        self.row_chosen.emit(-1)

    def _fit_height(self) -> None:
        if self._grows:
            rows = self.model().rowCount() * self.verticalHeader().defaultSectionSize()
            self.setMaximumHeight(rows + self.horizontalHeader().sizeHint().height() + 4)

    def _fit(self) -> None:
        """Show the optional columns for which there is room."""
        if not self._optional:
            return
        across = self.horizontalHeader()
        fixed = sum(
            self._slim.get(column, across.sectionSize(column))
            for column in range(across.count())
            if column not in self._optional
            and across.sectionResizeMode(column) != QHeaderView.ResizeMode.Stretch
        )
        # The scroll bar's room is always kept: rows that come or go must not shift columns.
        room = self.width() - self.verticalScrollBar().sizeHint().width() - fixed - self._least
        for column, width in self._optional.items():
            if column in self._unwanted:
                self.setColumnHidden(column, True)  # noqa: FBT003 - Qt's own signature
                continue
            self.setColumnHidden(column, width > room)
            # After the first one that does not fit, less wanted ones stay away too.
            room = room - width if width <= room else -1
        for column, width in self._roomy.items():
            extra = width - self._slim[column]
            self.setColumnWidth(column, width if extra <= room else self._slim[column])
            room -= extra if extra <= room else 0

    @override
    def sizeHint(self) -> QSize:
        hint = super().sizeHint()
        return QSize(hint.width(), self.maximumHeight()) if self._grows else hint

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def span_headings(self, rows: Sequence[int]) -> None:
        """Let these rows reach across all columns."""
        self.clearSpans()
        columns = self.model().columnCount()
        for row in rows:
            self.setSpan(row, 0, 1, columns)
