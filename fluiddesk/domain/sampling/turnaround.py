"""How long samples take on each leg of their way: median and 90th percentile.

Percentiles by linear interpolation between the sorted values, (n - 1) p + 1 in their numbering
(definition 7 of Hyndman and Fan, The American Statistician 50 (1996), from memory, unconfirmed).
"""

from dataclasses import dataclass

import numpy as np

from fluiddesk.domain.wear.inputs import FloatArray, WearInputError, same_length


@dataclass(frozen=True, slots=True, kw_only=True)
class Turnaround:
    """Days on one leg; ``None`` in both where no sample has gone it."""

    median_days: float | None
    p90_days: float | None
    samples: int


def turnaround(*, left_at: FloatArray, came_at: FloatArray) -> Turnaround:
    """Days from one station to the next.

    Args:
        left_at: moments in days (any zero), NaN where a sample has not left.
        came_at: moments in days, NaN where it has not come: still on its way, and not counted.

    Raises:
        WearInputError: a sample came before it left.

    >>> turnaround(left_at=np.array([1.0, 1.0, 2.0]), came_at=np.array([3.0, 5.0, np.nan]))
    Turnaround(median_days=3.0, p90_days=3.8, samples=2)
    """
    same_length(left=left_at, came=came_at)
    days = came_at - left_at
    if (days < 0).any():
        row = int(np.flatnonzero(days < 0)[0])
        raise WearInputError(
            f"Row {row + 1}: the sample came {-days[row]:g} days before it left. Correct a moment."
        )
    gone = days[~np.isnan(days)]
    if not gone.size:
        return Turnaround(median_days=None, p90_days=None, samples=0)
    median, p90 = np.quantile(gone, (0.5, 0.9)).tolist()
    return Turnaround(median_days=median, p90_days=round(p90, 9), samples=len(gone))
