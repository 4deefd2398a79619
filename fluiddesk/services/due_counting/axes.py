"""What boxes are counted on, hours on the meter or days, and what they are counted towards.

A count that begins at a sample goes on the axis on which the interval runs out first; a fixed grid
stands on one axis for good. The due list counts by the same code (``grid_points``).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.sampling.events import Drawn, Epochs, convention_codes
from fluiddesk.domain.sampling.window import (
    Convention,
    WindowRule,
    half_width_days,
    half_width_hours,
)
from fluiddesk.services.due_counting.clocks import (
    SLOWEST,
    FloatArray,
    IntArray,
    MachineClocks,
)
from fluiddesk.services.due_counting.intervals_held import FROM_EVER, HeldColumns

HOURS, DAYS = 0, 1
"""The axes."""

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxFigures:
    """What of n boxes decides their axis; shape (n,) each.

    Attributes:
        machine: number of the machine, rising.
        has_hours: whether the hours of the machine are known today.
        goes_by_hours: whether the meter sets what is due now.
    """

    machine: IntArray
    has_hours: BoolArray
    goes_by_hours: BoolArray


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleFigures:
    """Samples by box and day; shape (s,) each. ``hours``: NaN where not known."""

    box: IntArray
    day: IntArray
    hours: FloatArray
    answers: BoolArray


def ready(
    samples: SampleFigures, held: HeldColumns, boxes: BoxFigures, clocks: MachineClocks
) -> tuple[Drawn, Epochs]:
    """Lay samples and intervals on both axes, and choose the axis of each count."""
    machine = boxes.machine
    hours = samples.hours
    unknown = np.flatnonzero(np.isnan(hours))
    if len(unknown):
        hours = hours.copy()
        told = clocks.hours_at(
            machine[samples.box[unknown]], samples.day[unknown].astype(np.float64)
        )
        hours[unknown] = told
    day = samples.day.astype(np.float64)
    epochs = _epochs(held, machine, clocks)
    axis = _axis(samples, held, boxes, clocks, hours=hours)
    at = np.stack([hours, day], axis=1)
    return Drawn(box=samples.box, at=at, axis=axis, answers=samples.answers), epochs


def today_points(boxes: BoxFigures, clocks: MachineClocks, *, today: int) -> FloatArray:
    """Where both axes stand today, shape (boxes, 2)."""
    hours = np.nan_to_num(clocks.hours_today(), nan=0.0)[boxes.machine]
    return np.stack([hours, np.full(len(hours), float(today))], axis=1)


def _epochs(held: HeldColumns, machine: IntArray, clocks: MachineClocks) -> Epochs:
    owner = machine[held.box]
    pace = clocks.pace[owner]
    runs = pace > SLOWEST
    hours, days = held.hours, held.days
    # A count goes on where it began, though the interval be given on the other axis later.
    by_pace = np.where(runs & np.isnan(hours), days * pace, hours)
    slow = np.divide(hours, pace, out=np.full(len(pace), np.nan), where=runs)
    interval = np.stack([by_pace, np.where(np.isnan(days), slow, days)], axis=1)
    rule = WindowRule(share=held.share)
    half = np.stack(
        [half_width_hours(interval[:, HOURS], rule=rule),
         half_width_days(interval[:, DAYS], rule=rule)], axis=1
    )  # fmt: skip
    begins = np.full((len(owner), 2), -np.inf)
    changed = np.flatnonzero(held.since > FROM_EVER)
    since = held.since[changed].astype(np.float64)
    begins[changed, DAYS] = since
    begins[changed, HOURS] = np.nan_to_num(clocks.hours_at(owner[changed], since), nan=-np.inf)
    codes = convention_codes([Convention.ROLLING, Convention.GRID])
    return Epochs(
        box=held.box,
        begins=begins,
        interval=interval,
        half=half,
        convention=codes[held.is_grid.astype(np.int64)],
    )


def _axis(
    samples: SampleFigures,
    held: HeldColumns,
    boxes: BoxFigures,
    clocks: MachineClocks,
    *,
    hours: FloatArray,
) -> IntArray:
    """The axis of the count that begins at each sample."""
    row = _row_on(held, samples.box, samples.day)
    interval, days = held.hours[row], held.days[row]
    can = ~np.isnan(hours) & (interval > 0) & boxes.has_hours[samples.box]
    can &= (clocks.pace > SLOWEST)[boxes.machine][samples.box]
    reached = np.full(len(hours), np.inf)
    both = np.flatnonzero(can & ~np.isnan(days))
    reached[both] = clocks.days_at(boxes.machine[samples.box[both]], (hours + interval)[both])
    by_hours = can & ~(samples.day + days < reached)
    last = np.flatnonzero(np.append(samples.box[1:] != samples.box[:-1], np.True_))[
        : len(samples.box)
    ]
    by_hours[last] = boxes.goes_by_hours[samples.box[last]] & ~np.isnan(hours[last])
    grid = np.zeros(len(boxes.machine), dtype=np.bool_)
    grid[held.box[held.is_grid]] = True
    if grid.any():
        steady = grid_by_hours(held, boxes, clocks)
        mine = grid[samples.box]
        by_hours[mine] = steady[samples.box[mine]]
    return np.where(by_hours, HOURS, DAYS).astype(np.int64)


def grid_by_hours(held: HeldColumns, boxes: BoxFigures, clocks: MachineClocks) -> BoolArray:
    """Whether the grid of each box would stand on the meter, by its newest interval and pace."""
    last = np.searchsorted(held.box, np.arange(len(boxes.machine)), side="right") - 1
    hours, days, pace = held.hours[last], held.days[last], clocks.pace[boxes.machine]
    can = boxes.has_hours & (hours > 0) & (pace > SLOWEST) & clocks.has_meter()[boxes.machine]
    needs = np.divide(hours, pace, out=np.full(len(pace), np.inf), where=can)
    by_hours: BoolArray = can & ~(days < needs)
    return by_hours


def _row_on(held: HeldColumns, box: IntArray, day: IntArray) -> IntArray:
    """The row of ``held`` that held for boxes on days."""
    first = np.searchsorted(held.box, box)
    if len(held.box) == len(np.unique(held.box)):
        return first
    last = np.searchsorted(held.box, box, side="right") - 1
    row = first
    while (on := (row < last) & (held.since[np.minimum(row + 1, last)] <= day)).any():
        row = row + on
    return row
