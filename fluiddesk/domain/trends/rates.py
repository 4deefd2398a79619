"""How fast a result changes, per standard interval of use.

Rise over run, cumulative rate and least squares rate of ASTM D7669: the formulas are from memory,
unconfirmed; the standard's scope (rate of change, no limits of its own) was seen. Hours are
operating hours or hours on the fluid, counted since the last fluid or component change. These are
plain rates: top-ups and carried-over fluid are not taken out.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from fluiddesk.domain.statistics.entry import (
    FloatColumn,
    NotEnough,
    WrongOrderError,
    between,
    censored,
    column,
    series,
)
from fluiddesk.domain.statistics.least_squares import least_squares

SOURCE: Final = "ASTM D7669, formulas from memory, unconfirmed"
"""What a screen or a command says beside every rate of this module."""

STANDARD_INTERVAL_HOURS: Final = 100.0

FEWEST_RESULTS: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class LeastSquaresRate:
    """The slope per standard interval with its interval of confidence."""

    rate: float
    low: float
    high: float


def rise_over_run(
    hours: ArrayLike, values: ArrayLike, *, per_hours: float = STANDARD_INTERVAL_HOURS
) -> FloatColumn | NotEnough:
    """The rate from each sample to the next, one fewer than samples; the last one is the latest.

    Returns:
        ``NotEnough`` with fewer than two results.

    Raises:
        LengthsDifferError, NotANumberError: see ``entry.series``.
        WrongOrderError: when hours fall or stand still: a rate over no hours has no meaning.
        OutOfRangeError: for a standard interval that is not above zero.

    >>> rise_over_run([100, 250, 400], [12, 17, 21]).round(4).tolist()
    [3.3333, 2.6667]
    """
    between(per_hours, low=0, high=np.inf, name="standard interval")
    at, numbers = _rising(hours, values)
    if len(at) < FEWEST_RESULTS:
        return NotEnough(have=len(at), need=FEWEST_RESULTS, of="results")
    rates: FloatColumn = np.diff(numbers) / np.diff(at) * per_hours
    return rates


def rise_over_run_bounds(
    hours: ArrayLike,
    values: ArrayLike,
    *,
    below: ArrayLike,
    per_hours: float = STANDARD_INTERVAL_HOURS,
) -> tuple[FloatColumn, FloatColumn] | NotEnough:
    """The lowest and highest rate from each sample to the next with "less than" results.

    A "less than" result lies anywhere from zero to its limit. Both bounds are equal between two
    results above their limits.

    Args:
        hours: hours of use, rising.
        values: results above zero; for a "less than" result the limit it is below.
        below: true where the result is below its limit.
        per_hours: the standard interval.

    Returns:
        ``NotEnough`` with fewer than two results.

    Raises:
        LengthsDifferError, NotANumberError, NotPositiveError: see ``entry.censored``.
        WrongOrderError, OutOfRangeError: see ``rise_over_run``.

    >>> low, high = rise_over_run_bounds([0, 100, 200], [2, 5, 4], below=[True, False, False])
    >>> low.tolist(), high.tolist()
    ([3.0, -1.0], [5.0, -1.0])
    """
    numbers, marks = censored(values, below=below)
    high = rise_over_run(hours, numbers, per_hours=per_hours)
    if isinstance(high, NotEnough):
        return high
    at, least = column(hours, name="hours"), np.where(marks, 0.0, numbers)
    run = np.diff(at) / per_hours
    return (least[1:] - numbers[:-1]) / run, (numbers[1:] - least[:-1]) / run


def cumulative_rate(
    hours: ArrayLike, values: ArrayLike, *, per_hours: float = STANDARD_INTERVAL_HOURS
) -> float | NotEnough:
    """The rate from the first sample since the change to the latest.

    Returns:
        ``NotEnough`` with fewer than two results.

    Raises:
        LengthsDifferError, NotANumberError, WrongOrderError, OutOfRangeError: see
            ``rise_over_run``.

    >>> round(cumulative_rate([100, 250, 400], [12, 17, 21]), 4)
    3.0
    """
    between(per_hours, low=0, high=np.inf, name="standard interval")
    at, numbers = _rising(hours, values)
    if len(at) < FEWEST_RESULTS:
        return NotEnough(have=len(at), need=FEWEST_RESULTS, of="results")
    return float((numbers[-1] - numbers[0]) / (at[-1] - at[0]) * per_hours)


def least_squares_rate(
    hours: ArrayLike,
    values: ArrayLike,
    *,
    per_hours: float = STANDARD_INTERVAL_HOURS,
    confidence: float = 0.95,
) -> LeastSquaresRate | NotEnough:
    """The slope of the line through all samples since the change, with its interval.

    Returns:
        ``NotEnough`` with fewer than three results, or all at the same hours.

    Raises:
        LengthsDifferError, NotANumberError, WrongOrderError: see ``entry.series``.
        OutOfRangeError: for a standard interval or a confidence outside its range.

    >>> found = least_squares_rate([100, 250, 400, 550], [12, 17, 21, 28])
    >>> round(found.rate, 4), found.low < found.rate < found.high
    (3.4667, True)
    """
    from scipy.special import stdtrit

    between(per_hours, low=0, high=np.inf, name="standard interval")
    between(confidence, low=0, high=1, name="confidence")
    line = least_squares(hours, values)
    if isinstance(line, NotEnough):
        return line
    reach = float(stdtrit(line.n - 2, (1 + confidence) / 2)) * line.slope_error
    return LeastSquaresRate(
        rate=line.slope * per_hours,
        low=(line.slope - reach) * per_hours,
        high=(line.slope + reach) * per_hours,
    )


def _rising(hours: ArrayLike, values: ArrayLike) -> tuple[FloatColumn, FloatColumn]:
    """Hours and values, the hours truly rising."""
    at, numbers = series(hours, values)
    still = np.flatnonzero(np.diff(at) == 0)
    if len(still):
        raise WrongOrderError(
            f"hours: two samples at {at[still[0]]:g}. Keep one of them, or correct the hours."
        )
    return at, numbers
