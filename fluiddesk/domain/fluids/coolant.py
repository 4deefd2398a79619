"""Glycol and freeze point of coolants, and mixing by the pint.

Freeze points: the curves of ``coolant_table`` (one value a percent, straight lines between). They
are for pure glycol in water; commercial antifreeze needs slightly more, and the table of the
fluid's supplier takes precedence (note to Lange's Handbook of Chemistry, 15th edition, table 5.13).
By mass and by volume are different curves, about 1 °C apart at 50 % of ethylene glycol, and every
call says which it means. Published tables differ among themselves: Lange's for propylene glycol by
volume lies up to 1.4 °C above the curve used here, and is offered beside it.

More than 60 % protects less, not more (US Army OD1001; TM 5-6115-400-12, table 2-1 note), so that a
freeze point below the curve's end, or a fraction above 60 %, gets no answer but that caution.
"""

from enum import StrEnum
from typing import Final, NamedTuple, overload

import numpy as np

from fluiddesk.domain.columns import FloatColumn, Numbers, as_given, checked, refuse
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fluids import coolant_table as table

MOST_FRACTION: Final = 0.60
PINTS_PER_US_GALLON: Final = 8.0
REFRACTOMETER_SPREAD_C: Final = 1.0 / 1.8
"""A refractometer reads within about 1 °F (TM 5-3805-254-14&P-2)."""
_ABOVE_60: Final = (
    "above 60 % glycol protection gets worse, not better: the freeze point rises again "
    "(US Army OD1001). Add water, or follow the table of the fluid's supplier"
)
_TOO_LITTLE: Final = (
    (0.30, "below 30 % by volume corrosion protection is too weak (TM 5-3820-245-14&P)"),
    (0.40, "heavy-duty coolants are meant for 40 to 60 % by volume (scope of ASTM D6210)"),
)
_TOO_MUCH: Final = (
    (MOST_FRACTION, _ABOVE_60),
    (0.67, "more than 67 % by volume is not to be used (TM 5-3820-245-14&P)"),
)
_PINTS_BY_AMBIENT_F: Final = ((-10.0, 3.25), (-20.0, 3.5), (-30.0, 4.0), (-40.0, 4.25))
"""Lowest expected ambient in °F, pints of inhibited ethylene glycol per US gallon of coolant:
TM 5-6115-400-12, table 2-1."""


class CoolantError(OperatorError):
    """A glycol fraction or freeze point that cannot be or that no table covers."""


class Glycol(StrEnum):
    """Which glycol the coolant is made of."""

    ETHYLENE = "ethylene"
    PROPYLENE = "propylene"


class Basis(StrEnum):
    """What the fraction is a fraction of; the two never mix."""

    MASS = "mass"
    VOLUME = "volume"


class FractionRange(NamedTuple):
    """A glycol fraction with the range the instrument leaves open."""

    low: float
    likely: float
    high: float


_CURVES: Final = {
    (Glycol.ETHYLENE, Basis.MASS): (table.BY_MASS_PERCENT, table.ETHYLENE_BY_MASS),
    (Glycol.PROPYLENE, Basis.MASS): (table.BY_MASS_PERCENT, table.PROPYLENE_BY_MASS),
    (Glycol.ETHYLENE, Basis.VOLUME): (table.BY_VOLUME_PERCENT, table.ETHYLENE_BY_VOLUME),
    (Glycol.PROPYLENE, Basis.VOLUME): (table.BY_VOLUME_PERCENT, table.PROPYLENE_BY_VOLUME),
}


def _curve(glycol: str, basis: str) -> tuple[FloatColumn, FloatColumn]:
    try:
        return _CURVES[Glycol(glycol), Basis(basis)]
    except ValueError as fault:
        raise CoolantError(
            f'"{glycol}" by "{basis}" is no curve this program has. Choose ethylene or propylene, '
            "by mass or volume."
        ) from fault


def _fraction(values: Numbers) -> FloatColumn:
    fraction = checked(
        values, what="glycol fraction", error=CoolantError, at_least=0.0, at_most=1.0
    )
    refuse(
        np.asarray(fraction > MOST_FRACTION),
        fraction,
        what="glycol fraction",
        error=CoolantError,
        why="is beyond the table",
        remedy=f"Mind that {_ABOVE_60}.",
    )
    return fraction


@overload
def freeze_point(fraction: float, *, glycol: str, basis: str) -> float: ...
@overload
def freeze_point(fraction: FloatColumn, *, glycol: str, basis: str) -> FloatColumn: ...
def freeze_point(fraction: Numbers, *, glycol: str, basis: str) -> Numbers:
    """The freeze point in °C of a glycol fraction (0 to 0.6) in water.

    ``glycol`` is ethylene or propylene, ``basis`` mass or volume.

    Raises:
        CoolantError: for a fraction that is none, or above 0.6; for another glycol or basis.

    >>> round(freeze_point(0.50, glycol="ethylene", basis="mass"), 1)
    -36.0
    >>> round(freeze_point(0.50, glycol="ethylene", basis="volume"), 1)
    -37.1
    """
    percents, degrees_below = _curve(glycol, basis)
    percent = _fraction(fraction) * 100.0
    return as_given(np.asarray(-np.interp(percent, percents, degrees_below) + 0.0))


def handbook_freeze_point(propylene_fraction_by_volume: float) -> float:
    """The freeze point in °C by the second source: Lange's Handbook, propylene glycol by volume.

    From 0.05 to 0.50, straight lines between its eight values. It promises less than the curve of
    ``freeze_point``; where the two differ the careful reading is this one.

    Raises:
        CoolantError: outside the handbook's table, or for what is no number.

    >>> handbook_freeze_point(0.50)
    -33.3
    """
    percents = table.PROPYLENE_HANDBOOK_PERCENT
    fraction = checked(
        propylene_fraction_by_volume,
        what="glycol fraction, by the handbook's table",
        error=CoolantError,
        at_least=float(percents[0]) / 100.0,
        at_most=float(percents[-1]) / 100.0,
    )
    return -float(np.interp(fraction * 100.0, percents, table.PROPYLENE_HANDBOOK))


@overload
def glycol_fraction(freeze_point_c: float, *, glycol: str, basis: str) -> float: ...
@overload
def glycol_fraction(freeze_point_c: FloatColumn, *, glycol: str, basis: str) -> FloatColumn: ...
def glycol_fraction(freeze_point_c: Numbers, *, glycol: str, basis: str) -> Numbers:
    """The glycol fraction (0 to 0.6) that gives a measured freeze point in °C.

    Of the two fractions that share a freeze point near the lowest one, that below 60 %.

    Raises:
        CoolantError: for a freeze point above 0 °C, or below that of 60 %, or that is no number.

    >>> round(glycol_fraction(-20.0, glycol="ethylene", basis="mass"), 3)
    0.362
    """
    percents, degrees_below = _curve(glycol, basis)
    lowest = -float(degrees_below[-1])
    point = checked(freeze_point_c, what="freeze point in °C", error=CoolantError, at_most=0.0)
    refuse(
        np.asarray(point < lowest),
        point,
        what="freeze point in °C",
        error=CoolantError,
        why=f"is below {lowest:.1f}, that of 60 % {glycol} glycol by {basis}",
        remedy=f"Check the unit of the reading, and mind that {_ABOVE_60}.",
    )
    return as_given(np.asarray(np.interp(-point, degrees_below, percents) / 100.0))


def refractometer_fraction(
    freeze_point_c: float, *, glycol: str, basis: str = Basis.VOLUME
) -> FractionRange:
    """The glycol fraction behind a refractometer's freeze point, with what its 1 °F leaves open.

    Raises:
        CoolantError: as ``glycol_fraction``.

    >>> [round(part, 3) for part in refractometer_fraction(-36.0, glycol="ethylene")]
    [0.488, 0.492, 0.496]
    """
    likely = glycol_fraction(freeze_point_c, glycol=glycol, basis=basis)
    ends = np.array(
        [freeze_point_c + REFRACTOMETER_SPREAD_C, freeze_point_c - REFRACTOMETER_SPREAD_C]
    )
    percents, degrees_below = _curve(glycol, basis)
    low, high = np.interp(-ends, degrees_below, percents) / 100.0
    return FractionRange(float(low), likely, float(high))


@overload
def fraction_from_pints(pints_per_us_gallon: float) -> float: ...
@overload
def fraction_from_pints(pints_per_us_gallon: FloatColumn) -> FloatColumn: ...
def fraction_from_pints(pints_per_us_gallon: Numbers) -> Numbers:
    """The fraction by volume of so many pints of antifreeze in a US gallon of coolant.

    Raises:
        CoolantError: outside 0 to 8 pints, or for what is no number.

    >>> fraction_from_pints(4.25)
    0.53125
    """
    pints = checked(
        pints_per_us_gallon,
        what="pints in a US gallon",
        error=CoolantError,
        at_least=0.0,
        at_most=PINTS_PER_US_GALLON,
    )
    return as_given(np.asarray(pints / PINTS_PER_US_GALLON))


@overload
def pints_per_us_gallon(fraction_by_volume: float) -> float: ...
@overload
def pints_per_us_gallon(fraction_by_volume: FloatColumn) -> FloatColumn: ...
def pints_per_us_gallon(fraction_by_volume: Numbers) -> Numbers:
    """The pints of antifreeze in a US gallon of coolant of a fraction by volume, up to 0.6.

    Raises:
        CoolantError: for a fraction that is none, or above 0.6, where more protects less.

    >>> round(pints_per_us_gallon(0.60), 2)
    4.8
    """
    return as_given(np.asarray(_fraction(fraction_by_volume) * PINTS_PER_US_GALLON))


def pints_for_ambient(lowest_ambient_f: float) -> float:
    """Pints of inhibited ethylene glycol a US gallon of coolant needs for the coldest day, in °F.

    By TM 5-6115-400-12, table 2-1: the row of the next lower temperature, never less than its
    first row.

    Raises:
        CoolantError: below -40 °F, where the table ends.

    >>> pints_for_ambient(-10), pints_for_ambient(-25), pints_for_ambient(14)
    (3.25, 4.0, 3.25)
    """
    ambient = float(checked(lowest_ambient_f, what="ambient in °F", error=CoolantError))
    for row, pints in _PINTS_BY_AMBIENT_F:
        if ambient >= row:
            return pints
    raise CoolantError(
        f"{ambient:g} °F is below the table of TM 5-6115-400-12, which ends at -40 °F. "
        f"4.8 pints (60 %) protect most; {_ABOVE_60}."
    )


def concentration_cautions(fraction_by_volume: float) -> tuple[str, ...]:
    """What a fraction by volume calls for, each caution with its source; none from 0.40 to 0.60.

    Raises:
        CoolantError: for a fraction outside 0 to 1 or that is no number.

    >>> concentration_cautions(0.50)
    ()
    >>> [text[:30] for text in concentration_cautions(0.65)]
    ['above 60 % glycol protection g']
    """
    fraction = float(
        checked(
            fraction_by_volume,
            what="glycol fraction",
            error=CoolantError,
            at_least=0.0,
            at_most=1.0,
        )
    )
    return tuple(
        [text for limit, text in _TOO_LITTLE if fraction < limit]
        + [text for limit, text in _TOO_MUCH if fraction > limit]
    )
