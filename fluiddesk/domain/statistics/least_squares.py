"""Straight line by least squares, with the interval of a prediction.

Ordinary least squares with an intercept; sums about the means, so that certified values hold to
twelve digits (NIST StRD Norris). Interval of a single further result and of the mean at a place:
Student's t with n - 2 degrees of freedom (NIST/SEMATECH e-Handbook of Statistical Methods).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import NotEnough, between, series

FEWEST_RESULTS: Final = 3
"""Two points always lie on a line: it then has no uncertainty to tell."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """The line's value at a place; a single further result and the mean lie in these bounds."""

    value: float
    low: float
    high: float
    mean_low: float
    mean_high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A line through ``n`` results: values over hours (or days).

    ``r_squared`` is 1 where all values are equal: the level line then fits them all.
    """

    n: int
    slope: float
    intercept: float
    r_squared: float
    slope_error: float
    intercept_error: float
    residual_deviation: float
    mean_at: float
    spread_at: float

    def predict(self, at: float, *, confidence: float = 0.95) -> Prediction:
        """The value at a place with its intervals.

        Raises:
            OutOfRangeError: for a confidence not between 0 and 1, or a place that is not finite.
        """
        from scipy.special import stdtrit

        between(confidence, low=0, high=1, name="confidence")
        between(at, low=-np.inf, high=np.inf, name="hours")
        t = float(stdtrit(self.n - 2, (1 + confidence) / 2))
        share = 1 / self.n + (at - self.mean_at) ** 2 / self.spread_at
        value = self.intercept + self.slope * at
        single = t * self.residual_deviation * float(np.sqrt(1 + share))
        mean = t * self.residual_deviation * float(np.sqrt(share))
        return Prediction(
            value=value,
            low=value - single,
            high=value + single,
            mean_low=value - mean,
            mean_high=value + mean,
        )

    def reaches(self, level: float) -> float | None:
        """The hours at which the line meets a level; ``None`` for a level line.

        They may lie in the past; where they lie is not yet a forecast.
        """
        return (level - self.intercept) / self.slope if self.slope else None


def least_squares(at: ArrayLike, values: ArrayLike) -> Line | NotEnough:
    """Fit a straight line to results over hours (or days).

    "Less than" results have no place in this method: use a robust slope for them.

    Returns:
        ``NotEnough`` with fewer than three results, or all at the same hours.

    Raises:
        LengthsDifferError, NotANumberError, WrongOrderError: see ``entry.series``.

    >>> line = least_squares([100, 250, 400, 550, 700, 850], [12, 17, 21, 28, 31, 38])
    >>> round(line.slope, 8), round(line.intercept, 8)
    (0.03409524, 8.3047619)
    >>> round(line.reaches(60), 3), round(line.predict(1100).high, 4)
    (1516.201, 49.7706)
    """
    hours, numbers = series(at, values)
    n = len(hours)
    if n < FEWEST_RESULTS:
        return NotEnough(have=n, need=FEWEST_RESULTS, of="results")
    mean_at, mean = float(hours.mean()), float(numbers.mean())
    across, up = hours - mean_at, numbers - mean
    spread_at = float(across @ across)
    if hours[0] == hours[-1]:
        return NotEnough(have=1, need=2, of="different hours")
    slope = float(across @ up) / spread_at
    left = up - slope * across
    rest, total = float(left @ left), float(up @ up)
    deviation = float(np.sqrt(rest / (n - 2)))
    return Line(
        n=n,
        slope=slope,
        intercept=mean - slope * mean_at,
        r_squared=1 - rest / total if total else 1.0,
        slope_error=deviation / float(np.sqrt(spread_at)),
        intercept_error=deviation * float(np.sqrt(1 / n + mean_at**2 / spread_at)),
        residual_deviation=deviation,
        mean_at=mean_at,
        spread_at=spread_at,
    )
