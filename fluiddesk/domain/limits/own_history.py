"""What a box's own earlier samples lead one to expect, and how far off a sample lies.

The expected level follows the smoothed level or rate of earlier trusted samples (weight 0.3, as of
an EWMA; NIST/SEMATECH e-Handbook 6.3.2.4 names 0.2 to 0.3 as usual). The spread is 1.2533 times the
mean absolute miss, joined by the measurement's own; a miss counts by at most three spreads, so that
one wild sample moves neither for long (common practice, no source).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.limits.context import FloatColumn

FROM_MEAN_MISS: Final = 1.2533
"""Standard deviation over mean absolute deviation of bell-shaped figures, sqrt(pi / 2)."""

_FIRST_TO_CLIP: Final = 2
"""Earlier samples before which there is no spread yet to clip by."""

WINDOW: Final = 8
"""Earlier samples that the own median of a ratio looks back on (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """How the level of each sample follows from what is smoothed: ``base + slope * smoothed``.

    A plain level has base 0 and slope 1, so that the level itself is smoothed; through the mass
    balance the rate is smoothed, and base and slope say what it comes to at the sample.
    """

    base: FloatColumn
    slope: FloatColumn


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """How far samples lie off what was expected; all shape (n,), NaN where nothing can be said.

    Attributes:
        spreads: the distance in spreads, positive above.
        expected: the expected level, in the analyte's unit.
        spread: one spread, on the scale that was compared (logarithm where ``offset`` is given).
        earlier: earlier samples that counted.
    """

    spreads: FloatColumn
    expected: FloatColumn
    spread: FloatColumn
    earlier: NDArray[np.int32]


def turns_of(history: NDArray[np.int32]) -> list[NDArray[np.intp]]:
    """The rows of each rank within their history: first all first samples, then all second ones.

    >>> [rows.tolist() for rows in turns_of(np.array([0, 0, 1], dtype=np.int32))]
    [[0, 2], [1]]
    """
    if not len(history):
        return []
    starts = np.flatnonzero(np.diff(history, prepend=history[0] - 1))
    lengths = np.diff(np.append(starts, len(history)))
    order = np.argsort(-lengths, kind="stable")
    starts, lengths = starts[order], lengths[order]
    active = np.searchsorted(-lengths, -np.arange(int(lengths[0])), side="left")
    return [starts[:count] + turn for turn, count in enumerate(active.tolist())]


@dataclass(frozen=True, slots=True, kw_only=True)
class Smoothing:
    """How earlier samples are put together.

    Attributes:
        offset: compare ln(level + offset); ``None`` compares plain levels.
        weight: of the newest sample in what is smoothed.
        clip: a miss counts by at most so many spreads.
        least_earlier: fewer earlier samples say nothing.
    """

    offset: float | None
    weight: float
    clip: float
    least_earlier: int

    def scaled(self, level: FloatColumn) -> FloatColumn:
        """Levels on the scale that is compared."""
        return level if self.offset is None else np.log(np.maximum(level, 0.0) + self.offset)

    def levels(self, scaled: FloatColumn) -> FloatColumn:
        """The way back from the scale that is compared."""
        return scaled if self.offset is None else np.exp(scaled) - self.offset


@dataclass(slots=True)
class _State:
    """What is known of each history after a turn: smoothed, mean miss, samples that counted."""

    smoothed: FloatColumn
    miss: FloatColumn
    seen: NDArray[np.int32]


def own_step(
    level: FloatColumn,
    *,
    path: Path,
    history: NDArray[np.int32],
    counts: NDArray[np.bool_],
    measured_to: FloatColumn,
    smoothing: Smoothing,
) -> Step:
    """Compare each sample with what earlier ones of its history lead one to expect.

    Args:
        level: the values, NaN where missing; a value below detection at its bound.
        path: how levels follow from what is smoothed.
        history: which history each belongs to; rows of one stand together, in order.
        counts: whether a sample counts into what is expected of later ones.
        measured_to: standard deviation of the measurement, on the scale compared.
        smoothing: how earlier samples are put together.
    """
    size = len(level)
    spreads, expected, spread = (np.full(size, np.nan) for _ in range(3))
    earlier = np.zeros(size, dtype=np.int32)
    usable = counts & np.isfinite(level) & np.isfinite(path.base) & (path.slope > 0)
    state: _State | None = None
    for rows in turns_of(history):
        count = len(rows)
        # Histories that go on are the first ones of the turn before.
        before = (
            _State(np.full(count, np.nan), np.zeros(count), np.zeros(count, dtype=np.int32))
            if state is None
            else _State(state.smoothed[:count], state.miss[:count], state.seen[:count])
        )
        foreseen = path.base[rows] + path.slope[rows] * before.smoothed
        off = smoothing.scaled(level[rows]) - smoothing.scaled(foreseen)
        one = np.hypot(FROM_MEAN_MISS * before.miss, measured_to[rows])
        told = before.seen >= smoothing.least_earlier
        expected[rows], spread[rows] = np.where(told, foreseen, np.nan), np.where(told, one, np.nan)
        with np.errstate(divide="ignore", invalid="ignore"):
            spreads[rows] = np.where(told & (one > 0), off / one, np.nan)
        earlier[rows] = before.seen
        clipped = np.clip(off, -smoothing.clip * one, smoothing.clip * one)
        off = np.where(before.seen >= _FIRST_TO_CLIP, clipped, off)
        counted = np.where(
            before.seen > 0, smoothing.levels(smoothing.scaled(foreseen) + off), level[rows]
        )
        with np.errstate(divide="ignore", invalid="ignore"):
            found = (counted - path.base[rows]) / path.slope[rows]
        state = _taken(before, found, np.abs(off), usable[rows], smoothing.weight)
    return Step(spreads=spreads, expected=expected, spread=spread, earlier=earlier)


def _taken(
    before: _State,
    found: FloatColumn,
    miss: FloatColumn,
    usable: NDArray[np.bool_],
    weight: float,
) -> _State:
    """The state of histories after one more sample each; one that does not count changes nothing.

    Until there are as many as the weight spans, all of them count alike.
    """
    is_first = before.seen == 0
    share = np.maximum(weight, 1.0 / (before.seen + 1.0))
    miss_share = np.maximum(weight, 1.0 / np.maximum(before.seen, 1.0))
    smoothed = np.where(is_first, found, before.smoothed + share * (found - before.smoothed))
    missed = np.where(is_first, 0.0, before.miss + miss_share * (miss - before.miss))
    return _State(
        np.where(usable, smoothed, before.smoothed),
        np.where(usable, missed, before.miss),
        (before.seen + usable).astype(np.int32),
    )


def own_median(
    ratio: FloatColumn, *, previous: NDArray[np.intp], least_earlier: int
) -> FloatColumn:
    """The median of up to eight earlier ratios of the same history.

    Args:
        ratio: shape (n,), NaN where there is none.
        previous: row of the trusted sample before; -1 for none.
        least_earlier: fewer give NaN.

    >>> own_median(np.array([2.0, 4.0, 3.0, 9.0]), previous=np.array([-1, 0, 1, 2]),
    ...            least_earlier=3).tolist()
    [nan, nan, nan, 3.0]
    """
    looked_back = np.full((len(ratio), WINDOW), np.nan)
    row = previous
    for turn in range(WINDOW):
        known = row >= 0
        looked_back[known, turn] = ratio[row[known]]
        row = np.where(known, previous[np.maximum(row, 0)], -1)
    looked_back.sort(axis=1)
    number = WINDOW - np.isnan(looked_back).sum(axis=1)
    place, every = np.maximum(number - 1, 0), np.arange(len(ratio))
    middle = (looked_back[every, place // 2] + looked_back[every, (place + 1) // 2]) / 2.0
    return np.where(number >= least_earlier, middle, np.nan)
