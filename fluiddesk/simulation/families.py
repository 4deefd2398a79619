"""How each family of boxes ages when it is healthy: what wears, what decays, what is tested.

A level is what a clean fill of a median box reads above its fresh fluid at the end of a normal
fill; where a substance leaves by itself (water, fuel, particles) it is the level it settles at. All
levels are common practice, no source, set so that healthy boxes read inside the usual ranges.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

ELEMENTS: Final = (
    *("iron", "chromium", "nickel", "aluminium", "copper", "lead", "tin", "silver"),
    *("silicon", "sodium", "potassium", "boron", "calcium", "magnesium", "zinc", "phosphorus"),
    "molybdenum",
)
OIL_STATES: Final = (
    *ELEMENTS,
    *("water", "fuel", "soot", "oxidation", "nitration", "sulfation", "acid_number"),
    *("base_number_d4739", "ferrous_index", "particles_4um", "viscosity_40c", "viscosity_100c"),
    "coolant_share",
)
COOLANT_STATES: Final = (
    *("coolant_glycol", "ph", "nitrite", "reserve_alkalinity", "chloride", "sulfate", "hardness"),
    *("conductivity", "glycolate", "iron", "aluminium", "copper", "lead"),
)
COUNTS: Final = ("particles_4um", "particles_6um", "particles_14um")
ISO_CODES: Final = ("iso4406_4um", "iso4406_6um", "iso4406_14um")
WEARING: Final = frozenset(
    {*ELEMENTS[:8], "ferrous_index", "particles_4um", "soot", "water", "fuel", "glycolate"}
)
"""What differs from unit to unit and fill to fill, log-normally."""
METALS: Final = frozenset({*ELEMENTS[:8], "ferrous_index"})
"""What a new component sheds while it runs in, and what comes as a gamma process."""

_COMMON_OIL_TESTS: Final = (*ELEMENTS, "viscosity_40c", "viscosity_100c", "water")
_GEAR_TESTS: Final = (*_COMMON_OIL_TESTS, "water_crackle", "ferrous_index")
_ALWAYS_FIRST_ORDER: Final = {
    "zinc": 0.05,
    "phosphorus": 0.04,
    "boron": 0.04,
    "molybdenum": 0.03,
    "calcium": 0.01,
    "magnesium": 0.01,
    "viscosity_100c": 0.02,
    "viscosity_40c": 0.02,
}
"""Share of the additives and of the viscosity used up in one normal fill."""


@dataclass(frozen=True, kw_only=True)
class Family:
    """One family of boxes: its substances, their healthy levels and removal, its usual tests."""

    name: str
    states: tuple[str, ...]
    tests: tuple[str, ...]
    levels: Mapping[str, float]
    removed: Mapping[str, float] = field(default_factory=dict)
    """Removal by filter, boiling or settling, per hour."""
    used_up: Mapping[str, float] = field(default_factory=dict)
    """Share used up in one normal fill, first order."""
    loss_per_fill: float = 0.02
    """Share of the capacity lost and made up in one normal fill."""
    dust_level: float = 0.0
    """Dust that a healthy box takes in during one normal fill at an ordinary quarry, mg/kg."""

    def column(self, values: Mapping[str, float]) -> FloatArray:
        """Values by state name as one row, 0 where a state is not named."""
        return np.array([values.get(state, 0.0) for state in self.states])

    def place(self, state: str) -> int:
        """The column of a state."""
        return self.states.index(state)

    def mask(self, names: frozenset[str]) -> NDArray[np.bool_]:
        """Which columns are among the names."""
        return np.array([state in names for state in self.states])


def _metals(*levels: float) -> dict[str, float]:
    """Levels of iron, chromium, nickel, aluminium, copper, lead, tin and silver, in this order."""
    return dict(zip(ELEMENTS, levels, strict=False))


_ENGINE: Final = Family(
    name="engine",
    states=OIL_STATES,
    tests=(
        *_COMMON_OIL_TESTS,
        *["water_crackle", "glycol_test", "fuel", "soot", "oxidation", "nitration", "sulfation"],
        *["acid_number", "base_number_d4739", "ferrous_index"],
    ),
    levels={
        **_metals(19.0, 1.5, 0.8, 2.4, 6.0, 3.0, 1.2, 0.1),
        "water": 250.0,
        "fuel": 0.5,
        "soot": 0.65,
        "oxidation": 3.5,
        "nitration": 2.2,
        "sulfation": 3.0,
        "acid_number": 0.45,
        "base_number_d4739": -2.0,
        "ferrous_index": 7.0,
        "sodium": 1.5,
        "potassium": 0.5,
    },
    removed={"water": 0.02, "fuel": 0.01, "coolant_share": 0.005, "ferrous_index": 0.003},
    used_up=_ALWAYS_FIRST_ORDER,
    loss_per_fill=0.08,
    dust_level=9.0,
)
_HYDRAULIC: Final = Family(
    name="hydraulic",
    states=OIL_STATES,
    tests=(
        *_COMMON_OIL_TESTS,
        *("water_crackle", "acid_number", "oxidation", "ferrous_index"),
        *COUNTS,
        *ISO_CODES,
    ),
    levels={
        **_metals(4.8, 0.8, 0.3, 1.1, 4.0, 1.3, 0.7, 0.05),
        "water": 150.0,
        "oxidation": 1.5,
        "acid_number": 0.15,
        "ferrous_index": 5.0,
        "sodium": 1.0,
        "potassium": 0.4,
        "particles_4um": 1500.0,
    },
    removed={"water": 0.003, "particles_4um": 0.02, "ferrous_index": 0.002},
    used_up={**_ALWAYS_FIRST_ORDER, "zinc": 0.08, "phosphorus": 0.06},
    loss_per_fill=0.12,
    dust_level=5.0,
)
_TRANSMISSION: Final = Family(
    name="transmission",
    states=OIL_STATES,
    tests=_GEAR_TESTS,
    levels={
        **_metals(34.0, 1.5, 0.8, 4.4, 20.0, 6.0, 2.0, 0.05),
        "water": 250.0,
        "ferrous_index": 16.0,
        "sodium": 2.0,
        "potassium": 0.5,
    },
    removed={"water": 0.006, "ferrous_index": 0.001},
    used_up=_ALWAYS_FIRST_ORDER,
    loss_per_fill=0.04,
    dust_level=8.0,
)


def _gear(name: str, metals: dict[str, float], index: float, dust: float, water: float) -> Family:
    return Family(
        name=name,
        states=OIL_STATES,
        tests=_GEAR_TESTS,
        levels={**metals, "ferrous_index": index, "water": water, "sodium": 2.0, "potassium": 0.5},
        removed={"water": 0.002},
        used_up=_ALWAYS_FIRST_ORDER,
        loss_per_fill=0.03,
        dust_level=dust,
    )


_COOLANT: Final = Family(
    name="coolant",
    states=COOLANT_STATES,
    tests=(*COOLANT_STATES, "freeze_point"),
    levels={
        "ph": -0.6,
        "chloride": 6.0,
        "sulfate": 18.0,
        "hardness": 8.0,
        "conductivity": 300.0,
        "glycolate": 140.0,
        "iron": 3.0,
        "aluminium": 1.4,
        "copper": 1.6,
        "lead": 1.2,
    },
    used_up={"nitrite": 0.20, "reserve_alkalinity": 0.14, "coolant_glycol": 0.03},
    loss_per_fill=0.10,
)

FAMILIES: Final = {
    family.name: family
    for family in (
        _ENGINE,
        _HYDRAULIC,
        _TRANSMISSION,
        _gear("differential", _metals(64.0, 1.9, 1.4, 4.5, 20.0, 4.0, 1.0), 40.0, 30.0, 250.0),
        _gear("final_drive", _metals(130.0, 2.3, 1.7, 8.0, 15.0, 4.0, 1.0), 64.0, 42.0, 350.0),
        _gear("swing_drive", _metals(86.0, 1.9, 1.4, 4.5, 20.0, 4.0, 1.0), 42.0, 24.0, 250.0),
        _COOLANT,
    )
}
