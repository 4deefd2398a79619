"""Mean, spread and quantiles with "less than" results, without assuming a distribution.

Kaplan-Meier (product limit) estimate for left-censored values, USEPA Unified Guidance (2009)
section 15.3, held against its Example 15-1. What lies below the smallest result is put at that
result: where it is a "less than", the mean is an upper bound. A "<5" lies below a 5.

Standard error of the mean: the product-limit variance with the factor d/(d - 1) for d results
above their limit (from memory, unconfirmed); without "less than" results it is s / sqrt(n). One
published value for Example 15-1 (4.689888, against 5.202570 here) is not reproduced: the formula
behind it was not seen, and this one is the wider of the two.
"""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import FloatColumn, NotEnough, between, censored

FEWEST_DETECTS: Final = 3
"""Fewer results above their limit give no summary (common practice: "at least 3 detects")."""

_ROUNDING: Final = 1e-12


@dataclass(frozen=True, slots=True, kw_only=True)
class KaplanMeier:
    """A distribution known by steps, in the unit of the values.

    ``levels`` are the distinct results above their limit, rising, and ``share_at_most`` the share
    of all results at or below each; ``share_hidden`` lies below the smallest level.
    ``deviation`` weighs with those shares (divisor n).
    """

    n: int
    n_below: int
    levels: FloatColumn
    share_at_most: FloatColumn
    share_hidden: float
    mean: float
    deviation: float
    standard_error: float

    def mean_interval(self, *, confidence: float = 0.95) -> tuple[float, float]:
        """The interval of the mean by the normal approximation."""
        between(confidence, low=0, high=1, name="confidence")
        reach = NormalDist().inv_cdf((1 + confidence) / 2) * self.standard_error
        return self.mean - reach, self.mean + reach

    def quantile(self, share: float) -> float | None:
        """The smallest level that at least this share of the results does not exceed.

        ``None`` where the answer lies below the smallest level, among "less than" results.
        """
        between(share, low=0, high=1, name="share")
        if share <= self.share_hidden:
            return None
        return float(self.levels[np.searchsorted(self.share_at_most, share - _ROUNDING)])


def kaplan_meier(values: ArrayLike, *, below: ArrayLike) -> KaplanMeier | NotEnough:
    """Summarise results of which some are "less than" a limit; the limits may differ.

    Args:
        values: results above zero; for a "less than" result the limit it is below.
        below: true where the result is below its limit.

    Returns:
        ``NotEnough`` with fewer than three results above their limit.

    Raises:
        LengthsDifferError, NotANumberError, NotPositiveError: see ``entry.censored``.

    >>> found = kaplan_meier([2, 4, 4, 6, 8], below=[True, False, False, False, False])
    >>> round(found.mean, 3), found.n_below, found.quantile(0.5), found.quantile(0.1)
    (4.8, 1, 4.0, None)
    """
    numbers, marks = censored(values, below=below)
    detects = int(np.count_nonzero(~marks))
    if detects < FEWEST_DETECTS:
        return NotEnough(have=detects, need=FEWEST_DETECTS, of="results above their limit")
    levels, at_level = np.unique(numbers[~marks], return_counts=True)
    # Everything known to lie at or below a level: results and limits alike.
    at_risk = np.searchsorted(np.sort(numbers), levels, side="right")
    falls = np.cumprod((1 - at_level / at_risk)[::-1])[::-1]
    share_at_most = np.append(falls[1:], 1.0)
    hidden, lowest = float(falls[0]), float(numbers.min())
    places = np.concatenate([[lowest], levels])
    shares = np.concatenate([[hidden], share_at_most - falls])
    mean = float(shares @ places)
    # How far the mean moves with each step: the area under the shares up to the level.
    heights = np.concatenate([[hidden], share_at_most[:-1]])
    area = np.cumsum(heights * np.diff(places))
    left = at_risk - at_level
    parts = area**2 * at_level / (at_risk * np.maximum(left, 1))
    variance = float(parts[left > 0].sum()) * detects / (detects - 1)
    return KaplanMeier(
        n=len(numbers),
        n_below=len(numbers) - detects,
        levels=levels,
        share_at_most=share_at_most,
        share_hidden=hidden,
        mean=mean,
        deviation=float(np.sqrt(shares @ (places - mean) ** 2)),
        standard_error=float(np.sqrt(variance)),
    )
