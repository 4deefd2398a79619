"""The table of past results: what the laboratory printed, and whose it may be."""

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import ListModel
from fluiddesk.desktop.viewstate.past_results import PastLine


class PastModel(ListModel[PastLine]):
    """Rows of a file under preview, or rows that wait."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Row"), is_number=True),
            FactColumn(title=self.tr("Machine printed")),
            FactColumn(title=self.tr("Compartment printed")),
            FactColumn(title=self.tr("Sampled on")),
            FactColumn(title=self.tr("Most likely")),
            FactColumn(title=self.tr("State or file")),
            FactColumn(title=self.tr("Why it is not sure")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.row, one.machine, one.compartment, one.sampled_on, one.match, one.fate,
                one.why)[column]  # fmt: skip

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (0, 6)
