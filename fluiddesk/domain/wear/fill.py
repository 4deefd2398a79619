"""One fill from its change to a sample, how well its figures are known, and what each is worth.

First order: every figure of the mass balance (``mass_balance.py``) is moved a little, and the rate
moves in proportion. Common practice (propagation of uncertainty as in JCGM 100:2008, 5.1.2, from
memory, unconfirmed); the derivatives are our own.
"""

from dataclasses import dataclass
from typing import Final, Generic, TypeVar

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.balance import after_change, filled_share
from fluiddesk.domain.wear.inputs import FloatArray, Numbers, as_given, checked, same_length

N = TypeVar("N", float, NDArray[np.float64])

_SMALL: Final = 1e-4
"""Loss times hours below which a series is more exact than the closed form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fill(Generic[N]):
    """One fill, or a column of fills, from the change to a sample; the words of ``mass_balance``.

    ``before`` is the level in the old fill at the change, ``residue_share`` what stayed of it. For
    a stretch between two samples of one fill ``residue_share`` is 1 and ``before`` the last level.
    """

    end: N
    before: Numbers
    residue_share: Numbers
    hours: Numbers
    volume_l: Numbers
    density_kg_l: Numbers
    fresh: Numbers = 0.0
    loss_l_per_h: Numbers = 0.0
    loss_share: Numbers = 1.0
    removal_per_h: Numbers = 0.0

    @property
    def exchange(self) -> Numbers:
        """The share of the fluid lost and made up per hour (q/V), as ``equilibrium_ppm`` asks.

        Raises:
            WearInputError: the litres are negative, not finite, or 0 in the box.

        >>> Fill(end=32.0, before=1.0, residue_share=0.1, hours=250.0, volume_l=250.0,
        ...      density_kg_l=0.87, loss_l_per_h=0.08).exchange
        0.00032
        """
        litres = checked("the litres in the box", self.volume_l, above=0)
        lost = checked("the litres lost per hour", self.loss_l_per_h, at_least=0)
        same_length(volume=litres, loss=lost)
        return as_given(np.asarray(lost / litres))


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How well the figures of a fill are known, each as a standard deviation.

    Attributes:
        end: of the level at the sample, mg/kg; the laboratory's repeatability R gives R / 2.77.
        before: of the level before the change, mg/kg.
        residue_share: of the share left behind.
        fresh: of the level in fresh oil, mg/kg.
        hours: of the hours between, 0 for a meter that was read.
        loss_relative: of the litres lost, as a share of them.
        loss_share: of the share of metal that leaves with lost oil.
    """

    end: Numbers = 0.0
    before: Numbers = 0.0
    residue_share: Numbers = 0.0
    fresh: Numbers = 0.0
    hours: Numbers = 0.0
    loss_relative: Numbers = 0.0
    loss_share: Numbers = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """The rate of each fill in mg/kg per hour, and how it moves with each figure."""

    rate: FloatArray
    mass_kg: FloatArray
    hours: FloatArray
    residue_share: FloatArray
    per_end: FloatArray
    per_before: FloatArray
    per_residue_share: FloatArray
    per_fresh: FloatArray
    per_hour: FloatArray
    per_loss: FloatArray
    """Per 100 % of the litres lost."""
    per_loss_share: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownTo:
    """The standard deviations of ``Spread`` as checked columns."""

    end: FloatArray
    before: FloatArray
    residue_share: FloatArray
    fresh: FloatArray
    hours: FloatArray
    loss_relative: FloatArray
    loss_share: FloatArray


def known_to(spread: Spread) -> KnownTo:
    """The spreads as columns.

    Raises:
        WearInputError: a standard deviation is negative or not finite.
    """
    return KnownTo(
        end=checked("the spread of the level at the sample", spread.end, at_least=0),
        before=checked("the spread of the level before the change", spread.before, at_least=0),
        residue_share=checked("the spread of the residue share", spread.residue_share, at_least=0),
        fresh=checked("the spread of the level in fresh oil", spread.fresh, at_least=0),
        hours=checked("the spread of the hours", spread.hours, at_least=0),
        loss_relative=checked("the spread of the litres lost", spread.loss_relative, at_least=0),
        loss_share=checked("the spread of the loss share", spread.loss_share, at_least=0),
    )


def worth(fill: Fill[float] | Fill[FloatArray]) -> Worth:
    """The rate of each fill and its derivatives; all columns, or all single figures.

    Raises:
        WearInputError: a figure is negative, not finite or outside its span.

    >>> found = worth(Fill(end=32.0, before=45.0, residue_share=0.1, hours=250.0, volume_l=250.0,
    ...                    density_kg_l=0.87, fresh=1.0, loss_l_per_h=0.08))
    >>> round(100 * float(found.rate), 3), round(100 * float(found.per_end), 3)
    (11.212, 0.416)
    """
    end = checked("the level at the sample (mg/kg)", fill.end, at_least=0)
    before = checked("the level before the change (mg/kg)", fill.before, at_least=0)
    residue = checked("the residue share", fill.residue_share, at_least=0, at_most=1)
    hours = checked("the hours between the two", fill.hours, above=0)
    litres = checked("the litres in the box", fill.volume_l, above=0)
    density = checked("the density (kg/L)", fill.density_kg_l, above=0)
    fresh = checked("the level in fresh oil (mg/kg)", fill.fresh, at_least=0)
    lost = checked("the litres lost per hour", fill.loss_l_per_h, at_least=0)
    share = checked("the loss share", fill.loss_share, at_least=0, at_most=1)
    removed = checked("the removal per hour", fill.removal_per_h, at_least=0)
    same_length(end=end, before=before, residue=residue, hours=hours, volume=litres)
    same_length(end=end, density=density, fresh=fresh, loss=lost, share=share, removal=removed)

    exchange = np.asarray(lost / litres)
    loss = np.asarray(share * exchange + removed)
    start = np.asarray(after_change(before, fresh, residue))
    left, grown = np.exp(-loss * hours), filled_share(loss, hours)
    risen = end - start * left
    per_loss_rate = start * hours * left / grown - risen * _bend(loss, hours) / grown**2
    columns = np.broadcast_arrays(
        risen / grown - exchange * fresh,
        litres * density,
        hours,
        residue,
        1.0 / grown,
        -left / grown * residue,
        -left / grown * (before - fresh),
        -left / grown * (1.0 - residue) - exchange,
        start * loss * left / grown - risen * left / grown**2,
        (per_loss_rate * share - fresh) * exchange,
        per_loss_rate * exchange,
    )
    return Worth(**dict(zip(Worth.__dataclass_fields__, columns, strict=True)))


def _bend(loss: FloatArray, hours: FloatArray) -> FloatArray:
    """How (1 - e^(-loss hours)) / loss moves with the loss."""
    turn = loss * hours
    small = turn < _SMALL
    safe = np.where(small, 1.0, turn)
    closed = (safe * np.exp(-safe) + np.expm1(-safe)) / safe**2
    bent: FloatArray = hours**2 * np.where(small, -0.5 + turn / 3.0, closed)
    return bent
