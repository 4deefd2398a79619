"""Tables that show a list whole, and tables over one view state."""

from collections.abc import Sequence
from typing import Generic, TypeVar

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactModel
from fluiddesk.desktop.theme import Theme

Row = TypeVar("Row")
State = TypeVar("State")


class ListModel(FactModel, Generic[Row]):
    """A plain list, shown whole."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self.rows: Sequence[Row] = ()

    def show(self, rows: Sequence[Row]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def line(self, row: int) -> Row | None:
        """What a row shows."""
        return self.rows[row] if 0 <= row < len(self.rows) else None

    @override
    def length(self) -> int:
        return len(self.rows)


class SteadyListModel(ListModel[Row]):
    """A list whose selection stays while as many rows are shown as before."""

    @override
    def show(self, rows: Sequence[Row]) -> None:
        if len(rows) == len(self.rows) and rows:
            self.rows = rows
            self.show_again()
        else:
            super().show(rows)


class StateModel(FactModel, Generic[State]):
    """A table over a view state, which there may be none of yet."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._state: State | None = None

    @property
    def state(self) -> State | None:
        """The view state, once there is one."""
        return self._state

    def show_state(self, state: State | None) -> None:
        """Show another view state, or none."""
        self.beginResetModel()
        self._state = state
        self.endResetModel()

    @property
    def _shown(self) -> State:
        if self._state is None:
            message = "nothing was read yet"
            raise LookupError(message)
        return self._state
