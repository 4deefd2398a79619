"""Tables of the chance to catch a fault: by group, and box by box."""

from PySide6.QtCore import QObject, Qt
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.models.sampling import CellsModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.catch_chances import BoxColumn, ChanceBoxes


def chance_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of chances by group."""
    sooner = parent.tr("Median of its boxes: from drawing to the answer being known here")
    heads = (
        FactColumn(title=parent.tr("Group")),
        FactColumn(
            title=parent.tr("Boxes"),
            is_number=True,
            tip=parent.tr("With an interval, on a machine that runs"),
        ),
        FactColumn(title=parent.tr("Answer, days"), is_number=True, tip=sooner),
        FactColumn(title=parent.tr("Days known from")),
        FactColumn(
            title=parent.tr("Chance, %"),
            is_number=True,
            tip=parent.tr("That a fault is told before it becomes a failure; mean of the boxes"),
        ),
        FactColumn(
            title=parent.tr("Lowest tenth, %"),
            is_number=True,
            tip=parent.tr("Nine of ten boxes have more"),
        ),
        FactColumn(
            title=parent.tr("Below 50 %"),
            is_number=True,
            tip=parent.tr("Boxes where a fault is likelier missed than caught"),
        ),
        FactColumn(title=parent.tr("Bottles a year"), is_number=True),
        FactColumn(title=parent.tr("Then, %"), is_number=True),
        FactColumn(title=parent.tr("Then below 50 %"), is_number=True),
        FactColumn(title=parent.tr("Then bottles"), is_number=True),
    )
    return CellsModel(heads, theme=theme, parent=parent)


class ChanceBoxModel(FactModel):
    """Boxes with their chance, in the order of a ``ChanceBoxes``."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._boxes: ChanceBoxes | None = None
        self._sort: tuple[int, bool] | None = None

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Box")),
            FactColumn(title=self.tr("Machine")),
            FactColumn(title=self.tr("Site")),
            FactColumn(
                title=self.tr("Interval, h"),
                is_number=True,
                tip=self.tr("Running hours between samples, at the pace it runs"),
            ),
            FactColumn(title=self.tr("Set by"), tip=self.tr("Whichever runs out first")),
            FactColumn(title=self.tr("Hours a day"), is_number=True),
            FactColumn(
                title=self.tr("Answer, h"),
                is_number=True,
                tip=self.tr("Running hours from drawing to answer"),
            ),
            FactColumn(
                title=self.tr("Shows for, h"),
                is_number=True,
                tip=self.tr("Hours before a failure from which a sample shows it"),
            ),
            FactColumn(
                title=self.tr("Seen, %"),
                is_number=True,
                tip=self.tr("Chance that one sample in that time shows it"),
            ),
            FactColumn(title=self.tr("Chance, %"), is_number=True),
            FactColumn(title=self.tr("Then, %"), is_number=True),
            FactColumn(title=self.tr("Bottles a year"), is_number=True),
            FactColumn(title=self.tr("Then bottles"), is_number=True),
        )

    def show(self, boxes: ChanceBoxes) -> None:
        """Show these boxes, in the order chosen before."""
        self.beginResetModel()
        self._boxes = boxes if self._sort is None else boxes.sorted_by(self._sort)
        self.endResetModel()

    def box(self, row: int) -> bytes | None:
        """The identifier of the box in a row."""
        return None if self._boxes is None else self._boxes.box(row)

    @override
    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        is_down = order == Qt.SortOrder.DescendingOrder
        self._sort = (column, is_down) if column >= 0 else None
        if self._boxes is not None:
            self.beginResetModel()
            self._boxes = self._boxes.sorted_by(self._sort)
            self.endResetModel()

    @override
    def length(self) -> int:
        return 0 if self._boxes is None else len(self._boxes)

    @override
    def cell(self, row: int, column: int) -> str:
        return "" if self._boxes is None else self._boxes.cell(row, column)

    @override
    def tip(self, row: int, column: int) -> str:
        return "" if self._boxes is None else self._boxes.tip(row, column)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (BoxColumn.SITE, BoxColumn.SET_BY, BoxColumn.PACE, BoxColumn.SURELY)
