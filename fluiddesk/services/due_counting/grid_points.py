"""The due points of boxes on a fixed grid, by the same count that compliance makes.

A sample inside or after its window moves no due point, so that the last sample alone does not tell
it: the routine samples of these boxes, and of no others, are read. Without such a box nothing is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.sampling.due import DuePoints
from fluiddesk.domain.sampling.events import due_events
from fluiddesk.services.due_counting.axes import (
    HOURS,
    BoxFigures,
    SampleFigures,
    ready,
    today_points,
)
from fluiddesk.services.due_counting.clocks import MachineClocks
from fluiddesk.services.due_counting.intervals_held import held_columns, interval_changes
from fluiddesk.services.intervals_in_force import on_grid
from fluiddesk.storage import Desk


@dataclass(frozen=True, slots=True, kw_only=True)
class GridPoints:
    """The due points of the boxes on a grid, among n boxes.

    Attributes:
        is_grid: shape (n,), whether a box is on a grid.
        has_point: shape (n,), whether it has a due point there; others wait for a routine sample.
        at: shape (n,), the due points, each on one axis.
    """

    is_grid: NDArray[np.bool_]
    has_point: NDArray[np.bool_]
    at: DuePoints

    def over(self, last: DuePoints) -> DuePoints:
        """These points, and those counted from the last sample for the others."""
        return DuePoints(
            np.where(self.has_point, self.at.hours, last.hours),
            np.where(self.has_point, self.at.day, last.day),
        )


def grid_points(
    desk: Desk, rows: Sequence[Any], rules: Sequence[IntervalRule], *, today: date
) -> GridPoints | None:
    """The grid points of boxes; ``None`` where no rule asks for a grid.

    Args:
        desk: where to read samples and readings.
        rows: the boxes, those of a machine together, with the interval of the register.
        rules: the interval rules in force.
        today: the day asked about.
    """
    is_grid = on_grid(rows, rules)
    if not is_grid.any():
        return None
    place = np.flatnonzero(is_grid)
    mine = [rows[at] for at in place.tolist()]
    keys = {row.compartment_id: at for at, row in enumerate(mine)}
    machines: dict[bytes, int] = {}
    machine = np.array([machines.setdefault(row.machine_id, len(machines)) for row in mine])
    drawn = desk.programme.drawn_samples(keys)
    readings = desk.programme.meter_hours(machines)
    held = held_columns(mine, desk.intervals.sets(), interval_changes(desk, keys), today=today)
    order = np.lexsort((drawn.hours, drawn.day, drawn.box))
    order = order[drawn.is_routine[order]]
    samples = SampleFigures(
        box=drawn.box[order],
        day=drawn.day[order],
        hours=drawn.hours[order],
        answers=np.ones(len(order), dtype=np.bool_),
    )
    clocks = MachineClocks(
        _pace(mine, machines),
        (
            np.concatenate([readings.machine, machine[samples.box]]),
            np.concatenate([readings.day, samples.day]),
            np.concatenate([readings.hours, samples.hours]),
        ),
        number=machines,
        today=today.toordinal(),
    )
    boxes = BoxFigures(
        machine=machine,
        has_hours=np.array([row.hours_now is not None for row in mine], dtype=np.bool_),
        goes_by_hours=np.zeros(len(mine), dtype=np.bool_),
    )
    ready_samples, epochs = ready(samples, held, boxes, clocks)
    now = today_points(boxes, clocks, today=today.toordinal())
    found = due_events(ready_samples, epochs, now=now)
    owed = np.flatnonzero(found.is_owed)
    hours, day = np.full(len(rows), np.nan), np.full(len(rows), np.nan)
    on_meter = found.axis[owed] == HOURS
    box = place[found.box[owed]]
    hours[box[on_meter]] = found.due[owed[on_meter]]
    day[box[~on_meter]] = found.due[owed[~on_meter]]
    has_point = np.zeros(len(rows), dtype=np.bool_)
    has_point[box] = True
    return GridPoints(is_grid=is_grid, has_point=has_point, at=DuePoints(hours, day))


def _pace(rows: Sequence[Any], machines: Mapping[bytes, int]) -> NDArray[np.float64]:
    pace = np.zeros(len(machines))
    for row in rows:
        pace[machines[row.machine_id]] = row.hours_per_day or 0.0
    return pace
