"""Whether results may be treated as bell-shaped: the Shapiro-Wilk test.

Control limits of mean and deviation are for bell-shaped results only (scope of ASTM D7720); where
this test speaks against it, percentiles are to be used. Computed by scipy.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import NotEnough, OutOfRangeError, column

FEWEST_RESULTS: Final = 3
MOST_RESULTS: Final = 5000
"""The probability is not known to hold for more (scipy)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapiroWilk:
    """``w`` near 1 speaks for a bell shape; a small ``probability`` speaks against it."""

    n: int
    w: float
    probability: float


def shapiro_wilk(values: ArrayLike) -> ShapiroWilk | NotEnough:
    """Test results for a bell shape.

    Returns:
        ``NotEnough`` with fewer than three results, or all equal.

    Raises:
        NotANumberError: when a value is not finite.
        OutOfRangeError: for more than 5000 results.

    >>> found = shapiro_wilk([12, 15, 14, 18, 22, 17, 13, 16, 19, 41])
    >>> found.probability < 0.01
    True
    """
    from scipy import stats

    numbers = column(values, name="values")
    if len(numbers) < FEWEST_RESULTS:
        return NotEnough(have=len(numbers), need=FEWEST_RESULTS, of="results")
    if len(numbers) > MOST_RESULTS:
        raise OutOfRangeError(
            f"{len(numbers)} results: the test holds for at most {MOST_RESULTS}. Choose a shorter "
            f"time or fewer machines."
        )
    if not np.ptp(numbers):
        return NotEnough(have=1, need=2, of="different results")
    w, probability = stats.shapiro(numbers)
    return ShapiroWilk(n=len(numbers), w=float(w), probability=float(probability))
