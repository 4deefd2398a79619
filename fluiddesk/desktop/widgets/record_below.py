"""Below a record's form: its machine's parts, what happened to it, or its papers and changes."""

from collections.abc import Sequence

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.register import PartColumn
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.picture_strip import STRIP_HEIGHT, PictureStrip, SmallPicture
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_LEAST = 120
_PARTS, _HISTORY, _TRAIL = "parts", "history", "trail"


class RecordBelow(QWidget):
    """Three tables of which one is shown.

    Signals:
        part_chosen: the row of a part.
        deed_pressed: the row of the history that the button below it is about.
        paper_opened: the identifier of a picture that was pressed.
        line_opened: the row of a paper, remark or change, by Enter or a double click.
        action_pressed: "remark" or "attach".
    """

    part_chosen = Signal(int)
    line_opened = Signal(int)
    deed_pressed = Signal(int)
    paper_opened = Signal(object)
    action_pressed = Signal(str)

    def __init__(
        self,
        parts: QAbstractItemModel,
        history: QAbstractItemModel,
        trail: QAbstractItemModel,
        *,
        theme: Theme,
    ) -> None:
        super().__init__()
        self._wanted = _PARTS
        self._make_tables(parts, history, trail)
        self.deed_button = QPushButton()
        self.deed_button.hide()
        self.pictures = PictureStrip()
        self.chips = FilterChips(
            (
                (_PARTS, self.tr("Parts")),
                (_HISTORY, self.tr("What happened")),
                (_TRAIL, self.tr("Papers, remarks, changes")),
            ),
            name=self.tr("Below the record"),
        )
        self._none = QuietLabel("small", theme, self.tr("Nothing yet."))
        self.remark_button = QPushButton(self.tr("Write a remark"))
        self.attach_button = QPushButton(self.tr("Attach a paper…"))
        self._stack = QStackedWidget()
        self._lay_out()
        self.setMinimumHeight(_LEAST)
        self.chips.chosen.connect(self._show)
        self.parts.row_opened.connect(self.part_chosen)
        self.parts.clicked.connect(lambda index: self.part_chosen.emit(index.row()))
        self.trail.row_opened.connect(self.line_opened)
        self.deed_button.clicked.connect(
            lambda: self.deed_pressed.emit(self.history.currentIndex().row())
        )
        self.pictures.opened.connect(self.paper_opened)
        self.remark_button.clicked.connect(lambda: self.action_pressed.emit("remark"))
        self.attach_button.clicked.connect(lambda: self.action_pressed.emit("attach"))

    def _make_tables(
        self, parts: QAbstractItemModel, history: QAbstractItemModel, trail: QAbstractItemModel
    ) -> None:
        self.parts = FactTable(parts, name=self.tr("Parts of the machine"))
        self.parts.set_widths(
            {PartColumn.NAME: 192, PartColumn.LITRES: 52, PartColumn.INTERVAL: 124}
        )
        self.parts.fit_columns(
            stretch=PartColumn.FLUID,
            least=120,
            optional={PartColumn.LACKS: 128},
            roomy={PartColumn.NAME: 248},
        )
        self.history = FactTable(history, name=self.tr("What happened"))
        self.history.setSelectionMode(FactTable.SelectionMode.SingleSelection)
        self.history.set_widths({0: 92, 1: 128, 3: 76})
        self.history.share_room(2)
        self.trail = FactTable(trail, name=self.tr("Papers, remarks and changes"))
        self.trail.set_widths({0: 140, 1: 88, 2: 64})
        self.trail.share_room(3)

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(STEP)
        top.addWidget(self.chips)
        top.addStretch(1)
        holder = QWidget()
        inner = QVBoxLayout(holder)
        inner.setContentsMargins(0, 0, 0, 0)
        inner.setSpacing(STEP)
        buttons = QHBoxLayout()
        buttons.setSpacing(STEP)
        buttons.addWidget(self.remark_button)
        buttons.addWidget(self.attach_button)
        buttons.addStretch(1)
        inner.addWidget(self.pictures)
        inner.addWidget(self._none)
        inner.addWidget(self.trail, 1)
        inner.addLayout(buttons)
        happened = QWidget()
        lines = QVBoxLayout(happened)
        lines.setContentsMargins(0, 0, 0, 0)
        lines.setSpacing(STEP)
        lines.addWidget(self.history, 1)
        lines.addWidget(self.deed_button, 0, Qt.AlignmentFlag.AlignLeft)
        self._faces = {_PARTS: self.parts, _HISTORY: happened, _TRAIL: holder}
        for face in self._faces.values():
            self._stack.addWidget(face)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GAP, 0, 0)
        column.setSpacing(STEP)
        column.addLayout(top)
        column.addWidget(self._stack, 1)

    def show_for(self, *, parts: int, keeps_papers: bool, keeps_history: bool) -> None:
        """Show what a record has: parts of its machine, what happened to it, and papers."""
        self.chips.show_count(_PARTS, parts)
        self.chips.button(_PARTS).setVisible(parts > 0)
        self.chips.button(_HISTORY).setVisible(keeps_history)
        self.remark_button.setVisible(keeps_papers)
        self.attach_button.setVisible(keeps_papers)
        self.show_pictures(())
        is_there = {_PARTS: parts > 0, _HISTORY: keeps_history, _TRAIL: True}
        first = _PARTS if parts else _TRAIL
        self._show(self._wanted if is_there[self._wanted] else first, is_chosen=False)

    def show_pictures(self, pictures: Sequence[SmallPicture]) -> None:
        """Show the pictures among the papers, with room for the lines below them."""
        self.pictures.show_pictures(pictures)
        self.setMinimumHeight(_LEAST + (STRIP_HEIGHT if pictures else 0))

    def show_history(self, count: int) -> None:
        """Tell how many lines of what happened there are."""
        self.chips.show_count(_HISTORY, count)
        self.chips.button(_HISTORY).setEnabled(True)

    def offer_deed(self, words: str) -> None:
        """Offer what can be done with the chosen line of the history; nothing without words."""
        self.deed_button.setText(words)
        self.deed_button.setVisible(bool(words))

    def show_trail(self, count: int) -> None:
        """Tell how many papers, remarks and changes there are."""
        self.chips.show_count(_TRAIL, count)
        self.chips.button(_TRAIL).setEnabled(True)
        self._none.setVisible(count == 0)
        self.trail.setVisible(count > 0)

    def _show(self, key: str, *, is_chosen: bool = True) -> None:
        if is_chosen:
            self._wanted = key
        self.chips.press(key)
        self._stack.setCurrentWidget(self._faces[key])

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._none.apply_theme(theme)
