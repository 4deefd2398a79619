"""What the history of a box foretells of its next report, with a band for every value.

Wear, contamination, additives and viscosity are worked on as y = ln(x + c), c half the detection
limit; numbers that are scales themselves (pH, codes, acid and base numbers, absorbances,
temperatures) as they are. Two forecasts run side by side over the past samples: the smoothed level
(EWMA, weight 0.3) and the smoothed rate a fill makes, from what the last change left behind. The
one that foretold the past better is believed. The spread is the robust spread of its past misses,
drawn towards what is usual for the family while there are few of them, with the laboratory's
precision and the rounding as the least it can be. Weight, clipping and the usual spreads are common
practice, no source; EWMA after Roberts, Technometrics 1959 (from memory, unconfirmed).

Columns: b boxes, k past samples (oldest first, the newest last), m analytes.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte, AnalyteFamily

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

WEIGHT: Final = 0.3
WORTH_OF_USUAL: Final = 4.0
"""The usual spread of a family counts as so many misses of the box's own."""
TAILS: Final = 4.0
"""Degrees of freedom of the misses: laboratories and machines surprise more often than a bell."""
MOST_PAST: Final = 12
CLIPPED_AT: Final = 2.5
"""A miss counts for so many spreads at most: one slip nobody caught must not move the forecast."""
LEAST_MISSES: Final = 3
_TO_DEVIATION: Final = 1.4826
_R_TO_DEVIATION: Final = 2.77
_SPAN_IN_SPREADS: Final = 3.29
"""A usual range is taken to hold 90 of 100 values."""
_USUAL_HOURS: Final = 100.0

_SPREADS: Final = {
    AnalyteFamily.WEAR: 0.45,
    AnalyteFamily.CONTAMINATION: 0.55,
    AnalyteFamily.ADDITIVE: 0.12,
    AnalyteFamily.FLUID_CONDITION: 0.06,
    AnalyteFamily.COOLANT: 0.25,
    AnalyteFamily.FUEL: 0.25,
}
"""Usual spread of ln(x + c) by family; common practice, no source."""
_PLAIN_SPREADS: Final = {
    "mg KOH/g": 0.8, "A/cm": 2.5, "code": 1.2, "pH": 0.4, "C": 4.0, "class": 0.7,
}  # fmt: skip
"""Usual spread of values that are scales themselves, in their unit; common practice, no source."""
_PLAIN_CODES: Final = {"viscosity_index": 8.0, "cetane_number": 2.0}
_BY_CODE: Final = {"particles_4um": 0.8, "particles_6um": 0.8, "particles_14um": 0.9}
_FROM_FRESH: Final = (AnalyteFamily.ADDITIVE, AnalyteFamily.FLUID_CONDITION)


@dataclass(frozen=True, slots=True, kw_only=True)
class Traits:
    """How the values of some analytes are worked on; columns of shape (m,).

    ``is_log``: as ln(x + c). ``floor``: that c. ``usual_spread``: of y, before a box has told its
    own. ``step``: what the laboratory rounds to. ``from_fresh``: a first value is foretold by the
    new fluid.
    """

    analytes: tuple[Analyte, ...]
    is_log: BoolArray
    floor: FloatArray
    usual_spread: FloatArray
    step: FloatArray
    from_fresh: BoolArray

    def worked(self, values: FloatArray) -> FloatArray:
        """Values (..., m) as they are worked on; NaN where a logarithm has none."""
        lifted = np.where(self.is_log, values + self.floor, 1.0)
        logs = np.log(np.where(lifted > 0, lifted, np.nan))
        return np.where(self.is_log, logs, values)

    def shown(self, worked: FloatArray) -> FloatArray:
        """The way back from ``worked``; never below 0 where there is a floor."""
        plain = np.exp(np.where(self.is_log, worked, 0.0)) - self.floor
        return np.where(self.is_log, np.maximum(plain, 0.0), worked)


def traits(analytes: Sequence[Analyte]) -> Traits:
    """How to work on the values of these analytes.

    A test that is absent or present has no numbers: its values are to be NaN.
    """
    is_log = np.array([_is_log(one) for one in analytes], dtype=np.bool_)
    step = np.array([10.0**-one.decimals for one in analytes])
    least = np.array([one.detection_limit or 10.0**-one.decimals for one in analytes])
    return Traits(
        analytes=tuple(analytes),
        is_log=is_log,
        floor=np.where(is_log, 0.5 * least, 0.0),
        usual_spread=np.array([_usual_spread(one) for one in analytes]),
        step=step,
        from_fresh=np.array([one.family in _FROM_FRESH for one in analytes], dtype=np.bool_),
    )


def _is_log(one: Analyte) -> bool:
    return one.unit not in _PLAIN_SPREADS and one.code not in _PLAIN_CODES


def _usual_spread(one: Analyte) -> float:
    if one.code in _PLAIN_CODES:
        return _PLAIN_CODES[one.code]
    if one.unit in _PLAIN_SPREADS:
        return _PLAIN_SPREADS[one.unit]
    return _BY_CODE.get(one.code, _SPREADS[one.family])


@dataclass(frozen=True, slots=True, kw_only=True)
class Past:
    """The last reports of some boxes, the newest last, and the sample that is awaited.

    Attributes:
        values: (b, k, m), canonical; half the bound where below it; NaN where there is no number.
        fluid_hours: (b, k), hours since the last change; NaN where unknown.
        fill: (b, k), number of the fill; -1 where there is no sample.
        now_fluid_hours: (b,), of the awaited sample.
        now_fill: (b,).
        fresh: (b, m), the new fluid's values; NaN where unknown.
        residue_share: (b,), what a change leaves behind.
        usual_low: (b, m), lower end of what is usual for such a box; NaN where unknown.
        usual_high: (b, m), its upper end.
    """

    values: FloatArray
    fluid_hours: FloatArray
    fill: NDArray[np.int64]
    now_fluid_hours: FloatArray
    now_fill: NDArray[np.int64]
    fresh: FloatArray
    residue_share: FloatArray
    usual_low: FloatArray
    usual_high: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Expectation:
    """What each value is expected to be; ``centre`` and ``spread`` (b, m) as worked on.

    NaN where nothing is known. ``reports``: how many past values each rests on.
    """

    traits: Traits
    centre: FloatArray
    spread: FloatArray
    reports: NDArray[np.int64]

    def spreads_off(self, values: FloatArray) -> FloatArray:
        """How many spreads values (..., m) lie off, with their sign; NaN where nobody can say."""
        return (self.traits.worked(values) - self.centre) / self.spread

    def log_likelihood(self, values: FloatArray) -> FloatArray:
        """How well values fit, as a log-likelihood; comparable between readings of one value."""
        off = self.spreads_off(values)
        return -(TAILS + 1.0) / 2.0 * np.log1p(off * off / TAILS) - np.log(self.spread)

    def at(self, spreads: float) -> FloatArray:
        """The value so many spreads above the centre, canonical."""
        return self.traits.shown(self.centre + spreads * self.spread)


def expect(past: Past, known: Traits) -> Expectation:
    """Foretell the awaited sample of each box; see the module for the method."""
    level = _level_forecast(past, known)
    rate = _rate_forecast(past, known)
    # Without enough misses to compare by, the level is the safer guess.
    is_rate = (level.misses >= LEAST_MISSES) & (rate.spread < level.spread)
    is_rate &= np.isfinite(rate.centre)
    centre = np.where(is_rate, rate.centre, level.centre)
    own = np.where(is_rate, rate.spread, level.spread)
    count = level.misses
    usual = known.usual_spread**2
    own = np.where(count > 0, own, 0.0) ** 2
    variance = (WORTH_OF_USUAL * usual + count * own) / (WORTH_OF_USUAL + count)
    reports = np.isfinite(past.values).sum(axis=1)
    variance = variance * (1.0 + 1.0 / np.maximum(reports, 1))
    first, first_variance = _first_guess(past, known)
    is_first = reports == 0
    centre = np.where(is_first, first, centre)
    variance = np.where(is_first, first_variance, variance) + _least_variance(centre, known)
    spread = np.where(np.isfinite(centre), np.sqrt(variance), np.nan)
    return Expectation(traits=known, centre=centre, spread=spread, reports=reports)


@dataclass(frozen=True, slots=True)
class _Forecast:
    """The awaited value by one method (b, m), its robust spread and the number of past misses."""

    centre: FloatArray
    spread: FloatArray
    misses: NDArray[np.int64]


def _level_forecast(past: Past, known: Traits) -> _Forecast:
    worked = known.worked(past.values)
    boxes, count, width = worked.shape
    centre = np.full((boxes, width), np.nan)
    misses = np.full((boxes, count, width), np.nan)
    for step in range(count):
        seen = worked[:, step]
        miss = seen - centre
        misses[:, step] = miss
        moved = centre + WEIGHT * _clipped(miss, known)
        centre = np.where(np.isnan(seen), centre, np.where(np.isnan(centre), seen, moved))
    return _forecast(centre, misses)


def _rate_forecast(past: Past, known: Traits) -> _Forecast:
    boxes, count, width = past.values.shape
    rate = np.full((boxes, width), np.nan)
    before = np.full((boxes, width), np.nan)
    before_hours = np.full(boxes, np.nan)
    before_fill = np.full(boxes, -1, dtype=np.int64)
    misses = np.full((boxes, count, width), np.nan)
    for step in range(count):
        seen = past.values[:, step]
        hours, fill = past.fluid_hours[:, step], past.fill[:, step]
        start, run = _start(past, before, before_hours, (hours, fill, before_fill))
        foretold = start + rate * run
        miss = known.worked(seen) - known.worked(foretold)
        misses[:, step] = miss
        believed = known.shown(known.worked(foretold) + _clipped(miss, known))
        made = (np.where(np.isnan(miss), seen, believed) - start) / run
        weight = WEIGHT * np.minimum(1.0, run / _USUAL_HOURS)
        moved = np.where(np.isnan(rate), made, rate + weight * (made - rate))
        rate = np.where(np.isfinite(made), moved, rate)
        before = np.where(np.isnan(seen), before, seen)
        is_sample = fill >= 0
        before_hours = np.where(is_sample, hours, before_hours)
        before_fill = np.where(is_sample, fill, before_fill)
    now = (past.now_fluid_hours, past.now_fill, before_fill)
    start, run = _start(past, before, before_hours, now)
    return _forecast(known.worked(start + rate * run), misses)


def _start(
    past: Past,
    before: FloatArray,
    before_hours: FloatArray,
    now: tuple[FloatArray, NDArray[np.int64], NDArray[np.int64]],
) -> tuple[FloatArray, FloatArray]:
    """The level a stretch begins at (b, m) and the hours it has run (b, 1); NaN where unknown."""
    hours, fill, before_fill = now
    is_same = (fill == before_fill) & (hours > before_hours)
    share = np.where(is_same, 1.0, past.residue_share)[:, np.newaxis]
    fresh = np.where(np.isnan(past.fresh), 0.0, past.fresh)
    run = np.where(is_same, hours - before_hours, hours)
    run = np.where(run > 0, run, np.nan)[:, np.newaxis]
    return share * before + (1.0 - share) * fresh, run


def _clipped(miss: FloatArray, known: Traits) -> FloatArray:
    most = CLIPPED_AT * known.usual_spread
    return np.clip(miss, -most, most)


def _forecast(centre: FloatArray, misses: FloatArray) -> _Forecast:
    count = np.isfinite(misses).sum(axis=1)
    size = np.sort(np.abs(misses), axis=1)  # NaN last
    middle = np.maximum(count - 1, 0)
    low = np.take_along_axis(size, (middle // 2)[:, np.newaxis], axis=1)[:, 0]
    high = np.take_along_axis(size, ((middle + 1) // 2)[:, np.newaxis], axis=1)[:, 0]
    spread = np.where(count > 0, _TO_DEVIATION * 0.5 * (low + high), np.inf)
    return _Forecast(centre, spread, count)


def _first_guess(past: Past, known: Traits) -> tuple[FloatArray, FloatArray]:
    """Before any report: the new fluid where it decides, else the middle of what is usual."""
    low, high = known.worked(past.usual_low), known.worked(past.usual_high)
    span = (high - low) / _SPAN_IN_SPREADS
    by_fresh = known.from_fresh & np.isfinite(past.fresh)
    centre = np.where(by_fresh, known.worked(past.fresh), 0.5 * (low + high))
    usual = known.usual_spread**2
    return centre, np.where(by_fresh, 4.0 * usual, span**2 + usual)


def _least_variance(centre: FloatArray, known: Traits) -> FloatArray:
    """What the laboratory's precision and rounding alone make, in the worked scale."""
    level = known.shown(centre)
    slope = np.where(known.is_log, 1.0 / np.maximum(level + known.floor, 1e-12), 1.0)
    precision = np.zeros_like(level)
    for column, one in enumerate(known.analytes):
        limit = one.reproducibility or one.repeatability
        if limit is not None:
            precision[..., column] = limit.at(level[..., column]) / _R_TO_DEVIATION
    return (0.5 * precision * slope) ** 2 + (known.step * slope) ** 2 / 12.0
