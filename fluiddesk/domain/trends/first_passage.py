"""In how many hours a level reaches a limit, as a distribution and not as one number.

The chance to have reached the limit by an hour is that of lying beyond it (``outlook.py``), for a
level that only rises; where it may fall again, the highest chance so far. No random numbers: the
same input, the same answer.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trends.outlook import Watched, outlook
from fluiddesk.domain.trends.prior import BoolArray, FillRates, FloatArray, Group

HORIZON_HOURS: Final = 4000.0
"""A limit further away than this is not in sight: no fill is run so long (common practice)."""

FEWEST_PAST_FILLS: Final = 2
FEWEST_SAMPLES: Final = 3
"""What a forecast needs where no like box is known (common practice, no source)."""

AHEAD: Final = np.concatenate([[0.0], np.geomspace(4.0, HORIZON_HOURS, 95)])
"""The hours looked at."""

BLOCK_ROWS: Final = 256
"""Rows worked out in one go: bounds the memory."""


def is_enough(watched: Watched, group: Group, past: FillRates) -> BoolArray:
    """Whether a forecast can be given: a sample, and something that tells the rate."""
    samples = watched.samples()
    told = group.is_known | (past.count() >= FEWEST_PAST_FILLS) | (samples >= FEWEST_SAMPLES)
    enough: BoolArray = told & (samples >= 1)
    return enough


@dataclass(frozen=True, slots=True, kw_only=True)
class Foretold:
    """What is foretold of n rows.

    Attributes:
        chance: shape (n, t), to have reached the limit by each hour after the last sample.
        growth: shape (n,), the chance that a fault grows in the present fill.
    """

    chance: FloatArray
    growth: FloatArray


def foretell(
    watched: Watched,
    group: Group,
    past: FillRates,
    *,
    limit: FloatArray,
    hours: FloatArray = AHEAD,
) -> Foretold:
    """The chance of each row to have reached its limit by each hour after its last sample.

    Args:
        watched: n rows.
        group: n rows.
        past: n rows.
        limit: shape (n,).
        hours: rising, shape (t,).

    Returns:
        NaN in rows without enough to go by (``is_enough``).

    >>> engine = Watched(start=np.array([5.4]), start_sd=np.array([1.0]),
    ...     step_hours=np.array([[250.0]]), values=np.array([[32.0]]), sd=np.array([[3.0]]),
    ...     is_bound=np.zeros((1, 1), dtype=bool), loss=np.zeros((1, 1)),
    ...     brought=np.zeros((1, 1)), loss_ahead=np.zeros(1), brought_ahead=np.zeros(1),
    ...     lump_hours=np.full(1, 8.0))
    >>> group = Group(middle=np.array([0.106]), between_sd=np.array([0.4]),
    ...               fill_sd=np.array([0.15]), boxes=np.array([30]), is_signed=np.array([False]))
    >>> none = FillRates(rate=np.zeros((1, 0)), sd=np.zeros((1, 0)),
    ...                  is_bound=np.zeros((1, 0), dtype=bool))
    >>> found = foretell(engine, group, none, limit=np.array([80.0]))
    >>> [round(float(one[0])) for one in quantiles(found.chance)]
    [314, 458, 638]
    """
    reached = np.full((len(watched), len(hours)), np.nan)
    growth = np.full(len(watched), np.nan)
    for first in range(0, len(watched), BLOCK_ROWS):
        part = slice(first, first + BLOCK_ROWS)
        seen = outlook(watched.rows(part), _part(group, part), _past(past, part))
        reached[part] = seen.chance(limit[part], hours)
        growth[part] = seen.chance_of_growth()
    enough = is_enough(watched, group, past)
    reached[~enough], growth[~enough] = np.nan, np.nan
    return Foretold(chance=reached, growth=growth)


def _part(group: Group, which: slice) -> Group:
    return Group(**{name: getattr(group, name)[which] for name in Group.__dataclass_fields__})


def _past(past: FillRates, which: slice) -> FillRates:
    return FillRates(rate=past.rate[which], sd=past.sd[which], is_bound=past.is_bound[which])


def quantiles(
    chance: FloatArray,
    hours: FloatArray = AHEAD,
    *,
    shares: tuple[float, ...] = (0.1, 0.5, 0.9),
) -> list[FloatArray]:
    """The hours by which each share of the chances has reached the limit, between hours by a line.

    Args:
        chance: shape (n, t), never falling along a row.
        hours: shape (t,).
        shares: between 0 and 1.

    Returns:
        One column a share; infinite where the share is not reached in the hours looked at, NaN
        where the row is.

    >>> chance = np.array([[0.0, 0.5, 1.0], [0.0, 0.1, 0.2], [0.3, 0.6, 0.9]])
    >>> [one.tolist() for one in quantiles(chance, np.array([0.0, 100.0, 200.0]),
    ...                                    shares=(0.1, 0.6))]
    [[20.0, 100.0, 0.0], [120.0, inf, 100.0]]
    """
    found = []
    for share in shares:
        there = chance >= share
        first = np.argmax(there, axis=1)
        row = np.arange(len(chance))
        before = np.maximum(first - 1, 0)
        low, high = chance[row, before], chance[row, first]
        rise = np.where(high > low, high - low, 1.0)
        part = np.where(first > 0, (share - low) / rise, 0.0)
        at = hours[before] + part * (hours[first] - hours[before])
        at = np.where(there.any(axis=1), at, np.inf)
        found.append(np.where(np.isnan(chance[:, 0]), np.nan, at))
    return found


def first_of(chances: FloatArray, family: NDArray[np.int64]) -> FloatArray:
    """The chance that any of several analytes of one box has reached its limit.

    What rises together counts once: inside a family the highest chance, between families as if
    they were independent (common practice, no source).

    Args:
        chances: shape (n, t), rows without NaN.
        family: shape (n,), which rows rise together.

    Returns:
        Shape (t,).

    >>> chances = np.array([[0.5], [0.4], [0.2]])
    >>> first_of(chances, np.array([1, 1, 2])).tolist()
    [0.6]
    """
    spared = np.ones(chances.shape[1])
    for one in np.unique(family):
        spared = spared * (1.0 - chances[family == one].max(axis=0))
    return 1.0 - spared
