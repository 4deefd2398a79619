"""Fluid changes, top-ups, filter changes and repairs along the shared axis of a page."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QPainter, QPen

from fluiddesk.charts.axes import Axis, AxisFrame, axis_frame
from fluiddesk.charts.limit_bands import with_alpha
from fluiddesk.charts.palette import Palette
from fluiddesk.charts.scales import Scale
from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.services.compartment_history.facts import CompartmentHistory, EventFacts

_TICK_PX: Final = 5.0
_LINE_ROOM_PX: Final = 5.0
_DENSE_ALPHA: Final = 0.35
_HATCH_PX: Final = 6.0
_REST_PX: Final = 3.0


class MarkKind(StrEnum):
    """What happened, as far as it is drawn apart."""

    CHANGE = "fluid change"
    TOP_UP = "top-up"
    FILTER = "filter"
    COMPONENT = "component"
    REPAIR = "repair"
    STAND_DOWN = "stand-down"
    FINDING = "finding"


_KINDS: Final = {
    EventKind.FLUID_CHANGE: MarkKind.CHANGE,
    EventKind.TOP_UP: MarkKind.TOP_UP,
    EventKind.FILTER_CHANGE: MarkKind.FILTER,
    EventKind.COMPONENT_FIT: MarkKind.COMPONENT,
    EventKind.REPAIR: MarkKind.REPAIR,
    EventKind.STAND_DOWN: MarkKind.STAND_DOWN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EventMark:
    """One event on the axis.

    Attributes:
        x: where it stands.
        kind: what it was.
        is_certain: ``False`` where nobody recorded it; it is hatched then.
        litres: what was filled in, where that is known.
        note: further words.
        until: where a stand-down ended.
    """

    x: float
    kind: MarkKind
    is_certain: bool = True
    litres: float | None = None
    note: str = ""
    until: float | None = None

    @property
    def is_line(self) -> bool:
        """Whether the box got new fluid or a new component: a line through every panel."""
        return self.kind in (MarkKind.CHANGE, MarkKind.COMPONENT)

    @property
    def words(self) -> str:
        """What happened: "top-up 4 L"."""
        litres = "" if self.litres is None else f" {self.litres:g} L"
        unsure = "" if self.is_certain else " (inferred)"
        note = f": {self.note}" if self.note else ""
        return f"{self.kind.value}{litres}{unsure}{note}"


def event_marks(
    history: CompartmentHistory, frame: AxisFrame | None = None
) -> tuple[EventMark, ...]:
    """Where events and findings stand on the axis, machine hours by default.

    Events that were denied or have no place are left out. A change of fill between two samples
    that no event explains is drawn midway between them, as uncertain.
    """
    frame = frame or axis_frame(history)
    told = [
        _mark(event, x, frame)
        for event in history.events
        if event.certainty is not Certainty.DENIED
        and (x := frame.of_event(event)) is not None
        and (frame.axis is not Axis.FLUID_HOURS or _is_of_last_fill(event, history))
    ]
    told += [
        EventMark(x=x, kind=MarkKind.FINDING, note=" ".join(filter(None, (one.part, one.result))))
        for one in history.findings
        if (x := frame.of_finding(one)) is not None
    ]
    if frame.axis is Axis.FLUID_HOURS:
        # Every fill begins at the left: a change is no place on this axis.
        return tuple(mark for mark in told if not mark.is_line)
    return (*told, *_untold_changes(frame, told))


def _is_of_last_fill(event: EventFacts, history: CompartmentHistory) -> bool:
    """Whether an event belongs to the fluid now in the box; those of past fills would crowd it."""
    fills = history.fill_facts
    if not fills:
        return True
    begin, place = fills[-1].starts_at_hours, event.place_hours
    if begin is not None and place is not None:
        return place >= begin
    return fills[-1].starts_on is None or event.happened_on >= fills[-1].starts_on


def _mark(event: EventFacts, x: float, frame: AxisFrame) -> EventMark:
    until = event.until_on
    ends = float(until.toordinal()) if until is not None and frame.axis is Axis.DATE else None
    return EventMark(
        x=x,
        kind=_KINDS[event.kind],
        is_certain=event.certainty is Certainty.RECORDED,
        litres=event.litres if event.kind is EventKind.TOP_UP else None,
        note=event.note,
        until=ends,
    )


def _untold_changes(frame: AxisFrame, told: list[EventMark]) -> list[EventMark]:
    lines = np.array([mark.x for mark in told if mark.is_line], dtype=np.float64)
    x, fills = frame.x, frame.fills
    found = []
    for index in np.flatnonzero(np.diff(fills)) if len(fills) > 1 else ():
        before, after = float(x[index]), float(x[index + 1])
        is_told = bool(((lines >= before) & (lines <= after)).any())
        if not is_told and not np.isnan(before + after):
            middle = (before + after) / 2
            found.append(EventMark(x=middle, kind=MarkKind.CHANGE, is_certain=False))
    return found


def paint_events(
    painter: QPainter,
    plot: QRectF,
    *,
    marks: tuple[EventMark, ...],
    scale: Scale,
    colors: Palette,
) -> None:
    """Draw the events of one panel; what is not certain is hatched."""
    inside = [mark for mark in marks if scale.holds(mark.x)]
    is_dense = sum(mark.is_line for mark in inside) * _LINE_ROOM_PX > plot.width()
    painter.save()
    # Upright lines on whole pixels need no smoothing, which would cost more than all the points.
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)
    for is_line in (True, False):
        ink = QColor(colors.hairline if is_line else colors.faint_ink)
        if is_dense and is_line:
            # Many changes in little room: they step back behind the points.
            ink = with_alpha(ink, _DENSE_ALPHA)
        top = plot.top() if is_line else plot.bottom() - _TICK_PX
        painter.setPen(QPen(ink, 1.0))
        painter.drawLines(
            [
                QLineF(x, top, x, plot.bottom())
                for mark in inside
                if mark.is_line is is_line and (mark.is_certain or is_dense)
                for x in (_place(plot, scale, mark.x),)
            ]
        )
    for mark in inside:
        if not mark.is_certain and not is_dense:
            _hatch(painter, plot, _place(plot, scale, mark.x), mark=mark, colors=colors)
        if mark.until is not None:
            right = min(_place(plot, scale, mark.until), plot.right())
            left = _place(plot, scale, mark.x)
            rest = QRectF(left, plot.bottom() - _REST_PX, right - left, _REST_PX)
            painter.fillRect(rest, with_alpha(QColor(colors.faint_ink), _DENSE_ALPHA))
    painter.restore()


def _place(plot: QRectF, scale: Scale, x: float) -> float:
    return float(round(plot.left() + scale.share(x) * plot.width()))


def _hatch(painter: QPainter, plot: QRectF, x: float, *, mark: EventMark, colors: Palette) -> None:
    top = plot.top() if mark.is_line else plot.bottom() - 2 * _TICK_PX
    strip = QRectF(x - _HATCH_PX / 2, top, _HATCH_PX, plot.bottom() - top)
    ink = with_alpha(QColor(colors.faint_ink), 0.6)
    painter.fillRect(strip, QBrush(ink, Qt.BrushStyle.BDiagPattern))
