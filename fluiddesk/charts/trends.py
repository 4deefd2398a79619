"""What one panel draws: one analyte of one box, cut at fluid changes, with the span of its axes."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.charts.axes import Axis, AxisFrame, axis_frame
from fluiddesk.charts.limit_bands import Bounds, bounds_of
from fluiddesk.charts.scales import Scale
from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Trust
from fluiddesk.services.compartment_history.facts import (
    AnalyteSeries,
    CompartmentHistory,
    LimitBand,
)

_FROM_ZERO: Final = frozenset({AnalyteFamily.WEAR, AnalyteFamily.CONTAMINATION})
_LOW_SHARE: Final = 0.4
"""Below this share of the highest value the lowest one is near zero, and the axis starts there."""
_FIRST_LIMIT_REACH: Final = 4.0
"""A first limit up to this many times the data's reach is drawn; further off it is noted."""
_NEXT_LIMIT_REACH: Final = 1.5
_FEWEST_STEPS: Final = 2
_NEAR_SHARE: Final = 0.6
"""Off zero, a first limit within this share of the middle value is drawn."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """Limits, and the new fluid's value, as they held over one stretch of the axis."""

    low: float
    high: float
    bounds: Bounds


@dataclass(frozen=True, slots=True, kw_only=True)
class Trend:
    """One analyte against the shared axis; n samples.

    Attributes:
        series: the values, signs and limits.
        frame: where the samples stand along the axis.
        bounds: the limits that fire first now, per direction.
    """

    series: AnalyteSeries
    frame: AxisFrame
    bounds: Bounds

    @property
    def x(self) -> NDArray[np.float64]:
        """Where the samples stand, shape (n,); NaN where not known."""
        return self.frame.x

    @property
    def fills(self) -> NDArray[np.int32]:
        """The fill each sample belongs to, shape (n,)."""
        return self.frame.fills

    @property
    def trust(self) -> NDArray[np.int8]:
        """Values of ``Trust``, shape (n,)."""
        return self.frame.trust

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
        kept = (self.series.signs <= Sign.PRESENT) & ~np.isnan(self.x)
        return kept if with_rejected else kept & (self.trust != Trust.REJECTED)

    def runs(self) -> list[NDArray[np.intp]]:
        """Samples to be joined by a line: neighbours of one fill, believed, with a plain value.

        A rejected or missing value is passed over, a censored one ends the line: between a bound
        and a value no slope is known.
        """
        believed = (self.trust != Trust.REJECTED) & ~np.isnan(self.x)
        tested = believed & (self.series.signs <= Sign.ABOVE)
        index = np.flatnonzero(tested)
        plain = self.series.signs[index] == Sign.PLAIN
        # Each change of fill and each censored value starts a new run.
        cut = np.flatnonzero((np.diff(self.fills[index]) != 0) | ~plain[1:] | ~plain[:-1]) + 1
        edges = pairwise([0, *cut.tolist(), len(index)])
        return [index[begin:end] for begin, end in edges if end - begin > 1]

    def steps(self, *, low: float, high: float) -> tuple[Step, ...]:
        """The limits as in force along the axis, from ``low`` to ``high``.

        Hours on the fluid overlay many fills: there the limits of today hold throughout.
        """
        spans = self.series.spans
        now = (Step(low=low, high=high, bounds=self.bounds),)
        if len(spans) < _FEWEST_STEPS or self.frame.axis is Axis.FLUID_HOURS:
            return now
        edges = [low, *(self._edge(span.first) for span in spans[1:]), high]
        found: list[Step] = []
        for span, (begin, end) in zip(spans, pairwise(edges), strict=True):
            bounds = _drawn_bounds(self.series, span.bands)
            if found and (found[-1].bounds == bounds or np.isnan(begin)):
                found[-1] = Step(low=found[-1].low, high=end, bounds=bounds)
            else:
                found.append(Step(low=begin, high=end, bounds=bounds))
        return tuple(found)

    def _edge(self, sample: int) -> float:
        """Where other limits begin to hold: at the first sample judged by them."""
        known = self.x[sample:][~np.isnan(self.x[sample:])]
        return float(known[0]) if len(known) else np.nan

    def references(self, *, low: float, high: float) -> Iterator[tuple[float, float, float]]:
        """The new fluid's value along the axis: from, to, value."""
        told, n = self.series.references, len(self.x)
        if self.frame.axis is Axis.FLUID_HOURS or len(told) != n or not n:
            if self.series.reference is not None:
                yield low, high, self.series.reference
            return
        # NaN is never equal to itself, yet two unknown values are one stretch.
        plain = np.where(np.isnan(told), np.inf, told)
        firsts = np.append(0, np.flatnonzero(plain[1:] != plain[:-1]) + 1)
        edges = [low, *(self._edge(int(first)) for first in firsts[1:]), high]
        for first, (begin, end) in zip(firsts.tolist(), pairwise(edges), strict=True):
            if np.isfinite(plain[first]) and not np.isnan(begin + end):
                yield begin, end, float(plain[first])


def trends_of(history: CompartmentHistory, frame: AxisFrame | None = None) -> tuple[Trend, ...]:
    """Every analyte that was tested at least once, in the order of ``history.series``.

    They are held against machine hours unless a ``frame`` says otherwise.
    """
    frame = frame or axis_frame(history)
    made = (
        Trend(series=one, frame=frame, bounds=_drawn_bounds(one, one.bands))
        for one in history.series
    )
    return tuple(trend for trend in made if trend.has_anything)


def _drawn_bounds(series: AnalyteSeries, bands: tuple[LimitBand, ...]) -> Bounds:
    """The limits as bands; "present" is no figure that a band could start at."""
    return bounds_of(() if series.analyte.is_presence_test else bands)


def value_scale(trend: Trend, *, is_log: bool, with_rejected: bool) -> Scale:
    """The vertical axis of one panel: its data first, and the limits near enough to matter."""
    if trend.series.analyte.is_presence_test:
        return Scale(low=-0.5, high=1.5)
    values = _shown_values(trend, with_rejected=with_rejected)
    if not len(values):
        return Scale(low=0.0, high=1.0)
    if is_log and values.min() >= 0 and values.max() > 0:
        return _log_scale(trend, values)
    if _starts_at_zero(trend, values):
        return _scale_from_zero(trend, values)
    return _scale_around(trend, values)


def _shown_values(trend: Trend, *, with_rejected: bool) -> NDArray[np.float64]:
    """What has to fit on the panel: the samples, those of the other side, and start values."""
    values = [trend.series.values[trend.drawn(with_rejected=with_rejected)]]
    other = trend.series.other_side
    if other is not None:
        values.append(other.values[(other.signs <= Sign.ABOVE) & (other.trust != Trust.REJECTED)])
    values.append(np.array([start.value for start in trend.series.starts]))
    found = np.concatenate(values)
    return found[~np.isnan(found)]


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
