"""Visits on a time bar, with the chosen one beside it."""

from collections.abc import Callable, Mapping, Sequence
from typing import Final, Protocol

from PySide6.QtCore import QAbstractItemModel, Qt, Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QPushButton,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from fluiddesk.desktop.theme import GAP, MARGIN, STEP, Theme
from fluiddesk.desktop.viewstate.round_plan import RoundPlan
from fluiddesk.desktop.viewstate.sampling_words import counted, left_behind_line, to_keep
from fluiddesk.desktop.widgets.quiet_label import QuietLabel
from fluiddesk.desktop.widgets.visit_board import VisitBoard
from fluiddesk.desktop.widgets.visit_moves import VisitMoves
from fluiddesk.desktop.widgets.visit_panel import VisitPanel
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.services.visits.facts import VisitBox
from fluiddesk.services.visits.plan import USUAL_DAYS, PlanWishes

_PANEL_WIDTH: Final = 396
_SITE_WIDTH: Final = 224
_AHEAD: Final = (7, 14, 21, 28)


class BoxLines(Protocol):
    """The table of a visit's bottles."""

    def show(self, boxes: Sequence[VisitBox]) -> None:
        """Show these bottles."""

    def box(self, row: int) -> VisitBox | None:
        """The bottle in a row."""


class VisitsView(QWidget):
    """Lays visits out and moves them.

    Signals:
        wishes_changed: the plan is wanted otherwise.
        site_chosen: the name of a site, "" for all.
        asked: what a button of the panel or the bar stands for.
        box_opened: the identifier of a box to open.
        box_asked: (what, the visit, its chosen bottle or ``None``).
    """

    wishes_changed = Signal()
    site_chosen = Signal(str)
    asked = Signal(str)
    box_opened = Signal(object)
    box_asked = Signal(str, object, object)

    def __init__(
        self,
        boxes: BoxLines,
        box_model: QAbstractItemModel,
        moves: VisitMoves,
        *,
        theme: Theme,
        kind_name: Callable[[str], str],
    ) -> None:
        super().__init__()
        self._boxes, self._moves = boxes, moves
        self._plan: RoundPlan | None = None
        self.site = QComboBox()
        self.site.setFixedWidth(_SITE_WIDTH)
        self.site.setAccessibleName(self.tr("Site shown"))
        self.ahead = QComboBox()
        self.ahead.setAccessibleName(self.tr("How far the plan reaches"))
        for days in _AHEAD:
            self.ahead.addItem(self.tr("{0} days ahead").format(days), days)
        self.ahead.setCurrentIndex(_AHEAD.index(USUAL_DAYS))
        self.weekends = QCheckBox(self.tr("Weekends too"))
        self.undo_button = QPushButton(self.tr("Undo"))
        self.redo_button = QPushButton(self.tr("Redo"))
        self.keep_all = QPushButton()
        self.board = VisitBoard(theme, kind_name=kind_name)
        self.panel = VisitPanel(box_model, theme=theme, kind_name=kind_name)
        self._legend = QuietLabel(
            "small",
            theme,
            self.tr(
                "Each visit shows its bottles; the line behind it are the days when all their "
                "windows are open. Dashed: proposed. Tinted: kept. Full: issued. 4+2: two join a "
                "kept visit. Boxed hours: more work than the crew has. Left and Right move a "
                "visit, Ctrl+Z takes it back."
            ),
        )
        self._behind = QuietLabel("body", theme)
        self._behind.setWordWrap(True)
        self.move_on = QPushButton()
        self._none = QuietLabel("body", theme)
        self._none.setWordWrap(True)
        self._lay_out()
        self._connect()

    def _lay_out(self) -> None:
        top = QHBoxLayout()
        top.setSpacing(GAP)
        for part in (self.site, self.ahead, self.weekends):
            top.addWidget(part)
        top.addStretch(1)
        for button in (self.undo_button, self.redo_button, self.keep_all):
            button.setAutoDefault(True)
            top.addWidget(button)
        for button in (self.undo_button, self.redo_button):
            button.setEnabled(False)
        self._split = QSplitter(Qt.Orientation.Horizontal)
        right = QWidget()
        inside = QVBoxLayout(right)
        inside.setContentsMargins(MARGIN, 0, 0, 0)
        inside.addWidget(self.panel, 1)
        inside.addStretch(0)
        self._split.addWidget(self.board)
        self._split.addWidget(right)
        self._split.setHandleWidth(1)
        self._split.setChildrenCollapsible(False)
        self._split.setStretchFactor(0, 1)
        self._split.setSizes([10 * _PANEL_WIDTH, _PANEL_WIDTH])
        right.setMinimumWidth(_PANEL_WIDTH)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP + STEP)
        column.addLayout(top)
        column.addWidget(self._behind_line())
        column.addWidget(self._split, 1)
        column.addWidget(self._none, 1, Qt.AlignmentFlag.AlignTop)
        column.addWidget(self._legend)

    def _behind_line(self) -> QWidget:
        """Which kept visits have passed undone, and one act for all of them."""
        self._passed = QWidget()
        row = QHBoxLayout(self._passed)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(GAP)
        row.addWidget(self._behind, 1)
        self.move_on.setAutoDefault(True)
        row.addWidget(self.move_on, 0, Qt.AlignmentFlag.AlignTop)
        self._passed.hide()
        return self._passed

    def _connect(self) -> None:
        stack = self._moves.undo_stack
        stack.canUndoChanged.connect(self.undo_button.setEnabled)
        stack.canRedoChanged.connect(self.redo_button.setEnabled)
        self.undo_button.clicked.connect(stack.undo)
        self.redo_button.clicked.connect(stack.redo)
        self.keep_all.clicked.connect(lambda: self.asked.emit("keep_all"))
        self.move_on.clicked.connect(lambda: self.asked.emit("move_on"))
        self.site.activated.connect(lambda _: self.site_chosen.emit(self.site_shown))
        self.ahead.activated.connect(lambda _: self.wishes_changed.emit())
        self.weekends.clicked.connect(lambda _: self.wishes_changed.emit())
        self.board.chosen_changed.connect(self._show_chosen)
        self.board.move_asked.connect(self._moves.move)
        self.board.opened.connect(self.panel.focus_first)
        self.panel.asked.connect(self.asked)
        self.panel.box_opened.connect(self._open_box)
        self.panel.box_asked.connect(self._ask_box)
        self._moves.moved.connect(self._moved)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme."""
        for part in (self.board, self.panel, self._legend, self._behind, self._none):
            part.apply_theme(theme)

    # --- showing ----------------------------------------------------------------------------

    @property
    def wishes(self) -> PlanWishes:
        """How the plan is wanted."""
        return PlanWishes(days=self.ahead.currentData(), works_weekends=self.weekends.isChecked())

    @property
    def site_shown(self) -> str:
        """The site shown alone; "" for all."""
        return str(self.site.currentData() or "")

    def show_sites(self, sites: Mapping[SiteId, str]) -> None:
        """Offer the sites, keeping the one that is shown."""
        shown = self.site_shown
        self.site.clear()
        self.site.addItem(self.tr("All sites"), "")
        for name in sorted(sites.values()):
            self.site.addItem(name, name)
        self.site.setCurrentIndex(max(0, self.site.findData(shown)))

    def show_plan(self, plan: RoundPlan, *, nothing: str) -> None:
        """Show a plan; ``nothing`` is said where it holds no visit."""
        self._plan = plan
        has_visits = bool(plan.visits)
        self._split.setVisible(has_visits)
        self._legend.setVisible(has_visits)
        self._none.setVisible(not has_visits)
        self._none.setText(nothing)
        wanted = (*plan.proposed, *plan.growing)
        self.keep_all.setVisible(bool(wanted))
        self.keep_all.setText(self.tr("Keep {0}").format(to_keep(wanted)))
        self._show_left_behind(plan)
        self.board.show_plan(plan)
        self._show_chosen()

    def _show_left_behind(self, plan: RoundPlan) -> None:
        late = plan.left_behind
        self._passed.setVisible(bool(late))
        self._behind.setText(left_behind_line(late))
        self.move_on.setText(self.tr("Move {0} on").format(counted(len(late), "visit")))
        self.move_on.setToolTip(
            self.tr("To the next working days on which their crews have time; labels stay valid")
        )

    def _show_chosen(self) -> None:
        if self._plan is None:
            return
        some = self._plan.chosen(self.board.chosen)
        join_to = self._plan.kept_visit_to(some[0]) if len(some) == 1 else None
        self.panel.show_visits(some, join_to=join_to)
        one = some[0] if len(some) == 1 else None
        self._boxes.show(() if one is None else (*one.visit.boxes, *one.joining_boxes))

    def _moved(self, key: bytes) -> None:
        if self._plan is None:
            return
        self.board.show_plan(self._plan)
        self._show_left_behind(self._plan)
        if key and key not in self.board.chosen:
            self.board.choose(key)
        self._show_chosen()

    def _open_box(self, row: int) -> None:
        box = self._boxes.box(row)
        if box is not None:
            self.box_opened.emit(CompartmentId(box.compartment_id))

    def _ask_box(self, key: str) -> None:
        one = None if self._plan is None else self._plan.visit(self.board.current)
        if one is not None:
            box = self._boxes.box(self.panel.table.currentIndex().row())
            self.box_asked.emit(key, one, box)
