"""Viscosity: its index, other temperatures, blends, and what fuel does to it.

- Viscosity index: ASTM D2270 (ISO 2909), 1993 wording, clauses 5 and 6; by its Table 1 from 2 to
  70 mm2/s at 100 °C and by its formulas above; not defined below 2.
- Another temperature: ASTM D341-09, the full double logarithm with its term for thin liquids. Valid
  from 0.21 mm2/s (from memory, unconfirmed). Near or below the pour point a result means nothing.
- Blends: the double logarithms added by fraction at one temperature, as ASTM D7152 does by volume
  (formula from memory, unconfirmed). Not for strongly non-Newtonian fluids or viscosity improvers.
- Saybolt universal seconds: see ``fluiddesk.domain.saybolt``; grades: see ``viscosity_grades``.

Kinematic viscosities are in mm2/s (cSt), temperatures in °C.
"""

from collections.abc import Sequence
from typing import Final, NamedTuple, overload

import numpy as np

from fluiddesk.domain.columns import FloatColumn, Numbers, as_given, checked, refuse
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fluids.viscosity_grades import (
    iso_grade,
    sae_engine_grades,
    sae_engine_limits,
    sae_gear_grade,
)
from fluiddesk.domain.fluids.viscosity_index_table import AT_100C, H_AT_40C, L_AT_40C
from fluiddesk.domain.saybolt import seconds_at_100f, viscosity_at_100f

__all__ = [
    "ViscosityError",
    "Walther",
    "blend",
    "fuel_fraction_from_viscosity",
    "iso_grade",
    "sae_engine_grades",
    "sae_engine_limits",
    "sae_gear_grade",
    "saybolt_seconds",
    "viscosity_at",
    "viscosity_from_saybolt",
    "viscosity_index",
    "walther",
]

_ZERO_C_IN_K: Final = 273.15
_INDEX_FROM: Final = 2.0
_INDEX_TABLE_TO: Final = 70.0
_THINNEST: Final = 0.21
_THICK: Final = 10.0
"""Above this many mm2/s the terms for thin liquids are nothing, and their powers would overflow."""
_WHOLE: Final = 1e-6


class ViscosityError(OperatorError):
    """A viscosity, or a pair of them, that cannot be or that a method does not cover."""


def _viscosity(values: Numbers, what: str) -> FloatColumn:
    return checked(values, what=f"{what} in mm2/s", error=ViscosityError, at_least=_THINNEST)


@overload
def viscosity_index(kv40: float, kv100: float, *, is_rounded: bool = True) -> float: ...
@overload
def viscosity_index(
    kv40: FloatColumn, kv100: FloatColumn, *, is_rounded: bool = True
) -> FloatColumn: ...
def viscosity_index(kv40: Numbers, kv100: Numbers, *, is_rounded: bool = True) -> Numbers:
    """The viscosity index of kinematic viscosities at 40 and 100 °C, by ASTM D2270.

    A whole number, as the standard reports it (halves to even), unless asked otherwise.

    Raises:
        ViscosityError: below 2 mm2/s at 100 °C, where the index is not defined, or when the oil
            would be as thick at 100 °C as at 40 °C.

    >>> viscosity_index(73.30, 8.86), viscosity_index(22.83, 5.05)
    (92.0, 156.0)
    """
    cold, hot = _viscosity(kv40, "viscosity at 40 °C"), _viscosity(kv100, "viscosity at 100 °C")
    refuse(
        np.asarray(hot < _INDEX_FROM),
        hot,
        what="viscosity at 100 °C in mm2/s",
        error=ViscosityError,
        why="is below 2, where the viscosity index is not defined (ASTM D2270)",
    )
    _refuse_rising(cold, hot)
    low, high = _reference_oils(hot)
    by_difference = 100.0 * (low - cold) / (low - high)
    power = np.log10(np.minimum(high / cold, high)) / np.log10(hot)
    by_power = (10.0 ** np.maximum(power, 0.0) - 1.0) / 0.00715 + 100.0
    index = np.where(cold > high, by_difference, by_power)
    return as_given(np.asarray(np.round(index) if is_rounded else index))


def _refuse_rising(colder: FloatColumn, warmer: FloatColumn) -> None:
    refuse(
        np.asarray(warmer >= colder),
        warmer,
        what="viscosity at the higher temperature in mm2/s",
        error=ViscosityError,
        why="is not below that at the lower temperature",
        remedy="Oil thins as it warms: look for swapped columns.",
    )


def _reference_oils(hot: FloatColumn) -> tuple[FloatColumn, FloatColumn]:
    """L and H of D2270: viscosities at 40 °C of the oils of index 0 and 100, as thick at 100 °C."""
    above = hot > _INDEX_TABLE_TO
    low = np.where(above, 0.8353 * hot**2 + 14.67 * hot - 216.0, np.interp(hot, AT_100C, L_AT_40C))
    high = np.where(above, 0.1684 * hot**2 + 11.85 * hot - 97.0, np.interp(hot, AT_100C, H_AT_40C))
    return low, high


def _double_logarithm(viscosity: FloatColumn) -> FloatColumn:
    """The W of D341 that is a straight line over the logarithm of kelvins, and adds in blends."""
    thin = np.minimum(viscosity, _THICK)
    z = viscosity + 0.7 + np.exp(-1.47 - 1.84 * thin - 0.51 * thin**2)
    return np.asarray(np.log10(np.log10(z)))


def _back(double_logarithm: FloatColumn) -> FloatColumn:
    x = 10.0 ** (10.0**double_logarithm) - 0.7
    thin = np.minimum(x, _THICK)
    return np.asarray(x - np.exp(-0.7487 - 3.295 * thin + 0.6119 * thin**2 - 0.3193 * thin**3))


class Walther(NamedTuple):
    """A and B of log10 log10 Z = A - B log10 T, T in kelvin (ASTM D341)."""

    a: Numbers
    b: Numbers


Known = Sequence[tuple[Numbers, Numbers]]


def walther(known: Known) -> Walther:
    """A and B of the line through two (temperature °C, viscosity mm2/s) pairs.

    Raises:
        ViscosityError: unless there are two pairs, of different temperatures, thinner when warmer.

    >>> [round(float(part), 4) for part in walther([(40, 32.0), (100, 5.4)])]
    [9.5308, 3.7466]
    """
    if len(known) != 2:  # noqa: PLR2004  # two points make a line
        raise ViscosityError(
            f"{len(known)} known viscosities: the line of ASTM D341 takes two. "
            "Give two pairs of temperature and viscosity."
        )
    places = [_log_kelvin(temperature) for temperature, _ in known]
    viscosities = [_viscosity(viscosity, "known viscosity") for _, viscosity in known]
    refuse(
        np.asarray(places[0] == places[1]),
        known[0][0],
        what="temperature in °C",
        error=ViscosityError,
        why="is that of both known viscosities",
        remedy="Give the viscosity at a second temperature.",
    )
    first_is_colder = places[0] < places[1]
    _refuse_rising(
        np.where(first_is_colder, viscosities[0], viscosities[1]),
        np.where(first_is_colder, viscosities[1], viscosities[0]),
    )
    w = [_double_logarithm(viscosity) for viscosity in viscosities]
    b = np.asarray((w[0] - w[1]) / (places[1] - places[0]))
    return Walther(as_given(np.asarray(w[0] + b * places[0])), as_given(b))


def _log_kelvin(temperature_c: Numbers) -> FloatColumn:
    celsius = checked(
        temperature_c, what="temperature in °C", error=ViscosityError, above=-_ZERO_C_IN_K
    )
    return np.asarray(np.log10(celsius + _ZERO_C_IN_K))


@overload
def viscosity_at(temperature_c: float, known: Sequence[tuple[float, float]]) -> float: ...
@overload
def viscosity_at(temperature_c: Numbers, known: Known) -> Numbers: ...
def viscosity_at(temperature_c: Numbers, known: Known) -> Numbers:
    """The viscosity at a temperature, from those at two others, by ASTM D341.

    ``known`` holds two pairs (temperature in °C, viscosity in mm2/s); any of the four and the
    temperature may be columns.

    Raises:
        ViscosityError: unless the two pairs make a falling line, or when the result is beyond what
            the equation covers.

    >>> round(viscosity_at(80, [(40, 32.0), (100, 5.4)]), 3)
    8.533
    """
    line = walther(known)
    with np.errstate(over="ignore"):  # an endless viscosity is refused below
        found = _back(np.asarray(line.a - line.b * _log_kelvin(temperature_c)))
    refuse(
        ~(np.isfinite(found) & (found >= _THINNEST)),
        np.broadcast_to(temperature_c, found.shape),
        what="temperature in °C",
        error=ViscosityError,
        why="is too far from the known ones for the equation of ASTM D341 (0.21 mm2/s and thicker)",
        remedy="Choose a temperature nearer to the known ones.",
    )
    return as_given(found)


@overload
def blend(fractions: Sequence[float], viscosities: Sequence[float]) -> float: ...
@overload
def blend(fractions: Sequence[Numbers], viscosities: Sequence[Numbers]) -> Numbers: ...
def blend(fractions: Sequence[Numbers], viscosities: Sequence[Numbers]) -> Numbers:
    """The viscosity of a blend, all viscosities at the same temperature.

    A fraction (0 to 1, by volume) and a viscosity for each fluid, in the same order; any of them
    may be a column.

    Raises:
        ViscosityError: when there is nothing to blend, the lists differ in length, a fraction lies
            outside 0 to 1 or the fractions of a blend do not add up to 1.

    >>> round(blend([0.97, 0.03], [110.0, 2.6]), 2)
    90.87
    """
    if not fractions or len(fractions) != len(viscosities):
        raise ViscosityError(
            f"{len(fractions)} fractions and {len(viscosities)} viscosities: "
            "a blend takes one of each for every fluid in it."
        )
    shares = [
        checked(one, what="fraction", error=ViscosityError, at_least=0.0, at_most=1.0)
        for one in fractions
    ]
    total = np.asarray(sum(shares))
    refuse(
        np.asarray(np.abs(total - 1.0) > _WHOLE),
        total,
        what="sum of the fractions",
        error=ViscosityError,
        why="is not 1",
        remedy="Give fractions, not percent, of every fluid in the blend.",
    )
    parts = [
        share * _double_logarithm(_viscosity(viscosity, "viscosity of a part"))
        for share, viscosity in zip(shares, viscosities, strict=True)
    ]
    return as_given(_back(np.asarray(sum(parts[1:], start=parts[0]))))


@overload
def fuel_fraction_from_viscosity(observed: float, *, oil: float, fuel: float) -> float: ...
@overload
def fuel_fraction_from_viscosity(
    observed: FloatColumn, *, oil: Numbers, fuel: Numbers
) -> FloatColumn: ...
def fuel_fraction_from_viscosity(observed: Numbers, *, oil: Numbers, fuel: Numbers) -> Numbers:
    """The fraction of fuel (0 to 1) that alone would thin the oil to the observed viscosity.

    All three at the same temperature. An estimate, not a finding: shear and a thinner oil filled
    in look the same, soot and oxidation hide fuel.

    Raises:
        ViscosityError: when the observed viscosity lies outside those of oil and fuel, so that no
            fuel can explain it.

    >>> round(fuel_fraction_from_viscosity(12.31, oil=14.5, fuel=1.15), 3)
    0.04
    """
    seen = _viscosity(observed, "observed viscosity")
    clean, thin = _viscosity(oil, "viscosity of the oil"), _viscosity(fuel, "viscosity of the fuel")
    refuse(
        np.asarray(thin >= clean),
        np.broadcast_to(thin, np.broadcast_shapes(thin.shape, clean.shape)),
        what="viscosity of the fuel in mm2/s",
        error=ViscosityError,
        why="is not below that of the oil",
        remedy="Look for swapped values.",
    )
    refuse(
        np.asarray((seen > clean) | (seen < thin)),
        seen,
        what="observed viscosity in mm2/s",
        error=ViscosityError,
        why="lies outside those of oil and fuel, so that no share of fuel explains it",
        remedy="Look for another cause, such as soot, oxidation or another grade.",
    )
    w_oil = _double_logarithm(clean)
    return as_given(
        np.asarray((w_oil - _double_logarithm(seen)) / (w_oil - _double_logarithm(thin)))
    )


def _saybolt_growth(temperature_c: Numbers) -> FloatColumn:
    """How much longer the efflux is than at 100 °F (ASTM D2161, from memory, unconfirmed)."""
    celsius = checked(
        temperature_c, what="temperature in °C", error=ViscosityError, above=-_ZERO_C_IN_K
    )
    return np.asarray(1.0 + 0.000061 * (celsius * 1.8 + 32.0 - 100.0))


_HUNDRED_F: Final = 340.0 / 9.0


@overload
def saybolt_seconds(viscosity: float, *, temperature_c: float = ...) -> float: ...
@overload
def saybolt_seconds(viscosity: FloatColumn, *, temperature_c: Numbers = ...) -> FloatColumn: ...
def saybolt_seconds(viscosity: Numbers, *, temperature_c: Numbers = _HUNDRED_F) -> Numbers:
    """Saybolt universal seconds of a kinematic viscosity; at 100 °F unless told otherwise.

    Raises:
        SayboltError: below 1.81 mm2/s, where the scale begins.

    >>> round(saybolt_seconds(46.0), 1)
    214.2
    """
    return as_given(np.asarray(seconds_at_100f(viscosity) * _saybolt_growth(temperature_c)))


@overload
def viscosity_from_saybolt(seconds: float, *, temperature_c: float = ...) -> float: ...
@overload
def viscosity_from_saybolt(
    seconds: FloatColumn, *, temperature_c: Numbers = ...
) -> FloatColumn: ...
def viscosity_from_saybolt(seconds: Numbers, *, temperature_c: Numbers = _HUNDRED_F) -> Numbers:
    """The kinematic viscosity of Saybolt universal seconds; at 100 °F unless told otherwise.

    Raises:
        SayboltError: below 31.95 s, where the scale begins.

    >>> round(viscosity_from_saybolt(214.2), 1)
    46.0
    """
    growth = _saybolt_growth(temperature_c)
    return as_given(viscosity_at_100f(np.asarray(np.asarray(seconds, dtype=np.float64) / growth)))
