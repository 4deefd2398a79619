"""Which meter values of one machine can be true together.

Common practice, no source: the longest run of values in which no later one is lower and none rises
faster than the clock is believed; every value outside it was mistyped or belongs elsewhere.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import HOURS_IN_A_DAY

SLACK_H: Final = 24.0
"""Days know no time: two readings may lie up to a day further apart than their days say."""


def believable(days: NDArray[np.int64], hours: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Whether each value belongs to the longest run that can be true.

    Args:
        days: day ordinals, in any order, shape (n,).
        hours: the machine's true hours at each, NaN where unknown, shape (n,).

    Returns:
        Shape (n,); ``False`` where the hours are unknown or below 0. Of runs of one length the one
        that rises most evenly is believed.

    >>> days = np.array([0, 10, 20, 30])
    >>> believable(days, np.array([100.0, 200.0, 2900.0, 400.0])).tolist()
    [True, True, False, True]
    """
    keep = np.zeros(len(days), dtype=np.bool_)
    known = np.flatnonzero(np.isfinite(hours) & (hours >= 0))
    order = known[np.lexsort((hours[known], days[known]))]
    if not len(order):
        return keep
    day, hour = days[order].astype(np.float64), hours[order]
    length = np.ones(len(order), dtype=np.int64)
    unevenness = np.zeros(len(order))
    before = np.full(len(order), -1, dtype=np.int64)
    for row in range(1, len(order)):
        rise, gap = hour[row] - hour[:row], day[row] - day[:row]
        fits = np.flatnonzero((rise >= 0) & (rise <= HOURS_IN_A_DAY * gap + SLACK_H))
        if len(fits):
            cost = unevenness[fits] + rise[fits] ** 2 / (gap[fits] + 1.0)
            best = _best(length[fits], cost)
            length[row], unevenness[row] = length[fits[best]] + 1, cost[best]
            before[row] = fits[best]
    row = _best(length, unevenness)
    while row >= 0:
        keep[order[row]] = True
        row = int(before[row])
    return keep


def _best(length: NDArray[np.int64], unevenness: NDArray[np.float64]) -> int:
    """The longest run; of equal ones the most even, then the latest."""
    longest = np.flatnonzero(length == length.max())
    chosen = longest[unevenness[longest] == unevenness[longest].min()]
    return int(chosen[-1])
