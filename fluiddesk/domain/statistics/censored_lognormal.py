"""Mean and spread with "less than" results: likelihood of a lognormal with censoring.

A result counts with its density, a "less than" with the chance of lying below its limit; the
likelihood is concave in 1/sigma and mu/sigma, so that Newton's method finds its one top. Held
against USEPA Unified Guidance (2009) Example 15-1. Intervals by the observed information (delta
method; common practice, no source).
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
"""Fewer different results above their limit give no fit (common practice, no source)."""

_CLOSE: Final = 1e-12
_LOG_ROOT_2_PI: Final = 0.5 * float(np.log(2 * np.pi))


@dataclass(frozen=True, slots=True, kw_only=True)
class CensoredLognormal:
    """A lognormal fitted to results of which some are below their limits.

    ``log_mean`` and ``log_deviation`` describe ln(value); ``mean`` is in the unit of the values,
    ``variation`` the deviation over the mean, ``mean_error`` the standard error of ln(mean).
    """

    n: int
    n_below: int
    log_mean: float
    log_deviation: float
    mean: float
    variation: float
    mean_error: float

    def mean_interval(self, *, confidence: float = 0.95) -> tuple[float, float]:
        """The interval of the mean, symmetric on the logarithmic scale."""
        between(confidence, low=0, high=1, name="confidence")
        factor = float(np.exp(NormalDist().inv_cdf((1 + confidence) / 2) * self.mean_error))
        return self.mean / factor, self.mean * factor

    def quantile(self, share: float) -> float:
        """The value that this share of the fitted distribution does not exceed."""
        between(share, low=0, high=1, name="share")
        return float(np.exp(self.log_mean + NormalDist().inv_cdf(share) * self.log_deviation))


def censored_lognormal(values: ArrayLike, *, below: ArrayLike) -> CensoredLognormal | NotEnough:
    """Fit a lognormal to results of which some are "less than" a limit; the limits may differ.

    Args:
        values: results above zero; for a "less than" result the limit it is below.
        below: true where the result is below its limit.

    Returns:
        ``NotEnough`` with fewer than three different results above their limit.

    Raises:
        LengthsDifferError, NotANumberError, NotPositiveError: see ``entry.censored``.

    >>> found = censored_lognormal([1, 2, 4, 8, 1], below=[False, False, False, False, True])
    >>> round(found.mean, 2), round(found.quantile(0.5), 2)
    (3.28, 2.05)
    """
    numbers, marks = censored(values, below=below)
    different = len(np.unique(numbers[~marks]))
    if different < FEWEST_DETECTS:
        return NotEnough(
            have=different, need=FEWEST_DETECTS, of="different results above their limit"
        )
    logs = np.log(numbers)
    centre, spread = float(logs[~marks].mean()), float(logs[~marks].std())
    (ratio, inverse), curve = _top((logs - centre) / spread, marks)
    deviation, log_mean = spread / inverse, centre + spread * ratio / inverse
    # ln(mean) = mu + sigma^2/2 as a function of ratio = mu/sigma and inverse = 1/sigma, scaled.
    slope = np.array([spread / inverse, -spread * ratio / inverse**2 - spread**2 / inverse**3])
    return CensoredLognormal(
        n=len(numbers),
        n_below=int(np.count_nonzero(marks)),
        log_mean=float(log_mean),
        log_deviation=float(deviation),
        mean=float(np.exp(log_mean + deviation**2 / 2)),
        variation=float(np.sqrt(np.expm1(deviation**2))),
        mean_error=float(np.sqrt(slope @ np.linalg.solve(-curve, slope))),
    )


def _top(logs: FloatColumn, below: BoolColumn) -> tuple[FloatColumn, FloatColumn]:
    """Where the likelihood is largest, as (mu/sigma, 1/sigma), and its curvature there."""
    here = np.array([0.0, 1.0])
    height, slope, curve = _likelihood(here, logs, below)
    step = np.linalg.solve(-curve, slope)
    while float(slope @ step) > _CLOSE:
        # A full step may overshoot, or make sigma negative: halve it until it climbs.
        while here[1] + step[1] <= 0 or _falls(here + step, logs, below, height=height):
            step = step / 2
        here = here + step
        height, slope, curve = _likelihood(here, logs, below)
        step = np.linalg.solve(-curve, slope)
    return here, curve


def _falls(here: FloatColumn, logs: FloatColumn, below: BoolColumn, *, height: float) -> bool:
    """Whether the likelihood is lower here, by more than rounding."""
    return _likelihood(here, logs, below)[0] < height - _CLOSE * (1 + abs(height))


def _likelihood(
    here: FloatColumn, logs: FloatColumn, below: BoolColumn
) -> tuple[float, FloatColumn, FloatColumn]:
    """The log-likelihood, its slope and its curvature at (mu/sigma, 1/sigma)."""
    from scipy.special import log_ndtr

    ratio, inverse = here
    known, limit = logs[~below], logs[below]
    away, depth = inverse * known - ratio, inverse * limit - ratio
    log_share = log_ndtr(depth)
    pull = np.exp(-(depth**2) / 2 - _LOG_ROOT_2_PI - log_share)
    bend = pull * (depth + pull)
    height = len(known) * np.log(inverse) - away @ away / 2 + log_share.sum()
    slope = np.array([away.sum() - pull.sum(), len(known) / inverse - away @ known + pull @ limit])
    cross = known.sum() + bend @ limit
    curve = np.array(
        [
            [-len(known) - bend.sum(), cross],
            [cross, -len(known) / inverse**2 - known @ known - bend @ limit**2],
        ]
    )
    return float(height), slope, curve
