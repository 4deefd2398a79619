"""How many hours each machine works a day, what its meter shows, and when it is visited."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.setting import SERVICE_HOURS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LONGEST_DAY_H = 22.0
_MUCH = 1e7
_ROLLING_SHARE = 0.02
_REPLACED_A_YEAR = 0.03
_SHORT_PLAY_H = 9000.0
_SHIFTS = np.array(
    [
        [1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0],
        [1.0, 1.0, 1.0, 1.0, 1.0, 0.6, 0.0],
        [1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.9],
    ]
)
"""Share of a full working day, Monday to Sunday: one shift, one and a half, continuous working."""
_SHIFT_ODDS = np.array([0.45, 0.40, 0.15])


@dataclass(frozen=True, kw_only=True)
class MeterRows:
    """The meters of all machines: one row a meter, in the order they were fitted."""

    machine: IntArray
    fitted_on: IntArray
    start_value: FloatArray
    hours_before: FloatArray
    rolls_over_at: FloatArray
    """0 where the meter never rolls over."""

    def shown(self, machine: IntArray, day: IntArray, hours: FloatArray) -> FloatArray:
        """What the meter in place on a day shows at a machine age."""
        order = self.machine * _MUCH + self.fitted_on
        row = np.searchsorted(order, machine * _MUCH + day, side="right") - 1
        value = self.start_value[row] + hours - self.hours_before[row]
        wrap = self.rolls_over_at[row]
        seen: FloatArray = np.where(wrap > 0, value % np.maximum(wrap, 1.0), value)
        return seen


def cumulative_hours(
    rng: np.random.Generator, *, first_day: int, days: int, per_year: FloatArray, standby: IntArray
) -> FloatArray:
    """True hours worked since the first day, at the end of each day; shape (machines, days).

    Args:
        rng: the stream of the hours.
        first_day: proleptic ordinal.
        days: days played.
        per_year: hours each machine works in a year, shape (machines,).
        standby: day from which a machine stands, or a day past the end, shape (machines,).
    """
    machines = len(per_year)
    shift = _SHIFTS[rng.choice(3, size=machines, p=_SHIFT_ODDS)]
    weekday = (first_day + np.arange(days) - 1) % 7
    worked = rng.standard_gamma(14.0, size=(machines, days), dtype=np.float32) / 14.0
    worked *= shift[:, weekday]
    worked *= _stand_downs(rng, machines, days)
    season = 1.0 + 0.12 * np.sin(2 * np.pi * (first_day + np.arange(days) - 110) / 365.25)
    worked *= (per_year / 365.25 / shift.mean(axis=1))[:, None] * season
    worked[np.arange(days)[None, :] >= (standby - first_day)[:, None]] = 0.0
    np.minimum(worked, LONGEST_DAY_H, out=worked)
    total: FloatArray = np.cumsum(worked, axis=1, dtype=np.float64)
    return total


def _stand_downs(rng: np.random.Generator, machines: int, days: int) -> FloatArray:
    """1 on days a machine may work, 0 while it stands: two to six weeks in about 18 months."""
    change = np.zeros((machines, days + 1))
    for machine, count in enumerate(rng.poisson(days / 550.0, size=machines)):
        start = rng.integers(0, days, size=count)
        stop = np.minimum(start + rng.integers(14, 45, size=count), days)
        np.add.at(change[machine], start, 1)
        np.add.at(change[machine], stop, -1)
    free: FloatArray = (np.cumsum(change[:, :-1], axis=1) == 0).astype(np.float64)
    return free


@dataclass(frozen=True, kw_only=True)
class Visits:
    """Services of all machines, aligned at the last one: shape (machines, most visits)."""

    valid: NDArray[np.bool_]
    day: IntArray
    hours: FloatArray
    """The machine's true age at the visit."""

    @property
    def most(self) -> int:
        """Visits of the busiest machine."""
        return int(self.valid.shape[1])


def plan_visits(
    rng: np.random.Generator, *, worked: FloatArray, age: FloatArray, first_day: int, last: IntArray
) -> Visits:
    """Every machine is visited about every 250 h, counted back from its last visit.

    Args:
        rng: the stream of the hours.
        worked: ``cumulative_hours``.
        age: true hours of each machine before the first day.
        first_day: proleptic ordinal.
        last: ordinal of a last visit that is fixed, or 0 where it is drawn.
    """
    machines, days = worked.shape
    end = worked[:, -1] - rng.uniform(0.0, SERVICE_HOURS, size=machines)
    fixed = worked[np.arange(machines), np.clip(last - first_day, 0, days - 1)]
    end = np.where(last > 0, fixed, end)
    most = max(1, int(np.floor(end.max() / SERVICE_HOURS)) + 1)
    back = SERVICE_HOURS * (most - 1 - np.arange(most))
    late = np.clip(rng.normal(0.0, 12.0, size=(machines, most)), -40.0, 40.0)
    late[:, -1] = 0.0
    target = end[:, None] - back[None, :] + late
    valid = target > 0.2 * SERVICE_HOURS
    lane = np.arange(machines)[:, None] * _MUCH
    flat = np.searchsorted((worked + lane).ravel(), (np.maximum(target, 0.0) + lane).ravel() - 1e-6)
    index = np.clip(flat.reshape(machines, most) - np.arange(machines)[:, None] * days, 0, days - 1)
    hours = age[:, None] + worked[np.arange(machines)[:, None], index]
    return Visits(valid=valid, day=first_day + index, hours=hours)


def fit_meters(
    rng: np.random.Generator, *, worked: FloatArray, age: FloatArray, first_day: int
) -> MeterRows:
    """The meter each machine came with, a replacement in some, a roll-over in a few.

    Three in a hundred machines a year get a new meter; two in a hundred have one that rolls over
    once (common practice, no source).
    """
    machines, days = worked.shape
    rolling = rng.random(machines) < _ROLLING_SHARE
    total = np.maximum(worked[:, -1], 1.0)
    wrap = np.where(rolling, np.where(total < _SHORT_PLAY_H, 10_000.0, 100_000.0), 0.0)
    start = np.where(rolling, np.round(wrap - rng.uniform(0.3, 0.7, machines) * total), age)
    replaced = ~rolling & (rng.random(machines) < _REPLACED_A_YEAR * days / 365.25)
    at = rng.integers(days // 5, max(days // 5 + 1, 4 * days // 5), size=machines)
    who = np.flatnonzero(replaced)
    before = age[who] + worked[who, at[who] - 1]
    first = np.concatenate([np.arange(machines), who])
    fitted = np.concatenate([np.full(machines, first_day), first_day + at[who]])
    order = np.lexsort((fitted, first))
    return MeterRows(
        machine=first[order],
        fitted_on=fitted[order],
        start_value=np.concatenate([start, np.zeros(len(who))])[order],
        hours_before=np.concatenate([age, np.round(before, 1)])[order],
        rolls_over_at=np.concatenate([wrap, np.zeros(len(who))])[order],
    )
