"""The machine tree at the left: sites, machines, compartments with their worst mark."""

from PySide6.QtCore import QEvent, QModelIndex, QObject, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QHelpEvent, QKeyEvent, QPalette
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QTreeView, QVBoxLayout, QWidget
from typing_extensions import override

from fluiddesk.desktop.models.machine_tree import MachineTreeModel
from fluiddesk.desktop.theme import GAP, STEP, Theme
from fluiddesk.desktop.viewstate.machine_tree import MACHINE, SITE, MachineTreeState
from fluiddesk.desktop.widgets.row_tip import show_beside_row
from fluiddesk.desktop.widgets.tree_line import TreeLine
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.fleet_condition import FleetCondition

_MILLISECONDS_AFTER_TYPING = 120
_OPENED_WHEN_NARROWED = 40
"""So many machines or fewer are unfolded by a filter, so that their boxes are seen at once."""

_SITES_OPENED_UP_TO = 400
"""With more machines the sites stay folded: laying out thousands of lines holds up the screen."""


class TipTree(QTreeView):
    """A tree whose tooltips stand beside the line they tell of.

    Signals:
        enter_pressed: the ``QModelIndex`` that Enter was pressed on.
    """

    enter_pressed = Signal(QModelIndex)

    @override
    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.enter_pressed.emit(self.currentIndex())
        else:
            super().keyPressEvent(event)

    @override
    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() is QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            index = self.indexAt(event.pos())
            tip = str(index.data(Qt.ItemDataRole.ToolTipRole) or "") if index.isValid() else ""
            show_beside_row(self, tip, self.visualRect(index), event.globalPos())
            return True
        return super().viewportEvent(event)


class MachineTreeScreen(QWidget):
    """Where to look up a machine and open one of its boxes.

    Signals:
        box_opened: the ``CompartmentId`` whose page is asked for.
    """

    box_opened = Signal(object)

    def __init__(
        self, catalogue: Catalogue, *, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._catalogue = catalogue
        self._model = MachineTreeModel(self)
        self._open_machines: set[bytes] = set()
        self.filter = QLineEdit(self)
        self.filter.setPlaceholderText(self.tr("Find a machine"))
        self.filter.setAccessibleName(self.tr("Find a machine"))
        self.filter.setClearButtonEnabled(True)
        self.filter.installEventFilter(self)
        self.tree = TipTree(self)
        self._none_left = QLabel(self.tr("No machine found."), self)
        self._none_left.setMargin(GAP)
        self._none_left.hide()
        self._line = TreeLine(theme, self.tree)
        self._pause = QTimer(self, singleShot=True, interval=_MILLISECONDS_AFTER_TYPING)
        self._set_up_tree()
        column = QVBoxLayout(self)
        column.setContentsMargins(GAP, GAP, 0, 0)
        search = QHBoxLayout()
        search.setContentsMargins(0, 0, GAP, 0)
        search.addWidget(self.filter)
        column.setSpacing(STEP)
        column.addLayout(search)
        column.addWidget(self._none_left)
        column.addWidget(self.tree, 1)
        self.filter.textChanged.connect(self._pause.start)
        self.filter.returnPressed.connect(self._narrow_now)
        self._pause.timeout.connect(self._narrow)
        self.apply_theme(theme)

    def _set_up_tree(self) -> None:
        self.tree.setModel(self._model)
        self.tree.setItemDelegate(self._line)
        self.tree.setHeaderHidden(True)
        self.tree.header().setAccessibleName(self.tr("Machines"))
        self.tree.setUniformRowHeights(True)
        self.tree.setIndentation(14)
        self.tree.setAccessibleName(self.tr("Machines and their compartments"))
        self.tree.expanded.connect(lambda index: self._note_folding(index, is_open=True))
        self.tree.collapsed.connect(lambda index: self._note_folding(index, is_open=False))
        self.tree.clicked.connect(self._open)
        self.tree.activated.connect(self._open)
        self.tree.enter_pressed.connect(self._enter)

    def apply_theme(self, theme: Theme) -> None:
        """Draw in the colours of another theme."""
        self._line.theme = theme
        palette = self.palette()
        palette.setColor(QPalette.ColorRole.Window, QColor(theme.colors.raised))
        palette.setColor(QPalette.ColorRole.Base, QColor(theme.colors.raised))
        self.setPalette(palette)
        self.setAutoFillBackground(True)
        self.tree.setStyleSheet(f"QTreeView {{ background: {theme.colors.raised}; }}")
        self.tree.viewport().update()

    def show_facts(self, facts: FleetCondition) -> None:
        """Put a fleet on screen; what was unfolded and chosen stays so."""
        state = MachineTreeState(facts, self._catalogue)
        state.narrow(self.filter.text())
        chosen = self._chosen_box()
        self._model.show(state)
        self._unfold()
        self._unfold_again()
        if chosen is not None:
            self.point_to(chosen)

    def point_to(self, compartment: bytes) -> None:
        """Unfold down to a box and put the keys' place on it."""
        node = self._model.state.box_node(compartment) if self._model.state else None
        index = self._model.index_of(node) if node is not None else QModelIndex()
        if index.isValid():
            self.tree.setCurrentIndex(index)
            self.tree.scrollTo(index)

    def _chosen_box(self) -> bytes | None:
        node = self._model.node_of(self.tree.currentIndex())
        return self._model.state.compartment(node) if self._model.state and node else None

    def _note_folding(self, index: QModelIndex, *, is_open: bool) -> None:
        node = self._model.node_of(index)
        if self._model.state is None or node is None or node[0] != MACHINE:
            return
        change = self._open_machines.add if is_open else self._open_machines.discard
        change(self._model.state.machine_id(node))

    def _unfold_again(self) -> None:
        state = self._model.state
        for machine in tuple(self._open_machines):
            node = state.machine_node(machine) if state else None
            if node is not None:
                self.tree.expand(self._model.index_of(node))

    def _narrow_now(self) -> None:
        self._narrow()
        self.tree.setFocus(Qt.FocusReason.TabFocusReason)
        self._mark_first_found()

    def _mark_first_found(self) -> None:
        """Put the keys' place on the first machine that was found, else on the first line."""
        first = self._model.index(0, 0)
        machine = self._model.index(0, 0, first) if self.filter.text() else QModelIndex()
        if first.isValid():
            self.tree.setCurrentIndex(machine if machine.isValid() else first)

    @override
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        is_down = (
            watched is self.filter
            and event.type() is QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and event.key() == Qt.Key.Key_Down
        )
        if is_down:
            self._narrow_now()
            return True
        return super().eventFilter(watched, event)

    def _narrow(self) -> None:
        self._pause.stop()
        self._model.narrow(self.filter.text())
        self._unfold()

    def _unfold(self) -> None:
        state = self._model.state
        if state is None:
            return
        self._none_left.setVisible(not state.machines_shown and len(state.condition) > 0)
        is_narrow = bool(self.filter.text()) and state.machines_shown <= _OPENED_WHEN_NARROWED
        if is_narrow:
            self.tree.expandAll()
        elif state.machines_shown <= _SITES_OPENED_UP_TO:
            self.tree.expandToDepth(SITE)

    def _open(self, index: QModelIndex) -> None:
        node = self._model.node_of(index)
        compartment = self._model.state.compartment(node) if self._model.state and node else None
        if compartment is not None:
            self.box_opened.emit(compartment)

    def _enter(self, index: QModelIndex) -> None:
        """Open a box, or the worst box of a machine; fold or unfold a site."""
        node = self._model.node_of(index)
        state = self._model.state
        if state is None or node is None:
            return
        if node[0] == MACHINE:
            self.box_opened.emit(state.compartment(state.worst_box_node(node)))
        elif node[0] == SITE:
            self.tree.setExpanded(index, not self.tree.isExpanded(index))
        else:
            self._open(index)
