"""Robust slope: the median of the slopes between all pairs of results (Theil-Sen).

Interval by ordered slopes with c = z sqrt(Var(S)) (Gilbert 1987, as documented; ranks rounded as in
scipy). Var(S) is corrected for ties in results, in hours, and in both at once (Kendall's variance,
from memory; held in the tests against counting every order). Intercept: median of the values
less slope times the median of the hours, one of two conventions in use (scipy's "separate").
Results taken at the same hours give no slope with each other.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import (
    FloatColumn,
    IntColumn,
    LengthsDifferError,
    NotANumberError,
    NotEnough,
    WrongOrderError,
    between,
    series,
)

FEWEST_RESULTS: Final = 3
"""Two results give a slope without an interval (common practice, no source)."""

SERIES_AT_ONCE: Final = 512
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

    n: IntColumn
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
    n = np.asarray(np.count_nonzero(~np.isnan(at), axis=1), dtype=np.int64)
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
    if at.shape[1] < FEWEST_RESULTS:
        return np.full((3, len(at)), np.nan)
    ordered_at = np.sort(at, axis=1)  # already in order, but for the gaps of missing results
    slopes = _slopes(at, values)
    if _has_equal_neighbours(ordered_at):
        slopes[np.isinf(slopes)] = np.nan
    slopes.sort(axis=1)  # NaN goes to the end; whole sorts are faster than partitions here
    pairs, n = _counts(slopes), _counts(ordered_at)
    reach = z * np.sqrt(_variance(n, ordered_at, np.sort(values, axis=1)))
    enough = (n >= FEWEST_RESULTS) & (pairs > 0)
    last = np.maximum(pairs - 1, 0)
    high = np.minimum(np.round((pairs + reach) / 2), last).astype(np.intp)
    low = np.maximum(np.round((pairs - reach) / 2) - 1, 0).astype(np.intp)
    row = np.arange(len(at))
    middle = (slopes[row, last // 2] + slopes[row, (last + 1) // 2]) / 2
    found = np.stack([middle, slopes[row, low], slopes[row, high]])
    return np.where(enough, found, np.nan)


def _counts(ordered: FloatColumn) -> IntColumn:
    """How many numbers each ordered row holds before its NaN."""
    count, n = ordered.shape
    if not np.isnan(ordered[:, -1:]).any():
        return np.full(count, n, dtype=np.int64)
    return np.asarray(np.count_nonzero(~np.isnan(ordered), axis=1), dtype=np.int64)


def _slopes(at: FloatColumn, values: FloatColumn) -> FloatColumn:
    """The slopes between all pairs of every series; NaN where a result is missing.

    Pairs are taken by their distance around a ring: half the distances reach every pair once, and
    each is a plain operation on full rows. At equal hours the slope is infinite or NaN.
    """
    count, n = at.shape
    whole = (n - 1) // 2
    slopes = np.empty((count, n * (n - 1) // 2))
    with np.errstate(divide="ignore", invalid="ignore"):
        room = slopes[:, : whole * n].reshape(count, whole, n)
        np.divide(_around(values, whole), _around(at, whole), out=room)
        # With an even number the pairs just opposite would be met twice.
        half = (n + 1) // 2 if n % 2 == 0 else n
        np.divide(
            values[:, half:] - values[:, : n - half],
            at[:, half:] - at[:, : n - half],
            out=slopes[:, whole * n :],
        )
    return slopes


def _around(numbers: FloatColumn, whole: int) -> FloatColumn:
    """Differences to the first, second ... neighbour around the ring, one block a distance."""
    n = numbers.shape[1]
    ring = np.hstack([numbers, numbers[:, :whole]])
    windows = np.lib.stride_tricks.sliding_window_view(ring, n, axis=1)[:, 1:]
    differences: FloatColumn = windows - numbers[:, None]
    return differences


def _has_equal_neighbours(ordered: FloatColumn) -> bool:
    return bool((ordered[:, 1:] == ordered[:, :-1]).any())


def _variance(n: IntColumn, ordered_at: FloatColumn, ordered: FloatColumn) -> FloatColumn:
    """Var(S) of every series of n results, with ties in results, in hours, and in both."""
    at, values = _ties(ordered_at), _ties(ordered)
    plain = (n * (n - 1) * (2 * n + 5) - at[0] - values[0]) / 18
    pairs = at[1] * values[1] / np.maximum(2 * n * (n - 1), 1)
    threes = at[2] * values[2] / np.maximum(9 * n * (n - 1) * (n - 2), 1)
    # Nothing but ties gives zero, which rounding may miss.
    variance: FloatColumn = np.maximum(plain + pairs + threes, 0.0)
    return variance


def _ties(ordered: FloatColumn) -> FloatColumn:
    """Three sums over the groups of t equal neighbours of every series, shape (3, series).

    They are t (t - 1) (2 t + 5), t (t - 1) and t (t - 1) (t - 2).
    """
    count, n = ordered.shape
    if not _has_equal_neighbours(ordered):
        return np.zeros((3, count))
    place = np.arange(n, dtype=np.int32)
    starts = np.zeros((count, n), dtype=np.int32)
    np.multiply(ordered[:, 1:] != ordered[:, :-1], place[1:], out=starts[:, 1:])
    t = place - np.maximum.accumulate(starts, axis=1)
    # Each member adds what the group's term grows by when it joins, the first one nothing.
    size = np.arange(n + 1, dtype=np.float64)
    terms = size * (size - 1) * np.stack([2 * size + 5, np.ones(n + 1), size - 2])
    return np.stack([grown[t].sum(axis=1) for grown in np.diff(terms, axis=1)])
