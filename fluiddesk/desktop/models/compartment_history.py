"""Qt table model over the samples side by side."""

from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt
from typing_extensions import override

from fluiddesk.desktop.viewstate.compartment_history import SampleTable
from fluiddesk.services.compartment_history.facts import CompartmentHistory

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole


class SampleTableModel(QAbstractTableModel):
    """Analytes as rows, samples as columns.

    ``Qt.UserRole`` gives a cell's ``ValueCell``; of a row's header its ``TableRow``, of a column's
    header the column's lines.
    """

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._table = SampleTable()

    @property
    def table(self) -> SampleTable:
        """The cells behind the model."""
        return self._table

    def show_history(self, history: CompartmentHistory) -> None:
        """Show another box."""
        self.beginResetModel()
        self._table = SampleTable(history)
        self.endResetModel()

    @override
    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self._table.rows)

    @override
    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - as above
        return 0 if parent.isValid() else self._table.column_count

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        if self._table.is_heading(index.row()):
            return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemNeverHasChildren
        return (
            Qt.ItemFlag.ItemIsEnabled
            | Qt.ItemFlag.ItemIsSelectable
            | Qt.ItemFlag.ItemNeverHasChildren
        )

    @override
    def data(self, index: Index, role: int = Role.DisplayRole) -> Any:
        if not index.isValid():
            return None
        row, column = index.row(), index.column()
        match role:
            case Role.DisplayRole:
                return self._table.cell(row, column).text
            case Role.UserRole:
                return self._table.cell(row, column)
            case Role.AccessibleTextRole:
                return self._spoken(row, column)
            case Role.ToolTipRole:
                return self._table.tip(row, column) or None
            case _:
                return None

    def _spoken(self, row: int, column: int) -> str:
        cell, line = self._table.cell(row, column), self._table.rows[row]
        judged = f", {cell.severity.word}" if cell.severity > 0 else ""
        return f"{line.title} {cell.text} {line.unit}".rstrip() + judged

    @override
    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Role.DisplayRole
    ) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return self._row_head(section, role)
        if not 0 <= section < self._table.column_count:
            return None
        match role:
            case Role.DisplayRole:
                return self._table.head(section)
            case Role.UserRole:
                return self._table.head_lines(section)
            case Role.ToolTipRole:
                return self._table.head_tip(section)
            case _:
                return None

    def _row_head(self, section: int, role: int) -> Any:
        if not 0 <= section < len(self._table.rows):
            return None
        row = self._table.rows[section]
        match role:
            case Role.DisplayRole:
                return f"{row.title} {row.unit}".rstrip()
            case Role.UserRole:
                return row
            case Role.ToolTipRole:
                return row.series.analyte.method if row.series else None
            case _:
                return None
