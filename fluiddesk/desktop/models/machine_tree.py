"""The machine tree as a Qt model over index arrays; a line is made only when it is drawn."""

from typing import Final

from PySide6.QtCore import (
    QAbstractItemModel,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    Qt,
)
from typing_extensions import override

from fluiddesk.desktop.viewstate.machine_tree import BOX, MachineTreeState, TreeNode

Index = QModelIndex | QPersistentModelIndex
_NOWHERE: Final = QModelIndex()
_LEVELS: Final = 4

NODE_ROLE: Final = Qt.ItemDataRole.UserRole
"""A ``TreeNode``."""


class MachineTreeModel(QAbstractItemModel):
    """Sites, machines and boxes of a ``MachineTreeState``."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.state: MachineTreeState | None = None

    def show(self, state: MachineTreeState) -> None:
        """Put another fleet on screen."""
        self.beginResetModel()
        self.state = state
        self.endResetModel()

    def narrow(self, text: str) -> None:
        """Keep what meets the filter."""
        if self.state is None:
            return
        self.beginResetModel()
        self.state.narrow(text)
        self.endResetModel()

    def node_of(self, index: Index) -> tuple[int, int] | None:
        """The node at an index; ``None`` at the root."""
        if not index.isValid():
            return None
        number, level = divmod(int(index.internalId()), _LEVELS)
        return level, number

    def index_of(self, node: tuple[int, int]) -> QModelIndex:
        """The index of a node; invalid where the filter hides it."""
        if self.state is None or not self.state.shows(node):
            return QModelIndex()
        return self._index(node, self.state.row(node))

    def _index(self, node: tuple[int, int], row: int) -> QModelIndex:
        level, number = node
        return self.createIndex(row, 0, number * _LEVELS + level)

    @override
    def index(self, row: int, column: int, parent: Index = _NOWHERE) -> QModelIndex:
        if self.state is None or not self.hasIndex(row, column, parent):
            return QModelIndex()
        return self._index(self.state.child(self.node_of(parent), row), row)

    @override
    def parent(self, index: Index = _NOWHERE) -> QModelIndex:  # type: ignore[override]  # the stub knows QObject.parent() alone
        node = self.node_of(index)
        above = self.state.parent(node) if self.state and node else None
        if self.state is None or above is None:
            return QModelIndex()
        return self._index(above, self.state.row(above))

    @override
    def rowCount(self, parent: Index = _NOWHERE) -> int:
        if self.state is None or parent.column() > 0:
            return 0
        return self.state.child_count(self.node_of(parent))

    @override
    def columnCount(self, parent: Index = _NOWHERE) -> int:
        return 1

    @override
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        node = self.node_of(index)
        if self.state is None or node is None:
            return None
        match role:
            case Qt.ItemDataRole.DisplayRole:
                return self.state.node(node).text
            case Qt.ItemDataRole.UserRole:
                return self.state.node(node)
            case Qt.ItemDataRole.AccessibleTextRole | Qt.ItemDataRole.ToolTipRole:
                return _spoken(self.state.node(node))
            case _:
                return None

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        flags = super().flags(index)
        node = self.node_of(index)
        is_box = node is not None and node[0] == BOX
        return flags | Qt.ItemFlag.ItemNeverHasChildren if is_box else flags


def _spoken(node: TreeNode) -> str:
    parts = [node.text, node.note, node.severity.word]
    if node.trust:
        parts.append(f"{node.trust.word} sample")
    return ", ".join(part for part in parts if part)
