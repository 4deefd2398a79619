"""Fresh fluid as delivered: the reference of its grade with the spread of the batch in the tank."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.families import Family
from fluiddesk.simulation.setting import Setting

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BATCH_SPREAD: Final = 0.03
"""Spread of additives from delivery to delivery, as a share (common practice, no source)."""
VISCOSITY_SPREAD: Final = 0.01
WRONG_SHARE: Final = 0.12
"""Share of another fluid after a mix-up at the filler."""
_STEADY: Final = frozenset({"viscosity_40c", "viscosity_100c", "ph", "coolant_glycol"})
_BATCH_DAYS: Final = 91
_FRESH: Final = {"water": 60.0, "particles_4um": 1200.0, "ferrous_index": 0.0, "glycolate": 20.0}
"""What fresh fluid holds where its reference does not say (common practice, no source)."""


class FreshFluid:
    """What comes out of the tank: by fluid, quarter and state of one family."""

    def __init__(
        self,
        setting: Setting,
        family: Family,
        *,
        first_day: int,
        days: int,
        rng: np.random.Generator,
    ) -> None:
        quarters = days // _BATCH_DAYS + 12
        self._start = first_day - 10 * _BATCH_DAYS
        self.codes = tuple(fluid.code for fluid in setting.fluids)
        table = np.zeros((len(self.codes), quarters, len(family.states)))
        for place, fluid in enumerate(setting.fluids):
            known = {**_FRESH, **fluid.reference}
            row = family.column({s: known.get(s, 0.0) for s in family.states})
            table[place] = row
        spread = np.where(
            [state in _STEADY for state in family.states], VISCOSITY_SPREAD, BATCH_SPREAD
        )
        table *= 1.0 + spread * rng.standard_normal(table.shape)
        self._table = table
        marker = "coolant_glycol" if family.name == "coolant" else "viscosity_100c"
        like = [marker in fluid.reference for fluid in setting.fluids]
        self.like_fluids: IntArray = np.flatnonzero(like)
        """The fluids that may be filled into this family by mistake."""

    def at(self, fluid: IntArray, day: IntArray) -> FloatArray:
        """The fresh fluid in the tank on each day, shape (n, states)."""
        quarter = np.clip((day - self._start) // _BATCH_DAYS, 0, self._table.shape[1] - 1)
        drawn: FloatArray = self._table[fluid, quarter]
        return drawn
