"""Scales of a chart: from a figure to its share of the axis, and the few round ticks along it."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

_STEPS: Final = (1.0, 2.0, 5.0, 10.0)
_THOUSANDS_FROM: Final = 100_000
_GROUPED_FROM: Final = 10_000
_MANY_DECADES: Final = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """One axis from ``low`` (share 0) to ``high`` (share 1); both positive where logarithmic."""

    low: float
    high: float
    is_log: bool = False

    def shares(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        """Where values lie along the axis; NaN stays NaN, and so does what a logarithm cannot show.

        >>> Scale(low=0, high=200).shares(np.array([50.0, 200.0])).tolist()
        [0.25, 1.0]
        """
        if not self.is_log:
            shares: NDArray[np.float64] = (values - self.low) / (self.high - self.low)
            return shares
        positive = np.where(values > 0, values, np.nan)
        logs: NDArray[np.float64] = np.log(positive / self.low)
        return logs / math.log(self.high / self.low)

    def share(self, value: float) -> float:
        """Where one value lies along the axis."""
        if not self.is_log:
            return (value - self.low) / (self.high - self.low)
        return (
            math.log(value / self.low) / math.log(self.high / self.low) if value > 0 else math.nan
        )

    def value(self, share: float) -> float:
        """The value at a share of the axis."""
        if self.is_log:
            return float(self.low * (self.high / self.low) ** share)
        return self.low + share * (self.high - self.low)

    def holds(self, value: float) -> bool:
        """Whether a value lies on the axis."""
        return self.low <= value <= self.high

    def ticks(self, *, about: int) -> tuple[float, ...]:
        """Round figures along the axis: about as many as asked for.

        >>> Scale(low=0, high=130).ticks(about=3)
        (0.0, 50.0, 100.0)
        >>> Scale(low=0.5, high=2000, is_log=True).ticks(about=3)
        (1.0, 10.0, 100.0, 1000.0)
        """
        if self.is_log:
            return self._log_ticks(about)
        step = round_step((self.high - self.low) / max(about, 1))
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return tuple(float(round(index * step, 12)) for index in range(first, last + 1))

    def _log_ticks(self, about: int) -> tuple[float, ...]:
        first, last = math.ceil(math.log10(self.low)), math.floor(math.log10(self.high))
        if last - first + 1 >= _MANY_DECADES:
            stride = max(1, math.ceil((last - first + 1) / (about + 1)))
            return tuple(10.0**power for power in range(first, last + 1, stride))
        fine = [lead * 10.0**power for power in range(first - 1, last + 1) for lead in (1, 2, 5)]
        return tuple(tick for tick in fine if self.holds(tick))


def zoomed(scale: Scale, *, about: float, factor: float, whole: Scale) -> Scale:
    """A linear axis stretched about a value that keeps its place, never beyond the whole.

    >>> zoomed(Scale(low=0, high=100), about=50, factor=2, whole=Scale(low=0, high=100))
    Scale(low=25.0, high=75.0, is_log=False)
    """
    span = min((scale.high - scale.low) / factor, whole.high - whole.low)
    low = about - (about - scale.low) / (scale.high - scale.low) * span
    low = min(max(low, whole.low), whole.high - span)
    return Scale(low=low, high=low + span)


def moved_to_show(scale: Scale, value: float) -> Scale:
    """The same span of axis, shifted just far enough to hold a value."""
    if scale.holds(value):
        return scale
    span = scale.high - scale.low
    low = value - span * 0.1 if value < scale.low else value - span * 0.9
    return Scale(low=low, high=low + span)


def round_step(rough: float) -> float:
    """The distance between ticks: 1, 2 or 5 times a power of ten, the nearest above ``rough``.

    >>> [round_step(rough) for rough in (43.3, 0.11, 7.0)]
    [50.0, 0.2, 10.0]
    """
    power = 10.0 ** math.floor(math.log10(rough))
    lead = next(step for step in _STEPS if step * power >= rough * 0.999)
    return float(lead * power)


def tick_text(value: float, ticks: tuple[float, ...]) -> str:
    """A tick as people read it, with no more places than its neighbours need.

    >>> tick_text(0.5, (0.0, 0.5, 1.0)), tick_text(250_000, (0.0, 250_000.0))
    ('0.5', '250k')
    """
    size = max(abs(tick) for tick in ticks)
    if size >= _THOUSANDS_FROM:
        return "0" if value == 0 else f"{value / 1000:g}k"
    places = max(_places(tick) for tick in ticks)
    return grouped(value, places=places)


def grouped(value: float, *, places: int = 0) -> str:
    """A figure with a narrow space between thousands, from ten thousand on.

    >>> grouped(9_400), grouped(12_340.0)
    ('9400', '12\u202f340')
    """
    if abs(value) < _GROUPED_FROM:
        return f"{value:.{places}f}"
    return f"{value:,.{places}f}".replace(",", "\u202f")


def _places(value: float) -> int:
    text = f"{value:.6f}".rstrip("0")
    return len(text) - text.index(".") - 1
