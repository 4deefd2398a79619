"""What a laboratory reports: its scatter, its rounding, its detection limits, its shifts."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fluids.particle_code import scale_number
from fluiddesk.domain.samples import Sign
from fluiddesk.simulation.families import COUNTS, ISO_CODES
from fluiddesk.simulation.measuring import Bottle
from fluiddesk.simulation.plan import LaboratoryShift
from fluiddesk.simulation.setting import AnalyteFacts

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

WITHIN_ONE_LABORATORY: Final = 0.6
"""Scatter of one laboratory over weeks, as a share of the reproducibility (common practice)."""
LIMIT_TO_DEVIATION: Final = 2.77
"""A 95 % limit on a difference is 2.77 standard deviations of one result (ISO 5725-6)."""
_UNKNOWN_SCATTER: Final = 0.03
_COUNT_SCATTER: Final = 0.10
_MAY_BE_NEGATIVE: Final = frozenset({"freeze_point"})
_CAN_BE_ZERO: Final = frozenset(ISO_CODES)


@dataclass(frozen=True, kw_only=True)
class Measured:
    """Readings of one family: n samples, m analytes."""

    facts: tuple[AnalyteFacts, ...]
    values: FloatArray
    signs: NDArray[np.uint8]


@dataclass(frozen=True, kw_only=True)
class Bench:
    """When and where each sample of a family was tested, shape (n,), and the shifts there were."""

    laboratory: IntArray
    reported_on: IntArray
    names: tuple[str, ...]
    shifts: Sequence[LaboratoryShift]

    def factor(self, code: str) -> FloatArray:
        """How far off the laboratory was in an analyte, as a factor on each sample."""
        off = np.ones(len(self.laboratory))
        for shift in self.shifts:
            if shift.analyte == code and shift.laboratory in self.names:
                here = self.laboratory == self.names.index(shift.laboratory)
                here &= self.reported_on >= shift.first_day.toordinal()
                here &= self.reported_on <= shift.last_day.toordinal()
                off[here] *= shift.factor
        return off


def measure(
    bottle: Bottle,
    facts: Sequence[AnalyteFacts],
    bench: Bench,
    not_enough: float,
    rng: np.random.Generator,
) -> Measured:
    """Read every analyte of every bottle, an analyte at a time; columns by rising analyte number.

    ``facts`` name the counts from small to large before the codes that are made from them.
    """
    readable = [one for one in facts if bottle.can_read(one.code) or one.code in ISO_CODES]
    ordered = tuple(sorted(readable, key=lambda one: one.number))
    count = len(bench.laboratory)
    values = np.empty((count, len(readable)))
    signs = np.zeros((count, len(readable)), dtype=np.uint8)
    counted: dict[str, FloatArray] = {}
    for one in readable:
        column = ordered.index(one)
        true = _true_value(bottle, one, counted)
        seen = true if one.code in ISO_CODES else _scatter(true * bench.factor(one.code), one, rng)
        values[:, column], signs[:, column] = _report(seen, one)
        if one.code in COUNTS:
            _keep_cumulative(one.code, values[:, column], counted)
        missing = rng.random(count) < not_enough
        values[missing, column] = np.nan
        signs[missing, column] = Sign.NOT_ENOUGH
    return Measured(facts=ordered, values=values, signs=signs)


def _true_value(bottle: Bottle, one: AnalyteFacts, counted: dict[str, FloatArray]) -> FloatArray:
    if one.code in ISO_CODES:
        source = COUNTS[ISO_CODES.index(one.code)]
        counts = counted[source] if source in counted else bottle.read(source)
        return scale_number(counts).astype(np.float64)
    return bottle.read(one.code)


def _keep_cumulative(code: str, values: FloatArray, counted: dict[str, FloatArray]) -> None:
    """A count of larger particles never exceeds that of smaller ones: it is part of it."""
    smaller = counted.get(COUNTS[COUNTS.index(code) - 1]) if code != COUNTS[0] else None
    if smaller is not None:
        np.minimum(values, smaller, out=values)
    counted[code] = values.copy()


def _scatter(true: FloatArray, one: AnalyteFacts, rng: np.random.Generator) -> FloatArray:
    if one.is_presence_test:
        return true
    noise = rng.standard_normal(len(true))
    if one.code in COUNTS:
        scattered: FloatArray = true * np.exp(_COUNT_SCATTER * noise)
        return scattered
    if one.reproducibility is None:
        return true * (1.0 + _UNKNOWN_SCATTER * noise)
    spread = one.reproducibility.at(true) * WITHIN_ONE_LABORATORY / LIMIT_TO_DEVIATION
    return true + spread * noise


def _report(seen: FloatArray, one: AnalyteFacts) -> tuple[FloatArray, NDArray[np.uint8]]:
    """Values as printed, with signs; below detection the limit itself, never 0."""
    signs = np.zeros(len(seen), dtype=np.uint8)
    if one.is_presence_test:
        signs[:] = np.where(seen > 0, Sign.PRESENT, Sign.ABSENT)
        return seen, signs
    values = rounded(seen, one.decimals, one.significant_figures)
    if one.code in _MAY_BE_NEGATIVE or one.code in _CAN_BE_ZERO:
        return values, signs
    limit = one.detection_limit or 10.0**-one.decimals
    below = values < limit
    values[below] = limit
    signs[below] = Sign.BELOW
    return values, signs


def rounded(values: FloatArray, decimals: int, figures: int | None) -> FloatArray:
    """Values to so many decimals, and to so many significant figures where these are coarser.

    >>> rounded(np.array([123.4, 1.26]), 0, 2).tolist()
    [120.0, 1.0]
    """
    places = np.full(len(values), float(decimals))
    if figures is not None:
        size = np.floor(np.log10(np.maximum(np.abs(values), 1e-9)))
        places = np.minimum(places, figures - 1 - size)
    scale = 10.0**places
    result: FloatArray = np.round(values * scale) / scale
    return result
