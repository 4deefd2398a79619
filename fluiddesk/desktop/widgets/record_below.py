"""Below a record's form: the parts of its machine, or its papers, remarks and changes."""

from PySide6.QtCore import QAbstractItemModel, Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.register import PartColumn
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.filter_chips import FilterChips
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_PARTS, _TRAIL = "parts", "trail"


class RecordBelow(QWidget):
    """Two tables of which one is shown.

    Signals:
        part_chosen: the row of a part.
        line_opened: the row of a paper, remark or change, by Enter or a double click.
        action_pressed: "remark" or "attach".
    """

    part_chosen = Signal(int)
    line_opened = Signal(int)
    action_pressed = Signal(str)

    def __init__(
        self, parts: QAbstractItemModel, trail: QAbstractItemModel, *, theme: Theme
    ) -> None:
        super().__init__()
        self._wanted = _PARTS
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
        self.trail = FactTable(trail, name=self.tr("Papers, remarks and changes"))
        self.trail.set_widths({0: 140, 1: 88, 2: 64})
        self.trail.share_room(3)
        self.chips = FilterChips(
            (
                (_PARTS, self.tr("Compartments, points, meters")),
                (_TRAIL, self.tr("Papers, remarks, changes")),
            ),
            name=self.tr("Below the record"),
        )
        self._none = QuietLabel("small", theme, self.tr("Nothing yet."))
        self.remark_button = QPushButton(self.tr("Write a remark"))
        self.attach_button = QPushButton(self.tr("Attach a paper…"))
        self._stack = QStackedWidget()
        self._lay_out()
        self.chips.chosen.connect(self._show)
        self.parts.row_opened.connect(self.part_chosen)
        self.parts.clicked.connect(lambda index: self.part_chosen.emit(index.row()))
        self.trail.row_opened.connect(self.line_opened)
        self.remark_button.clicked.connect(lambda: self.action_pressed.emit("remark"))
        self.attach_button.clicked.connect(lambda: self.action_pressed.emit("attach"))

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
        inner.addWidget(self._none)
        inner.addWidget(self.trail, 1)
        inner.addLayout(buttons)
        self._stack.addWidget(self.parts)
        self._stack.addWidget(holder)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, GAP, 0, 0)
        column.setSpacing(STEP)
        column.addLayout(top)
        column.addWidget(self._stack, 1)

    def show_for(self, *, parts: int, keeps_papers: bool) -> None:
        """Show what a record has: so many parts of its machine, and papers if it keeps any."""
        self.chips.show_count(_PARTS, parts)
        self.chips.button(_PARTS).setVisible(parts > 0)
        self.remark_button.setVisible(keeps_papers)
        self.attach_button.setVisible(keeps_papers)
        self._show(self._wanted if parts else _TRAIL, is_chosen=False)

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
        self._stack.setCurrentIndex(1 if key == _TRAIL else 0)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._none.apply_theme(theme)
