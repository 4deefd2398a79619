"""Below the limits: the chosen limit, one box, the versions, problems, and who moved."""

from collections.abc import Sequence
from enum import StrEnum
from typing import Final

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QHBoxLayout,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.models.limit_lists import MoveModel, ProblemModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.limit_box import BoxLimitsView
from fluiddesk.desktop.widgets.limit_details import LimitDetails
from fluiddesk.desktop.widgets.limit_history import LimitHistory
from fluiddesk.desktop.widgets.limit_row_editor import RowEditor
from fluiddesk.desktop.widgets.severity_move import MOVE_WIDTH, SeverityMoveDelegate
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.limit_rules.facts import RuleProblem, WhatIfMove

_MOVES_WIDTHS: Final = {0: 232, 1: MOVE_WIDTH}
_PROBLEM_WIDTHS: Final = {0: 208, 3: 72}


class Leaf(StrEnum):
    """What the foot shows."""

    LIMIT = "limit"
    EDIT = "edit"
    BOX = "box"
    VERSIONS = "versions"
    PROBLEMS = "problems"
    MOVED = "moved"


class LimitFoot(QWidget):
    """Turns between its leaves.

    Signals:
        turned: the ``Leaf`` that is now in view.
        problem_opened: Enter on a problem.
        box_opened: Enter on a box that moved: its identifier.
    """

    turned = Signal(object)
    problem_opened = Signal(object)
    box_opened = Signal(object)

    def __init__(self, catalogue: Catalogue, *, theme: Theme) -> None:
        super().__init__()
        self.details = LimitDetails(theme)
        self.editor = RowEditor(catalogue, theme=theme)
        self.box = BoxLimitsView(catalogue, theme=theme)
        self.history = LimitHistory(catalogue, theme=theme)
        self._problems = ProblemModel(theme=theme, parent=self)
        self.problem_table = FactTable(self._problems, name=self.tr("Problems of the set"))
        self.problem_table.set_widths(_PROBLEM_WIDTHS)
        self.problem_table.share_room(1, 2)
        self._moves = MoveModel(theme=theme, parent=self)
        self.move_table = FactTable(self._moves, name=self.tr("Boxes that moved"))
        self.move_table.set_widths(_MOVES_WIDTHS)
        self._marks = SeverityMoveDelegate(theme, self)
        self.move_table.setItemDelegateForColumn(1, self._marks)
        self._stack = QStackedWidget()
        self._group = QButtonGroup(self)
        self._leaves = {
            Leaf.LIMIT: (self.tr("Chosen row"), self.details),
            Leaf.EDIT: (self.tr("Edit the row"), self.editor),
            Leaf.BOX: (self.tr("What holds for a box"), self.box),
            Leaf.VERSIONS: (self.tr("Versions"), self.history),
            Leaf.PROBLEMS: (self.tr("Problems"), self.problem_table),
            Leaf.MOVED: (self.tr("Who moved"), self.move_table),
        }
        self._lay_out()
        self.problem_table.row_opened.connect(
            lambda row: self.problem_opened.emit(self._problems.rows[row])
        )
        self.move_table.row_opened.connect(
            lambda row: self.box_opened.emit(self._moves.rows[row].compartment_id)
        )

    def _lay_out(self) -> None:
        names = QHBoxLayout()
        names.setContentsMargins(GAP, GAP, 0, 0)
        names.setSpacing(STEP)
        for number, (leaf, (words, page)) in enumerate(self._leaves.items()):
            button = QPushButton(words)
            button.setCheckable(True)
            button.clicked.connect(lambda _=False, leaf=leaf: self.turn_to(leaf))
            self._group.addButton(button, number)
            names.addWidget(button)
            self._stack.addWidget(page)
        names.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addLayout(names)
        column.addWidget(self._stack, 1)
        self._group.button(0).setChecked(True)
        self._button(Leaf.EDIT).setToolTip(
            self.tr("Boundary, companion, needs, fluid class, note (F4; Esc leads back)")
        )
        for leaf in (Leaf.EDIT, Leaf.PROBLEMS, Leaf.MOVED):
            self._button(leaf).hide()

    def _button(self, leaf: Leaf) -> QPushButton:
        button = self._group.button(list(self._leaves).index(leaf))
        if not isinstance(button, QPushButton):
            raise TypeError(leaf)
        return button

    @property
    def leaf(self) -> Leaf:
        """What is in view."""
        return list(self._leaves)[self._group.checkedId()]

    def turn_to(self, leaf: Leaf) -> None:
        """Bring a leaf into view."""
        self.show()
        button = self._button(leaf)
        button.show()
        button.setChecked(True)
        self._stack.setCurrentWidget(self._leaves[leaf][1])
        self.turned.emit(leaf)

    def offer_editor(self, *, is_offered: bool) -> None:
        """Offer the row editor beside a draft alone."""
        self._button(Leaf.EDIT).setVisible(is_offered)
        if not is_offered and self.leaf is Leaf.EDIT:
            self.turn_to(Leaf.LIMIT)

    def show_problems(self, problems: Sequence[RuleProblem]) -> None:
        """List what is wrong with the set; with nothing wrong the leaf goes away."""
        self._problems.show(problems)
        self._button(Leaf.PROBLEMS).setVisible(bool(problems))
        words = self.tr("Problems ({0})").format(len(problems))
        self._button(Leaf.PROBLEMS).setText(words)
        if problems:
            self.turn_to(Leaf.PROBLEMS)
            self.problem_table.choose(0)
        elif self.leaf is Leaf.PROBLEMS:
            self.turn_to(Leaf.LIMIT)

    @property
    def problems(self) -> tuple[RuleProblem, ...]:
        """The problems listed."""
        return tuple(self._problems.rows)

    def show_moved(self, moves: Sequence[WhatIfMove]) -> None:
        """List the boxes that moved when a set took force."""
        self._moves.show(moves)
        self._button(Leaf.MOVED).setText(self.tr("Who moved ({0})").format(len(moves)))
        self.turn_to(Leaf.MOVED)

    @property
    def moved(self) -> tuple[WhatIfMove, ...]:
        """The boxes listed as moved."""
        return tuple(self._moves.rows)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        self._marks.theme = theme
        for part in (
            self.details,
            self.editor,
            self.box,
            self.history,
            self._problems,
            self._moves,
        ):
            part.apply_theme(theme)
