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
        Shape (n,); ``False`` where the hours are unknown or below 0. Of two runs of one length the
        one with the later values is believed.

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
    before = np.full(len(order), -1, dtype=np.int64)
    for row in range(1, len(order)):
        rise = hour[row] - hour[:row]
        most = HOURS_IN_A_DAY * (day[row] - day[:row]) + SLACK_H
        fits = np.where((rise >= 0) & (rise <= most), length[:row], 0)
        best = int(row - 1 - np.argmax(fits[::-1]))
        if fits[best]:
            length[row], before[row] = fits[best] + 1, best
    row = int(len(order) - 1 - np.argmax(length[::-1]))
    while row >= 0:
        keep[order[row]] = True
        row = int(before[row])
    return keep
