"""Centre and spread that a few wild results do not move: median and scaled absolute deviation.

The median absolute deviation is multiplied by 1.4826, so that it estimates the standard deviation
of bell-shaped results (common practice, no source).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import NotEnough, column

TO_DEVIATION: Final = 1.4826
"""What the median absolute deviation is multiplied by to compare with a standard deviation."""

FEWEST_RESULTS: Final = 3


@dataclass(frozen=True, slots=True, kw_only=True)
class RobustSpread:
    """Median, median absolute deviation, and the latter scaled to a standard deviation."""

    median: float
    absolute_deviation: float
    deviation: float


def robust_spread(values: ArrayLike) -> RobustSpread | NotEnough:
    """The median and the median distance from it.

    Returns:
        ``NotEnough`` with fewer than three results.

    Raises:
        NotANumberError: when a value is not finite.

    >>> robust_spread([12, 15, 14, 18, 41]).deviation
    4.4478
    """
    numbers = column(values, name="values")
    if len(numbers) < FEWEST_RESULTS:
        return NotEnough(have=len(numbers), need=FEWEST_RESULTS, of="results")
    median = float(np.median(numbers))
    away = float(np.median(np.abs(numbers - median)))
    return RobustSpread(median=median, absolute_deviation=away, deviation=TO_DEVIATION * away)
