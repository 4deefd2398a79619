"""What one panel draws: one analyte of one box, cut at fluid changes, with the span of its axes."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.charts.limit_bands import Bounds, bounds_of
from fluiddesk.charts.scales import Scale
from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.compartment_history.facts import AnalyteSeries, CompartmentHistory

_FROM_ZERO: Final = frozenset({AnalyteFamily.WEAR, AnalyteFamily.CONTAMINATION})
_LOW_SHARE: Final = 0.4
"""Below this share of the highest value the lowest one is near zero, and the axis starts there."""
_FIRST_LIMIT_REACH: Final = 4.0
"""A first limit up to this many times the data's reach is drawn; further off it is noted."""
_NEXT_LIMIT_REACH: Final = 1.5
_NEAR_SHARE: Final = 0.6
"""Off zero, a first limit within this share of the middle value is drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One analyte against true machine hours; n samples.

    Attributes:
        series: the values, signs and limits.
        hours: shape (n,), NaN where the meter is not known.
        fills: shape (n,), number of the fill each sample belongs to.
        trust: shape (n,), values of ``Trust``.
        bounds: the limits that fire first, per direction.
    """

    series: AnalyteSeries
    hours: NDArray[np.float64]
    fills: NDArray[np.int32]
    trust: NDArray[np.int8]
    bounds: Bounds

    @property
    def has_anything(self) -> bool:
        """Whether any sample was tested for it."""
        return bool((self.series.signs <= Sign.PRESENT).any())

    @property
    def last(self) -> int | None:
        """The newest sample that was tested for it."""
        tested = np.flatnonzero(self.series.signs <= Sign.PRESENT)
        return int(tested[-1]) if len(tested) else None

    def drawn(self, *, with_rejected: bool) -> NDArray[np.bool_]:
        """Which samples have a value and a place, shape (n,)."""
        kept = (self.series.signs <= Sign.PRESENT) & ~np.isnan(self.hours)
        return kept if with_rejected else kept & (self.trust != Trust.REJECTED)

    def runs(self) -> list[NDArray[np.intp]]:
        """Samples to be joined by a line: neighbours of one fill, believed, with a plain value.

        A rejected or missing value is passed over, a censored one ends the line: between a bound
        and a value no slope is known.
        """
        believed = (self.trust != Trust.REJECTED) & ~np.isnan(self.hours)
        tested = believed & (self.series.signs <= Sign.ABOVE)
        index = np.flatnonzero(tested)
        plain = self.series.signs[index] == Sign.PLAIN
        # Each change of fill and each censored value starts a new run.
        cut = np.flatnonzero((np.diff(self.fills[index]) != 0) | ~plain[1:] | ~plain[:-1]) + 1
        return [run for run in np.split(index, cut) if len(run) > 1]


def trends_of(history: CompartmentHistory) -> tuple[Trend, ...]:
    """Every analyte that was tested at least once, in the order of ``history.series``."""
    hours, fills = history.hours, history.fills
    trust = np.array([sample.trust for sample in history.samples], dtype=np.int8)
    made = (
        Trend(series=one, hours=hours, fills=fills, trust=trust, bounds=_drawn_bounds(one))
        for one in history.series
    )
    return tuple(trend for trend in made if trend.has_anything)


def _drawn_bounds(series: AnalyteSeries) -> Bounds:
    """The limits as bands; "present" is no figure that a band could start at."""
    return bounds_of(() if series.analyte.is_presence_test else series.bands)


def hour_scale(hours: NDArray[np.float64]) -> Scale:
    """The shared axis of all panels: every sample, with a little room at both ends."""
    known = hours[~np.isnan(hours)]
    if not len(known):
        return Scale(low=0.0, high=1000.0)
    low, high = float(known.min()), float(known.max())
    room = max((high - low) * 0.03, 25.0)
    return Scale(low=low - room, high=high + room)


def value_scale(trend: Trend, *, is_log: bool, with_rejected: bool) -> Scale:
    """The vertical axis of one panel: its data first, and the limits near enough to matter."""
    if trend.series.analyte.is_presence_test:
        return Scale(low=-0.5, high=1.5)
    values = trend.series.values[trend.drawn(with_rejected=with_rejected)]
    values = values[~np.isnan(values)]
    if not len(values):
        return Scale(low=0.0, high=1.0)
    if is_log and values.min() >= 0 and values.max() > 0:
        return _log_scale(trend, values)
    if _starts_at_zero(trend, values):
        return _scale_from_zero(trend, values)
    return _scale_around(trend, values)


def _starts_at_zero(trend: Trend, values: NDArray[np.float64]) -> bool:
    analyte = trend.series.analyte
    low, high = float(values.min()), float(values.max())
    if trend.series.reference is not None:
        low = min(low, trend.series.reference)
    if low < 0:
        return False
    if analyte.family in _FROM_ZERO and analyte.harmful == "up" and analyte.unit != "code":
        return True
    return low < high * _LOW_SHARE


def _scale_from_zero(trend: Trend, values: NDArray[np.float64]) -> Scale:
    top = float(values.max()) or 1.0
    if trend.series.reference is not None:
        top = max(top, trend.series.reference)
    reach = _FIRST_LIMIT_REACH
    for bound in trend.bounds.up:
        if bound is None:
            continue
        if bound > top * reach:
            # Room for the note that names the limit beyond the panel.
            return Scale(low=0.0, high=top * 1.3)
        top, reach = max(top, bound), _NEXT_LIMIT_REACH
    return Scale(low=0.0, high=top * 1.12)


def _scale_around(trend: Trend, values: NDArray[np.float64]) -> Scale:
    low, high = float(values.min()), float(values.max())
    if trend.series.reference is not None:
        low, high = min(low, trend.series.reference), max(high, trend.series.reference)
    middle = max(abs(low + high) / 2, 1e-9)
    has_more_above = False
    for bounds, turn in ((trend.bounds.up, 1.0), (trend.bounds.down, -1.0)):
        is_first = True
        for bound in bounds:
            if bound is None:
                continue
            gap = turn * (bound - (high if turn > 0 else low))
            if gap > (middle * _NEAR_SHARE if is_first else (high - low) * 0.5):
                has_more_above |= is_first and turn > 0
                break
            low, high, is_first = min(low, bound), max(high, bound), False
    room = max((high - low) * 0.12, abs(high) * 0.02, 0.5 * 10.0**-trend.series.analyte.decimals)
    # Room for the note that names the limit beyond the panel.
    return Scale(low=low - room, high=high + (room if not has_more_above else 2.5 * room))


def _log_scale(trend: Trend, values: NDArray[np.float64]) -> Scale:
    positive = values[values > 0]
    low, high = float(positive.min()) / 1.6, float(positive.max()) * 1.6
    for bound in (*trend.bounds.up, *trend.bounds.down):
        if bound is not None and bound > 0 and low / 10 <= bound <= high * 10:
            low, high = min(low, bound / 1.2), max(high, bound * 1.6)
    return Scale(low=low, high=high, is_log=True)
