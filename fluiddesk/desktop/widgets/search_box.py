"""One box that finds machines, bottles, reports, serials and remarks while one types."""

from collections.abc import Callable
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, QEvent, QPoint, Qt, Signal
from PySide6.QtGui import QColor, QFocusEvent, QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.theme import CONTROL_HEIGHT, GAP, Theme
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.services.search.facts import SearchAnswer, SearchHit

_WIDTH: Final = 208
_LIST_WIDTH: Final = 640
_ROWS: Final = 12
_HEAD: Final = 30


class Hits(Protocol):
    """The table of what was found."""

    def show(self, hits: tuple[SearchHit, ...]) -> None:
        """Show these hits."""

    def line(self, row: int) -> SearchHit | None:
        """The hit in a row."""

    def length(self) -> int:
        """How many hits there are."""


class HitList(QWidget):
    """The hits, laid over the page below the box."""

    def __init__(
        self, model: Hits, table_model: QAbstractItemModel, *, theme: Theme, over: QWidget
    ) -> None:
        super().__init__(over)
        self._theme, self.over, self.model = theme, over, model
        self.table = FactTable(table_model, name=self.tr("Records found"))
        self.table.setSelectionMode(FactTable.SelectionMode.SingleSelection)
        self.table.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.table.set_widths({0: 248, 1: 92})
        self.sentence = QuietLabel("small", theme)
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, GAP, GAP, GAP)
        column.setSpacing(GAP)
        column.addWidget(self.table, 1)
        column.addWidget(self.sentence)
        self.hide()

    def tell(self, text: str) -> None:
        """Show a sentence without hits."""
        self.model.show(())
        self.sentence.setText(text)
        self._fit()

    def show_answer(self, answer: SearchAnswer) -> None:
        """Show hits, the first of them chosen."""
        self.model.show(answer.hits)
        self.sentence.setText(answer.sentence)
        self.table.selectRow(0)
        self._fit()

    def step(self, by: int) -> None:
        """Move the choice up or down."""
        row = self.table.currentIndex().row() + by
        if 0 <= row < self.model.length():
            self.table.choose(row)

    def _fit(self) -> None:
        rows = min(self.model.length(), _ROWS)
        self.table.setVisible(rows > 0)
        room = self.over.width() - 2 * GAP
        height = (rows * CONTROL_HEIGHT + _HEAD + GAP if rows else 0) + 2 * GAP + 18
        self.resize(min(_LIST_WIDTH, room), height)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        self.sentence.apply_theme(theme)

    @override
    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        colors = self._theme.colors
        painter.fillRect(self.rect(), QColor(colors.ground))
        painter.setPen(QColor(colors.hairline))
        painter.drawRect(self.rect().adjusted(0, 0, -1, -1))


class SearchBox(QLineEdit):
    """Asks for an answer at each key; arrows choose, Enter opens, Escape closes.

    Signals:
        entered: the keyboard came into the box, so an index is wanted.
        opened: the ``SearchHit`` to open.
    """

    entered = Signal()
    opened = Signal(object)

    def __init__(self, hits: HitList) -> None:
        super().__init__(hits.over)
        self._search: Callable[[str], SearchAnswer] | None = None
        self.hits = hits
        self.setPlaceholderText(self.tr("Search (Ctrl+K)"))
        self.setAccessibleName(self.tr("Search machines, bottles, reports, serials and remarks"))
        self.setFixedWidth(_WIDTH)
        self.setClearButtonEnabled(True)
        self.textEdited.connect(self._look)
        self.textChanged.connect(self._cleared)
        self.returnPressed.connect(self._open)
        self.hits.table.clicked.connect(lambda _index: self._open())

    def show_index(self, search: Callable[[str], SearchAnswer] | None) -> None:
        """Search by this from now on; what stands in the box is looked up again."""
        self._search = search
        if self.hits.isVisible():
            self._look(self.text())

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self.hits.apply_theme(theme)

    def _look(self, typed: str) -> None:
        if not typed.strip():
            self.hits.hide()
            return
        if self._search is None:
            self.hits.tell(self.tr("Reading what can be searched."))
        else:
            self.hits.show_answer(self._search(typed))
        self._place()

    def _cleared(self, typed: str) -> None:
        if not typed:
            self.hits.hide()

    def _place(self) -> None:
        """Below the box, its right edges in line, over everything else."""
        corner = self.mapTo(
            self.hits.over, QPoint(self.width() - self.hits.width(), self.height() + 4)
        )
        self.hits.move(max(GAP, corner.x()), corner.y())
        self.hits.show()
        self.hits.raise_()

    def _open(self) -> None:
        hit = self.hits.model.line(self.hits.table.currentIndex().row())
        if hit is not None and self.hits.isVisible():
            self.close_hits()
            self.opened.emit(hit)

    def close_hits(self) -> None:
        """Put the hits away and empty the box."""
        self.clear()
        self.hits.hide()

    @override
    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.entered.emit()

    @override
    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.hits.hide()

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        match event.key():
            case Qt.Key.Key_Down:
                self.hits.step(1)
            case Qt.Key.Key_Up:
                self.hits.step(-1)
            case Qt.Key.Key_Escape:
                self.close_hits()
            case _:
                super().keyPressEvent(event)

    @override
    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.EnabledChange and not self.isEnabled():
            self.hits.hide()
