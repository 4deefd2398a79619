"""Metal made in a box since its change or its last sample, through losses, top-ups and filters.

The mass balance of a well-mixed box that is kept full (common practice; the algebra is our own):
M dC/dt = G + rho q C0 - (phi rho q + k M) C, solved exactly from one dated top-up to the next. C is
the metal in the oil in mg/kg, G what the box makes in mg/h, q litres lost and made up per hour, C0
the metal in fresh oil, phi the share of metal that leaves with lost oil (leak 1, burning 0.5 to 1,
evaporation 0) and k what filter and settling take per hour (0 for dissolved and very fine metal).

Fluid that is lost evenly goes into q; a top-up known by its day goes into ``TopUps``. Giving the
same litres in both counts them twice.
"""

from dataclasses import dataclass
from typing import Final, Generic, TypeVar, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.wear.balance import after_change
from fluiddesk.domain.wear.inputs import (
    FloatArray,
    Numbers,
    WearInputError,
    as_given,
    checked,
    same_length,
)
from fluiddesk.domain.wear.top_ups import NO_TOP_UPS, TopUps, follow

MG_PER_G: Final = 1000.0

_SPANS: Final[tuple[tuple[str, float | None, float | None, float | None], ...]] = (
    ("the level at the start (mg/kg)", 0, None, None),
    ("the level at the sample (mg/kg)", 0, None, None),
    ("the hours between the two", None, 0, None),
    ("the litres in the box", None, 0, None),
    ("the density (kg/L)", None, 0, None),
    ("the level in fresh oil (mg/kg)", 0, None, None),
    ("the litres lost per hour", 0, None, None),
    ("the share of metal that leaves with lost oil", 0, None, 1),
    ("the removal per hour", 0, None, None),
)
"""Name of each quantity of ``mass_balance``, the least it may be, what it must exceed, the most."""

N = TypeVar("N", float, NDArray[np.float64])


@dataclass(frozen=True, slots=True, kw_only=True)
class MassBalance(Generic[N]):
    """What a box made between two samples, or between a change and a sample.

    A negative figure means that the oil shows less than it must have held: noise of the
    measurement, or a change or top-up that nobody recorded.

    Attributes:
        ppm_per_hour: metal made, as a rise of the whole fill in mg/kg per hour (G/M).
        mg_per_hour: G, comparable between boxes of different size.
        grams: all the metal made between the two.
        without_losses_ppm: what the oil would show, had nothing been lost, topped up or filtered.
        before_top_up_ppm: level just before each dated top-up, in the order given.
        after_top_up_ppm: level just after it.
    """

    ppm_per_hour: N
    mg_per_hour: N
    grams: N
    without_losses_ppm: N
    before_top_up_ppm: NDArray[np.float64]
    after_top_up_ppm: NDArray[np.float64]

    @property
    def ppm_per_100_h(self) -> N:
        """The rise of the whole fill in mg/kg per 100 h."""
        return 100.0 * self.ppm_per_hour


@overload
def start_after_change(*, before: float, residue_share: float, fresh: float) -> float: ...
@overload
def start_after_change(
    *, before: FloatArray, residue_share: Numbers, fresh: Numbers
) -> FloatArray: ...
def start_after_change(*, before: Numbers, residue_share: Numbers, fresh: Numbers) -> Numbers:
    """The level just after a fluid change: Cs = r C + (1 - r) C0.

    Args:
        before: level in the old fill when it was drained, mg/kg.
        residue_share: share of the old oil left in the box, 0 to 1.
        fresh: level in the new oil, mg/kg.

    Raises:
        WearInputError: a figure is negative, not finite, or a share above 1.

    >>> round(start_after_change(before=45.0, residue_share=0.10, fresh=1.0), 3)
    5.4
    """
    old = checked("the level before the change (mg/kg)", before, at_least=0)
    share = checked("the residue share", residue_share, at_least=0, at_most=1)
    new = checked("the level in fresh oil (mg/kg)", fresh, at_least=0)
    same_length(before=old, residue=share, fresh=new)
    return as_given(np.asarray(after_change(old, new, share)))


@overload
def mass_balance(
    *,
    start: float,
    end: float,
    hours: float,
    volume_l: float,
    density_kg_l: float,
    fresh: float = 0.0,
    loss_l_per_h: float = 0.0,
    loss_share: float = 1.0,
    removal_per_h: float = 0.0,
    top_ups: TopUps = NO_TOP_UPS,
) -> MassBalance[float]: ...
@overload
def mass_balance(
    *,
    start: Numbers,
    end: FloatArray,
    hours: Numbers,
    volume_l: Numbers,
    density_kg_l: Numbers,
    fresh: Numbers = 0.0,
    loss_l_per_h: Numbers = 0.0,
    loss_share: Numbers = 1.0,
    removal_per_h: Numbers = 0.0,
    top_ups: TopUps = NO_TOP_UPS,
) -> MassBalance[FloatArray]: ...
def mass_balance(  # noqa: PLR0913 - the quantities of one equation, all by keyword
    *,
    start: Numbers,
    end: Numbers,
    hours: Numbers,
    volume_l: Numbers,
    density_kg_l: Numbers,
    fresh: Numbers = 0.0,
    loss_l_per_h: Numbers = 0.0,
    loss_share: Numbers = 1.0,
    removal_per_h: Numbers = 0.0,
    top_ups: TopUps = NO_TOP_UPS,
) -> MassBalance[float] | MassBalance[FloatArray]:
    """The metal a box must have made to come from one level to another.

    Args:
        start: level after the change (``start_after_change``) or at the last sample, mg/kg.
        end: level at the sample, mg/kg.
        hours: hours between the two, above 0.
        volume_l: litres in the box, kept level.
        density_kg_l: of the oil.
        fresh: level in the oil that makes up even losses, mg/kg.
        loss_l_per_h: litres lost and made up evenly, per hour.
        loss_share: share of metal that leaves with lost oil, 0 to 1.
        removal_per_h: share of the metal that filter and settling take per hour.
        top_ups: dated single top-ups between the two.

    Raises:
        WearInputError: a figure is negative, not finite or outside its span, columns differ in
            length, a top-up does not lie between the two samples, or replaced the whole fill at
            the moment of the sample.

    >>> engine = mass_balance(start=5.4, end=32.0, hours=250.0, volume_l=250.0, density_kg_l=0.87,
    ...                       fresh=1.0, loss_l_per_h=0.08)
    >>> round(engine.ppm_per_100_h, 3), round(engine.mg_per_hour, 3), round(engine.grams, 2)
    (11.212, 24.386, 6.1)
    """
    given = _checked(
        start, end, hours, volume_l, density_kg_l, fresh, loss_l_per_h, loss_share, removal_per_h
    )
    first, last, ran, litres, density, new, lost, share, removed = given
    exchange = lost / litres
    path = follow(
        top_ups,
        start=first,
        hours=ran,
        volume_l=litres,
        loss_share=share,
        loss=np.asarray(share * exchange + removed),
        brought=np.asarray(exchange * new),
    )
    _refuse_washed_out(path.per_made)
    made = np.asarray((last - path.without) / path.per_made)
    per_hour = np.asarray(made * litres * density)
    before, after = path.at_top_ups(made)
    found: MassBalance[FloatArray] = MassBalance(
        ppm_per_hour=np.broadcast_to(made, per_hour.shape),
        mg_per_hour=per_hour,
        grams=np.asarray(per_hour * ran / MG_PER_G),
        without_losses_ppm=np.broadcast_to(first + made * ran, per_hour.shape),
        before_top_up_ppm=before,
        after_top_up_ppm=after,
    )
    return found if per_hour.ndim else _single(found)


def _checked(*given: Numbers) -> list[FloatArray]:
    """The quantities of ``mass_balance`` in its order, refused where they cannot be true."""
    columns = [
        checked(name, value, at_least=low, above=above, at_most=high)
        for value, (name, low, above, high) in zip(given, _SPANS, strict=True)
    ]
    same_length(**{name: column for (name, *_), column in zip(_SPANS, columns, strict=True)})
    return columns


def _refuse_washed_out(per_made: FloatArray) -> None:
    """Refuse a sample of oil in which nothing of what the box made can be left."""
    if (per_made <= 0).any():
        row = int(np.flatnonzero(per_made <= 0)[0])
        raise WearInputError(
            f"Row {row + 1}: the whole fill was replaced when the sample was taken, so that it "
            f"tells nothing of the wear before. Correct the top-up, or record a change."
        )


def _single(found: MassBalance[FloatArray]) -> MassBalance[float]:
    return MassBalance(
        ppm_per_hour=float(found.ppm_per_hour),
        mg_per_hour=float(found.mg_per_hour),
        grams=float(found.grams),
        without_losses_ppm=float(found.without_losses_ppm),
        before_top_up_ppm=found.before_top_up_ppm,
        after_top_up_ppm=found.after_top_up_ppm,
    )
