"""What a faultless instrument would read in a bottle, from what is in it."""

from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fluids.viscosity import blend
from fluiddesk.simulation.families import ELEMENTS, Family

if TYPE_CHECKING:
    from collections.abc import Callable

FloatArray = NDArray[np.float64]

_FUEL_VISCOSITY_40C: Final = 2.6
_FUEL_VISCOSITY_100C: Final = 1.15
_THICKER_PER_SOOT_PERCENT: Final = 0.022
_THICKER_PER_OXIDATION: Final = 0.004
"""Viscosity gained per percent soot and per A/cm of oxidation above new (common practice)."""
CRACKLE_MG_PER_KG: Final = 900.0
"""Water from which a hot plate crackles; 500 to 1000 mg/kg is common practice."""
GLYCOL_TEST_PERCENT: Final = 0.18
"""Coolant that the spot test shows (common practice, no source)."""
_FREEZE_AT = (
    np.array([0.0, 10, 20, 30, 40, 50, 60, 70, 80]),
    np.array([0.0, -4, -9, -16, -24, -36, -54, -50, -45]),
)
"""Freeze point over volume percent of ethylene glycol; from memory: -36 C at 50 %."""


class Bottle:
    """The contents of all bottles of one family; reads any analyte as a column."""

    def __init__(
        self, family: Family, states: NDArray[np.float32], ratios: NDArray[np.float64]
    ) -> None:
        self._family = family
        self._states = states
        self._ratios = ratios
        self._special: dict[str, Callable[[], FloatArray]] = {
            "viscosity_40c": lambda: self._viscosity("viscosity_40c", _FUEL_VISCOSITY_40C),
            "viscosity_100c": lambda: self._viscosity("viscosity_100c", _FUEL_VISCOSITY_100C),
            "water_crackle": lambda: (self._state("water") > CRACKLE_MG_PER_KG).astype(np.float64),
            "glycol_test": lambda: (self._state("coolant_share") > GLYCOL_TEST_PERCENT).astype(
                np.float64
            ),
            "freeze_point": lambda: np.interp(self._state("coolant_glycol"), *_FREEZE_AT),
            "particles_6um": lambda: self._state("particles_4um") * self._ratios[:, 0],
            "particles_14um": lambda: self._state("particles_4um") * self._ratios.prod(axis=1),
        }

    def can_read(self, code: str) -> bool:
        """Whether the contents say anything about an analyte."""
        return code in self._special or code in self._family.states

    def read(self, code: str) -> FloatArray:
        """The analyte's true value in its canonical unit, shape (n,)."""
        if code in self._special:
            return self._special[code]()
        value = self._state(code)
        if code in ELEMENTS and "fuel" in self._family.states:
            value *= 1.0 - self._state("fuel") / 100.0
        return value

    def _state(self, name: str) -> FloatArray:
        return self._states[:, self._family.place(name)].astype(np.float64)

    def _viscosity(self, name: str, fuel: float) -> FloatArray:
        thicker = 1.0 + _THICKER_PER_SOOT_PERCENT * self._state("soot")
        thicker += _THICKER_PER_OXIDATION * np.maximum(self._state("oxidation") - 12.0, 0.0)
        share = np.clip(self._state("fuel") / 100.0, 0.0, 0.3)
        return np.asarray(blend([1.0 - share, share], [self._state(name) * thicker, fuel]))
