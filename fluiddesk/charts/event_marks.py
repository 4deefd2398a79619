"""Fluid changes, top-ups, filter changes and repairs along the hours axis."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QRectF
from PySide6.QtGui import QColor, QPainter, QPen

from fluiddesk.charts.limit_bands import with_alpha
from fluiddesk.charts.palette import Palette
from fluiddesk.charts.scales import Scale
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.services.compartment_history.facts import CompartmentHistory

_TICK_PX: Final = 5.0
_LINE_ROOM_PX: Final = 5.0
_DENSE_ALPHA: Final = 0.35
_NEW_FLUID: Final = frozenset({EventKind.FLUID_CHANGE, EventKind.COMPONENT_FIT})


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMark:
    """One event on the axis: a line through the panel for new fluid, a short tick for the rest."""

    hours: float
    is_line: bool
    is_certain: bool


def event_marks(history: CompartmentHistory) -> tuple[EventMark, ...]:
    """Where events stand on the axis.

    Events that were denied or whose hours are unknown are left out. A change of fill between two
    samples that no event explains is drawn midway between them, as uncertain.
    """
    told = [
        EventMark(
            hours=event.hours,
            is_line=event.kind in _NEW_FLUID,
            is_certain=event.certainty is Certainty.RECORDED,
        )
        for event in history.events
        if event.hours is not None and event.certainty is not Certainty.DENIED
    ]
    lines = np.array([mark.hours for mark in told if mark.is_line], dtype=np.float64)
    return (*told, *_untold_changes(history, lines))


def _untold_changes(history: CompartmentHistory, lines: NDArray[np.float64]) -> list[EventMark]:
    hours, fills = history.hours, history.fills
    found = []
    for index in np.flatnonzero(np.diff(fills)) if len(fills) > 1 else ():
        before, after = float(hours[index]), float(hours[index + 1])
        is_told = bool(((lines >= before) & (lines <= after)).any())
        if not is_told and not np.isnan(before + after):
            found.append(EventMark(hours=(before + after) / 2, is_line=True, is_certain=False))
    return found


def paint_events(
    painter: QPainter,
    plot: QRectF,
    *,
    marks: tuple[EventMark, ...],
    scale: Scale,
    colors: Palette,
) -> None:
    """Draw the events of one panel; what is not certain is dotted."""
    inside = [mark for mark in marks if scale.holds(mark.hours)]
    is_dense = sum(mark.is_line for mark in inside) * _LINE_ROOM_PX > plot.width()
    for is_line in (True, False):
        ink = QColor(colors.hairline if is_line else colors.faint_ink)
        for is_certain in (True, False):
            places = [
                round(plot.left() + scale.share(mark.hours) * plot.width()) + 0.5
                for mark in inside
                if mark.is_line is is_line and mark.is_certain is is_certain
            ]
            pen = QPen(ink, 1.0)
            if not is_certain:
                pen.setColor(QColor(colors.faint_ink))
                pen.setDashPattern([1.0, 3.0])
            if is_dense and is_line:
                # Many changes in little room: they step back behind the points.
                pen.setColor(with_alpha(pen.color(), _DENSE_ALPHA))
            top = plot.top() if is_line else plot.bottom() - _TICK_PX
            painter.setPen(pen)
            painter.drawLines([QLineF(x, top, x, plot.bottom()) for x in places])
