"""The mass balance of a substance in a box that loses fluid, is topped up and filters, solved.

M dC/dt = G + rho q C0 - (phi rho q + k M) C, with C in mg/kg, G the mass made per hour, q litres
lost and made up per hour, C0 in the fresh one, phi the share that leaves with lost fluid and k the
removal per hour. Solved exactly over one step. Common practice; the particle balance of
Anderson and Driver, Wear 1979, has the same shape (from memory, unconfirmed). Columns that
broadcast, and nothing checked: ``mass_balance.py`` is the door for figures that people keyed.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_TINY: Final = 1e-12


def filled_share(loss: FloatArray, hours: FloatArray) -> FloatArray:
    """(1 - e^(-loss hours)) / loss, which is the hours themselves where nothing is lost."""
    safe = np.maximum(loss, _TINY)
    grown: FloatArray = np.where(loss > _TINY, -np.expm1(-loss * hours) / safe, hours)
    return grown


def after(
    start: FloatArray, *, made: FloatArray, fresh: FloatArray, loss: FloatArray, hours: FloatArray
) -> FloatArray:
    """The concentration after so many hours; shapes broadcast.

    Args:
        start: concentration at the start.
        made: G/M, concentration made per hour.
        fresh: (q/V) C0, concentration brought per hour with the make-up.
        loss: phi q/V + k, per hour.
        hours: length of the step.
    """
    reached: FloatArray = start * np.exp(-loss * hours) + (made + fresh) * filled_share(loss, hours)
    return reached


def made_per_hour(
    start: FloatArray, end: FloatArray, *, fresh: FloatArray, loss: FloatArray, hours: FloatArray
) -> FloatArray:
    """G/M that explains a rise from start to end: the reverse of ``after``."""
    grown: FloatArray = (end - start * np.exp(-loss * hours)) / filled_share(loss, hours) - fresh
    return grown


def after_change(before: FloatArray, fresh: FloatArray, residue: FloatArray) -> FloatArray:
    """The concentration just after a change that leaves a share of the old fluid in the box."""
    mixed: FloatArray = residue * before + (1.0 - residue) * fresh
    return mixed


def made_for_level(level: FloatArray, *, loss: FloatArray, hours: FloatArray) -> FloatArray:
    """G/M that takes a clean fill to a level in so many hours against its losses."""
    needed: FloatArray = level / filled_share(loss, hours)
    return needed
