"""The shared horizontal axis of a page: machine hours, hours on the fluid, or the calendar."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.charts.scales import Scale, grouped
from fluiddesk.services.compartment_history.facts import (
    CompartmentHistory,
    EventFacts,
    FindingFacts,
    OtherSide,
    StartPoint,
)

_LEAST_ROOM: Final = 25.0
_ROOM_SHARE: Final = 0.03
_BEFORE_SHARE: Final = 0.1
_FEWEST_TICKS: Final = 2
_FINEST: Final = 6
_DAYS_IN_A_MONTH: Final = 30.44
_MONTH_STEPS: Final = (1, 2, 3, 6, 12, 24, 60, 120)
_DAY_STEPS: Final = (1, 2, 5, 10)
_SHORTEST_DAYS: Final = 60.0


class Axis(StrEnum):
    """What a page's curves are held against."""

    HOURS = "hours"
    FLUID_HOURS = "fluid_hours"
    DATE = "date"


_BEFORE: Final = {Axis.HOURS: 300.0, Axis.FLUID_HOURS: 0.0, Axis.DATE: 45.0}
"""How much of a first fill is shown before its first sample at the least."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisFrame:
    """Where the samples of one box stand along the axis; n samples, shared by all of its curves.

    Attributes:
        axis: which one.
        x: shape (n,), hours or days (proleptic ordinals); NaN where not known.
        fills: shape (n,), number of the fill each sample belongs to.
        trust: shape (n,), values of ``Trust``.
        courses: for each fill, hours on the fluid and the place on the axis, both rising.
    """

    axis: Axis
    x: NDArray[np.float64]
    fills: NDArray[np.int32]
    trust: NDArray[np.int8]
    courses: Mapping[int, tuple[NDArray[np.float64], NDArray[np.float64]]] = field(
        default_factory=dict
    )

    @property
    def last_fill(self) -> int | None:
        """The fill of the newest sample."""
        return int(self.fills[-1]) if len(self.fills) else None

    def start_of(self, fill: int) -> float:
        """Where a fill begins; NaN where that is not known."""
        course = self.courses.get(fill)
        return float(course[1][0]) if course is not None else np.nan

    def of_start(self, start: StartPoint) -> float:
        """Where a curve starts anew after a change of fluid; NaN where not known."""
        if self.axis is Axis.FLUID_HOURS:
            return 0.0
        told = start.hours if self.axis is Axis.HOURS else _day(start.on)
        return self.start_of(start.fill) if told is None else told

    def of_event(self, event: EventFacts) -> float | None:
        """Where an event stands; ``None`` where it has no place."""
        if self.axis is Axis.DATE:
            return float(event.happened_on.toordinal())
        if self.axis is Axis.FLUID_HOURS:
            return event.fluid_hours
        return event.place_hours if event.place_hours is not None else event.hours

    def of_finding(self, finding: FindingFacts) -> float | None:
        """Where a finding stands; ``None`` where it has no place."""
        if self.axis is Axis.DATE:
            return float(finding.found_on.toordinal())
        return finding.place_hours if self.axis is Axis.HOURS else None

    def of_other(self, other: OtherSide) -> NDArray[np.float64]:
        """Where the samples of the box on the other side stand."""
        if self.axis is Axis.DATE:
            return other.taken_on.astype(np.float64)
        return other.fluid_hours if self.axis is Axis.FLUID_HOURS else other.hours


def _day(on: date | None) -> float | None:
    return None if on is None else float(on.toordinal())


def axis_frame(history: CompartmentHistory, axis: Axis = Axis.HOURS) -> AxisFrame:
    """Where the samples of a box stand on one of the axes."""
    samples, fills = history.samples, history.fills
    fluid_hours = np.array([sample.fluid_hours for sample in samples], dtype=np.float64)
    x = {
        Axis.HOURS: lambda: history.hours.astype(np.float64),
        Axis.FLUID_HOURS: lambda: fluid_hours,
        Axis.DATE: lambda: np.array([one.taken_on.toordinal() for one in samples], np.float64),
    }[axis]()
    return AxisFrame(
        axis=axis,
        x=x,
        fills=fills,
        trust=np.array([sample.trust for sample in samples], dtype=np.int8),
        courses=_courses(history, axis, x=x, fluid_hours=fluid_hours),
    )


def _courses(
    history: CompartmentHistory,
    axis: Axis,
    *,
    x: NDArray[np.float64],
    fluid_hours: NDArray[np.float64],
) -> dict[int, tuple[NDArray[np.float64], NDArray[np.float64]]]:
    """How each fill runs along the axis, from its change on."""
    told = {
        fill.number: fill.starts_at_hours if axis is Axis.HOURS else _day(fill.starts_on)
        for fill in history.fill_facts
    }
    found: dict[int, tuple[NDArray[np.float64], NDArray[np.float64]]] = {}
    known = ~np.isnan(x) & ~np.isnan(fluid_hours)
    fills = history.fills
    # Fills follow each other: each is one stretch of samples.
    edges = [0, *(np.flatnonzero(np.diff(fills)) + 1).tolist(), len(fills)]
    for first, last in pairwise(edges):
        own = np.arange(first, last)[known[first:last]]
        if not len(own):
            continue
        number = int(fills[first])
        begin = 0.0 if axis is Axis.FLUID_HOURS else told.get(number)
        run, places = fluid_hours[own], x[own]
        if begin is None and axis is Axis.HOURS:
            begin = float(places[0] - run[0])
        if begin is not None and begin <= places[0]:
            run, places = np.array([0.0, *run]), np.array([begin, *places])
        found[number] = (np.maximum.accumulate(run), np.maximum.accumulate(places))
    return found


def whole_scale(frame: AxisFrame) -> Scale:
    """The axis over every sample, with a little room at both ends."""
    known = frame.x[~np.isnan(frame.x)]
    if not len(known):
        return Scale(low=0.0, high=1000.0)
    low, high = float(known.min()), float(known.max())
    if frame.axis is Axis.FLUID_HOURS:
        low = 0.0
    else:
        starts = [float(course[1][0]) for course in frame.courses.values()]
        first = min(starts, default=low)
        # The first fill may have begun long before anybody took a sample of it.
        reach = max((high - low) * _BEFORE_SHARE, _BEFORE[frame.axis])
        low = max(first, low - reach) if first < low else low
    room = max((high - low) * _ROOM_SHARE, _LEAST_ROOM)
    return Scale(low=low - room, high=high + room)


def axis_ticks(axis: Axis, scale: Scale, *, about: int) -> tuple[tuple[float, str], ...]:
    """Round places along the axis with their words: two at least, so that distances can be read.

    >>> axis_ticks(Axis.HOURS, Scale(low=0, high=1000), about=2)
    ((0.0, '0'), (500.0, '500'), (1000.0, '1000'))
    """
    if axis is Axis.DATE:
        return _date_ticks(scale, about)
    ticks = scale.ticks(about=about)
    for finer in range(2, _FINEST):
        if len(ticks) >= _FEWEST_TICKS:
            break
        found = scale.ticks(about=finer * about)
        ticks = found[:: max(1, -(-len(found) // max(about, _FEWEST_TICKS)))]
    return tuple((tick, grouped(tick)) for tick in ticks)


def _date_ticks(scale: Scale, about: int) -> tuple[tuple[float, str], ...]:
    days = scale.high - scale.low
    if days < _SHORTEST_DAYS:
        return _day_ticks(scale, about)
    rough = days / _DAYS_IN_A_MONTH / max(about, 1)
    step = next((months for months in _MONTH_STEPS if months >= rough * 0.9), _MONTH_STEPS[-1])
    first = date.fromordinal(max(1, int(scale.low)))
    found: list[tuple[float, str]] = []
    month = (first.year * 12 + first.month - 1) // step * step
    while True:
        year, index = divmod(month, 12)
        place = float(date(year, index + 1, 1).toordinal())
        if place > scale.high:
            return tuple(found)
        if place >= scale.low:
            found.append((place, f"{year}" if step % 12 == 0 else f"{year}-{index + 1:02d}"))
        month += step


def _day_ticks(scale: Scale, about: int) -> tuple[tuple[float, str], ...]:
    rough = (scale.high - scale.low) / max(about, 1)
    step = next((days for days in _DAY_STEPS if days >= rough * 0.9), 20)
    first = -(-int(scale.low) // step) * step
    return tuple(
        (float(day), date.fromordinal(day).strftime("%m-%d"))
        for day in range(first, int(scale.high) + 1, step)
        if day >= scale.low
    )


def place_text(axis: Axis, place: float) -> str:
    """A place on the axis as people write it."""
    if np.isnan(place):
        return "\u2013"
    if axis is Axis.DATE:
        return date.fromordinal(round(place)).isoformat()
    return f"{grouped(place)} h"
