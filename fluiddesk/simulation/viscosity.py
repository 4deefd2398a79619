"""Viscosity of a blend by the double logarithm of ASTM D341, mixed as in D7152 (from memory)."""

import numpy as np
from numpy.typing import NDArray

FloatColumn = NDArray[np.float64]

_OFFSET = 0.7
_THINNEST = 0.25
_THICKEST_CORRECTED = 10.0
"""Above this many mm2/s the term for thin liquids is nothing."""


def _weight(viscosity: FloatColumn) -> FloatColumn:
    thin = np.maximum(viscosity, _THINNEST)
    small = np.minimum(thin, _THICKEST_CORRECTED)
    z = thin + _OFFSET + np.exp(-1.47 - 1.84 * small - 0.51 * small**2)
    weight: FloatColumn = np.log10(np.log10(z))
    return weight


def blended(oil: FloatColumn, other: FloatColumn, share: FloatColumn) -> FloatColumn:
    """The viscosity of oil holding a share (0 to 1) of a thinner or thicker fluid, in mm2/s.

    >>> float(blended(np.array([14.5]), np.array([1.2]), np.array([0.10])).round(2)[0])
    9.87
    """
    mixed = (1.0 - share) * _weight(oil) + share * _weight(other)
    x = 10.0 ** (10.0**mixed) - _OFFSET
    small = np.minimum(x, _THICKEST_CORRECTED)
    thin_term = np.exp(-0.7487 - 3.295 * small + 0.6119 * small**2 - 0.3193 * small**3)
    result: FloatColumn = x - thin_term
    return result
