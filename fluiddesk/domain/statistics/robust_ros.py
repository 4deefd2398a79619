"""Mean and spread with "less than" results: robust regression on order statistics.

The results above their limit are plotted, as logarithms, against normal quantiles; the line
through them fills in values for the "less than" results, and mean and deviation are taken over
results and fillings together, on the original scale (USEPA Unified Guidance 2009, section 15.4, by
title). Plotting positions for several limits after Hirsch and Stedinger, with Weibull positions
inside each range of limits (from memory; held against an independent library in the tests).
"""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import BoolColumn, FloatColumn, NotEnough, censored

FEWEST_DETECTS: Final = 3
"""Fewer results above their limit give no line worth using (common practice, no source)."""

LARGEST_SHARE_BELOW: Final = 0.8
"""With more "less than" results than this share there is no summary (common practice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustRos:
    """Mean and deviation (divisor n - 1) in the unit of the values.

    ``filled`` holds the results, and for each "less than" result a value for the sake of the
    sums only: which bottle it belongs to means nothing.
    """

    n: int
    n_below: int
    mean: float
    deviation: float
    filled: FloatColumn


def robust_ros(values: ArrayLike, *, below: ArrayLike) -> RobustRos | NotEnough:
    """Summarise results of which some are "less than" a limit; the limits may differ.

    Args:
        values: results above zero; for a "less than" result the limit it is below.
        below: true where the result is below its limit.

    Returns:
        ``NotEnough`` with fewer than three different results above their limit, or with more than
        80 % below.

    Raises:
        LengthsDifferError, NotANumberError, NotPositiveError: see ``entry.censored``.

    >>> found = robust_ros([2, 4, 5, 6, 8], below=[True, False, False, False, False])
    >>> round(found.mean, 2), bool(found.filled[0] < 4)
    (5.1, True)
    """
    numbers, marks = censored(values, below=below)
    different = len(np.unique(numbers[~marks]))
    need = max(FEWEST_DETECTS, int(np.ceil(len(numbers) * (1 - LARGEST_SHARE_BELOW) - 1e-9)))
    detects = int(np.count_nonzero(~marks))
    if different < FEWEST_DETECTS:
        return NotEnough(
            have=different, need=FEWEST_DETECTS, of="different results above their limit"
        )
    if detects < need:
        return NotEnough(have=detects, need=need, of="results above their limit")
    positions = plotting_positions(numbers, below=marks)
    quantiles = np.array([NormalDist().inv_cdf(share) for share in positions])
    logs, at = np.log(numbers[~marks]), quantiles[~marks]
    slope = ((at - at.mean()) @ (logs - logs.mean())) / ((at - at.mean()) @ (at - at.mean()))
    filled = np.where(marks, np.exp(logs.mean() + slope * (quantiles - at.mean())), numbers)
    return RobustRos(
        n=len(numbers),
        n_below=len(numbers) - detects,
        mean=float(filled.mean()),
        deviation=float(filled.std(ddof=1)),
        filled=filled,
    )


def plotting_positions(numbers: FloatColumn, *, below: BoolColumn) -> FloatColumn:
    """The share of the distribution at or below each result, with several limits.

    >>> plotting_positions(
    ...     np.array([1.0, 3.0, 2.0]), below=np.array([False, False, False])
    ... ).tolist()
    [0.25, 0.75, 0.5]
    """
    # One range of values from each limit up to the next; a range below the smallest limit too.
    edges = np.concatenate([[0.0], np.unique(numbers[below])])
    known = np.sort(numbers[~below])
    inside = np.diff(np.append(np.searchsorted(known, edges), len(known)))
    under = np.searchsorted(known, edges) + np.array(
        [np.count_nonzero(numbers[below] <= edge) for edge in edges]
    )
    above = _shares_above(inside, under)
    positions = np.empty(len(numbers))
    for place, edge in enumerate(edges):
        here = ~below & (numbers >= edge)
        if place + 1 < len(edges):
            here &= numbers < edges[place + 1]
        rank = _ranks(numbers[here])
        width = above[place] - above[place + 1]
        positions[here] = 1 - above[place] + rank / (len(rank) + 1) * width
        hidden = below & (numbers == edge)
        rank = _ranks(numbers[hidden])
        positions[hidden] = rank / (len(rank) + 1) * (1 - above[place])
    return positions


def _shares_above(inside: FloatColumn, under: FloatColumn) -> FloatColumn:
    """The share of the distribution at or above each edge, worked out from the largest down."""
    above = np.zeros(len(inside) + 1)
    for place in range(len(inside) - 1, -1, -1):
        seen = inside[place] + under[place]
        rise = inside[place] / seen if seen else 0.0
        above[place] = above[place + 1] + rise * (1 - above[place + 1])
    return above


def _ranks(numbers: FloatColumn) -> FloatColumn:
    """1 for the smallest, and so on; equal numbers in the order given."""
    ranks = np.empty(len(numbers))
    ranks[np.argsort(numbers, kind="stable")] = np.arange(1, len(numbers) + 1)
    return ranks
