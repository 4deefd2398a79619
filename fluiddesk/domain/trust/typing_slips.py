"""Slips of the fingers: a moved decimal point, two digits exchanged, a column skipped, a repeat.

Every typed value is held against what its box foretells (``expectation.py``). A slip is proposed
where the value, read as if the slip had not been made, fits so much better that the odds outweigh
how seldom the slip happens. Published error rates of keyed fields: mostly 0.55 to 3.6 %, with
single entry 99.35 % of fields right in one cross-over trial (both from memory, unconfirmed); the
odds asked for below are common practice, no source, and are held to in the claims tests.

Columns: m values of one report in the order of the form; raw numbers as typed and canonical ones.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.trust.expectation import BoolArray, Expectation, FloatArray

UNUSUAL_SPREADS: Final = 3.5
DECIMAL_ODDS: Final = 3.0
"""Natural logarithm of the likelihood ratio from which a moved point is proposed."""
TRANSPOSED_ODDS: Final = 2.5
SHIFT_ODDS: Final = 12.0
LEAST_SHIFTED: Final = 3
FITS_SPREADS: Final = 2.5
_FACTORS: Final = (0.1, 10.0, 0.01, 100.0)
_PLACES: Final = 6
LEAST_REPEATED: Final = 6
REPEATED_SHARE: Final = 0.9
_TELLING_DIGITS: Final = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Slips:
    """Values that seem slipped, shape (m,): which, and what they should be (NaN elsewhere)."""

    is_slip: BoolArray
    proposed: FloatArray
    odds: FloatArray


def unusual(values: FloatArray, expected: Expectation) -> BoolArray:
    """Which canonical values lie further off than ``UNUSUAL_SPREADS``."""
    off = expected.spreads_off(values)
    return np.asarray(np.abs(np.where(np.isnan(off), 0.0, off)) > UNUSUAL_SPREADS)


def unlikely_bounds(bounds: FloatArray, is_below: BoolArray, expected: Expectation) -> BoolArray:
    """Which bounds exclude nearly all that is expected: "<2" where 167 is usual, ">15" where 3 is.

    Args:
        bounds: canonical, NaN where the value is no bound.
        is_below: whether the value lies below its bound, else above.
        expected: what the box foretells.
    """
    off = expected.spreads_off(bounds)
    far = np.where(is_below, off < -UNUSUAL_SPREADS, off > UNUSUAL_SPREADS)
    return np.asarray(far & np.isfinite(off))


def decimal_slips(values: FloatArray, expected: Expectation) -> Slips:
    """Canonical values that would fit with the decimal point moved by one place, or two.

    Values of 0 have no point to move.
    """
    again = np.stack([values * factor for factor in _FACTORS])
    usable = (values != 0.0) & expected.traits.is_log
    return _best(values, again, expected, usable=usable, least=DECIMAL_ODDS)


def transposed_digits(
    raw: FloatArray, decimals: NDArray[np.int64], values: FloatArray, expected: Expectation
) -> Slips:
    """Values that would fit with two neighbouring digits exchanged: 36 for 63, 1.24 for 1.42.

    Args:
        raw: the numbers as typed, in the unit of the form, shape (m,).
        decimals: the places typed behind the point.
        values: the same, canonical; ``proposed`` is canonical too.
        expected: what the box foretells.
    """
    scale = 10.0**decimals
    whole = np.round(np.abs(np.where(np.isnan(raw), 0.0, raw)) * scale)
    again = []
    for place in range(_PLACES):
        ten = 10.0**place
        low, high = (whole // ten) % 10, (whole // (10.0 * ten)) % 10
        swapped = whole + 9.0 * (low - high) * ten
        is_number = (whole >= 10.0 * ten) & (low != high) & (swapped > 0)
        share = np.divide(swapped, whole, out=np.ones_like(whole), where=whole > 0)
        again.append(np.where(is_number, values * share, np.nan))
    return _best(values, np.stack(again), expected, usable=whole > 0, least=TRANSPOSED_ODDS)


def _best(
    values: FloatArray,
    again: FloatArray,
    expected: Expectation,
    *,
    usable: BoolArray,
    least: float,
) -> Slips:
    as_typed = expected.log_likelihood(values)
    gain = expected.log_likelihood(again) - as_typed
    fits = np.abs(expected.spreads_off(again)) <= FITS_SPREADS
    gain = np.where(fits & usable & np.isfinite(gain), gain, -np.inf)
    best = np.argmax(gain, axis=0)[np.newaxis]
    odds = np.take_along_axis(gain, best, axis=0)[0]
    is_slip = odds > least
    proposed = np.where(is_slip, np.take_along_axis(again, best, axis=0)[0], np.nan)
    return Slips(is_slip=is_slip, proposed=proposed, odds=odds)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Values from ``first`` to before ``beyond`` that seem to stand one place too far.

    ``by``: +1 where each belongs to the next place of the form, -1 where to the one before.
    """

    first: int
    beyond: int
    by: int
    odds: float


def column_shift(fits: FloatArray) -> Shift | None:
    """The stretch of a form whose values would fit far better one place on, or one place back.

    Args:
        fits: shape (m, m), the log-likelihood of the value typed at a row's place under the
            expectation of a column's place; NaN where nobody can say.
    """
    own = np.diagonal(fits)
    found: Shift | None = None
    for by in (1, -1):
        gain = np.zeros(len(own))
        moved = np.diagonal(fits, offset=by)
        part = slice(None, -1) if by == 1 else slice(1, None)
        difference = moved - own[part]
        gain[part] = np.where(np.isfinite(difference), difference, 0.0)
        first, beyond, odds = _best_stretch(gain)
        is_long = np.count_nonzero(gain[first:beyond]) >= LEAST_SHIFTED
        if is_long and odds > SHIFT_ODDS and (found is None or odds > found.odds):
            found = Shift(first=first, beyond=beyond, by=by, odds=odds)
    return found


def _best_stretch(gain: FloatArray) -> tuple[int, int, float]:
    """Ends and sum of the stretch with the largest sum."""
    sums = np.concatenate([[0.0], np.cumsum(gain)])
    lowest = np.minimum.accumulate(sums)
    beyond = int(np.argmax(sums - lowest))
    # The last of equal lowest ones: a value that gains nothing does not belong to the stretch.
    first = int(np.flatnonzero(sums[: beyond + 1] == lowest[beyond])[-1])
    return first, beyond, float(sums[beyond] - sums[first])


def repeats(values: FloatArray, before: FloatArray) -> bool:
    """Whether a report says the same as the one before in nearly every telling number.

    Telling are numbers of two digits and more: small ones are often the same by chance.
    """
    both = np.isfinite(values) & np.isfinite(before) & (np.abs(before) >= _TELLING_DIGITS)
    if np.count_nonzero(both) < LEAST_REPEATED:
        return False
    same = np.isclose(values[both], before[both], rtol=1e-9)
    return bool(np.mean(same) >= REPEATED_SHARE)
