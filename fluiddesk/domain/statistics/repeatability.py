"""Measurement spread from duplicates: two results of the same fluid.

s = sqrt(sum d^2 / 2n) over n pairs with differences d; the repeatability limit, which the
difference of two results exceeds one time in twenty, is 2.77 s (ISO 5725-6, from memory). Interval
of s by chi-square with n degrees of freedom (common practice, no source).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import NotEnough, between, column, same_length

LIMIT_TO_DEVIATION: Final = 2.77
"""A 95 % limit on a difference is 2.77 deviations of one result (1.96 times the root of 2)."""

FEWEST_PAIRS: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """The deviation of one result, its interval, and the limit on a difference of two."""

    pairs: int
    deviation: float
    deviation_low: float
    deviation_high: float
    limit: float


def repeatability(
    first: ArrayLike, second: ArrayLike, *, confidence: float = 0.95
) -> Repeatability | NotEnough:
    """Judge the measurement by its duplicates; pairs of "less than" results are left out before.

    Returns:
        ``NotEnough`` with fewer than two pairs.

    Raises:
        LengthsDifferError: when the two are not equally many.
        NotANumberError: when a value is not finite.
        OutOfRangeError: for a confidence not between 0 and 1.

    >>> found = repeatability([12, 15, 11, 14, 13], [10, 10, 10, 10, 10])
    >>> round(found.deviation, 2), round(found.limit, 1)
    (2.35, 6.5)
    """
    from scipy.special import chdtri

    between(confidence, low=0, high=1, name="confidence")
    one, other = column(first, name="first results"), column(second, name="second results")
    same_length(one, other, names="first and second results")
    pairs = len(one)
    if pairs < FEWEST_PAIRS:
        return NotEnough(have=pairs, need=FEWEST_PAIRS, of="pairs of duplicates")
    squares = float((one - other) @ (one - other)) / 2
    deviation = float(np.sqrt(squares / pairs))
    low, high = (
        float(np.sqrt(squares / chdtri(pairs, tail)))
        for tail in ((1 - confidence) / 2, (1 + confidence) / 2)
    )
    return Repeatability(
        pairs=pairs,
        deviation=deviation,
        deviation_low=low,
        deviation_high=high,
        limit=LIMIT_TO_DEVIATION * deviation,
    )
