"""Robust slope: the median of the slopes between all pairs of results (Theil-Sen).

Interval by ordered slopes with c = z sqrt(Var(S)), Var(S) corrected for ties in results and in
hours (Gilbert 1987, as documented; ranks rounded as in scipy). Intercept: median of the values
less slope times the median of the hours, one of two conventions in use (scipy's "separate").
Results taken at the same hours give no slope with each other.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fluiddesk.domain.statistics.entry import (
    FloatColumn,
    LengthsDifferError,
    NotANumberError,
    NotEnough,
    WrongOrderError,
    between,
    series,
)

FEWEST_RESULTS: Final = 3
"""Two results give a slope without an interval (common practice, no source)."""

SERIES_AT_ONCE: Final = 1024
"""How many series one step holds: their slopes then stay near the processor (measured)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TheilSen:
    """A robust line: slope per hour with its interval, and the value at zero hours."""

    n: int
    slope: float
    low: float
    high: float
    intercept: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TheilSenColumns:
    """Robust slopes of many series; NaN in all three where ``n`` or the hours are not enough.

    ``n`` counts the results of each series; ``low`` and ``high`` bound the slope.
    """

    n: NDArray[np.int64]
    slope: FloatColumn
    low: FloatColumn
    high: FloatColumn


def theil_sen(
    at: ArrayLike, values: ArrayLike, *, confidence: float = 0.95
) -> TheilSen | NotEnough:
    """The robust line through results over hours (or days).

    Returns:
        ``NotEnough`` with fewer than three results, or all at the same hours.

    Raises:
        LengthsDifferError, NotANumberError, WrongOrderError: see ``entry.series``.
        OutOfRangeError: for a confidence not between 0 and 1.

    >>> found = theil_sen([100, 250, 400, 550, 700, 850], [12, 17, 21, 28, 31, 38])
    >>> round(found.slope, 6), round(found.low, 6), round(found.high, 6)
    (0.033333, 0.026667, 0.046667)
    """
    hours, numbers = series(at, values)
    if len(hours) < FEWEST_RESULTS:
        return NotEnough(have=len(hours), need=FEWEST_RESULTS, of="results")
    if hours[0] == hours[-1]:
        return NotEnough(have=1, need=2, of="different hours")
    found = theil_sen_columns(hours[None, :], numbers[None, :], confidence=confidence)
    slope = float(found.slope[0])
    return TheilSen(
        n=len(hours),
        slope=slope,
        low=float(found.low[0]),
        high=float(found.high[0]),
        intercept=float(np.median(numbers) - slope * np.median(hours)),
    )


def theil_sen_columns(
    at: FloatColumn, values: FloatColumn, *, confidence: float = 0.95, threads: int = 1
) -> TheilSenColumns:
    """The robust slopes of many series at once, the same numbers as one by one.

    Args:
        at: hours, shape (series, results); never falling along a series. NaN where a series has
            no result: short series are filled up with NaN.
        values: results, same shape, NaN where ``at`` is NaN and nowhere else.
        confidence: of the interval.
        threads: series are shared out over so many threads.

    Raises:
        LengthsDifferError: when the shapes differ or are not two-dimensional.
        NotANumberError: for infinity, or NaN in one array only.
        WrongOrderError: when the hours of a series fall.
        OutOfRangeError: for a confidence not between 0 and 1.

    >>> nan = float("nan")
    >>> found = theil_sen_columns(
    ...     np.array([[0.0, 10, 20, 30], [0, 10, nan, nan]]),
    ...     np.array([[1.0, 2, 3, 9], [5, 6, nan, nan]]),
    ... )
    >>> found.slope.round(4).tolist(), found.n.tolist()
    ([0.1833, nan], [4, 2])
    """
    between(confidence, low=0, high=1, name="confidence")
    _check(at, values)
    z = NormalDist().inv_cdf((1 + confidence) / 2)
    answer = np.empty((3, len(at)))

    def work(start: int) -> None:
        batch = slice(start, start + SERIES_AT_ONCE)
        answer[:, batch] = _batch(at[batch], values[batch], z)

    starts = range(0, len(at), SERIES_AT_ONCE)
    if threads > 1:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(work, starts))
    else:
        for start in starts:
            work(start)
    slope, low, high = answer
    n: NDArray[np.int64] = np.count_nonzero(~np.isnan(at), axis=1).astype(np.int64)
    return TheilSenColumns(n=n, slope=slope, low=low, high=high)


def _check(at: FloatColumn, values: FloatColumn) -> None:
    """Refuse what the columns may not hold."""
    if at.ndim != 2 or at.shape != values.shape:  # noqa: PLR2004  # one row a series
        raise LengthsDifferError(
            f"hours {at.shape} and values {values.shape}: give two arrays of the same shape, "
            f"one row a series."
        )
    odd = np.isinf(at) | np.isinf(values) | (np.isnan(at) != np.isnan(values))
    if odd.any():
        row, place = (int(one) for one in np.argwhere(odd)[0])
        raise NotANumberError(
            f"series {row + 1}, result {place + 1}: hours {at[row, place]:g}, value "
            f"{values[row, place]:g}. Give both as numbers, or leave both out."
        )
    # The largest hours so far look past the gaps of missing results.
    falls = at < np.fmax.accumulate(at, axis=1)
    if falls.any():
        row, place = (int(one) for one in np.argwhere(falls)[0])
        raise WrongOrderError(
            f"series {row + 1}: the hours fall to {at[row, place]:g} at result {place + 1}. Put "
            f"the samples in the order they were taken, or correct the hours."
        )


def _batch(at: FloatColumn, values: FloatColumn, z: float) -> FloatColumn:
    """Slope, low and high of some series, shape (3, series)."""
    slopes = _slopes(at, values)
    slopes.sort(axis=1)  # NaN goes to the end; whole sorts are faster than partitions here
    pairs = np.count_nonzero(~np.isnan(slopes), axis=1)
    n = np.count_nonzero(~np.isnan(at), axis=1)
    variance = (n * (n - 1) * (2 * n + 5) - _ties(at) - _ties(np.sort(values, axis=1))) / 18
    reach = z * np.sqrt(np.maximum(variance, 0))
    enough = (n >= FEWEST_RESULTS) & (pairs > 0)
    last = np.maximum(pairs - 1, 0)
    high = np.minimum(np.round((pairs + reach) / 2), last)
    low = np.maximum(np.round((pairs - reach) / 2) - 1, 0)
    ranks = np.stack([last // 2, (last + 1) // 2, low, high]).astype(np.intp)
    picked = np.take_along_axis(slopes, ranks.T, axis=1).T
    found = np.stack([(picked[0] + picked[1]) / 2, picked[2], picked[3]])
    return np.where(enough, found, np.nan)


def _slopes(at: FloatColumn, values: FloatColumn) -> FloatColumn:
    """The slopes between all pairs of every series; NaN at equal hours or a missing result."""
    count, n = at.shape
    slopes = np.empty((count, n * (n - 1) // 2))
    start = 0
    # Pairs by their distance: each step is three plain operations on whole blocks.
    with np.errstate(divide="ignore", invalid="ignore"):
        for gap in range(1, n):
            room = slopes[:, start : start + n - gap]
            np.divide(values[:, gap:] - values[:, :-gap], at[:, gap:] - at[:, :-gap], out=room)
            start += n - gap
    if (np.diff(at, axis=1) == 0).any():
        slopes[np.isinf(slopes)] = np.nan
    return slopes


def _ties(ordered: FloatColumn) -> FloatColumn:
    """The sum of t (t - 1) (2 t + 5) over groups of t equal neighbours, for every series."""
    count, n = ordered.shape
    place = np.arange(n)
    starts_group = np.ones((count, n), dtype=np.bool_)
    starts_group[:, 1:] = ordered[:, 1:] != ordered[:, :-1]
    t = place - np.maximum.accumulate(np.where(starts_group, place, 0), axis=1) + 1
    # Each member adds what the group's term grows by when it joins.
    total: FloatColumn = (_group(t) - _group(t - 1)).sum(axis=1).astype(np.float64)
    return total


def _group(t: NDArray[np.int64]) -> NDArray[np.int64]:
    """What a group of t equal results takes off 18 Var(S)."""
    return t * (t - 1) * (2 * t + 5)
