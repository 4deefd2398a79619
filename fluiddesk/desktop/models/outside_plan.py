"""Tables of samples outside the plan: a list of them, and what was measured of a fluid."""

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import ListModel
from fluiddesk.desktop.viewstate.outside_plan import OutsideLine

Cells = tuple[str, str, str, str]


class OutsideModel(ListModel[OutsideLine]):
    """Samples of boxes, samples of fluids, or spare labels."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Bottle")),
            FactColumn(title=self.tr("What it is")),
            FactColumn(title=self.tr("Of")),
            FactColumn(title=self.tr("Drawn on")),
            FactColumn(title=self.tr("State")),
        )

    def row_of(self, bottle: str) -> int:
        """The row of a bottle; -1 where it is not shown."""
        return next((n for n, one in enumerate(self.rows) if one.bottle == bottle), -1)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.bottle, one.what, one.of, one.drawn_on, one.state)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (1, 3)


class FluidValueModel(ListModel[Cells]):
    """What was measured of a fluid, beside what it reads unused."""

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

    @override
    def cell(self, row: int, column: int) -> str:
        return self.rows[row][column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (2, 3)
