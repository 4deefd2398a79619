"""Wear in grams over the life of a component, fill by fill.

The errors of neighbouring fills belong together: a level read too high at a change makes the fill
that ends there look worse and, through the oil left behind, the next one better. And the residue
share is that of one box: if it is wrong, it is wrong at every change. Worked through in first order
(``fill.py``); common practice, the algebra is our own.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.fill import Fill, Spread, known_to, worth
from fluiddesk.domain.wear.inputs import FloatArray, WearInputError, checked, same_length
from fluiddesk.domain.wear.mass_balance import MG_PER_G
from fluiddesk.domain.wear.rate_band import half_width

IntArray = NDArray[np.int64]


def cumulative_grams(*, mg_per_hour: FloatArray, hours: FloatArray) -> FloatArray:
    """Grams worn since the first stretch began, at the end of each stretch.

    Raises:
        WearInputError: no stretch is given, hours are not above 0, or a figure is not finite.

    >>> cumulative_grams(mg_per_hour=np.array([24.4, 22.0, 31.5]),
    ...                  hours=np.array([250.0, 240.0, 260.0])).tolist()
    [6.1, 11.38, 19.57]
    """
    made = checked("the metal made per hour (mg)", mg_per_hour)
    ran = checked("the hours of a stretch", hours, above=0)
    same_length(mg_per_hour=made, hours=ran)
    if not made.size:
        raise WearInputError("No stretch is given. Give at least one stretch with its hours.")
    total: FloatArray = np.cumsum(made * ran) / MG_PER_G
    return total


@dataclass(frozen=True, slots=True, kw_only=True)
class CumulativeWear:
    """Grams worn, one row a fill, in the order given.

    Attributes:
        grams: worn in this fill.
        sd: its standard deviation.
        total: worn since the component's first fill given, this one included.
        total_sd: its standard deviation, with what the errors of neighbours have in common.
        low: lower end of the band of the total.
        high: its upper end.
    """

    grams: FloatArray
    sd: FloatArray
    total: FloatArray
    total_sd: FloatArray
    low: FloatArray
    high: FloatArray


def cumulative_wear(
    fills: Fill[FloatArray], spread: Spread, *, component: IntArray, share: float = 0.80
) -> CumulativeWear:
    """Wear in grams over successive fills of each component, with its uncertainty.

    Args:
        fills: successive fills, those of one component together and in order. Each fill after the
            first of a component starts from the end of the one before it: its ``before`` must be
            that level, measured once.
        spread: how well the figures are known. The errors of levels, hours and losses are
            independent from fill to fill, those of residue share, fresh oil and loss share common
            to all fills of a component.
        component: which component each fill belongs to.
        share: what the band holds.

    Raises:
        WearInputError: no fill is given, rows of a component do not stand together, or a fill does
            not start from the end of the one before.

    >>> fills = Fill(end=np.array([30.0, 30.0]), before=np.array([30.0, 30.0]), residue_share=0.2,
    ...              hours=250.0, volume_l=40.0, density_kg_l=0.9)
    >>> found = cumulative_wear(fills, Spread(end=3.0), component=np.array([1, 1]))
    >>> found.total.round(3).tolist(), found.sd.round(4).tolist(), found.total_sd.round(4).tolist()
    ([0.864, 1.728], [0.108, 0.1101], [0.108, 0.1383])
    """
    end = np.asarray(fills.end, dtype=np.float64)
    component = np.asarray(component)
    same_length(level=end, component=component)
    follows = _follows(component)
    _refuse_gaps(end, np.broadcast_to(np.asarray(fills.before), end.shape), follows)
    of, known = worth(fills), known_to(spread)
    to_grams = of.mass_kg * of.hours / MG_PER_G

    start_sd = np.where(follows, 0.0, known.before)
    alone = (start_sd * of.per_before, known.hours * of.per_hour, known.loss_relative * of.per_loss)
    own = to_grams**2 * sum(part**2 for part in alone)
    common = [
        to_grams * known.residue_share * of.per_residue_share,
        to_grams * known.fresh * of.per_fresh,
        to_grams * known.loss_share * of.per_loss_share,
    ]
    ends = to_grams * of.per_end
    starts = to_grams * np.where(follows, of.per_before, 0.0)
    sd_end = np.broadcast_to(known.end, end.shape)
    sd_before = np.append(0.0, sd_end[:-1])
    sd = np.sqrt(
        own + (ends * sd_end) ** 2 + (starts * sd_before) ** 2 + sum(part**2 for part in common)
    )
    # The last level of the sum counts once, every level before it with what the next fill gives
    # back.
    inner = ((ends + np.append(starts[1:], 0.0)) * sd_end) ** 2
    variance = _running(own, follows) + _running(inner, follows) - inner + (ends * sd_end) ** 2
    variance = variance + sum(_running(part, follows) ** 2 for part in common)
    total = _running(to_grams * of.rate, follows)
    total_sd = np.sqrt(np.maximum(variance, 0.0))  # sums that cancel may end a hair below zero
    reach = half_width(share) * total_sd
    return CumulativeWear(
        grams=to_grams * of.rate,
        sd=sd,
        total=total,
        total_sd=total_sd,
        low=total - reach,
        high=total + reach,
    )


def _follows(component: IntArray) -> NDArray[np.bool_]:
    """Whether the row before belongs to the same component."""
    if not component.size:
        raise WearInputError("No fill is given. Give at least one fill of one component.")
    follows: NDArray[np.bool_] = np.append(False, component[1:] == component[:-1])
    if len(np.unique(component)) != int((~follows).sum()):
        raise WearInputError(
            "The fills of a component do not stand together. Sort the fills by component and time."
        )
    return follows


def _refuse_gaps(end: FloatArray, before: FloatArray, follows: NDArray[np.bool_]) -> None:
    apart = follows & (np.append(np.nan, end[:-1]) != before)
    if apart.any():
        row = int(np.flatnonzero(apart)[0])
        raise WearInputError(
            f"Row {row + 1}: the fill starts from {before[row]:g} mg/kg, but the fill before it "
            f"ended at {end[row - 1]:g}. Give the same level in both, or another component."
        )


def _running(column: FloatArray, follows: NDArray[np.bool_]) -> FloatArray:
    """The sum of a column from each component's first row on."""
    total = np.cumsum(column)
    begins = np.flatnonzero(~follows)
    before = (total - column)[begins]
    run: FloatArray = total - np.repeat(before, np.diff(np.append(begins, len(column))))
    return run
