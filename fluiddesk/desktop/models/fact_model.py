"""A read-only table of texts over plain view state; each subject fills in its cells."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtGui import QColor
from typing_extensions import override

from fluiddesk.desktop.theme import Theme

Index = QModelIndex | QPersistentModelIndex
Role = Qt.ItemDataRole


@dataclass(frozen=True, slots=True, kw_only=True)
class FactColumn:
    """The head of a column; numbers stand at the right."""

    title: str
    is_number: bool = False
    tip: str = ""


class FactModel(QAbstractTableModel):
    """Rows of texts with a tooltip, faint cells, heading rows and one plain value per cell.

    The plain value (``Qt.UserRole``) is what delegates draw marks and rulers from.
    """

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._columns = self.heads()
        self._theme = theme

    def heads(self) -> tuple[FactColumn, ...]:
        """The columns, in display order."""
        raise NotImplementedError

    def length(self) -> int:
        """How many rows there are."""
        raise NotImplementedError

    def cell(self, row: int, column: int) -> str:
        """What one cell says."""
        raise NotImplementedError

    def value(self, row: int, column: int) -> object:
        """The plain value that a delegate draws from."""
        return None

    def tip(self, row: int, column: int) -> str:
        """The tooltip of a cell: its full text, unless a subject has more to say."""
        return self.cell(row, column)

    def is_faint(self, row: int, column: int) -> bool:
        """Whether a cell is written in faint ink."""
        return False

    def is_heading(self, row: int) -> bool:
        """Whether a row is a heading across all columns, which cannot be selected."""
        return False

    def apply_theme(self, theme: Theme) -> None:
        """Draw in another theme from now on."""
        self._theme = theme
        self.show_again()

    def show_again(self) -> None:
        """Draw every row anew: what they say has changed, the rows have not."""
        if self.length():
            corner = self.index(self.length() - 1, len(self._columns) - 1)
            self.dataChanged.emit(self.index(0, 0), corner)

    @override
    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else self.length()

    @override
    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - as above
        return 0 if parent.isValid() else len(self._columns)

    @override
    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.NoItemFlags
        if self.is_heading(index.row()):
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
            case Role.DisplayRole | Role.AccessibleTextRole:
                return self.cell(row, column)
            case Role.ToolTipRole:
                return self.tip(row, column) or None
            case Role.UserRole:
                return self.value(row, column)
            case _:
                return self._look(row, column, role)

    def _look(self, row: int, column: int, role: int) -> Any:
        if role == Role.TextAlignmentRole:
            return self._alignment(column)
        heading = self.is_heading(row)
        if role == Role.FontRole and heading:
            return self._theme.small_strong
        if role == Role.ForegroundRole and (heading or self.is_faint(row, column)):
            return QColor(self._theme.colors.faint_ink)
        return None

    @override
    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Role.DisplayRole
    ) -> Any:
        if orientation != Qt.Orientation.Horizontal or not 0 <= section < len(self._columns):
            return None
        match role:
            case Role.DisplayRole:
                return self._columns[section].title
            case Role.ToolTipRole:
                return self._columns[section].tip or None
            case Role.TextAlignmentRole:
                return self._alignment(section)
            case Role.FontRole:
                return self._theme.small
            case _:
                return None

    def _alignment(self, column: int) -> Qt.AlignmentFlag:
        side = (
            Qt.AlignmentFlag.AlignRight
            if self._columns[column].is_number
            else (Qt.AlignmentFlag.AlignLeft)
        )
        return side | Qt.AlignmentFlag.AlignVCenter

    def _move_persistent(self, before: Sequence[Hashable], after: Sequence[Hashable]) -> None:
        """Lead selections and the current cell along when rows were only put in another order."""
        places = {row: place for place, row in enumerate(after)}
        held = self.persistentIndexList()
        moved = [self.index(places[before[one.row()]], one.column()) for one in held]
        self.changePersistentIndexList(held, moved)
