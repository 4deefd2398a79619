"""What gets in from outside, and what gets out: site dust, coolant, burst hoses, top-ups."""

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.families import Family
from fluiddesk.simulation.plan import SitePlan

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

COUNT_PER_DUST: Final = 1500.0
"""Particles of 4 um and more per mL brought by one mg/kg of dust."""
HOSE_BURSTS_PER_1000_H: Final = 0.06
"""Burst hoses of one hydraulic system (common practice, no source)."""
_WATER_PER_PERCENT: Final = 5000.0
"""Half of leaked coolant is water: 1 % by mass brings 5000 mg/kg."""


def dust_shares(sites: Sequence[SitePlan], family: Family) -> FloatArray:
    """What one mg/kg of dust adds to each state, by site; shape (sites, states)."""
    rows = []
    for site in sites:
        adds: dict[str, float] = dict(site.dust)
        adds["particles_4um"] = COUNT_PER_DUST
        rows.append(family.column(adds))
    return np.array(rows)


def coolant_shares(coolant: Mapping[str, float], family: Family) -> FloatArray:
    """What one percent of leaked coolant adds to each state of an oil, shape (states,)."""
    markers = ("sodium", "potassium", "boron", "molybdenum", "silicon", "phosphorus")
    adds = {marker: 0.01 * coolant.get(marker, 0.0) for marker in markers}
    return family.column({**adds, "water": _WATER_PER_PERCENT, "coolant_share": 1.0})


def dust_in_the_air(
    sites: Sequence[SitePlan], site: IntArray, day: IntArray, rng: np.random.Generator
) -> FloatArray:
    """How dusty it was on the way to each day, 1 at an ordinary quarry: site, season, weather."""
    level = np.array([one.dustiness for one in sites])[site]
    swing = np.array([one.season for one in sites])[site]
    season = 1.0 + swing * np.sin(2 * np.pi * (day - 105) / 365.25)
    weather = np.exp(rng.normal(0.0, 0.15, size=day.shape))
    air: FloatArray = level * season * weather
    return air


def burst_hoses(rng: np.random.Generator, hours: FloatArray, is_hydraulic: bool) -> FloatArray:  # noqa: FBT001
    """Share of the fill lost and replaced at once since the last visit; 0 where no hose burst."""
    if not is_hydraulic:
        return np.zeros_like(hours)
    burst = rng.random(hours.shape) < 1.0 - np.exp(-HOSE_BURSTS_PER_1000_H * hours / 1000.0)
    lost: FloatArray = np.where(burst, rng.uniform(0.1, 0.35, size=hours.shape), 0.0)
    return lost
