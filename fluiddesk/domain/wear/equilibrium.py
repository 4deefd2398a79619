"""Where a level comes to rest in a box that loses fluid or filters, and how long that takes.

With lambda = phi q/V + k lost per hour the level tends to Cinf = (G/M + (q/V) C0) / lambda and
goes half of the way in ln 2 / lambda hours (common practice, from the mass balance of
``mass_balance.py``). So a level trend is not steady health: a box that loses much hides its wear.
"""

import math
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.balance import filled_share
from fluiddesk.domain.wear.inputs import FloatArray, Numbers, as_given, checked, same_length

WORTH_SAYING: Final = 0.3
"""Loss times hours from which people should be told that a level reads low (common practice, no
source)."""


@overload
def loss_per_hour(
    *, volume_l: float, loss_l_per_h: float, loss_share: float = 1.0, removal_per_h: float = 0.0
) -> float: ...
@overload
def loss_per_hour(
    *,
    volume_l: FloatArray,
    loss_l_per_h: Numbers,
    loss_share: Numbers = 1.0,
    removal_per_h: Numbers = 0.0,
) -> FloatArray: ...
def loss_per_hour(
    *,
    volume_l: Numbers,
    loss_l_per_h: Numbers,
    loss_share: Numbers = 1.0,
    removal_per_h: Numbers = 0.0,
) -> Numbers:
    """The share of the metal that leaves the oil per hour: lambda = phi q/V + k.

    Raises:
        WearInputError: a figure is negative, not finite, or a share above 1.

    >>> round(loss_per_hour(volume_l=60.0, loss_l_per_h=0.2), 5)
    0.00333
    """
    litres = checked("the litres in the box", volume_l, above=0)
    lost = checked("the litres lost per hour", loss_l_per_h, at_least=0)
    share = checked("the loss share", loss_share, at_least=0, at_most=1)
    removed = checked("the removal per hour", removal_per_h, at_least=0)
    same_length(volume=litres, loss=lost, share=share, removal=removed)
    return as_given(np.asarray(share * lost / litres + removed))


@overload
def half_time_hours(loss: float) -> float: ...
@overload
def half_time_hours(loss: FloatArray) -> FloatArray: ...
def half_time_hours(loss: Numbers) -> Numbers:
    """Hours in which a level goes half of the way to where it rests; infinite without a loss.

    Args:
        loss: ``loss_per_hour``.

    Raises:
        WearInputError: the loss is negative or not finite.

    >>> round(half_time_hours(0.2 / 60), 1)
    207.9
    """
    per_hour = checked("the loss per hour", loss, at_least=0)
    return as_given(_over(np.full(per_hour.shape, math.log(2.0)), per_hour))


@overload
def equilibrium_ppm(
    *, ppm_per_hour: float, loss: float, exchange: float = 0.0, fresh: float = 0.0
) -> float: ...
@overload
def equilibrium_ppm(
    *, ppm_per_hour: FloatArray, loss: Numbers, exchange: Numbers = 0.0, fresh: Numbers = 0.0
) -> FloatArray: ...
def equilibrium_ppm(
    *, ppm_per_hour: Numbers, loss: Numbers, exchange: Numbers = 0.0, fresh: Numbers = 0.0
) -> Numbers:
    """The level at which a box comes to rest, mg/kg; infinite where nothing ever leaves the oil.

    Args:
        ppm_per_hour: metal made, as a rise of the whole fill (``MassBalance.ppm_per_hour``); not
            negative, since a box that swallows metal comes to rest nowhere.
        loss: ``loss_per_hour``.
        exchange: share of the oil lost and made up per hour (q/V).
        fresh: level in the oil that makes up, mg/kg.

    Raises:
        WearInputError: a figure is negative or not finite.

    >>> round(equilibrium_ppm(ppm_per_hour=0.12, loss=0.2 / 60), 1)
    36.0
    """
    made = checked("the metal made per hour (mg/kg)", ppm_per_hour, at_least=0)
    lost = checked("the loss per hour", loss, at_least=0)
    turned = checked("the share of the oil made up per hour", exchange, at_least=0)
    new = checked("the level in fresh oil (mg/kg)", fresh, at_least=0)
    same_length(made=made, loss=lost, exchange=turned, fresh=new)
    return as_given(_over(np.asarray(made + turned * new), lost))


@overload
def reads_low_percent(*, hours: float, loss: float) -> float: ...
@overload
def reads_low_percent(*, hours: FloatArray, loss: Numbers) -> FloatArray: ...
def reads_low_percent(*, hours: Numbers, loss: Numbers) -> Numbers:
    """How much of the metal made since the start is no longer in the oil, in percent of it.

    A rise reads low by so much; people should be told where ``is_worth_saying``.

    Raises:
        WearInputError: hours or loss are negative or not finite.

    >>> round(reads_low_percent(hours=250.0, loss=0.2 / 60), 1)
    32.2
    """
    ran = checked("the hours since the start", hours, at_least=0)
    lost = checked("the loss per hour", loss, at_least=0)
    same_length(hours=ran, loss=lost)
    turn = np.asarray(ran * lost)
    kept = filled_share(turn, np.ones_like(turn))
    return as_given(np.asarray(100.0 * (1.0 - kept)))


@overload
def is_worth_saying(*, hours: float, loss: float) -> bool: ...
@overload
def is_worth_saying(*, hours: FloatArray, loss: Numbers) -> NDArray[np.bool_]: ...
def is_worth_saying(*, hours: Numbers, loss: Numbers) -> bool | NDArray[np.bool_]:
    """Whether a level reads so low that people should be told: loss times hours above 0.3.

    >>> is_worth_saying(hours=np.array([50.0, 250.0]), loss=0.2 / 60).tolist()
    [False, True]
    """
    ran = checked("the hours since the start", hours, at_least=0)
    lost = checked("the loss per hour", loss, at_least=0)
    same_length(hours=ran, loss=lost)
    told = np.asarray(ran * lost > WORTH_SAYING)
    return told if told.ndim else bool(told)


def _over(above: FloatArray, below: FloatArray) -> FloatArray:
    """A quotient that is infinite over nothing."""
    safe = np.where(below > 0, below, 1.0)
    quotient: FloatArray = np.where(below > 0, above / safe, np.inf)
    return quotient
