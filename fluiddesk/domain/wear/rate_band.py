"""How well a wear rate is known, from how well its figures are known.

First order (``fill.py``): the spreads of independent figures, each times what it is worth, add as
squares. The band is that of a normal distribution, so that its lower end may lie below zero.
"""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Generic, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.fill import Fill, Spread, known_to, worth
from fluiddesk.domain.wear.inputs import FloatArray, WearInputError

N = TypeVar("N", float, NDArray[np.float64])


@dataclass(frozen=True, slots=True, kw_only=True)
class RateBand(Generic[N]):
    """A wear rate in mg/kg per 100 h, its standard deviation and its band."""

    ppm_per_100_h: N
    sd: N
    low: N
    high: N


def half_width(share: float) -> float:
    """Standard deviations from the middle to the end of a band that holds a share.

    Raises:
        WearInputError: the share is not between 0 and 1.

    >>> round(half_width(0.80), 4)
    1.2816
    """
    if not 0.0 < share < 1.0:
        raise WearInputError(
            f"A band cannot hold a share of {share:g}. Give a share between 0 and 1, such as 0.8."
        )
    return NormalDist().inv_cdf(0.5 + share / 2.0)


@overload
def rate_band(fill: Fill[float], spread: Spread, *, share: float = 0.80) -> RateBand[float]: ...
@overload
def rate_band(
    fill: Fill[FloatArray], spread: Spread, *, share: float = 0.80
) -> RateBand[FloatArray]: ...
def rate_band(
    fill: Fill[float] | Fill[FloatArray], spread: Spread, *, share: float = 0.80
) -> RateBand[float] | RateBand[FloatArray]:
    """The wear rate of one fill, or of each of many, with a band that holds a share of the chances.

    Raises:
        WearInputError: a figure or a spread is negative, not finite or outside its span.

    >>> engine = Fill(end=32.0, before=45.0, residue_share=0.10, hours=250.0, volume_l=250.0,
    ...               density_kg_l=0.87, fresh=1.0, loss_l_per_h=0.08)
    >>> band = rate_band(engine, Spread(end=3.0, before=3.0, residue_share=0.04, loss_relative=0.2))
    >>> [round(one, 1) for one in (band.ppm_per_100_h, band.sd, band.low, band.high)]
    [11.2, 1.4, 9.4, 13.0]
    """
    of, known = worth(fill), known_to(spread)
    parts = (
        of.per_end * known.end,
        of.per_before * known.before,
        of.per_residue_share * known.residue_share,
        of.per_fresh * known.fresh,
        of.per_hour * known.hours,
        of.per_loss * known.loss_relative,
        of.per_loss_share * known.loss_share,
    )
    sd = 100.0 * np.sqrt(np.asarray(sum(part**2 for part in parts)))
    rate, reach = 100.0 * of.rate, half_width(share) * sd
    if np.ndim(sd):
        return RateBand(ppm_per_100_h=rate, sd=sd, low=rate - reach, high=rate + reach)
    return RateBand(
        ppm_per_100_h=float(rate), sd=float(sd), low=float(rate - reach), high=float(rate + reach)
    )
