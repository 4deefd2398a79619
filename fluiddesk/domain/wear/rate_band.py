"""How well a wear rate is known, from how well its figures are known.

First order (``fill.py``): the spreads of independent figures, each times what it is worth, add as
squares. The band is that of a normal distribution, so that its lower end may lie below zero. With
dated top-ups what a figure is worth is found by moving it a little (as JCGM 100:2008, 5.1.3 note 2,
does; from memory, unconfirmed).
"""

from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Final, Generic, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.fill import Fill, Spread, known_to, worth
from fluiddesk.domain.wear.inputs import FloatArray, WearInputError
from fluiddesk.domain.wear.mass_balance import MassBalance, mass_balance, start_after_change
from fluiddesk.domain.wear.top_ups import TopUps

_A_LITTLE: Final = 1e-6
_MOVED: Final = (
    *("end", "before", "residue_share", "fresh", "hours"),
    *("loss_relative", "loss_share"),
)
"""The figures of ``Spread``, in its order."""

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


def topped_up_balance(fill: Fill[float], top_ups: TopUps) -> MassBalance[float]:
    """The mass balance of one fill with dated top-ups, from its change to a sample.

    Raises:
        WearInputError: a figure is negative, not finite or outside its span, or a top-up lies
            outside the fill.
    """
    return mass_balance(
        start=start_after_change(
            before=float(fill.before),
            residue_share=float(fill.residue_share),
            fresh=float(fill.fresh),
        ),
        end=fill.end,
        hours=float(fill.hours),
        volume_l=float(fill.volume_l),
        density_kg_l=float(fill.density_kg_l),
        fresh=float(fill.fresh),
        loss_l_per_h=float(fill.loss_l_per_h),
        loss_share=float(fill.loss_share),
        removal_per_h=float(fill.removal_per_h),
        top_ups=top_ups,
    )


def topped_up_rate_band(
    fill: Fill[float], spread: Spread, top_ups: TopUps, *, share: float = 0.80
) -> RateBand[float]:
    """The wear rate of one fill with dated top-ups, with its band.

    The litres of the top-ups are known as well as those lost (``Spread.loss_relative``), and err
    together with them; the oil added is as fresh as the oil that makes up even losses.

    Raises:
        WearInputError: a figure or a spread is negative, not finite or outside its span, or a
            top-up lies outside the fill.

    >>> engine = Fill(end=32.0, before=45.0, residue_share=0.10, hours=250.0, volume_l=250.0,
    ...               density_kg_l=0.87, fresh=1.0)
    >>> added = TopUps(at_hours=np.array([125.0]), litres=np.array([20.0]), fresh=1.0)
    >>> band = topped_up_rate_band(engine, Spread(end=3.0, loss_relative=0.2), added)
    >>> [round(one, 1) for one in (band.ppm_per_100_h, band.sd, band.low, band.high)]
    [11.2, 1.3, 9.6, 12.8]
    """
    known = known_to(spread)
    rate = topped_up_balance(fill, top_ups).ppm_per_100_h
    variance = 0.0
    for name in _MOVED:
        sd = float(getattr(known, name))
        if sd:
            moved, step = _moved(fill, top_ups, name)
            variance += ((topped_up_balance(*moved).ppm_per_100_h - rate) / step * sd) ** 2
    reach = half_width(share) * variance**0.5
    return RateBand(ppm_per_100_h=rate, sd=variance**0.5, low=rate - reach, high=rate + reach)


def _moved(
    fill: Fill[float], top_ups: TopUps, name: str
) -> tuple[tuple[Fill[float], TopUps], float]:
    """One figure moved a little, and by how much; a share of the whole only down."""
    if name == "loss_relative":
        less = 1.0 - _A_LITTLE
        litres = replace(top_ups, litres=top_ups.litres * less)
        return (replace(fill, loss_l_per_h=fill.loss_l_per_h * less), litres), -_A_LITTLE
    value = float(getattr(fill, name))
    step = _A_LITTLE * max(abs(value), 1.0)
    if name.endswith("share") and value > 0.5:  # noqa: PLR2004  # the nearer end is 1
        step = -step
    changed = {name: value + step}
    if name == "fresh":
        top_ups = replace(top_ups, fresh=top_ups.fresh + step)
    return (replace(fill, **changed), top_ups), step
