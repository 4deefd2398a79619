"""The traffic view as a Qt table: a row a machine, a column a compartment kind."""

from typing import Final

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt
from typing_extensions import override

from fluiddesk.desktop.viewstate.fleet_condition import FleetFilter, FleetMatrix, RowOrder
from fluiddesk.services.catalogue import Catalogue

Index = QModelIndex | QPersistentModelIndex
_NOWHERE: Final = QModelIndex()

CELL_ROLE: Final = Qt.ItemDataRole.UserRole
"""A tuple of ``BoxCell``; of the vertical header, a ``MachineHead``."""


class FleetConditionModel(QAbstractTableModel):
    """Shows what a ``FleetMatrix`` has in view."""

    def __init__(self, catalogue: Catalogue, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._catalogue = catalogue
        self.matrix: FleetMatrix | None = None

    def show(self, matrix: FleetMatrix) -> None:
        """Put another fleet on screen."""
        self.beginResetModel()
        self.matrix = matrix
        self.endResetModel()

    def arrange(
        self,
        chosen: FleetFilter | None = None,
        *,
        order: RowOrder | None = None,
        kind: str | None = None,
    ) -> None:
        """Filter and order anew."""
        if self.matrix is None:
            return
        self.beginResetModel()
        self.matrix.arrange(chosen, order=order, kind=kind)
        self.endResetModel()

    @override
    def rowCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() or self.matrix is None else self.matrix.shape[0]

    @override
    def columnCount(self, parent: Index = _NOWHERE) -> int:
        return 0 if parent.isValid() or self.matrix is None else self.matrix.shape[1]

    @override
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if self.matrix is None or not index.isValid():
            return None
        row, column = index.row(), index.column()
        match role:
            case Qt.ItemDataRole.UserRole:
                return self.matrix.cell(row, column)
            case Qt.ItemDataRole.DisplayRole:
                return self.matrix.plain_cell(row, column)
            case Qt.ItemDataRole.AccessibleTextRole:
                boxes = self.matrix.boxes(row, column)
                told = " ".join(self.matrix.sentence(int(box)) for box in boxes)
                return told or self._empty_cell(self.matrix, row, column)
            case Qt.ItemDataRole.ToolTipRole:
                boxes = self.matrix.boxes(row, column)
                return "\n".join(self.matrix.sentence(int(box)) for box in boxes) or None
            case _:
                return None

    def _empty_cell(self, matrix: FleetMatrix, row: int, column: int) -> str:
        kind = self._catalogue.kind_name(matrix.kind_at(column))
        return self.tr("{0} has no {1}").format(matrix.head(row).code, kind.lower())

    @override
    def headerData(
        self,
        section: int,
        orientation: Qt.Orientation,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        if self.matrix is None:
            return None
        if orientation is Qt.Orientation.Horizontal:
            return self._column_head(self.matrix.kind_at(section), role)
        head = self.matrix.head(section)
        match role:
            case Qt.ItemDataRole.UserRole:
                return head
            case Qt.ItemDataRole.DisplayRole:
                return head.code
            case Qt.ItemDataRole.ToolTipRole | Qt.ItemDataRole.AccessibleTextRole:
                model = f", {head.model}" if head.model else ""
                return f"{head.code}, {head.kind}{model}, {head.site}: {head.severity.word}"
            case _:
                return None

    def _column_head(self, code: str, role: int) -> object:
        kind = self._catalogue.compartment_kinds.get(code)
        match role:
            case Qt.ItemDataRole.DisplayRole:
                return kind.short if kind else self._catalogue.kind_name(code)
            case Qt.ItemDataRole.ToolTipRole | Qt.ItemDataRole.AccessibleTextRole:
                return self._catalogue.kind_name(code)
            case Qt.ItemDataRole.TextAlignmentRole:
                return Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
            case _:
                return None
