"""Units of measure, their quantity kinds, and the only conversions between them.

The table is closed: a unit that is not in it is refused, never guessed. Every unit belongs to one
kind, and nothing converts across kinds, so that an acid number in mg KOH/g never becomes a metal
in mg/kg. A bare "%" is a kind of its own: it does not say whether of mass or of volume, so that
it converts into neither. Factors are exact fractions; ``1 base unit = factor * value + offset``.
Saybolt universal seconds alone follow a curve (ASTM D2161, see ``saybolt``), taken at 100 °F.

Sources: SI Brochure (9th edition) for the metric factors; the international mile (1609.344 m) and
the US gallon (231 cubic inches, 1 inch = 25.4 mm) after NIST Special Publication 811, appendix B.
ppm of metals in oil reads as mg/kg: common practice with ASTM D5185, from memory.
Absorbance: 0.1 mm = 0.01 cm, so A/cm = 100 x A per 0.1 mm (Beer-Lambert); the soot figure of
ASTM D7844 (clause 1.4, 100 x absorbance per 0.1 mm) is therefore the same number as A/cm.
"""

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final, overload

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.columns import as_given, checked
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.saybolt import seconds_at_100f, viscosity_at_100f

FloatArray = NDArray[np.float64]


class UnitError(OperatorError):
    """A unit is not in the table, or two units measure different things."""


@dataclass(frozen=True, slots=True)
class Curve:
    """The way between a unit that is no straight scale and the base unit of its kind."""

    to_base: Callable[[float | FloatArray], FloatArray]
    from_base: Callable[[float | FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: its name, what kind of quantity it measures, and its exact size.

    ``spellings`` are further ways to write it; case, spaces and accents of form do not matter.
    A unit with a ``curve`` has no size of its own.
    """

    name: str
    kind: str
    factor: Fraction = Fraction(1)
    offset: Fraction = Fraction(0)
    spellings: tuple[str, ...] = ()
    curve: Curve | None = None


_MILE_KM: Final = Fraction(1609344, 1_000_000)
_US_GALLON_L: Final = Fraction(231) * Fraction(254, 100) ** 3 / 1000

UNITS: Final = (
    Unit("mg/kg", "share by mass", spellings=("ppm", "ppm by mass", "ug/g", "mg/kg CaCO3")),
    Unit("mg/g", "share by mass", Fraction(1000), spellings=("g/kg",)),
    Unit(
        "% mass",
        "share by mass",
        Fraction(10_000),
        spellings=("mass %", "% (mass)", "% m/m", "% (m/m)", "wt %", "% wt", "% by mass"),
    ),
    Unit("%", "share of a measure not stated"),
    Unit("mL/L", "share by volume"),
    Unit("ppm vol", "share by volume", Fraction(1, 1000), spellings=("uL/L", "ppm by volume")),
    Unit(
        "% vol",
        "share by volume",
        Fraction(10),
        spellings=("vol %", "% (vol)", "% v/v", "% (v/v)", "% by volume"),
    ),
    Unit("% of new", "share of the new fluid"),
    Unit("mg/L", "mass in a volume"),
    Unit("ug/L", "mass in a volume", Fraction(1, 1000)),
    Unit("g/L", "mass in a volume", Fraction(1000)),
    Unit("mg KOH/g", "acid or base number", spellings=("mgKOH/g",)),
    Unit("mL acid", "reserve alkalinity", spellings=("mL 0.1 N HCl", "mL HCl")),
    Unit("A/cm", "absorbance over a path", spellings=("Abs/cm", "100 A/0.1 mm", "100 x A/0.1 mm")),
    Unit(
        "A/0.1 mm",
        "absorbance over a path",
        Fraction(100),
        spellings=("Abs/0.1 mm", "A per 0.1 mm", "A/0.1mm", "absorbance per 0.1 mm"),
    ),
    Unit("A/cm per mm", "peak area over a path", spellings=("A cm-1/mm",)),
    Unit("1/mL", "particles in a volume", spellings=("counts/mL", "per mL", "/mL")),
    Unit(
        "1/100mL",
        "particles in a volume",
        Fraction(1, 100),
        spellings=("counts/100 mL", "per 100 mL", "/100 mL"),
    ),
    Unit("CFU/mL", "colonies in a volume"),
    Unit("mm2/s", "kinematic viscosity", spellings=("cSt", "mm^2/s")),
    Unit("m2/s", "kinematic viscosity", Fraction(1_000_000), spellings=("m^2/s",)),
    Unit(
        "SUS",
        "kinematic viscosity",
        spellings=("SSU", "Saybolt universal seconds"),
        curve=Curve(to_base=viscosity_at_100f, from_base=seconds_at_100f),
    ),
    Unit("C", "temperature", spellings=("°C", "deg C", "degC")),
    Unit(
        "F",
        "temperature",
        Fraction(5, 9),
        Fraction(-160, 9),
        spellings=("°F", "deg F", "degF"),
    ),
    Unit("K", "temperature", Fraction(1), Fraction(-27315, 100)),
    Unit("h", "duration", spellings=("hours", "hour", "hrs")),
    Unit("min", "duration", Fraction(1, 60), spellings=("minutes",)),
    Unit("d", "duration", Fraction(24), spellings=("days",)),
    Unit("km", "distance", spellings=("kilometres",)),
    Unit("mile", "distance", _MILE_KM, spellings=("miles", "mi")),
    Unit("L", "volume", spellings=("litres", "litre", "dm3")),
    Unit("mL", "volume", Fraction(1, 1000), spellings=("cm3",)),
    Unit("US gal", "volume", _US_GALLON_L),
    Unit("kg/L", "density", spellings=("g/mL", "g/cm3", "kg/dm3")),
    Unit("kg/m3", "density", Fraction(1, 1000)),
    Unit("um", "small length", spellings=("micrometres", "micron", "microns")),
    Unit("mm", "small length", Fraction(1000)),
    Unit("uS/cm", "conductivity"),
    Unit("mS/cm", "conductivity", Fraction(1000)),
    Unit("index", "index", spellings=("number",)),
    Unit("code", "scale code"),
    Unit("pH", "pH"),
    Unit("class", "class"),
    Unit("absent/present", "presence", spellings=("neg/pos", "negative/positive")),
)


def _folded(text: str) -> str:
    """A spelling without what people vary: case, spaces, full forms of one letter."""
    plain = unicodedata.normalize("NFKC", text).replace("\N{GREEK SMALL LETTER MU}", "u")
    return "".join(plain.split()).casefold()


_BY_SPELLING: Final = {
    _folded(spelling): unit for unit in UNITS for spelling in (unit.name, *unit.spellings)
}


@lru_cache(maxsize=512)
def unit_named(name: str) -> Unit:
    """The unit of this name or spelling.

    Raises:
        UnitError: when the table does not hold it.

    >>> unit_named("cSt").name, unit_named("µS/cm").name
    ('mm2/s', 'uS/cm')
    """
    folded = _folded(name)
    if folded not in _BY_SPELLING:
        raise UnitError(
            f'"{name}" is not a unit this program knows. '
            f"Write one of: {', '.join(unit.name for unit in UNITS)}."
        )
    return _BY_SPELLING[folded]


@dataclass(frozen=True, slots=True)
class Conversion:
    """A conversion worked out once, for many values; it rises, so that below stays below.

    A plain line, except from or to a unit with a curve.
    """

    multiply: float
    divide: float
    add: float
    curve_from: Curve | None = None
    curve_to: Curve | None = None

    @overload
    def __call__(self, value: float) -> float: ...
    @overload
    def __call__(self, value: FloatArray) -> FloatArray: ...
    def __call__(self, value: float | FloatArray) -> float | FloatArray:
        """The value, or every value of an array, in the other unit.

        Raises:
            SayboltError: from or to Saybolt seconds, below the beginning of that scale.
        """
        if self.curve_from is not None:
            value = as_given(self.curve_from.to_base(value))
        value = value * self.multiply / self.divide + self.add
        return value if self.curve_to is None else as_given(self.curve_to.from_base(value))


@lru_cache(maxsize=512)
def conversion(*, unit_from: str, unit_to: str) -> Conversion:
    """The conversion between two units of one kind.

    Raises:
        UnitError: when a unit is unknown or the two measure different things.
    """
    source, target = unit_named(unit_from), unit_named(unit_to)
    if source.kind != target.kind:
        raise UnitError(
            f"{source.name} is a unit of {source.kind}, {target.name} of {target.kind}: "
            f"one cannot become the other. Correct the unit of the column."
        )
    factor = source.factor / target.factor
    add = (source.offset - target.offset) / target.factor
    if source is target:
        return Conversion(1.0, 1.0, 0.0)
    return Conversion(
        float(factor.numerator), float(factor.denominator), float(add), source.curve, target.curve
    )


@overload
def convert(value: float, *, unit_from: str, unit_to: str) -> float: ...
@overload
def convert(value: FloatArray, *, unit_from: str, unit_to: str) -> FloatArray: ...
def convert(value: float | FloatArray, *, unit_from: str, unit_to: str) -> float | FloatArray:
    """A value, or an array of values, in another unit of the same kind.

    Raises:
        UnitError: when a unit is unknown or the two measure different things.
        SayboltError: from or to Saybolt seconds, below the beginning of that scale.

    >>> convert(0.05, unit_from="% mass", unit_to="mg/kg")
    500.0
    >>> round(convert(214.2, unit_from="SUS", unit_to="mm2/s"), 1)
    46.0
    """
    return conversion(unit_from=unit_from, unit_to=unit_to)(value)


@overload
def mass_share_mg_kg(
    share_vol_percent: float, *, part_density_kg_l: float, fluid_density_kg_l: float
) -> float: ...
@overload
def mass_share_mg_kg(
    share_vol_percent: FloatArray, *, part_density_kg_l: float, fluid_density_kg_l: float
) -> FloatArray: ...
def mass_share_mg_kg(
    share_vol_percent: float | FloatArray, *, part_density_kg_l: float, fluid_density_kg_l: float
) -> float | FloatArray:
    """The share by mass of something measured by volume, in mg/kg.

    The ratio of the densities makes the difference; without both there is no answer.

    Raises:
        UnitError: when a density is not above 0.

    >>> round(mass_share_mg_kg(0.10, part_density_kg_l=0.998, fluid_density_kg_l=0.870))
    1147
    """
    part, fluid = _density(part_density_kg_l), _density(fluid_density_kg_l)
    return share_vol_percent * 10_000 * part / fluid


@overload
def volume_share_percent(
    share_mg_kg: float, *, part_density_kg_l: float, fluid_density_kg_l: float
) -> float: ...
@overload
def volume_share_percent(
    share_mg_kg: FloatArray, *, part_density_kg_l: float, fluid_density_kg_l: float
) -> FloatArray: ...
def volume_share_percent(
    share_mg_kg: float | FloatArray, *, part_density_kg_l: float, fluid_density_kg_l: float
) -> float | FloatArray:
    """The share by volume, in percent, of something measured by mass: the way back.

    Raises:
        UnitError: when a density is not above 0.

    >>> round(volume_share_percent(1147.0, part_density_kg_l=0.998, fluid_density_kg_l=0.870), 4)
    0.1
    """
    part, fluid = _density(part_density_kg_l), _density(fluid_density_kg_l)
    return share_mg_kg / 10_000 * fluid / part


def _density(density_kg_l: float) -> float:
    return float(checked(density_kg_l, what="density in kg/L", error=UnitError, above=0.0))


def absorbance_per_cm(absorbance: float, *, path_mm: float) -> float:
    """The absorbance over one centimetre, from what a cell of another path length showed.

    Raises:
        UnitError: when the path is not above 0.

    >>> absorbance_per_cm(0.150, path_mm=0.12)
    12.5
    """
    path = float(checked(path_mm, what="path in mm", error=UnitError, above=0.0))
    return absorbance * 10 / path


def percent_text(share: float, places: int = 0) -> str:
    """A share in percent as SI writes it, with a space before the sign (SI brochure, 5.4.7).

    >>> percent_text(0.624), percent_text(0.0451, 1)
    ('62 %', '4.5 %')
    """
    return f"{100.0 * share:.{places}f} %"
