"""Where the panels of a page stand: the ones that matter first, then every analyte by family."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from PySide6.QtCore import QPointF, QRectF

from fluiddesk.charts.trends import Trend
from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.services.compartment_history.facts import worst_first

PANEL_WIDTH: Final = 220.0
"""Least width of a panel, in pixels; columns share what is left."""
PANEL_HEIGHT: Final = 132.0
GAP: Final = 16.0
HEADING: Final = 24.0
FOREMOST: Final = 3
_MOST_FOREMOST: Final = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendGroup:
    """Panels under one heading; an empty heading stands for "what matters now"."""

    heading: str
    trends: tuple[Trend, ...]
    is_one_row: bool = False
    """Whether panels beyond the first row are left out (never fewer than three are shown)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelPlace:
    """A panel and its frame."""

    trend: Trend
    frame: QRectF


@dataclass(frozen=True, slots=True, kw_only=True)
class TrendLayout:
    """All frames of a page, top to bottom, with the headings between them."""

    panels: tuple[PanelPlace, ...]
    headings: tuple[tuple[str, QRectF], ...]
    columns: int
    height: float

    def panel_at(self, place: QPointF) -> int | None:
        """The panel under a point."""
        for index, panel in enumerate(self.panels):
            if panel.frame.contains(place):
                return index
        return None

    def neighbour(self, index: int, *, down: bool) -> int:
        """The panel nearest above or below one; itself at the edge."""
        here = self.panels[index].frame.center()
        beyond = [
            (abs(panel.frame.center().y() - here.y()), abs(panel.frame.center().x() - here.x()), i)
            for i, panel in enumerate(self.panels)
            if (panel.frame.top() > here.y() if down else panel.frame.bottom() < here.y())
        ]
        return min(beyond)[2] if beyond else index


def grouped_trends(trends: Sequence[Trend], leading: Sequence[str] = ()) -> tuple[TrendGroup, ...]:
    """The curves that matter most, three at least, then every analyte under its family.

    ``leading`` are the analytes of the reasons for the verdict: they come first, in their order.
    """
    by_code = {trend.series.analyte.code: trend for trend in trends}
    places = {code: place for place, code in reversed(list(enumerate(leading)))}
    ranked = sorted(
        worst_first([trend.series for trend in trends]),
        key=lambda series: places.get(series.analyte.code, len(leading)),
    )[:_MOST_FOREMOST]
    first = tuple(
        by_code[series.analyte.code]
        for place, series in enumerate(ranked)
        if place < FOREMOST or series.weight > 0 or series.analyte.code in places
    )
    has_more = len(trends) > FOREMOST
    found = [TrendGroup(heading="", trends=first, is_one_row=True)] if has_more else []
    for family in AnalyteFamily:
        members = [trend for trend in trends if trend.series.analyte.family is family]
        members.sort(key=lambda trend: trend.series.analyte.order)
        if members:
            found.append(TrendGroup(heading=family.word, trends=tuple(members)))
    return tuple(found)


def arrange(groups: Sequence[TrendGroup], *, width: float) -> TrendLayout:
    """Place equal panels in as many columns as fit."""
    columns = max(1, int((width + GAP) // (PANEL_WIDTH + GAP)))
    panel = (width - (columns - 1) * GAP) / columns
    panels: list[PanelPlace] = []
    headings: list[tuple[str, QRectF]] = []
    y = 0.0
    for group in groups:
        headings.append((group.heading, QRectF(0.0, y, width, HEADING)))
        y += HEADING
        shown = group.trends[: max(columns, FOREMOST)] if group.is_one_row else group.trends
        for index, trend in enumerate(shown):
            row, column = divmod(index, columns)
            left = round(column * (panel + GAP))
            top = y + row * (PANEL_HEIGHT + GAP)
            frame = QRectF(left, top, int(panel), PANEL_HEIGHT)
            panels.append(PanelPlace(trend=trend, frame=frame))
        rows = -(-len(shown) // columns)
        y += rows * (PANEL_HEIGHT + GAP)
    return TrendLayout(panels=tuple(panels), headings=tuple(headings), columns=columns, height=y)
