"""Bottles out: where each one is, how long the legs take, and what moves them on."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Final

from PySide6.QtCore import QAbstractItemModel, QItemSelectionModel, Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.custody_calls import (
    CustodyCalls,
    CustodyFacts,
    leg_cells,
    lost_form,
    out_cells,
    receive_form,
    ship_form,
    shipment_cells,
    trail_words,
)
from fluiddesk.desktop.viewstate.record_form import RecordForm, Values
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.desktop.widgets.crews_view import KeyedLines
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.form_dialog import FormDialog
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.services.custody.facts import BottleOut, ShipmentFacts, Step
from fluiddesk.wiring import Clock

if TYPE_CHECKING:
    from fluiddesk.services.custody.move import Moved

_SIDE_WIDTH: Final = 392
_PARTS: Final = ("all", "unaccounted", "lost", "taken", "handed_in", "shipped", "received")
Table = tuple[KeyedLines, QAbstractItemModel]


class BottlesView(QWidget):
    """Follows bottles from the machine to the verdict.

    Signals:
        told: (title, text) of what was done or is wrong.
        changed: ``Changes``.
        read: the facts, as they were read.
        box_opened: the identifier of a box to open.
    """

    told = Signal(str, str)
    changed = Signal(object)
    read = Signal(object)
    box_opened = Signal(object)

    def __init__(
        self,
        tables: tuple[Table, Table, Table],
        calls: CustodyCalls,
        *,
        work: PageWork,
        background: Background,
        clock: Clock,
        theme: Theme,
    ) -> None:
        super().__init__()
        (self._out, out), (self._legs, legs), (self._shipments, shipments) = tables
        self._calls, self._work, self._background = calls, work, background
        self._clock, self._theme = clock, theme
        self.facts: CustodyFacts | None = None
        self._part = "all"
        self._shown: tuple[BottleOut, ...] = ()
        self.dialog: FormDialog | None = None
        self._sentence = QuietLabel("body", theme)
        self._make_chips()
        self.code = QLineEdit()
        self.code.setPlaceholderText(self.tr("Scan or type a bottle code"))
        self.code.setAccessibleName(self.tr("Bottle code to choose"))
        self.code.setFixedWidth(208)
        self.table = FactTable(out, name=self.tr("Bottles out"))
        self.table.set_widths({0: 104, 1: 76, 3: 84, 5: 48, 7: 106})
        self.table.fit_columns(stretch=2, least=120, optional={4: 96, 6: 58, 8: 110, 9: 200})
        self.buttons = {
            "hand_in": QPushButton(self.tr("Hand in")),
            "ship": QPushButton(self.tr("Ship...")),
            "lost": QPushButton(self.tr("Mark lost...")),
            "receive": QPushButton(self.tr("Shipment received...")),
        }
        self._trail = QuietLabel("small", theme)
        self._titles = (
            QuietLabel("strong", theme, self.tr("Days by leg")),
            QuietLabel("strong", theme, self.tr("Shipments")),
        )
        self.leg_table = FactTable(legs, name=self.tr("Days by leg"))
        self.leg_table.set_widths({1: 56, 2: 46, 3: 50, 4: 56})
        self.leg_table.share_room(0)
        self.shipment_table = FactTable(shipments, name=self.tr("Shipments"))
        self.shipment_table.set_widths({0: 92, 2: 44, 3: 92, 4: 66})
        self.shipment_table.fit_columns(stretch=1, least=56, optional={5: 120})
        self._lay_out()
        self._connect()

    def _make_chips(self) -> None:
        words = (
            self.tr("All out"),
            self.tr("Unaccounted"),
            self.tr("Presumed lost"),
            self.tr("Taken"),
            self.tr("Handed in"),
            self.tr("Shipped"),
            self.tr("Received"),
        )
        self.chips = FilterChips(list(zip(_PARTS, words, strict=True)), name=self.tr("Bottles"))

    def _lay_out(self) -> None:
        acts = QHBoxLayout()
        acts.setSpacing(STEP)
        acts.addWidget(self.code)
        acts.addSpacing(GAP)
        for key in ("hand_in", "ship", "lost"):
            acts.addWidget(self.buttons[key])
        acts.addStretch(1)
        left, right = QWidget(), QWidget()
        column = QVBoxLayout(left)
        column.setContentsMargins(0, 0, MARGIN, 0)
        column.setSpacing(GAP)
        column.addLayout(acts)
        column.addWidget(self.table, 1)
        column.addWidget(self._trail)
        side = QVBoxLayout(right)
        side.setContentsMargins(MARGIN, 0, 0, 0)
        side.setSpacing(STEP)
        side.addWidget(self._titles[0])
        side.addWidget(self.leg_table, 1)
        side.addSpacing(MARGIN)
        side.addWidget(self._titles[1])
        line = QHBoxLayout()
        line.addWidget(self.buttons["receive"])
        line.addStretch(1)
        side.addLayout(line)
        side.addWidget(self.shipment_table, 1)
        right.setMinimumWidth(_SIDE_WIDTH)
        split = QSplitter(Qt.Orientation.Horizontal)
        split.addWidget(left)
        split.addWidget(right)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.setStretchFactor(0, 1)
        split.setSizes([10 * _SIDE_WIDTH, _SIDE_WIDTH])
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(GAP)
        page.addWidget(self._sentence)
        page.addWidget(self.chips, 0, Qt.AlignmentFlag.AlignLeft)
        page.addWidget(split, 1)

    def _connect(self) -> None:
        self.chips.chosen.connect(self._show_part)
        self.code.returnPressed.connect(self._choose_code)
        self.table.row_chosen.connect(self._show_trail)
        self.table.row_opened.connect(self._open)
        self.table.selectionModel().selectionChanged.connect(lambda *_: self._offer())
        self.buttons["hand_in"].clicked.connect(self.hand_in)
        self.buttons["ship"].clicked.connect(self.ask_ship)
        self.buttons["lost"].clicked.connect(self.ask_lost)
        self.buttons["receive"].clicked.connect(self.ask_receive)
        self.shipment_table.row_chosen.connect(lambda _row: self._offer())
        self.shipment_table.row_opened.connect(lambda _row: self.ask_receive())
        for button in self.buttons.values():
            button.setAutoDefault(True)
            button.setEnabled(False)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._theme = theme
        for label in (self._sentence, self._trail, *self._titles):
            label.apply_theme(theme)

    # --- showing ----------------------------------------------------------------------------

    def refresh(self) -> None:
        """Read where the bottles are."""
        today = self._clock.today()
        self._background.run(
            lambda _: self._calls.facts(today=today),
            done=self.show_facts,
            failed=lambda error: self._work.tell_failure(
                error,
                refusal=self.tr("The bottles were not read"),
                label=self.tr("Reading where the bottles are"),
            ),
            label=self.tr("Reading where the bottles are"),
            slot="custody",
        )

    def show_facts(self, facts: CustodyFacts) -> None:
        """Show bottles, legs and shipments."""
        self.facts = facts
        self._sentence.setText(facts.custody.sentence)
        self._legs.show([(one.leg.encode(), leg_cells(one)) for one in facts.custody.legs])
        self._shipments.show([(one.id, shipment_cells(one)) for one in facts.shipments])
        for part in _PARTS:
            self.chips.show_count(part, len(self._of_part(part)))
        self._show_part(self._part)
        self.read.emit(facts)

    def _of_part(self, part: str) -> tuple[BottleOut, ...]:
        out = () if self.facts is None else self.facts.custody.out
        if part == "all":
            return out
        if part == "unaccounted":
            return tuple(one for one in out if one.is_unaccounted)
        if part == "lost":
            return tuple(one for one in out if one.is_presumed_lost)
        return tuple(one for one in out if one.station == part)

    def _show_part(self, part: str) -> None:
        self._part = part
        self.chips.press(part)
        self._shown = self._of_part(part)
        self._out.show([(one.code.encode(), out_cells(one)) for one in self._shown])
        self._trail.setText("")
        self._offer()

    @property
    def chosen(self) -> tuple[BottleOut, ...]:
        """The chosen bottles, in the order of the list."""
        rows = sorted(index.row() for index in self.table.selectionModel().selectedRows())
        return tuple(self._shown[row] for row in rows if row < len(self._shown))

    @property
    def shipment(self) -> ShipmentFacts | None:
        """The chosen shipment."""
        key = self._shipments_key()
        known = () if self.facts is None else self.facts.shipments
        return next((one for one in known if one.id == key), None)

    def _shipments_key(self) -> bytes | None:
        return self._shipments.key(self.shipment_table.currentIndex().row())

    def _offer(self) -> None:
        stations = {one.station for one in self.chosen}
        here = bool(stations) and stations <= {Step.TAKEN, Step.HANDED_IN}
        self.buttons["hand_in"].setEnabled(stations == {Step.TAKEN})
        self.buttons["ship"].setEnabled(here)
        self.buttons["lost"].setEnabled(bool(stations))
        shipment = self.shipment
        self.buttons["receive"].setEnabled(shipment is not None and shipment.received_on is None)

    def _choose_code(self) -> None:
        """Add a scanned bottle to those chosen."""
        try:
            code = normal_bottle_code(self.code.text())
        except OperatorError as wrong:
            self.told.emit("", str(wrong))
            return
        rows = [row for row, one in enumerate(self._shown) if one.code == code]
        if not rows:
            self.told.emit("", self.tr("Bottle {0} is not in this list.").format(code))
            return
        flags = QItemSelectionModel.SelectionFlag
        index = self.table.model().index(rows[0], 0)
        self.table.selectionModel().setCurrentIndex(index, flags.Select | flags.Rows)
        self.table.scrollTo(index)
        self.code.clear()

    def _show_trail(self, row: int) -> None:
        self._trail.setText("")
        if not 0 <= row < len(self._shown):
            return
        code = self._shown[row].code
        self._background.run(
            lambda _: self._calls.trail(code),
            done=lambda steps: self._trail.setText(
                f"{code}: {trail_words(steps)}" if steps else f"{code}: no hand-over is kept."
            ),
            failed=lambda _error: self._trail.setText(""),
            label=self.tr("Reading a bottle's trail"),
            slot="trail",
        )

    def _open(self, row: int) -> None:
        if 0 <= row < len(self._shown):
            self.box_opened.emit(self._shown[row].compartment_id)

    # --- doing ------------------------------------------------------------------------------

    def hand_in(self) -> None:
        """The chosen bottles came in."""
        codes, moment = [one.code for one in self.chosen], self._clock.moment()
        self._do(
            lambda: self._calls.hand_in(codes, moment=moment),
            words=self.tr("{0} handed in."),
            refusal=self.tr("Nothing was handed in"),
        )

    def ask_ship(self) -> None:
        """Ask how the chosen bottles leave."""
        codes = [one.code for one in self.chosen]
        if codes and self.facts is not None:
            today, moment = self._clock.today(), self._clock.moment()
            self._ask(
                ship_form(codes, self.facts.laboratories, today=today),
                lambda values: self._do(
                    lambda: self._calls.ship(codes, values, today=today, moment=moment),
                    words=self.tr("{0} shipped."),
                    refusal=self.tr("Nothing was shipped"),
                ),
            )

    def ask_lost(self) -> None:
        """Ask why the chosen bottles are given up."""
        codes = [one.code for one in self.chosen]
        today, moment = self._clock.today(), self._clock.moment()
        if codes:
            self._ask(
                lost_form(codes),
                lambda values: self._do(
                    lambda: self._calls.mark_lost(
                        codes, why=str(values["why"]), today=today, moment=moment
                    ),
                    words=self.tr("{0} marked lost; the boxes are due again."),
                    refusal=self.tr("Nothing was marked lost"),
                ),
            )

    def ask_receive(self) -> None:
        """Ask when the chosen shipment arrived."""
        shipment = self.shipment
        if shipment is not None and shipment.received_on is None:
            today, moment = self._clock.today(), self._clock.moment()
            self._ask(
                receive_form(shipment, today=today),
                lambda values: self._do(
                    lambda: self._calls.receive(shipment, values, today=today, moment=moment),
                    words=self.tr("{0} received."),
                    refusal=self.tr("The shipment was not taken as received"),
                ),
            )

    def _do(self, act: "Callable[[], Moved]", *, words: str, refusal: str) -> None:
        dialog, self.dialog = self.dialog, None
        if dialog is not None:
            dialog.accept()

        def done(moved: "Moved") -> None:
            title = words.format(counted(len(moved.codes), "bottle"))
            self.refresh()
            self.told.emit(title, "\n".join(moved.warnings))
            self.changed.emit(moved.changes)

        self._work.start(
            lambda _: act(), done=done, refusal=refusal, label=self.tr("Saving"), saves=True
        )

    def _ask(self, form: RecordForm, then: Callable[[Values], None]) -> None:
        self.dialog = FormDialog(form, theme=self._theme, parent=self)
        self.dialog.agreed.connect(then)
        self.dialog.rejected.connect(self._forget_dialog)
        self.dialog.open()

    def _forget_dialog(self) -> None:
        self.dialog = None
