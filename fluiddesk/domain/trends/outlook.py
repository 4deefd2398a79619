"""The present fill followed through its samples: where it stands, under every rate it may have.

For each rate on a grid (``prior.py``) the level goes by the mass balance of ``wear/balance.py``,
each sample drawing it towards what was measured (Kalman's filter in one dimension, from memory,
unconfirmed); what a rate makes of the samples is its likelihood. Beside a steady rate a fault that
grows from the change on is considered, its wear doubling in 50 to 400 hours; the samples decide. A
fault that has not begun cannot be foreseen. From the last sample on the level goes the same way,
spread by the error of the present level and by wear coming in lumps (gamma process, by its mean and
variance).

Everything looks upward: for a limit that is reached by falling turn the sign of every level first.
"""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trends.prior import (
    BoolArray,
    FillRates,
    FloatArray,
    Group,
    RateGrid,
    box_rates,
    completed,
    fill_rates,
    normalised,
)
from fluiddesk.domain.wear.balance import after, filled_share

LUMP_HOURS: Final = 8.0
"""Hours of wear that come at once in the gamma process of wear (common practice, no source)."""

GROWING_FAULTS: Final = 0.05
"""Share of fills in which a fault grows (common practice, no source)."""
DOUBLING_HOURS: Final = (50.0, 100.0, 200.0, 400.0)
"""Hours in which the wear of a growing fault doubles, each as likely as the others (common
practice, no source)."""

_WORTH_A_LOOK: Final = 1e-5
_NEVER: Final = 1e-300


@dataclass(frozen=True, slots=True, kw_only=True)
class Watched:
    """What was seen in the present fill, n rows (one analyte of one box) x k samples in order.

    Attributes:
        start: level just after the change; the first sample's where no change is known.
        start_sd: how well it is known, above 0.
        step_hours: hours from the sample before (or the change); NaN where there is no sample.
        values: the level measured; NaN where there is none.
        sd: standard deviation of its error, above 0.
        is_bound: the true level is at most this (below detection, and the limit lies above).
        loss: share of the substance lost per hour in each step.
        brought: level brought per hour by what makes up the loss in each step.
        loss_ahead: the same from the last sample on, shape (n,).
        brought_ahead: likewise.
        lump_hours: hours of wear that come at once; 0 for what is used up evenly.
    """

    start: FloatArray
    start_sd: FloatArray
    step_hours: FloatArray
    values: FloatArray
    sd: FloatArray
    is_bound: BoolArray
    loss: FloatArray
    brought: FloatArray
    loss_ahead: FloatArray
    brought_ahead: FloatArray
    lump_hours: FloatArray

    def __len__(self) -> int:
        return len(self.start)

    def rows(self, which: slice) -> "Watched":
        """Some rows."""
        return Watched(**{name: getattr(self, name)[which] for name in self.__dataclass_fields__})

    def samples(self) -> NDArray[np.int64]:
        """How many samples with a number each row has."""
        count: NDArray[np.int64] = (np.isfinite(self.values) & ~self.is_bound).sum(axis=1)
        return count


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """One way the present fill may go: n rows x m rates, each with its chance.

    Attributes:
        weight: the chance of each rate; over all courses of a row they sum to 1.
        rate: at the last sample, per hour.
        level: at the last sample, and its ``variance``.
        grows: share by which the rate grows per hour, in its logarithm; 0 for a steady one.
    """

    weight: FloatArray
    rate: FloatArray
    level: FloatArray
    variance: FloatArray
    grows: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The present fill as seen from its last sample: the courses it may take."""

    courses: tuple[Course, ...]
    loss: FloatArray
    brought: FloatArray
    lump_hours: FloatArray

    def mean_rate(self) -> FloatArray:
        """The mean rate at the last sample, one a row."""
        found: FloatArray = np.sum(
            [(one.weight * one.rate).sum(axis=1) for one in self.courses], axis=0
        )
        return found

    def mean_level(self) -> FloatArray:
        """The mean level at the last sample, one a row."""
        found: FloatArray = np.sum(
            [(one.weight * one.level).sum(axis=1) for one in self.courses], axis=0
        )
        return found

    def chance_of_growth(self) -> FloatArray:
        """The chance that a fault is growing in the present fill, one a row."""
        steady = [one.weight.sum(axis=1) for one in self.courses if not one.grows]
        return np.asarray(1.0 - np.sum(steady, axis=0))

    def chance(self, limit: FloatArray, hours: FloatArray) -> FloatArray:
        """The chance that each row has reached its limit by so many hours after its last sample.

        Args:
            limit: shape (n,).
            hours: rising, shape (t,).

        Returns:
            Shape (n, t), never falling along a row.
        """
        reached = np.sum([self._beyond(one, limit, hours) for one in self.courses], axis=0)
        found: FloatArray = np.maximum.accumulate(np.clip(reached, 0.0, 1.0), axis=1)
        return found

    def _beyond(self, course: Course, limit: FloatArray, hours: FloatArray) -> FloatArray:
        """The chance to lie beyond the limit on one course."""
        from scipy.special import ndtr

        nodes = np.flatnonzero(course.weight.max(axis=0, initial=0.0) > _WORTH_A_LOOK)
        weight, rate = course.weight[:, nodes, None], course.rate[:, nodes, None]
        level, variance = course.level[:, nodes, None], course.variance[:, nodes, None]
        loss, lump = self.loss[:, None, None], self.lump_hours[:, None, None]
        fresh, nothing = self.brought[:, None, None], np.zeros(1)
        reached = np.empty((len(limit), len(hours)))
        for first in range(0, len(hours), 32):
            ahead = hours[None, None, first : first + 32]
            kept = after(level, made=nothing, fresh=fresh, loss=loss, hours=ahead)
            mean = kept + rate * _made(loss, ahead, course.grows)
            lumps = rate**2 * lump * _made(2 * loss, ahead, 2 * course.grows)
            spread = np.sqrt(variance * np.exp(-2 * loss * ahead) + lumps)
            beyond = ndtr((mean - limit[:, None, None]) / spread)
            reached[:, first : first + 32] = (weight * beyond).sum(axis=1)
        return reached


def _made(loss: FloatArray, hours: FloatArray, grows: float) -> FloatArray:
    """What a rate of 1 at the start leaves in the fluid after some hours, growing evenly or not."""
    if not grows:
        return filled_share(loss, hours)
    left: FloatArray = (np.exp(grows * hours) - np.exp(-loss * hours)) / (grows + loss)
    return left


def outlook(watched: Watched, group: Group, past: FillRates) -> Outlook:
    """Where each row stands at its last sample, under every rate, and the chance of each rate.

    Args:
        watched: the samples of the present fill.
        group: what like boxes say; NaN where they say nothing.
        past: the rates of the box's past fills.
    """
    whole = completed(group, past, fallback=_plain_rate(watched))
    grid = fill_rates(whole, box_rates(whole, past))
    # What is used up or drifts does so evenly: no fault grows in it.
    may_grow = np.where(watched.lump_hours > 0, GROWING_FAULTS, 0.0)[:, None]
    each = may_grow / len(DOUBLING_HOURS)
    courses = [_followed(watched, grid, 1.0 - may_grow, 0.0)]
    courses += [_followed(watched, grid, each, np.log(2.0) / hours) for hours in DOUBLING_HOURS]
    chances = normalised(np.concatenate([score for score, _ in courses], axis=1))
    nodes = grid.rate.shape[1]
    return Outlook(
        courses=tuple(
            replace(course, weight=chances[:, place * nodes : (place + 1) * nodes])
            for place, (_, course) in enumerate(courses)
        ),
        loss=watched.loss_ahead,
        brought=watched.brought_ahead,
        lump_hours=watched.lump_hours,
    )


def _followed(
    watched: Watched, grid: RateGrid, prior: FloatArray | float, grows: float
) -> tuple[FloatArray, Course]:
    """One course through the samples: how likely each rate makes it, and where it ends."""
    score = np.log(np.maximum(grid.weight * prior, _NEVER))
    level = np.broadcast_to(watched.start[:, None], grid.rate.shape).copy()
    variance = np.broadcast_to(watched.start_sd[:, None] ** 2, grid.rate.shape).copy()
    rate = grid.rate
    for place in range(watched.values.shape[1]):
        ran = np.isfinite(watched.step_hours[:, place])
        step = np.where(ran, watched.step_hours[:, place], 0.0)[:, None]
        loss = np.where(ran, watched.loss[:, place], 0.0)[:, None]
        brought = np.where(ran, watched.brought[:, place], 0.0)[:, None]
        kept = after(level, made=np.zeros(1), fresh=brought, loss=loss, hours=step)
        level = kept + rate * _made(loss, step, grows)
        lumps = rate**2 * watched.lump_hours[:, None] * _made(2 * loss, step, 2 * grows)
        variance = variance * np.exp(-2 * loss * step) + lumps
        rate = rate * np.exp(grows * step)
        told, level, variance = _seen(watched, place, level, variance)
        score = score + told
    course = Course(
        weight=grid.weight,
        rate=rate,
        level=level,
        variance=np.maximum(variance, 1e-12),
        grows=float(grows),
    )
    return score, course


def _seen(
    watched: Watched, place: int, level: FloatArray, variance: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What one sample says of each rate, and the level after it was looked at."""
    from scipy.special import log_ndtr

    value, error = watched.values[:, place], watched.sd[:, place]
    has = np.isfinite(value)[:, None]
    value, error = np.where(has, value[:, None], 0.0), np.where(has, error[:, None], 1.0)
    bound = watched.is_bound[:, place][:, None]
    total = variance + error**2
    away = (value - level) / np.sqrt(total)
    told = -0.5 * away**2 - 0.5 * np.log(total)
    if bound.any():
        told = np.where(bound, log_ndtr(away), told)
    share = variance / total
    # Under a bound the level is drawn down only where it lies above what the bound allows.
    moved = np.where(bound, np.minimum(value - level, 0.0), value - level)
    kept = np.where(bound & (value >= level), 1.0, 1.0 - share)
    return (
        np.where(has, told, 0.0),
        np.where(has, level + share * moved, level),
        np.where(has, variance * kept, variance),
    )


def _plain_rate(watched: Watched) -> FloatArray:
    """Rise over run of the present fill: a stand-in where nothing else is known."""
    ran = np.where(np.isfinite(watched.step_hours), watched.step_hours, 0.0).sum(axis=1)
    last = np.full(len(watched), np.nan)
    for place in range(watched.values.shape[1]):
        last = np.where(np.isfinite(watched.values[:, place]), watched.values[:, place], last)
    rise = np.where(np.isfinite(last), last - watched.start, 0.0)
    return np.where(ran > 0, rise / np.where(ran > 0, ran, 1.0), 0.0)
