"""Mean, spread and quantiles with "less than" results, without assuming a distribution.

Kaplan-Meier (product limit) estimate for left-censored values, as in USEPA Unified Guidance (2009)
section 15.3: values are taken from the largest down; what lies below the smallest value is put
at the smallest value, so that the mean is an upper bound where the smallest result is a "less
than". A result of "<5" lies below a result of 5. Standard error of the mean: product-limit
formula with the factor d/(d - 1) for d results above their limit. Checked against Example 15-1.
"""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import (
    BoolColumn,
    FloatColumn,
    NotEnough,
    between,
    censored,
)

FEWEST_DETECTS: Final = 3
"""Fewer results above their limit give no summary (the same number as for substitution in
county groundwater programmes: "at least 3 detects")."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KaplanMeier:
    """A distribution known by steps, in the unit of the values.

    ``levels`` are the distinct results above their limit, rising; ``share_at_most`` the share of
    all results at or below each. ``deviation`` weighs with those shares (divisor n).
    """

    n: int
    n_below: int
    levels: FloatColumn
    share_at_most: FloatColumn
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

        ``None`` where the answer lies below the smallest level, among the "less than" results.
        """
        between(share, low=0, high=1, name="share")
        first = int(np.searchsorted(self.share_at_most, share - 1e-12))
        hidden = first == 0 and self._share_below_levels > 0
        if hidden and share <= self._share_below_levels:
            return None
        return float(self.levels[first])

    @property
    def _share_below_levels(self) -> float:
        """The share hidden below the smallest level; zero where all results there are known."""
        return float(self.share_at_most[0]) if np.isnan(self.levels[0]) else 0.0


def kaplan_meier(values: ArrayLike, *, below: ArrayLike) -> KaplanMeier | NotEnough:
    """Summarise results of which some are "less than" a limit; limits may differ.

    Args:
        values: results above zero; for a "less than" result the limit it is below.
        below: true where the result is below its limit.

    Returns:
        ``NotEnough`` with fewer than three results above their limit.

    Raises:
        LengthsDifferError, NotANumberError, NotPositiveError: see ``entry.censored``.

    >>> found = kaplan_meier([2, 4, 4, 6, 8], below=[True, False, False, False, False])
    >>> round(found.mean, 3), found.n_below
    (4.8, 1)
    """
    numbers, marks = censored(values, below=below)
    if np.count_nonzero(~marks) < FEWEST_DETECTS:
        return NotEnough(
            have=int(np.count_nonzero(~marks)), need=FEWEST_DETECTS, of="results above their limit"
        )
    raise NotImplementedError
