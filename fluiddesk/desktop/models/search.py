"""The records that a search found."""

from PySide6.QtCore import QObject
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.services.search.facts import SearchHit


class SearchModel(FactModel):
    """Hits, best first: what was found, what it is, and where it belongs."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._hits: tuple[SearchHit, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Found")),
            FactColumn(title=self.tr("What it is")),
            FactColumn(title=self.tr("Where")),
        )

    def show(self, hits: tuple[SearchHit, ...]) -> None:
        """Show these hits."""
        self.beginResetModel()
        self._hits = hits
        self.endResetModel()

    def hit(self, row: int) -> SearchHit | None:
        """The hit in a row."""
        return self._hits[row] if 0 <= row < len(self._hits) else None

    @override
    def length(self) -> int:
        return len(self._hits)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._hits[row]
        return (one.found, one.kind.words, one.place)[column]

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column > 0
