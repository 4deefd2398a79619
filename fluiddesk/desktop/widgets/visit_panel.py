"""The chosen visit beside the time bar: when, what can be done, and its bottles."""

from collections.abc import Callable, Sequence

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QMenu, QPushButton, QVBoxLayout, QWidget

from fluiddesk.desktop.theme import STEP, Theme
from fluiddesk.desktop.viewstate.round_plan import Planned, Standing
from fluiddesk.desktop.viewstate.sampling_words import (
    counted,
    joining_line,
    several_lines,
    visit_lines,
    visit_place,
)
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.quiet_label import QuietLabel

_NUMBER, _DUE, _STATE, _BOTTLE = 0, 2, 3, 4


class VisitPanel(QWidget):
    """Shows one visit, or counts several.

    Signals:
        asked: what a button stands for: ``keep``, ``join``, ``leave_out``, ``move``, ``give_up``,
            ``issue``, ``sheets``, ``kit`` or ``labels``.
        box_opened: the row of a bottle whose box is to be opened.
        box_asked: what a button for single bottles stands for.
    """

    asked = Signal(str)
    box_opened = Signal(int)
    box_asked = Signal(str)

    def __init__(
        self,
        model: QAbstractItemModel,
        *,
        theme: Theme,
        kind_name: Callable[[str], str],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._kind_name = kind_name
        self.title = QuietLabel("strong", theme)
        self._about = QuietLabel("small", theme)
        self._day = QuietLabel("body", theme)
        self._window = QuietLabel("small", theme)
        self._labels = (self.title, self._about, self._day, self._window)
        self._joins = QuietLabel("body", theme)
        self._joins.setWordWrap(True)
        self._stored = 0
        self._day.setWordWrap(True)
        self._buttons: dict[str, QPushButton] = {}
        self._menu = QMenu(self)
        self.table = FactTable(model, name=self.tr("Bottles of the visit"))
        self.table.set_widths({_NUMBER: 34, _DUE: 96, _STATE: 56, _BOTTLE: 100})
        self.table.share_room(1)
        self.table.row_opened.connect(self.box_opened)
        self._lay_out()

    def _lay_out(self) -> None:
        shown = (
            ("keep", self.tr("Keep")),
            ("join", ""),
            ("move", self.tr("Move...")),
            ("leave_out", self.tr("Leave out")),
            ("issue", self.tr("Issue bottles")),
            ("give_up", self.tr("Give up...")),
            ("print", self.tr("Print")),
        )
        row = QHBoxLayout()
        row.setSpacing(STEP)
        for key, words in shown:
            button = QPushButton(words)
            button.setAutoDefault(True)
            self._buttons[key] = button
            row.addWidget(button)
            # All of them at once would make the panel wider than it ever needs to be.
            button.hide()
            if key != "print":
                button.clicked.connect(lambda _=False, key=key: self.asked.emit(key))
        row.addStretch(1)
        for key, words in (
            ("sheets", self.tr("Visit &sheets...")),
            ("kit", self.tr("&Kit list...")),
            ("labels", self.tr("Bottle &labels...")),
        ):
            action = self._menu.addAction(words)
            action.triggered.connect(lambda _=False, key=key: self.asked.emit(key))
        self._buttons["print"].setMenu(self._menu)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(STEP)
        for label in self._labels:
            column.addWidget(label)
        column.addSpacing(STEP)
        column.addLayout(row)
        column.addSpacing(STEP)
        column.addWidget(self._joining_line())
        column.addWidget(self.table, 1)
        column.addLayout(self._box_line())
        # Takes the room of the table where several visits are told together.
        self._room = QWidget()
        column.addWidget(self._room, 1)
        column.setAlignment(Qt.AlignmentFlag.AlignTop)

    def _joining_line(self) -> QWidget:
        """What is proposed for a kept visit, and what can be done with that."""
        self._joining = QWidget()
        row = QHBoxLayout()
        row.setSpacing(STEP)
        for key, words, asks in (
            ("add_joining", "", "keep"),
            ("leave_joining", self.tr("Leave out"), "leave_out"),
        ):
            button = QPushButton(words)
            button.setAutoDefault(True)
            button.clicked.connect(lambda _=False, asks=asks: self.asked.emit(asks))
            self._buttons[key] = button
            row.addWidget(button)
        row.addStretch(1)
        inside = QVBoxLayout(self._joining)
        inside.setContentsMargins(0, 0, 0, STEP)
        inside.setSpacing(STEP)
        inside.addWidget(self._joins)
        inside.addLayout(row)
        self._joining.hide()
        return self._joining

    def _box_line(self) -> QHBoxLayout:
        """What can be done with single bottles of a kept visit."""
        line = QHBoxLayout()
        line.setSpacing(STEP)
        for key, words in (
            ("add_box", self.tr("Add a bottle...")),
            ("move_box", self.tr("To another visit...")),
            ("take_off", self.tr("Take off...")),
        ):
            button = QPushButton(words)
            button.setAutoDefault(True)
            button.hide()
            button.clicked.connect(lambda _=False, key=key: self.box_asked.emit(key))
            self._buttons[key] = button
            line.addWidget(button)
        line.addStretch(1)
        self.table.row_chosen.connect(self._offer_box)
        return line

    def _offer_box(self, row: int) -> None:
        for key in ("move_box", "take_off"):
            # What only is to join the visit stands below what is on it.
            self._buttons[key].setEnabled(0 <= row < self._stored)

    def button(self, key: str) -> QPushButton:
        """The button that asks for something."""
        return self._buttons[key]

    def focus_first(self) -> None:
        """Lead the keyboard to the first thing that can be done."""
        for button in self._buttons.values():
            if button.isVisible() and button.isEnabled():
                button.setFocus(Qt.FocusReason.TabFocusReason)
                return

    def show_visits(self, some: Sequence[Planned], *, join_to: Planned | None = None) -> None:
        """Show a visit with what can be done, or what several come to.

        Args:
            some: the chosen visits.
            join_to: the kept visit to the same machine that a proposal can go along with.
        """
        self.setVisible(bool(some))
        if not some:
            return
        first, is_one = some[0], len(some) == 1
        self._stored = len(first.visit.boxes)
        if is_one:
            kind = self._kind_name(first.visit.machine_kind)
            told = (first.visit.machine, visit_place(first, kind), *visit_lines(first))
        else:
            told = (self.tr("{0} visits chosen").format(len(some)), "", *several_lines(some))
        for label, words in zip(self._labels, told, strict=True):
            label.setText(words)
            label.setVisible(bool(words))
        self.table.setVisible(is_one)
        self._room.setVisible(not is_one)
        has_codes = is_one and any(box.bottle_code for box in first.visit.boxes)
        self.table.setColumnHidden(_BOTTLE, not has_codes)
        # There is room for one of them beside the box's name; the tooltip tells the window.
        self.table.setColumnHidden(_DUE, has_codes)
        self._offer(some)
        self._joining.setVisible(is_one and first.joining is not None)
        self._joins.setText(f"{joining_line(first)}.")
        self._buttons["add_joining"].setText(
            self.tr("Add {0}").format(counted(len(first.joining_boxes), "bottle"))
        )
        join = self._buttons["join"]
        join.setVisible(join_to is not None)
        if join_to is not None:
            join.setText(self.tr("With {0:%a %m-%d}").format(join_to.visit.planned_on))
            join.setToolTip(
                self.tr("Put these bottles on the visit kept for {0}").format(
                    join_to.visit.planned_on.isoformat()
                )
            )

    def _offer(self, some: Sequence[Planned]) -> None:
        """Offer what can be done with the chosen visits."""
        pressed = next((one for one in self._buttons.values() if one.hasFocus()), None)
        proposed = sum(not one.is_kept for one in some)
        open_ones = [one for one in some if one.standing in (Standing.KEPT, Standing.ISSUED)]
        to_issue = sum(one.standing is Standing.KEPT for one in some)
        keep, issue = self._buttons["keep"], self._buttons["issue"]
        joining = sum(len(one.joining_boxes) for one in some)
        # A single visit that grows has buttons of its own for that.
        keep.setVisible(proposed > 0 or (joining > 0 and len(some) > 1))
        several = self.tr("Keep {0}").format(proposed) if not joining else self.tr("Keep all")
        keep.setText(self.tr("Keep") if len(some) == 1 else several)
        self._buttons["leave_out"].setVisible(proposed > 0)
        self._buttons["move"].setVisible(len(some) == 1 and _can_move(some[0]))
        bottles = sum(one.bottles for one in some if one.standing is Standing.KEPT)
        issue.setVisible(to_issue > 0)
        issue.setText(self.tr("Issue {0}").format(counted(bottles, "bottle")))
        self._buttons["give_up"].setVisible(bool(open_ones) and not proposed)
        self._buttons["print"].setVisible(bool(open_ones))
        for key in ("add_box", "move_box", "take_off"):
            self._buttons[key].setVisible(len(some) == 1 and bool(open_ones))
        if pressed is not None and pressed.isHidden():
            # The next in line would be "Give up": what was pressed leads on to the papers.
            on = self._buttons["print"] if open_ones else self.table
            on.setFocus(Qt.FocusReason.OtherFocusReason)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for label in (*self._labels, self._joins):
            label.apply_theme(theme)


def _can_move(one: Planned) -> bool:
    """Whether a visit can still be moved."""
    return one.standing is not Standing.DONE
