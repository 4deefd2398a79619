"""What got in: dust from silicon, coolant from its marker elements.

Silicon gained per hour (``mass_balance.py``), less what seals and antifoam give, over the silicon
share of the site's dust is the dust per hour. Plasma emission sees fine dust only, so that the
answer is "at least". Common practice; the silicon share of quartz is the ratio of molar masses,
28.085 of 60.083.
"""

from typing import Final, overload

import numpy as np

from fluiddesk.domain.wear.inputs import FloatArray, Numbers, as_given, checked, same_length
from fluiddesk.domain.wear.mass_balance import MG_PER_G

SILICON_OF_SILICA: Final = 0.4674
"""Grams of silicon in a gram of silicon dioxide."""


@overload
def silicon_share(silica_percent: float) -> float: ...
@overload
def silicon_share(silica_percent: FloatArray) -> FloatArray: ...
def silicon_share(silica_percent: Numbers) -> Numbers:
    """Grams of silicon in a gram of dust, from its silicon dioxide in percent by mass.

    Raises:
        WearInputError: the percentage is not above 0 or more than 100.

    >>> round(silicon_share(72.0), 4)
    0.3365
    """
    silica = checked("the silicon dioxide of the dust (%)", silica_percent, above=0, at_most=100)
    return as_given(np.asarray(silica / 100.0 * SILICON_OF_SILICA))


@overload
def dust_mass(
    *, silicon_mg_per_hour: float, silica_percent: float, other_silicon_mg_per_hour: float = 0.0
) -> float: ...
@overload
def dust_mass(
    *,
    silicon_mg_per_hour: FloatArray,
    silica_percent: Numbers,
    other_silicon_mg_per_hour: Numbers = 0.0,
) -> FloatArray: ...
def dust_mass(
    *,
    silicon_mg_per_hour: Numbers,
    silica_percent: Numbers,
    other_silicon_mg_per_hour: Numbers = 0.0,
) -> Numbers:
    """Milligrams of dust an hour, at least.

    Args:
        silicon_mg_per_hour: silicon gained (``MassBalance.mg_per_hour``); negative stays negative
            and says that the oil shows less than it must have held.
        silica_percent: silicon dioxide of the site's dust, percent by mass.
        other_silicon_mg_per_hour: what seals and antifoam give, from like fills with clean air.

    Raises:
        WearInputError: a figure is not finite or outside its span.

    >>> round(dust_mass(silicon_mg_per_hour=14.303, silica_percent=72.0), 2)
    42.5
    """
    gained = checked("the silicon gained per hour (mg)", silicon_mg_per_hour)
    silica = checked("the silicon dioxide of the dust (%)", silica_percent, above=0, at_most=100)
    other = checked("the silicon of seals per hour (mg)", other_silicon_mg_per_hour, at_least=0)
    same_length(silicon=gained, silica=silica, other=other)
    return as_given(np.asarray((gained - other) / (silica / 100.0 * SILICON_OF_SILICA)))


@overload
def marker_grams(*, risen_ppm: float, mass_kg: float) -> float: ...
@overload
def marker_grams(*, risen_ppm: FloatArray, mass_kg: Numbers) -> FloatArray: ...
def marker_grams(*, risen_ppm: Numbers, mass_kg: Numbers) -> Numbers:
    """Grams of a marker element that came into a fill.

    Args:
        risen_ppm: rise of the marker over what the oil had, mg/kg.
        mass_kg: mass of the fill.

    Raises:
        WearInputError: a figure is not finite, or the mass not above 0.

    >>> round(marker_grams(risen_ppm=40.0, mass_kg=217.5), 2)
    8.7
    """
    risen = checked("the rise of the marker (mg/kg)", risen_ppm)
    mass = checked("the mass of the fill (kg)", mass_kg, above=0)
    same_length(risen=risen, mass=mass)
    return as_given(np.asarray(risen * mass / MG_PER_G))


@overload
def coolant_litres(*, risen_ppm: float, mass_kg: float, marker_g_per_l: float) -> float: ...
@overload
def coolant_litres(
    *, risen_ppm: FloatArray, mass_kg: Numbers, marker_g_per_l: Numbers
) -> FloatArray: ...
def coolant_litres(*, risen_ppm: Numbers, mass_kg: Numbers, marker_g_per_l: Numbers) -> Numbers:
    """Litres of coolant that leaked into the oil, by one of its marker elements.

    Do it for sodium, potassium, boron, molybdenum and silicon apart, each with the analysis of the
    site's own coolant: two that agree mean a leak, two that do not mean another source.

    Args:
        risen_ppm: rise of the marker in the oil, mg/kg.
        mass_kg: mass of the oil.
        marker_g_per_l: grams of the marker in a litre of coolant.

    Raises:
        WearInputError: a figure is not finite, or a mass or content not above 0.

    >>> round(coolant_litres(risen_ppm=40.0, mass_kg=217.5, marker_g_per_l=3.5), 3)
    2.486
    """
    risen = checked("the rise of the marker (mg/kg)", risen_ppm)
    mass = checked("the mass of the fill (kg)", mass_kg, above=0)
    content = checked("the marker in coolant (g/L)", marker_g_per_l, above=0)
    same_length(risen=risen, mass=mass, content=content)
    return as_given(np.asarray(risen * mass / MG_PER_G / content))
