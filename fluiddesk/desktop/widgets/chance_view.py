"""The chance to catch a fault by group, what other intervals or post would do, and the boxes."""

from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QSplitter, QVBoxLayout, QWidget

from fluiddesk.desktop.background import Background
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.catch_chances import (
    FIGURES_FROM,
    BoxColumn,
    ChanceBoxes,
    ChanceShown,
    chance_shown,
    group_cells,
)
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.sampling_words import counted
from fluiddesk.desktop.widgets.chance_wishes import ChanceWishes
from fluiddesk.desktop.widgets.crews_view import KeyedLines
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.page_work import PageWork
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.catch_chances.asking import compared
from fluiddesk.services.catch_chances.facts import (
    AS_NOW,
    ChanceColumns,
    Comparison,
    GroupBy,
    Wish,
)
from fluiddesk.wiring import Clock

_GROUPS: Final = {
    GroupBy.SITE: "Site",
    GroupBy.LANE: "Lane",
    GroupBy.MACHINE_KIND: "Machine kind",
    GroupBy.BOX_KIND: "Box kind",
}
_THEN: Final = (8, 9, 10)
_NOTES: Final = 3


class BoxLines(Protocol):
    """The table of the boxes."""

    def show(self, boxes: ChanceBoxes) -> None:
        """Show these boxes."""

    def box(self, row: int) -> bytes | None:
        """The identifier of the box in a row."""


class ChanceView(QWidget):
    """Tells how likely a fault is caught, and what it takes to be likelier.

    Signals:
        box_opened: the identifier of a box to open.
    """

    box_opened = Signal(object)

    def __init__(
        self,
        groups: tuple[KeyedLines, QAbstractItemModel],
        boxes: tuple[BoxLines, QAbstractItemModel],
        calls: SamplingCalls,
        *,
        work: PageWork,
        background: Background,
        clock: Clock,
        theme: Theme,
    ) -> None:
        super().__init__()
        self._groups, self._boxes = groups[0], boxes[0]
        self._calls, self._work, self._background = calls, work, background
        self._clock = clock
        self._columns: ChanceColumns | None = None
        self._by, self._wish, self._group = GroupBy.BOX_KIND, AS_NOW, ""
        self.shown: ChanceShown | None = None
        self.by = FilterChips(
            [(key.value, words) for key, words in _GROUPS.items()], name=self.tr("Told by")
        )
        self.by.press(self._by.value)
        self.wishes = ChanceWishes(theme)
        self._sentence = QuietLabel("body", theme)
        self._sentence.setWordWrap(True)
        self._sentence.setToolTip(
            self.tr(
                "Boxes without an interval, or on machines that stand or are not at work, are "
                "left out."
            )
        )
        self._compared = QuietLabel("body", theme)
        self._compared.setWordWrap(True)
        self._note = QuietLabel("small", theme)
        self._title = QuietLabel("strong", theme)
        self._make_tables(groups[1], boxes[1])
        self._lay_out()
        self.by.chosen.connect(lambda key: self._show(by=GroupBy(key)))
        self.wishes.wished.connect(lambda wish: self._show(wish=wish))
        self.wishes.refused.connect(self._refuse)
        self.table.row_chosen.connect(self._group_chosen)
        self.box_table.row_opened.connect(self._open)

    def _make_tables(self, groups: QAbstractItemModel, boxes: QAbstractItemModel) -> None:
        self.table = FactTable(groups, name=self.tr("Chance by group"))
        self.table.set_widths({1: 60, 2: 92, 4: 76, 5: 108, 6: 84, 7: 100})
        self.table.fit_columns(stretch=0, least=240, optional={8: 64, 10: 92, 3: 116, 9: 112})
        self.box_table = FactTable(boxes, name=self.tr("Boxes with their chance"))
        self.box_table.set_widths(
            {
                BoxColumn.MACHINE: 84,
                BoxColumn.INTERVAL: 80,
                BoxColumn.SET_BY: 84,
                BoxColumn.ANSWER: 76,
                BoxColumn.SHOWS: 90,
                BoxColumn.CHANCE: 78,
            }
        )
        self.box_table.fit_columns(
            stretch=BoxColumn.BOX,
            least=150,
            optional={
                BoxColumn.THEN: 64,
                BoxColumn.SURELY: 64,
                BoxColumn.PACE: 88,
                BoxColumn.SITE: 200,
                BoxColumn.BOTTLES: 100,
                BoxColumn.BOTTLES_THEN: 92,
            },
        )
        self.box_table.make_sortable()
        self._want_then(is_wanted=False)

    def _want_then(self, *, is_wanted: bool) -> None:
        for column in _THEN:
            self.table.want_column(column, is_wanted=is_wanted)
        for one in (BoxColumn.THEN, BoxColumn.BOTTLES_THEN):
            self.box_table.want_column(one, is_wanted=is_wanted)

    def _lay_out(self) -> None:
        upper, lower = QWidget(), QWidget()
        above = QVBoxLayout(upper)
        above.setContentsMargins(0, 0, 0, GAP)
        above.setSpacing(GAP)
        above.addWidget(self.table, 1)
        below = QVBoxLayout(lower)
        below.setContentsMargins(0, GAP, 0, 0)
        below.setSpacing(STEP)
        for part in (self._title, self._compared, self._note):
            below.addWidget(part)
        below.addSpacing(STEP)
        below.addWidget(self.box_table, 1)
        split = QSplitter(Qt.Orientation.Vertical)
        split.addWidget(upper)
        split.addWidget(lower)
        split.setHandleWidth(1)
        split.setChildrenCollapsible(False)
        split.setSizes([260, 300])
        split.setStretchFactor(0, 1)
        split.setStretchFactor(1, 2)
        top = QHBoxLayout()
        top.setSpacing(GAP)
        top.addWidget(self.by)
        top.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addLayout(top)
        column.addWidget(self.wishes)
        column.addWidget(self._sentence)
        column.addSpacing(STEP)
        column.addWidget(split, 1)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self._sentence, self._compared, self._note, self._title, self.wishes):
            part.apply_theme(theme)

    # --- reading ----------------------------------------------------------------------------

    def forget(self) -> None:
        """Read anew when this is next looked at."""
        self._columns = None
        if self.isVisible():
            self.begin()

    def begin(self) -> None:
        """Read what the chances follow from if it is not known yet."""
        if self._columns is not None:
            return
        today = self._clock.today()
        self._sentence.setText(self.tr("Working out the chances..."))
        self._background.run(
            lambda _: self._calls.chances(today=today),
            done=self.show_columns,
            failed=lambda error: self._work.tell_failure(
                error,
                refusal=self.tr("The chances were not read"),
                label=self.tr("Working out the chances"),
            ),
            label=self.tr("Working out the chances"),
            slot="chances",
        )

    # --- showing ----------------------------------------------------------------------------

    @property
    def sentence(self) -> str:
        """The section's sentence as shown."""
        return self._sentence.text()

    @property
    def comparison(self) -> str:
        """What is said of faster post against shorter intervals, for the group chosen."""
        return self._compared.text()

    @property
    def note(self) -> str:
        """What the days to the answer rest on."""
        return self._note.text()

    def show_columns(self, columns: ChanceColumns) -> None:
        """Show the chances of a fleet."""
        self._columns = columns
        self._show()

    def _show(self, *, by: GroupBy | None = None, wish: Wish | None = None) -> None:
        self._by = by or self._by
        self._wish = self._wish if wish is None else wish
        columns, catalogue = self._columns, self._calls.place.catalogue
        if columns is None:
            self.begin()
            return
        shown = chance_shown(columns, catalogue, self._by, self._wish, before=self.shown)
        group, self.shown = self._group, shown
        self.by.press(self._by.value)
        self._sentence.setText(shown.sentence)
        self._want_then(is_wanted=shown.then is not None)
        keys = ["", *(line.group for line in shown.lines[1:])]
        cells = [group_cells(line) for line in shown.lines]
        self._groups.show([(key.encode(), one) for key, one in zip(keys, cells, strict=True)])
        at = keys.index(group) if group in keys else 0
        self._group = keys[at]
        self.table.choose(at)
        self._show_group()

    def _refuse(self, why: str) -> None:
        if why:
            self._sentence.setText(why)
        elif self.shown is not None:
            self._sentence.setText(self.shown.sentence)

    def _group_chosen(self, row: int) -> None:
        key = self._groups.key(row)
        if key is not None and self.shown is not None and key.decode() != self._group:
            self._group = key.decode()
            self._show_group()

    def _show_group(self) -> None:
        shown = self.shown
        if shown is None:
            return
        boxes = ChanceBoxes(shown, self._calls.place.catalogue, group=self._group)
        self._boxes.show(boxes)
        name = self._group or self.tr("All")
        count = counted(len(boxes), "box", "boxes")
        self._title.setText(self.tr("{0}: {1}, lowest chance first").format(name, count))
        notes = shown.notes(self._group)
        told = [*notes[:_NOTES]]
        if len(notes) > _NOTES:
            told.append(self.tr("And {0} more lanes.").format(len(notes) - _NOTES))
        self._note.setText("\n".join([*told, FIGURES_FROM]))
        self._compare(shown)

    def _compare(self, shown: ChanceShown) -> None:
        chosen = shown.chosen(self._group)
        columns, days = shown.columns, shown.wish.days_sooner
        if not len(columns):
            self._compared.setText("")
            return

        def done(found: Comparison) -> None:
            self._compared.setText(found.sentence)

        self._background.run(
            lambda _: (
                compared(columns, chosen, days_sooner=days) if days else compared(columns, chosen)
            ),
            done=done,
            label=self.tr("Comparing faster post with shorter intervals"),
            slot="chance compared",
        )

    def _open(self, row: int) -> None:
        box = self._boxes.box(row)
        if box is not None:
            self.box_opened.emit(CompartmentId(box))
