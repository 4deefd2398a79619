"""How the parts of the Rules page share its room: columns, headings, splitters."""

from collections.abc import Mapping
from typing import Final

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSplitter, QWidget

from fluiddesk.desktop.models.limit_rules import LimitModel, ScopeModel
from fluiddesk.desktop.viewstate.limit_rules import LimitColumn
from fluiddesk.desktop.widgets.fact_table import FactTable
from fluiddesk.desktop.widgets.limit_ruler import BANDS_WIDTH

_WIDTHS: Final[Mapping[int, int]] = {
    LimitColumn.LOOKS_AT: 124,
    LimitColumn.WORSE: 48,
    LimitColumn.WATCH: 60,
    LimitColumn.ACT: 60,
    LimitColumn.URGENT: 60,
}
_OPTIONAL: Final[Mapping[int, int]] = {
    LimitColumn.UNIT: 78,
    LimitColumn.SOURCE: 152,
    LimitColumn.SET_BY: 88,
    LimitColumn.BANDS: BANDS_WIDTH,
    LimitColumn.SYMBOL: 60,
    LimitColumn.NEEDS: 204,
}
"""Columns shown where there is room, the most wanted first; the details tell them all."""
_ROOMY: Final[Mapping[int, int]] = {LimitColumn.UNIT: 116}
_ANALYTE_LEAST: Final = 172
_ANALYTE_NARROW: Final = 100
_LOOKS_AT_ROOMY: Final = 152


def fit_limits(table: FactTable, *, is_slim: bool) -> None:
    """Share the width of the table of limits among its columns.

    Args:
        table: the table.
        is_slim: whether the preview stands beside it on a small window.
    """
    least = _ANALYTE_NARROW if is_slim else _ANALYTE_LEAST
    for column in _OPTIONAL:
        # A hidden column tells no width.
        table.showColumn(column)
    table.set_widths(_WIDTHS)
    if not is_slim:
        table.setColumnWidth(LimitColumn.LOOKS_AT, _LOOKS_AT_ROOMY)
    table.fit_columns(stretch=LimitColumn.ANALYTE, least=least, optional=_OPTIONAL, roomy=_ROOMY)


def headings(model: ScopeModel | LimitModel) -> list[int]:
    """The rows of a list that are headings."""
    return [row for row in range(model.length()) if model.is_heading(row)]


def split(way: Qt.Orientation, first: QWidget, second: QWidget) -> QSplitter:
    """Two parts beside or above each other; the first takes the room there is."""
    made = QSplitter(way)
    made.addWidget(first)
    made.addWidget(second)
    made.setHandleWidth(1)
    made.setChildrenCollapsible(False)
    made.setStretchFactor(0, 1)
    made.setStretchFactor(1, 0)
    return made
