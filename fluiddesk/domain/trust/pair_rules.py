"""Values of one report that cannot stand beside each other.

Each rule looks at columns of reports (n,), NaN where a value is missing, and answers where it is
broken. Sources stand at each rule; the bounds without one are common practice, no source.
"""

from typing import Final

import numpy as np

from fluiddesk.domain.trust.expectation import BoolArray, FloatArray

LEAST_INDEX: Final = 80.0
MOST_INDEX: Final = 220.0
LEAST_ZINC_PHOSPHORUS: Final = 0.6
MOST_ZINC_PHOSPHORUS: Final = 2.0
"""The zinc compound that carries both has 1.05 times as much zinc as phosphorus by mass (two
phosphorus atoms, 61.9, to one of zinc, 65.4); other phosphorus additives widen the range."""
_TELLING_ADDITIVE: Final = 200.0
CRACKLE_MISSES_FROM: Final = 2_000.0
CRACKLE_SHOWS_FROM: Final = 200.0
"""A crackle test shows 500 to 1000 mg/kg of water and more; a wide margin on both sides."""
FUEL_SHOWS_FROM: Final = 4.0
LEAST_THINNING: Final = 0.05
"""4 % fuel thins a 14.5 mm2/s oil by 15 % (blending after ASTM D7152); a third of it must show."""
UNCHANGED_FLASH: Final = 210.0
"""Flash point of engine oil without fuel, in C, open cup."""


def rises_with_size(small: FloatArray, middle: FloatArray, large: FloatArray) -> BoolArray:
    """Cumulative particle counts, or their codes, must not rise with size (ISO 4406).

    >>> rises_with_size(np.array([20.0]), np.array([21.0]), np.array([15.0])).tolist()
    [True]
    """
    return np.asarray((middle > small) | (large > middle) | (large > small))


def thicker_when_hot(at_40c: FloatArray, at_100c: FloatArray) -> BoolArray:
    """No oil is as thick at 100 °C as at 40 °C."""
    return np.asarray(at_100c >= at_40c)


def odd_viscosity_index(index: FloatArray) -> BoolArray:
    """Viscosity indices of the oils of mobile machines lie between 80 and 220."""
    return np.asarray((index < LEAST_INDEX) | (index > MOST_INDEX))


def odd_zinc_to_phosphorus(zinc: FloatArray, phosphorus: FloatArray) -> BoolArray:
    """Zinc and phosphorus that do not come from the same additive.

    Looked at only where both are there in earnest: other oils have one without the other.
    """
    both = (zinc > _TELLING_ADDITIVE) & (phosphorus > _TELLING_ADDITIVE)
    ratio = np.divide(zinc, phosphorus, out=np.ones_like(zinc), where=both)
    return np.asarray((ratio < LEAST_ZINC_PHOSPHORUS) | (ratio > MOST_ZINC_PHOSPHORUS))


def water_against_crackle(water_mg_kg: FloatArray, crackle: FloatArray) -> BoolArray:
    """Much water beside a silent crackle test (0), or hardly any beside a loud one (1)."""
    silent = (crackle == 0.0) & (water_mg_kg > CRACKLE_MISSES_FROM)
    return np.asarray(silent | ((crackle == 1.0) & (water_mg_kg < CRACKLE_SHOWS_FROM)))


def fuel_without_thinning(
    fuel_percent: FloatArray, viscosity: FloatArray, new_viscosity: FloatArray
) -> BoolArray:
    """Much fuel in an oil that is hardly thinner than new."""
    hardly = viscosity > (1.0 - LEAST_THINNING) * new_viscosity
    return np.asarray((fuel_percent >= FUEL_SHOWS_FROM) & hardly)


def fuel_without_flash(fuel_percent: FloatArray, flash_c: FloatArray) -> BoolArray:
    """Much fuel in an oil whose flash point is that of oil without any."""
    return np.asarray((fuel_percent >= FUEL_SHOWS_FROM) & (flash_c >= UNCHANGED_FLASH))


def more_than_the_machine(fluid_hours: FloatArray, machine_hours: FloatArray) -> BoolArray:
    """A fluid cannot have run longer than its machine."""
    return np.asarray(fluid_hours > machine_hours)


def out_of_order(days: FloatArray) -> BoolArray:
    """Days (n, d) that ought not to fall from one column to the next; unknown ones are skipped.

    >>> out_of_order(np.array([[3.0, np.nan, 2.0], [1.0, 1.0, 4.0]])).tolist()
    [True, False]
    """
    latest = np.maximum.accumulate(np.where(np.isnan(days), -np.inf, days), axis=1)
    return np.asarray((days < latest).any(axis=1))
