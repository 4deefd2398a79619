"""The fleet page: one sentence, a filter, and the traffic view of machines by compartments."""

import logging
from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)
from typing_extensions import override

from fluiddesk.desktop.background import Background, Progress
from fluiddesk.desktop.models.fleet_condition import FleetConditionModel
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme, give_look
from fluiddesk.desktop.viewstate.box_words import get_words_ready
from fluiddesk.desktop.viewstate.fleet_condition import FleetFilter, FleetMatrix, RowOrder, Spot
from fluiddesk.desktop.viewstate.last_look import read_look, write_look
from fluiddesk.desktop.widgets.cell_legend import CellLegend
from fluiddesk.desktop.widgets.fleet_filter import FleetFilterRow, give_way
from fluiddesk.desktop.widgets.fleet_table import FleetTable
from fluiddesk.desktop.widgets.row_tip import wrapped
from fluiddesk.services.changes import Changes, Subject
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.workplace import Workplace
from fluiddesk.wiring import Clock

_log = logging.getLogger(__name__)

_LINES_TOLD = 2


class FleetConditionScreen(QWidget):
    """What the fleet's condition is, worst first.

    Signals:
        box_opened: the ``CompartmentId`` whose page is asked for.
        loaded: the ``FleetCondition`` just put on screen.
        register_asked: the register is wanted, to set up a fleet (from the empty state).
        sample_asked: the sample fleet is wanted (from the empty state).
        database_asked: another database is wanted (from the empty state).
    """

    box_opened = Signal(object)
    loaded = Signal(object)
    register_asked = Signal()
    sample_asked = Signal()
    database_asked = Signal()

    def __init__(
        self,
        place: Workplace,
        *,
        clock: Clock,
        theme: Theme,
        background: Background,
        look_file: Path | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.title = self.tr("Fleet condition")
        self._place, self._clock, self._background = place, clock, background
        self._look_file = look_file
        self._last_look = read_look(look_file)
        self._model = FleetConditionModel(place.catalogue, self)
        self.sentence = QLabel(self)
        self.sentence.setWordWrap(True)
        self.filter_row = FleetFilterRow(theme, self)
        self.order = QComboBox(self)
        self._legend = CellLegend(theme, self)
        self.table = FleetTable(self._model, theme, self)
        self._detail = QLabel(self)
        self._told = ""
        self._shown = QLabel(self)
        self._none_left = QLabel(self.tr("No machine meets the filter."), self)
        self._stack = QStackedWidget(self)
        self._lay_out()
        self._connect()
        self.apply_theme(theme)

    def _lay_out(self) -> None:
        self.order.setAccessibleName(self.tr("Order of machines"))
        self.order.addItem(self.tr("Worst first"), RowOrder.WORST)
        self.order.addItem(self.tr("By machine code"), RowOrder.MACHINE)
        self.order.addItem(self.tr("By site"), RowOrder.SITE)
        give_way(self.order, least=116, most=150)
        self.filter_row.add_at_end(self.order)
        self._detail.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._detail.setWordWrap(True)
        self._detail.setAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self._detail.setIndent(0)
        chips = QHBoxLayout()
        chips.setSpacing(STEP)
        # The chips' own padding would set their marks off from the line of the text above.
        chips.setContentsMargins(-GAP, 0, 0, 0)
        for chip in self.filter_row.chips:
            chips.addWidget(chip)
        chips.addStretch(1)
        chips.addWidget(self._shown)
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(MARGIN, MARGIN, MARGIN, 0)
        column.setSpacing(GAP)
        column.addWidget(self.sentence)
        column.addLayout(chips)
        column.addWidget(self.filter_row)
        column.addSpacing(STEP)
        column.addWidget(self._none_left)
        column.addWidget(self.table, 1)
        column.addWidget(self._detail)
        column.addWidget(self._legend)
        column.addSpacing(STEP)
        give_look(self.sentence, "sentence")
        give_look(self._shown, "small")
        self._none_left.hide()
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self._stack)
        self._stack.addWidget(page)
        self._stack.addWidget(self._empty_page())

    def _empty_page(self) -> QWidget:
        page = QWidget(self)
        column = QVBoxLayout(page)
        column.setContentsMargins(MARGIN, 24, MARGIN, MARGIN)
        column.setSpacing(GAP)
        self._empty_head = QLabel(self.tr("This database holds no machines yet."), page)
        give_look(self._empty_head, "sentence")
        words = QLabel(
            self.tr(
                "Set up your own fleet: site, machines, fluids and intervals, from files or by "
                "hand.\nOr open the sample fleet to look around: invented machines with three "
                "years of samples."
            ),
            page,
        )
        own = QPushButton(self.tr("Set up your own fleet"), page)
        own.setDefault(True)
        own.clicked.connect(self.register_asked)
        sample = QPushButton(self.tr("Open the sample fleet"), page)
        other = QPushButton(self.tr("Open another database"), page)
        sample.clicked.connect(self.sample_asked)
        other.clicked.connect(self.database_asked)
        buttons = QHBoxLayout()
        buttons.setSpacing(GAP)
        buttons.addWidget(own)
        buttons.addWidget(sample)
        buttons.addWidget(other)
        buttons.addStretch(1)
        column.addWidget(self._empty_head)
        column.addWidget(words)
        column.addSpacing(GAP)
        column.addLayout(buttons)
        column.addStretch(1)
        return page

    def _connect(self) -> None:
        self.filter_row.chosen.connect(self._filter)
        self.order.currentIndexChanged.connect(self._reorder)
        self.table.kind_clicked.connect(self._order_by_kind)
        self.table.box_opened.connect(self._open_box)
        self.table.box_pointed.connect(self._tell_box)
        find = QShortcut(QKeySequence(QKeySequence.StandardKey.Find), self)
        find.activated.connect(self.filter_row.text.setFocus)
        self.filter_row.text.returnPressed.connect(self.table.setFocus)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self.filter_row.apply_theme(theme)
        self._legend.apply_theme(theme)
        self.table.apply_theme(theme)

    def refresh(self) -> None:
        """Read the fleet's condition again."""
        today = self._clock.today()

        def work(_progress: Progress) -> FleetMatrix:
            get_words_ready(self._place.catalogue)
            condition = fleet_condition(self._place, today=today)
            return FleetMatrix(condition, self._place.catalogue, last_look=self._last_look)

        self._background.run(
            work, done=self._show, label=self.tr("Reading the fleet"), slot="fleet"
        )

    def show_changes(self, changes: Changes) -> None:
        """Refresh when results, verdicts, limits or machines changed."""
        if changes.subjects & {Subject.FLEET, Subject.RESULTS, Subject.ASSESSMENTS, Subject.LIMITS}:
            self.refresh()

    def show_facts(self, facts: FleetCondition) -> None:
        """Put a fleet on screen at once."""
        self._show(FleetMatrix(facts, self._place.catalogue, last_look=self._last_look))

    @property
    def matrix(self) -> FleetMatrix | None:
        """What is on screen."""
        return self._model.matrix

    def keep_look(self) -> None:
        """Remember what is on screen as this desk's last look."""
        if self._look_file is None or self.matrix is None or not len(self.matrix.condition):
            return
        try:
            write_look(self._look_file, self.matrix.condition)
        except OSError:
            # A missing last look costs one convenience; it is no reason to hold up closing.
            _log.warning("the last look could not be kept", exc_info=True)

    def _show(self, matrix: FleetMatrix) -> None:
        kept = self.table.spot
        bars = (self.table.horizontalScrollBar(), self.table.verticalScrollBar())
        scrolled = [bar.value() for bar in bars]
        matrix.arrange(
            self.filter_row.filter,
            order=self.matrix.order if self.matrix else RowOrder.WORST,
            kind=self.matrix.order_kind if self.matrix else "",
        )
        self._model.show(matrix)
        self.sentence.setText(matrix.condition.sentence)
        self.filter_row.offer(matrix)
        self._stack.setCurrentIndex(0 if len(matrix.condition) else 1)
        if self._after_arranging(kept):
            # A fresh reading leaves the view where it was, though the keys' place lies outside.
            for bar, value in zip(bars, scrolled, strict=True):
                bar.setValue(value)
        self.loaded.emit(matrix.condition)

    def _filter(self, chosen: FleetFilter) -> None:
        kept = self.table.spot
        self._model.arrange(chosen)
        self._after_arranging(kept)

    def _reorder(self) -> None:
        order = self.order.currentData()
        kept = self.table.spot
        if isinstance(order, str):
            self._model.arrange(order=RowOrder(order))
        self._after_arranging(kept)

    def _order_by_kind(self, kind: str) -> None:
        number = self.order.findData(RowOrder.COLUMN)
        text = self.tr("By {0}").format(self._place.catalogue.kind_name(kind).lower())
        self.order.blockSignals(True)  # noqa: FBT003 - Qt's own signature
        if number < 0:
            self.order.addItem(text, RowOrder.COLUMN)
            number = self.order.count() - 1
        self.order.setItemText(number, text)
        self.order.setCurrentIndex(number)
        self.order.blockSignals(False)  # noqa: FBT003 - Qt's own signature
        self._model.arrange(order=RowOrder.COLUMN, kind=kind)
        self._after_arranging(None)

    def _after_arranging(self, kept: Spot | None) -> bool:
        """Put the keys' place back where it was; tell whether it is still there."""
        matrix = self.matrix
        if matrix is None:
            return False
        rows, total = matrix.shape[0], len(matrix.condition.machine_severity())
        self._none_left.setVisible(not rows and total > 0)
        self._shown.setText(
            self.tr("{0} machines").format(total)
            if rows == total
            else self.tr("{0} of {1} machines").format(rows, total)
        )
        place = matrix.place_of_spot(kept) if kept else None
        if place is not None:
            self.table.point_to(*place)
        elif rows:
            self.table.point_to(*self._first_place(matrix))
            self.table.horizontalScrollBar().setValue(0)
            # The worst may lie beyond the right end; its words come first all the same.
            self._tell_box(matrix.worst_box(0))
        else:
            self._tell_box(-1)
        return place is not None

    def _first_place(self, matrix: FleetMatrix) -> tuple[int, int, int]:
        """The worst box of the first row that is in view unscrolled, else the row's first box."""
        cells = [(column, matrix.cell(0, column)) for column in range(matrix.shape[1])]
        boxes = [
            (column, number, one.severity)
            for column, cell in cells
            for number, one in enumerate(cell)
        ]
        in_view = [one for one in boxes if self.table.shows_column(one[0])]
        column, number, _ = max(in_view or boxes[:1], key=lambda one: one[2])
        return 0, column, number

    def _open_box(self, box: int) -> None:
        if self.matrix is not None:
            self.box_opened.emit(self.matrix.compartment(box))

    def _tell_box(self, box: int) -> None:
        self._told = "" if self.matrix is None or box < 0 else self.matrix.sentence(box)
        self._elide()

    def _elide(self) -> None:
        metrics = self._detail.fontMetrics()
        self._detail.setFixedHeight(_LINES_TOLD * metrics.lineSpacing() + STEP)
        # Lines break between words, so that not quite all of their room can be counted on.
        room = max(0, round((self.width() - 2 * MARGIN) * (_LINES_TOLD - 0.15)))
        shown = metrics.elidedText(self._told, Qt.TextElideMode.ElideRight, room)
        self._detail.setText(shown)
        self._detail.setToolTip(wrapped(self._told) if shown != self._told else "")
        self._detail.setAccessibleName(self._told or self.tr("No box chosen"))

    @override
    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._elide()
