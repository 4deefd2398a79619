"""Tables of the Sampling page: what is due, the boxes of a visit, crews and service days."""

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QModelIndex, QObject, QPersistentModelIndex, Qt
from typing_extensions import override

from fluiddesk.desktop.models.fact_model import FactColumn, FactModel
from fluiddesk.desktop.theme import Theme
from fluiddesk.desktop.viewstate.due_cells import TOO_FEW, DueColumn
from fluiddesk.desktop.viewstate.due_list import DueList
from fluiddesk.desktop.viewstate.interval_compliance import event_cells
from fluiddesk.desktop.viewstate.sampling_words import box_state, day_or_none
from fluiddesk.services.interval_compliance.facts import EventLine
from fluiddesk.services.visits.facts import VisitBox

Cells = tuple[str, ...]


class DueModel(FactModel):
    """Boxes with their due points, in the order of a ``DueList``."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self.due: DueList | None = None

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("State")),
            FactColumn(title=self.tr("Site")),
            FactColumn(title=self.tr("Machine")),
            FactColumn(title=self.tr("Box")),
            FactColumn(title=self.tr("Interval"), tip=self.tr("What sets the due point")),
            FactColumn(
                title=self.tr("Due on"), tip=self.tr("The day at the hours a day it runs now")
            ),
            FactColumn(
                title=self.tr("Window and band"),
                tip=self.tr(
                    "Light ground: the window. Bar: the due day lies in it with a chance of 80 %. "
                    "Stroke: the due day. Line through all rows: today"
                ),
            ),
            FactColumn(
                title=self.tr("80 % band"),
                tip=self.tr("The due day lies in it with a chance of 80 %, by the meter readings"),
            ),
            FactColumn(title=self.tr("Window")),
            FactColumn(
                title=self.tr("Hours left"),
                is_number=True,
                tip=self.tr("Machine hours to the due point; below zero once past"),
            ),
            FactColumn(title=self.tr("Visit on")),
            FactColumn(
                title=self.tr("Worth a minute"),
                is_number=True,
                tip=self.tr(
                    "Chance to catch a failure, times its cost, a minute of crew time: a ranking, "
                    "not money"
                ),
            ),
            FactColumn(title=self.tr("Why")),
        )

    def show(self, due: DueList) -> None:
        """Show another list, or the same one in another order."""
        self.beginResetModel()
        self.due = due
        self.endResetModel()

    @override
    def sort(self, column: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        if self.due is not None:
            self.beginResetModel()
            is_down = order == Qt.SortOrder.DescendingOrder
            self.due.show(replace(self.due.shown, sort=(column, is_down) if column >= 0 else None))
            self.endResetModel()

    @override
    def length(self) -> int:
        return 0 if self.due is None else len(self.due)

    @override
    def cell(self, row: int, column: int) -> str:
        return "" if self.due is None else self.due.cell(row, column)

    @override
    def tip(self, row: int, column: int) -> str:
        return "" if self.due is None else self.due.tip(row, column)

    @override
    def value(self, row: int, column: int) -> object:
        if column != DueColumn.BAR or self.due is None:
            return None
        return self.due.bar(row)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        if column in (DueColumn.SITE, DueColumn.BASIS, DueColumn.WINDOW, DueColumn.WHY):
            return True
        if self.due is None:
            return False
        if column == DueColumn.BAND:
            return self.due.cell(row, column) == TOO_FEW
        return column == DueColumn.MACHINE and self.due.repeats_machine(row)

    @override
    def data(
        self,
        index: QModelIndex | QPersistentModelIndex,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        if role == Qt.ItemDataRole.AccessibleTextRole and self._is_bar(index):
            return self.tip(index.row(), index.column())
        is_state = index.isValid() and index.column() == DueColumn.STATE
        if is_state and role == Qt.ItemDataRole.FontRole and self.due is not None:
            return self._theme.strong if self.due.is_pressing(index.row()) else None
        return super().data(index, role)

    @staticmethod
    def _is_bar(index: QModelIndex | QPersistentModelIndex) -> bool:
        return index.isValid() and index.column() == DueColumn.BAR

    @override
    def headerData(
        self,
        section: int,
        orientation: Qt.Orientation,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> object:
        is_bar = section == DueColumn.BAR and orientation == Qt.Orientation.Horizontal
        if is_bar and role == Qt.ItemDataRole.DisplayRole and self.due is not None:
            return self.due.scale_words
        return super().headerData(section, orientation, role)


class VisitBoxModel(FactModel):
    """The bottles of a visit, in working order."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._boxes: tuple[VisitBox, ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("No."), is_number=True, tip=self.tr("In working order")),
            FactColumn(title=self.tr("Box")),
            FactColumn(title=self.tr("Due on")),
            FactColumn(title=self.tr("State"), tip=self.tr("As of today")),
            FactColumn(title=self.tr("Bottle")),
        )

    def show(self, boxes: Sequence[VisitBox]) -> None:
        """Show these bottles."""
        self.beginResetModel()
        self._boxes = tuple(boxes)
        self.endResetModel()

    def box(self, row: int) -> VisitBox | None:
        """The box in a row."""
        return self._boxes[row] if 0 <= row < len(self._boxes) else None

    @override
    def length(self) -> int:
        return len(self._boxes)

    @override
    def cell(self, row: int, column: int) -> str:
        one = self._boxes[row]
        cells = (
            "+" if one.is_joining else str(one.place),
            one.compartment,
            day_or_none(one.due_on),
            box_state(one),
            one.bottle_code,
        )
        return cells[column]

    @override
    def tip(self, row: int, column: int) -> str:
        one = self._boxes[row]
        point = one.point_kind or self.tr("no sampling point on the register")
        parts = [one.compartment, one.fluid, point]
        if one.window is not None:
            first, last = (day.isoformat() for day in one.window)
            parts.append(self.tr("window {0} to {1}").format(first, last))
        parts.append(one.before_change)
        if one.is_pulled_in:
            parts.append(self.tr("taken along a little early"))
        if one.is_joining:
            parts.append(self.tr("joins this visit when the plan is kept"))
        if one.why_not:
            parts.append(one.why_not)
        return "\n".join(part for part in parts if part)

    @override
    def is_faint(self, row: int, column: int) -> bool:
        return column in (0, 2)


class CellsModel(FactModel):
    """Rows of texts with a key each."""

    def __init__(
        self, heads: Sequence[FactColumn], *, theme: Theme, parent: QObject | None = None
    ) -> None:
        self._heads = tuple(heads)
        super().__init__(theme=theme, parent=parent)
        self._rows: tuple[tuple[bytes, Cells], ...] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return self._heads

    def show(self, rows: Sequence[tuple[bytes, Cells]]) -> None:
        """Show these rows."""
        self.beginResetModel()
        self._rows = tuple(rows)
        self.endResetModel()

    def key(self, row: int) -> bytes | None:
        """The key of a row."""
        return self._rows[row][0] if 0 <= row < len(self._rows) else None

    def row_of(self, key: bytes) -> int:
        """The row of a key; -1 where it is not shown."""
        return next((n for n, one in enumerate(self._rows) if one[0] == key), -1)

    @override
    def length(self) -> int:
        return len(self._rows)

    @override
    def cell(self, row: int, column: int) -> str:
        return self._rows[row][1][column]


def crew_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of crews."""
    heads = (
        FactColumn(title=parent.tr("Site")),
        FactColumn(title=parent.tr("Crew")),
        FactColumn(title=parent.tr("Hours a day"), is_number=True),
        FactColumn(title=""),
    )
    return CellsModel(heads, theme=theme, parent=parent)


def service_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of service days."""
    heads = (
        FactColumn(title=parent.tr("On")),
        FactColumn(title=parent.tr("Machine")),
        FactColumn(title=parent.tr("Site")),
        FactColumn(title=parent.tr("Note")),
    )
    return CellsModel(heads, theme=theme, parent=parent)


def special_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of special intervals."""
    heads = (
        FactColumn(title=parent.tr("State")),
        FactColumn(title=parent.tr("Machine")),
        FactColumn(title=parent.tr("Box")),
        FactColumn(title=parent.tr("Reason")),
        FactColumn(title=parent.tr("Interval")),
        FactColumn(title=parent.tr("From")),
        FactColumn(title=parent.tr("Note")),
        FactColumn(title=parent.tr("Site")),
    )
    return CellsModel(heads, theme=theme, parent=parent)


def compliance_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of compliance by group."""
    owed = parent.tr("Share of the events due that were not excused")
    heads = (
        FactColumn(title=parent.tr("Group")),
        FactColumn(title=parent.tr("Due"), is_number=True),
        FactColumn(title=parent.tr("Excused"), is_number=True),
        FactColumn(title=parent.tr("On time, %"), is_number=True, tip=owed),
        FactColumn(title=parent.tr("Taken, %"), is_number=True, tip=owed),
        FactColumn(title=parent.tr("Usable, %"), is_number=True, tip=owed),
        FactColumn(
            title=parent.tr("Early, %"),
            is_number=True,
            tip=parent.tr("Routine samples taken before a window; they make no event on time"),
        ),
        FactColumn(title=parent.tr("Missed"), is_number=True),
        FactColumn(title=parent.tr("Open"), is_number=True),
        FactColumn(
            title=parent.tr("Lateness, %"),
            is_number=True,
            tip=parent.tr("Mean of the late ones, in percent of the interval"),
        ),
    )
    return CellsModel(heads, theme=theme, parent=parent)


class EventModel(FactModel):
    """Due events one by one; a whole fleet's are written only as far as they are seen."""

    def __init__(self, *, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(theme=theme, parent=parent)
        self._lines: Sequence[EventLine] = ()

    @override
    def heads(self) -> tuple[FactColumn, ...]:
        return (
            FactColumn(title=self.tr("Outcome")),
            FactColumn(title=self.tr("Due on")),
            FactColumn(title=self.tr("Machine")),
            FactColumn(title=self.tr("Box")),
            FactColumn(title=self.tr("Window")),
            FactColumn(title=self.tr("Sampled on")),
            FactColumn(title=self.tr("Late by, %"), is_number=True, tip=self.tr("Of the interval")),
            FactColumn(title=self.tr("Sampler")),
            FactColumn(title=self.tr("Reason")),
            FactColumn(title=self.tr("Site")),
            FactColumn(title=self.tr("Interval"), tip=self.tr("The interval that held then")),
        )

    def show(self, lines: Sequence[EventLine]) -> None:
        """Show these events."""
        self.beginResetModel()
        self._lines = lines
        self.endResetModel()

    @override
    def length(self) -> int:
        return len(self._lines)

    @override
    def cell(self, row: int, column: int) -> str:
        return event_cells(self._lines[row])[column]


def out_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of bottles out."""
    heads = (
        FactColumn(title=parent.tr("Bottle")),
        FactColumn(title=parent.tr("Machine")),
        FactColumn(title=parent.tr("Box")),
        FactColumn(title=parent.tr("Where")),
        FactColumn(title=parent.tr("Since")),
        FactColumn(title=parent.tr("Days"), is_number=True),
        FactColumn(
            title=parent.tr("Alarm"),
            is_number=True,
            tip=parent.tr("Days after which it is asked after"),
        ),
        FactColumn(title=""),
        FactColumn(title=parent.tr("Laboratory")),
        FactColumn(title=parent.tr("Site")),
    )
    return CellsModel(heads, theme=theme, parent=parent)


def leg_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of the legs with their days."""
    heads = (
        FactColumn(title=parent.tr("Leg")),
        FactColumn(title=parent.tr("Median"), is_number=True),
        FactColumn(
            title=parent.tr("90 %"), is_number=True, tip=parent.tr("90 of 100 bottles keep to it")
        ),
        FactColumn(title=parent.tr("Target"), is_number=True),
        FactColumn(title=parent.tr("Bottles"), is_number=True),
    )
    return CellsModel(heads, theme=theme, parent=parent)


def shipment_model(*, theme: Theme, parent: QObject) -> CellsModel:
    """The table of shipments."""
    heads = (
        FactColumn(title=parent.tr("Sent on")),
        FactColumn(title=parent.tr("Laboratory")),
        FactColumn(title=parent.tr("Sent"), is_number=True, tip=parent.tr("Bottles sent")),
        FactColumn(title=parent.tr("Received on")),
        FactColumn(
            title=parent.tr("Received"), is_number=True, tip=parent.tr("Bottles that arrived")
        ),
        FactColumn(title=parent.tr("Carrier")),
    )
    return CellsModel(heads, theme=theme, parent=parent)
