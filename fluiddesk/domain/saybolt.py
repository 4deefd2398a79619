"""Saybolt universal seconds and kinematic viscosity at 100 °F (37.8 °C).

Method: the equation of ASTM D2161, which is no straight line; edition 1993 as quoted in the
documentation of an open chemistry library. Its lower end, 1.81 mm2/s, is from memory, unconfirmed.
"""

from typing import Final

import numpy as np

from fluiddesk.domain.columns import FloatColumn, Numbers, checked
from fluiddesk.domain.errors import OperatorError

LOWEST_MM2_S: Final = 1.81
"""Thinner fluids have no Saybolt universal seconds (ASTM D2161, from memory, unconfirmed)."""
_SECONDS_PER_MM2_S: Final = 4.6324
_ROUNDS: Final = 40
"""Each round brings the inverse at least three times nearer, so that forty are far more than
enough for the last digit."""


class SayboltError(OperatorError):
    """A viscosity or a number of seconds outside the Saybolt universal scale."""


def _beyond_line(viscosity: FloatColumn) -> FloatColumn:
    v = viscosity
    result: FloatColumn = (1.0 + 0.03264 * v) / (
        (3930.2 + 262.7 * v + 23.97 * v**2 + 1.646 * v**3) * 1e-5
    )
    return result


def seconds_at_100f(viscosity_mm2_s: Numbers) -> FloatColumn:
    """Saybolt universal seconds of kinematic viscosities at 100 °F.

    Raises:
        SayboltError: below 1.81 mm2/s, where the scale begins, or for a number that is none.

    >>> float(seconds_at_100f(32.0).round(1))
    150.5
    """
    viscosity = checked(
        viscosity_mm2_s,
        what="viscosity in mm2/s for Saybolt seconds",
        error=SayboltError,
        at_least=LOWEST_MM2_S,
    )
    return np.asarray(_SECONDS_PER_MM2_S * viscosity + _beyond_line(viscosity))


LOWEST_SECONDS: Final = float(seconds_at_100f(LOWEST_MM2_S))
"""The shortest efflux time of the scale: 31.95 s."""


def viscosity_at_100f(saybolt_seconds: Numbers) -> FloatColumn:
    """Kinematic viscosities in mm2/s of Saybolt universal seconds at 100 °F.

    Raises:
        SayboltError: below 31.95 s, where the scale begins, or for a number that is none.

    >>> float(viscosity_at_100f(150.5).round(1))
    32.0
    """
    seconds = checked(
        saybolt_seconds, what="Saybolt seconds", error=SayboltError, at_least=LOWEST_SECONDS
    )
    viscosity = np.asarray(seconds / _SECONDS_PER_MM2_S)
    for _ in range(_ROUNDS):
        viscosity = np.asarray((seconds - _beyond_line(viscosity)) / _SECONDS_PER_MM2_S)
    return viscosity
