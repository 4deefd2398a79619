"""Tables of samples outside the plan: a list of them, and what was measured of a fluid."""

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.outside_plan import OutsideLine

Cells = tuple[str, str, str, str]


class OutsideModel(FactModel):
    """Samples of boxes, samples of fluids, or spare labels."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._lines: tuple[OutsideLine, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Bottle")),
            FactColumn(title=self.tr("What it is")),
            FactColumn(title=self.tr("Of")),
            FactColumn(title=self.tr("Drawn on")),
            FactColumn(title=self.tr("State")),
        )

    def show(self, lines: tuple[OutsideLine, ...]) -> None:
        """Show these lines."""
        self.beginResetModel()
        self._lines = lines
        self.endResetModel()

    def line(self, row: int) -> OutsideLine | None:
        """The line in a row."""
        return self._lines[row] if 0 <= row < len(self._lines) else None

    def row_of(self, bottle: str) -> int:
        """The row of a bottle; -1 where it is not shown."""
        return next((n for n, one in enumerate(self._lines) if one.bottle == bottle), -1)

    @override
    def length(self) -> int:
        return len(self._lines)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._lines[row]
        return (one.bottle, one.what, one.of, one.drawn_on, one.state)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (1, 3)


class FluidValueModel(FactModel):
    """What was measured of a fluid, beside what it reads unused."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._rows: tuple[Cells, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Test")),
            FactColumn(title=self.tr("Measured"), is_number=True),
            FactColumn(title=self.tr("Unit")),
            FactColumn(
                title=self.tr("Reference"),
                is_number=True,
                tip=self.tr("What the fluid reads unused, by the reference in force that day"),
            ),
        )

    def show(self, rows: tuple[Cells, ...]) -> None:
        """Show these values."""
        self.beginResetModel()
        self._rows = rows
        self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._rows)

    @override
    def cell(self, row: int, column: int) -> str:
        return self._rows[row][column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (2, 3)
