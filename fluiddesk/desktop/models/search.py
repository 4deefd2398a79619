"""The records that a search found."""

from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn
from fluiddesk.desktop.models.list_model import ListModel
from fluiddesk.services.search.facts import SearchHit


class SearchModel(ListModel[SearchHit]):
    """Hits, best first: what was found, what it is, and where it belongs."""

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Found")),
            FactColumn(title=self.tr("What it is")),
            FactColumn(title=self.tr("Where")),
        )

    @override
    def cell(self, row: int, column: int) -> str:
        one = self.rows[row]
        return (one.found, one.kind.words, one.place)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column > 0
