"""What is known of a box's rate before its present fill is looked at.

The rate of a box lies among those of like machines; the rate of one fill lies about that of its
box; what was worked out for a fill carries the error of the laboratory. All three are put together
on a grid of rates (Bayes' rule by quadrature, common practice): few fills say little, so they
count little, and the older a fill the less it counts. Rates of wear and of using up are positive
and spread by factors (log-normal); rates of what may go either way are spread evenly (normal).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

NODES: Final = 81
_REACH: Final = 5.0
_LEAST_LOG_STEP: Final = 0.8
"""The grid of positive rates reaches from e^-4 to e^4 times the middle, so that a fault fits in."""

USUAL_FILL_SD: Final = 0.15
"""Spread of the rate from fill to fill, as a share of it (common practice, no source)."""
USUAL_BETWEEN_SD: Final = 0.4
"""Spread of the logarithm of the rate between like boxes (common practice, no source)."""
VAGUE_SD: Final = 1.0
"""That spread where no like box is known."""
_SPREADS: Final = ((0.10, 1.0), (0.08, 0.6))
"""Spreads between boxes and from fill to fill are believed inside these bounds only."""
_AGEING: Final = 0.85
"""Each fill further back counts this much less (common practice, no source)."""
_UNLIKE: Final = 0.05
"""Share of fills that are not like the box's others, because a fault began (common practice)."""
_UNLIKE_WIDTH: Final = 1.0
FEWEST_SISTERS: Final = 5
"""Fewer like boxes give no prior (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FillRates:
    """Rates of past fills, n rows (one analyte of one box) x p fills, oldest first.

    Attributes:
        rate: per hour; NaN where there is none.
        sd: standard deviation of its error, above 0.
        is_bound: the true rate is at most this one (a value below detection).
    """

    rate: FloatArray
    sd: FloatArray
    is_bound: BoolArray

    def count(self) -> NDArray[np.int64]:
        """How many fills of each row have a rate of their own."""
        known: NDArray[np.int64] = (np.isfinite(self.rate) & ~self.is_bound).sum(axis=1)
        return known


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The rates of like boxes; n rows.

    Attributes:
        middle: middle rate per hour; above 0 where rates are positive; NaN where unknown.
        between_sd: spread between boxes: of the logarithm, or of the rate itself where signed.
        fill_sd: spread from fill to fill, likewise.
        boxes: how many boxes stand behind it.
        is_signed: rates of either sign.
    """

    middle: FloatArray
    between_sd: FloatArray
    fill_sd: FloatArray
    boxes: NDArray[np.int64]
    is_signed: BoolArray

    @property
    def is_known(self) -> BoolArray:
        """Whether enough like boxes stand behind it."""
        return np.isfinite(self.middle) & (self.boxes >= FEWEST_SISTERS)


def group_of(rates: FillRates, *, is_signed: bool) -> Group:
    """The prior that like boxes give for one analyte; one row.

    Spreads are found by the sums of squares between boxes and within them, less what the errors of
    the rates explain; the highest twentieth is drawn in, so that faults do not count as normal.

    Args:
        rates: one row a like box.
        is_signed: whether the analyte may go either way.

    >>> rate = np.array([[0.10, 0.11], [0.12, 0.12], [0.09, 0.10], [0.14, 0.13], [0.11, 0.12]])
    >>> none = np.zeros((5, 2), dtype=bool)
    >>> found = group_of(FillRates(rate=rate, sd=np.full((5, 2), 0.005), is_bound=none),
    ...                  is_signed=False)
    >>> round(float(found.middle[0]), 3), int(found.boxes[0])
    (0.113, 5)
    """
    known = np.isfinite(rates.rate)
    # A bound stands for about half of itself where a mean is wanted and nothing more is known.
    used = np.where(rates.is_bound & ~np.asarray(is_signed), 0.5 * rates.rate, rates.rate)
    n = known.sum(axis=1)
    has = n > 0
    boxes = int(has.sum())
    if boxes < FEWEST_SISTERS:
        return _one(np.nan, np.nan, np.nan, boxes=boxes, is_signed=is_signed)
    low, high = np.quantile(used[known], [0.02, 0.95])
    clipped = np.where(known, np.clip(used, low, high), 0.0)
    mean = clipped.sum(axis=1)[has] / n[has]
    middle = float(mean.mean())
    inside = (np.where(known, clipped - (clipped.sum(axis=1) / np.maximum(n, 1))[:, None], 0)) ** 2
    spare = int((n[has] - 1).sum())
    within = float(inside.sum()) / spare if spare > 0 else np.nan
    error = float(np.mean(np.square(rates.sd[known])))
    fill = max(within - error, 0.0) if np.isfinite(within) else np.nan
    per_mean = within if np.isfinite(within) else error
    between = max(float(mean.var(ddof=1)) - per_mean * float(np.mean(1 / n[has])), 0.0)
    if is_signed:
        floor = np.sqrt(error) * 0.1
        fill_sd = max(np.sqrt(fill) if np.isfinite(fill) else np.sqrt(error), floor)
        return _one(middle, max(np.sqrt(between), floor), fill_sd, boxes=boxes, is_signed=True)
    if middle <= 0:
        return _one(np.nan, np.nan, np.nan, boxes=boxes, is_signed=False)
    between_sd = float(np.clip(np.sqrt(np.log1p(between / middle**2)), *_SPREADS[0]))
    fill_sd = USUAL_FILL_SD
    if np.isfinite(fill):
        fill_sd = float(np.clip(np.sqrt(np.log1p(fill / middle**2)), *_SPREADS[1]))
    # The mean of a log-normal spread lies above its middle.
    return _one(
        middle * float(np.exp(-(between_sd**2) / 2)),
        between_sd,
        fill_sd,
        boxes=boxes,
        is_signed=False,
    )


def _one(middle: float, between_sd: float, fill_sd: float, *, boxes: int, is_signed: bool) -> Group:
    return Group(
        middle=np.array([middle]),
        between_sd=np.array([between_sd]),
        fill_sd=np.array([fill_sd]),
        boxes=np.array([boxes]),
        is_signed=np.array([is_signed]),
    )


def stacked(groups: list[Group]) -> Group:
    """The rows of several groups under each other."""
    return Group(
        middle=np.concatenate([one.middle for one in groups]),
        between_sd=np.concatenate([one.between_sd for one in groups]),
        fill_sd=np.concatenate([one.fill_sd for one in groups]),
        boxes=np.concatenate([one.boxes for one in groups]),
        is_signed=np.concatenate([one.is_signed for one in groups]),
    )


def completed(group: Group, own: FillRates, *, fallback: FloatArray) -> Group:
    """The group with what is vague filled in, so that every row has a prior.

    Args:
        group: NaN where there are too few like boxes.
        own: the box's past fills; their middle stands in for that of like boxes.
        fallback: a rate per hour where there are no past fills either.
    """
    known = np.isfinite(own.rate)
    count = np.maximum(known.sum(axis=1), 1)
    mean = np.where(known, own.rate, 0.0).sum(axis=1) / count
    mean = np.where(known.any(axis=1), mean, fallback)
    size = np.maximum(np.abs(mean), np.abs(fallback))
    error = np.sqrt(np.where(known, own.sd**2, 0.0).sum(axis=1) / count)
    least = np.maximum(np.maximum(0.25 * error, 0.02 * size), 1e-9)
    unknown = ~np.isfinite(group.middle)
    stand_in = np.where(group.is_signed, mean, np.maximum(mean, least))
    wide = np.where(group.is_signed, np.maximum(size, error) + 1e-9, VAGUE_SD)
    usual = np.where(group.is_signed, np.maximum(0.5 * size, error) + 1e-9, USUAL_FILL_SD)
    return Group(
        middle=np.where(unknown, stand_in, group.middle),
        between_sd=np.where(unknown, wide, group.between_sd),
        fill_sd=np.where(unknown, usual, group.fill_sd),
        boxes=np.where(unknown, 0, group.boxes),
        is_signed=group.is_signed,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RateGrid:
    """Chances over rates, n rows x m nodes; ``weight`` sums to 1 in each row."""

    rate: FloatArray
    weight: FloatArray

    def mean(self) -> FloatArray:
        """The mean rate of each row."""
        found: FloatArray = (self.rate * self.weight).sum(axis=1)
        return found

    def quantile(self, share: float) -> FloatArray:
        """The rate that a share of the chances lies below, between nodes by a straight line."""
        run = np.cumsum(self.weight, axis=1) - 0.5 * self.weight
        found = np.empty(len(self.rate))
        for row in range(len(found)):
            found[row] = np.interp(share, run[row], self.rate[row])
        return found


def box_rates(group: Group, past: FillRates) -> RateGrid:
    """The rate of each box, by its past fills and like boxes.

    Args:
        group: the prior, complete (``completed``).
        past: its past fills.

    >>> group = Group(middle=np.array([0.12]), between_sd=np.array([0.4]),
    ...               fill_sd=np.array([0.15]), boxes=np.array([30]), is_signed=np.array([False]))
    >>> seen = FillRates(rate=np.full((1, 5), 0.2), sd=np.full((1, 5), 0.02),
    ...                  is_bound=np.zeros((1, 5), dtype=bool))
    >>> round(float(box_rates(group, seen).quantile(0.5)[0]), 2)
    0.19
    """
    z = np.linspace(-_REACH, _REACH, NODES)
    step = _step(group)
    rate = _rates_at(group, step, z)
    # A prior with a longer tail than the normal one: few boxes are very unlike their sisters.
    apart = z[None, :] * step[:, None] / group.between_sd[:, None]
    score = -2.5 * np.log1p(apart**2 / 4.0)
    spread = np.where(group.is_signed[:, None], 1.0, rate) * group.fill_sd[:, None]
    fills = past.rate.shape[1]
    for place in range(fills):
        known = np.isfinite(past.rate[:, place])
        if known.any():
            worth = _AGEING ** (fills - 1 - place)
            score += worth * _told_by(past, place, known, rate, spread)
    return RateGrid(rate=rate, weight=normalised(score))


def _told_by(
    past: FillRates, place: int, known: BoolArray, rate: FloatArray, spread: FloatArray
) -> FloatArray:
    """How likely one past fill is under each rate of the box, as a logarithm."""
    from scipy.special import log_ndtr

    seen = np.where(known, past.rate[:, place], 0.0)[:, None]
    error = np.where(known, past.sd[:, place], 1.0)[:, None]
    sd = np.hypot(error, spread)
    away = (seen - rate) / sd
    # A fill that a fault spoiled must not drag the box along: its weight is bounded.
    plain = np.log((1 - _UNLIKE) * np.exp(-0.5 * away**2) / sd + _UNLIKE * 0.02 / sd)
    is_bound = past.is_bound[:, place]
    if is_bound.any():
        plain = np.where(is_bound[:, None], log_ndtr(away), plain)
    return np.where(known[:, None], plain, 0.0)


def fill_rates(group: Group, box: RateGrid) -> RateGrid:
    """The rate of a box's next fill: that of the box, spread from fill to fill.

    One fill in twenty is taken to be unlike the others, so that a fault which began can be seen.
    """
    step = _step(group)
    own = (group.fill_sd / step)[:, None]
    wide = np.maximum(own, (_UNLIKE_WIDTH * np.where(group.is_signed, 1.0, 1.0 / step))[:, None])
    spread = (1 - _UNLIKE) * _bell(own) + _UNLIKE * _bell(wide)
    # The nodes stand evenly: what one hands to another depends on how far they lie apart alone.
    apart = np.arange(NODES)[:, None] - np.arange(NODES)[None, :] + NODES - 1
    weight = np.einsum("nij,nj->ni", spread[:, apart], box.weight)
    return RateGrid(rate=box.rate, weight=weight / weight.sum(axis=1, keepdims=True))


def _bell(sd: FloatArray) -> FloatArray:
    """Shares over all distances between nodes, (n, 2 NODES - 1), summing to 1."""
    gap = np.arange(1 - NODES, NODES) * (2 * _REACH / (NODES - 1))
    bell = np.exp(-0.5 * (gap[None, :] / sd) ** 2)
    shares: FloatArray = bell / bell.sum(axis=1, keepdims=True)
    return shares


def normalised(score: FloatArray) -> FloatArray:
    """Chances from logarithms, each row summing to 1."""
    weight = np.exp(score - score.max(axis=1, keepdims=True))
    chances: FloatArray = weight / weight.sum(axis=1, keepdims=True)
    return chances


def _step(group: Group) -> FloatArray:
    signed = np.hypot(group.between_sd, group.fill_sd)
    wide = np.maximum(np.hypot(group.between_sd, group.fill_sd), _LEAST_LOG_STEP)
    return np.where(group.is_signed, signed, wide)


def _rates_at(group: Group, step: FloatArray, z: FloatArray) -> FloatArray:
    away = step[:, None] * z[None, :]
    signed = group.middle[:, None] + away
    positive = np.where(group.is_signed, 1.0, group.middle)[:, None]
    # Capped, so that the branch not taken cannot overflow.
    grown = positive * np.exp(np.minimum(np.where(group.is_signed[:, None], 0.0, away), 50.0))
    return np.where(group.is_signed[:, None], signed, grown)
