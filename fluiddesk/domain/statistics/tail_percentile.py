"""Percentiles of a fleet's results with "less than" results, and how well they are known.

The percentile is Hazen's where it lies above every "less than" limit, since what lies below then
only counts; else the Kaplan-Meier quantile. Its interval is a bootstrap by machine: whole machines
are drawn with replacement, because the results of one machine resemble each other, and the
percentile of each draw is read off. Seeded, so that it comes out the same again.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.statistics.entry import FloatColumn, NotEnough, between
from fluiddesk.domain.statistics.kaplan_meier import kaplan_meier
from fluiddesk.domain.statistics.percentile import PercentileDefinition, percentile

FEWEST_MACHINES: Final = 10
"""For any percentile of a group of like boxes (common practice, no source)."""

FEWEST_RESULTS: Final = ((90.0, 30), (97.5, 100), (99.0, 200))
"""Percentage and the results it needs at least (common practice, no source)."""

_PAST_THE_LAST: Final = 2.0
"""Results expected past a percentage beyond the last of the table, as 200 at 99 % expects."""

_TAIL: Final = 8.0
"""The bootstrap sorts so many times the share it looks for; a draw that asks for more gets the
innermost result kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TailPercentile:
    """One percentile; ``low`` to ``high`` is its bootstrap interval, NaN without rounds.

    ``is_censored``: it lies among "less than" results, and was read off the Kaplan-Meier steps.
    """

    percent: float
    value: float
    low: float
    high: float
    is_censored: bool


def fewest_results(percent: float) -> int:
    """How many results a percentile needs at least.

    Between the tabulated percentages and beyond them the number of results expected past the
    percentile is carried over (common practice, no source).

    >>> [fewest_results(percent) for percent in (50, 90, 97.5, 98, 99, 99.5, 99.9)]
    [30, 30, 100, 117, 200, 400, 2000]
    """
    between(percent, low=0, high=100, name="percentage")
    known = [share for share, _ in FEWEST_RESULTS]
    past = [need * (1 - share / 100) for share, need in FEWEST_RESULTS]
    if percent <= known[0]:
        return FEWEST_RESULTS[0][1]
    expected = float(np.interp(percent, known, past, right=_PAST_THE_LAST))
    return int(np.ceil(round(expected / (1 - percent / 100), 6)))


def tail_percentiles(
    values: FloatColumn, *, below: NDArray[np.bool_], percents: FloatColumn
) -> FloatColumn | NotEnough:
    """Percentiles of results of which some are "less than" a limit, all at once.

    Args:
        values: results; for a "less than" result the limit it is below. None is negative.
        below: true where the result is below its limit.
        percents: percentages.

    Returns:
        One value each, NaN where it lies among the "less than" results of the Kaplan-Meier
        estimate; ``NotEnough`` without a result.

    >>> tail_percentiles(
    ...     np.array([5.0, 12, 15, 17, 20]), below=np.array([True, False, False, False, False]),
    ...     percents=np.array([50.0, 90.0]))
    array([15., 20.])
    """
    found = percentile(values, percents, definition=PercentileDefinition.HAZEN)
    if isinstance(found, NotEnough) or not below.any():
        return found
    highest_limit = float(values[below].max())
    hidden = found <= highest_limit
    if not hidden.any():
        return found
    steps = kaplan_meier(np.maximum(values, np.finfo(np.float64).tiny), below=below)
    for place in np.flatnonzero(hidden).tolist():
        level = None if isinstance(steps, NotEnough) else steps.quantile(percents[place] / 100)
        found[place] = np.nan if level is None else level
    return found


def bootstrap_intervals(
    values: FloatColumn,
    *,
    machine: NDArray[np.int64],
    percents: FloatColumn,
    rounds: int,
    generator: "np.random.Generator",
    confidence: float = 0.9,
) -> NDArray[np.float64]:
    """Intervals of percentiles by drawing whole machines with replacement.

    Args:
        values: results, "less than" results at their limit.
        machine: which machine each belongs to, any whole numbers.
        percents: percentages above 50.
        rounds: how many draws.
        generator: source of chance; the same seed gives the same interval.
        confidence: share of the draws between the ends.

    Returns:
        Shape (percentages, 2), low and high.

    >>> bootstrap_intervals(np.arange(100.0), machine=np.arange(100), percents=np.array([90.0]),
    ...     rounds=400, generator=np.random.default_rng(1)).round().tolist()
    [[85.0, 94.0]]
    """
    between(confidence, low=0, high=1, name="confidence")
    own, number = np.unique(machine, return_inverse=True)
    sizes = np.bincount(number)
    share = min(1.0, _TAIL * (1 - float(percents.min()) / 100))
    kept = int(np.ceil(share * len(values)))
    order = np.argpartition(values, len(values) - kept)[len(values) - kept :]
    order = order[np.argsort(-values[order], kind="stable")]
    tail, owner = values[order], number[order]
    found = np.empty((rounds, len(percents)))
    for turn in range(rounds):
        drawn = np.bincount(generator.integers(len(own), size=len(own)), minlength=len(own))
        past = np.cumsum(drawn[owner])
        wanted = (1 - percents / 100) * float(drawn @ sizes)
        place = np.searchsorted(past, np.maximum(wanted, 1), side="left")
        found[turn] = tail[np.minimum(place, kept - 1)]
    edge = (1 - confidence) / 2 * 100
    return np.percentile(found, [edge, 100 - edge], axis=0).T
