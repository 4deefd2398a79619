"""How boxes of one kind differ, fill by fill and hour by hour, while they wear normally."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.families import METALS, WEARING, Family

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

UNIT_SPREAD: Final = 0.40
"""Standard deviation of the logarithm of the wear rate between units."""
_SHARED_SPREAD: Final = 0.30
_OWN_SPREAD: Final = float(np.sqrt(UNIT_SPREAD**2 - _SHARED_SPREAD**2))
_DUST_SPREAD: Final = 0.30
FILL_SPREAD: Final = 0.15
RUN_IN_HOURS: Final = 300.0
RUN_IN_EXTRA: Final = 2.5
"""A new component sheds this many times its later rate on top of it, decaying over the run-in."""
_GAMMA_SCALE_HOURS: Final = 8.0
"""Hours of wear that come as one lump of the gamma process."""


class WearRates:
    """The wear of every box of a family, relative to the median box."""

    def __init__(self, family: Family, boxes: int, rng: np.random.Generator) -> None:
        wearing = family.mask(WEARING)
        self._metals = family.mask(METALS)
        self._wearing = wearing
        self._rng = rng
        shared = rng.normal(0.0, _SHARED_SPREAD, size=(boxes, 1))
        own = rng.normal(0.0, _OWN_SPREAD, size=(boxes, len(family.states)))
        self.unit: FloatArray = np.where(wearing, np.exp(shared + own), 1.0)
        self.dust: FloatArray = np.exp(rng.normal(0.0, _DUST_SPREAD, size=boxes))
        self.fill: FloatArray = np.ones((boxes, len(family.states)))
        self.begin_fill(np.ones(boxes, dtype=np.bool_))

    def begin_fill(self, changed: NDArray[np.bool_]) -> None:
        """Draw the fill-to-fill factor of the boxes whose fluid was changed."""
        size = (int(changed.sum()), 1)
        drawn = np.exp(self._rng.normal(0.0, FILL_SPREAD, size=size))
        self.fill[changed] = np.where(self._wearing, drawn, 1.0)

    def factor_of(self, idx: IntArray, hours: FloatArray, age: FloatArray) -> FloatArray:
        """The wear of some boxes in a step at a component age, relative to the median box."""
        run_in = 1.0 + RUN_IN_EXTRA * np.exp(-np.maximum(age, 0.0) / RUN_IN_HOURS)
        relative: FloatArray = self.unit[idx] * self.fill[idx]
        shape = np.maximum(hours, 1.0) / _GAMMA_SCALE_HOURS
        columns = np.flatnonzero(self._metals)
        lumps = self._rng.standard_gamma(np.repeat(shape[:, None], len(columns), axis=1))
        relative[:, columns] *= lumps / shape[:, None] * run_in[:, None]
        return relative
