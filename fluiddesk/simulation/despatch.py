"""The way of a bottle to the laboratory and of the report back."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.records import LOST, REPORTED, SHIPPED

IntArray = NDArray[np.int64]

_TRANSIT_MEDIAN_D: Final = 2.6
_TESTING_MEDIAN_D: Final = 2.8
_SPREAD: Final = 0.4
"""Days on the road and in the laboratory, log-normal (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Despatch:
    """Where the bottles are and when they came and went; 0 for days that did not happen."""

    state: NDArray[np.int8]
    laboratory: NDArray[np.int8]
    received_on: IntArray
    reported_on: IntArray

    def hold(self, rows: NDArray[np.bool_]) -> None:
        """Leave some bottles at the laboratory without a report."""
        self.state[rows] = SHIPPED
        self.reported_on[rows] = 0


def send(
    *,
    day: IntArray,
    machine: IntArray,
    laboratory: NDArray[np.int8],
    last_day: int,
    lost: float,
    rng: np.random.Generator,
) -> Despatch:
    """Send the bottles of one machine and day as one box; a few bottles are lost on the way."""
    _, box = np.unique(machine * 10_000_000 + day, return_inverse=True)
    boxes = int(box.max(initial=0)) + 1
    transit = _TRANSIT_MEDIAN_D * np.exp(rng.normal(0.0, _SPREAD, size=boxes))
    testing = _TESTING_MEDIAN_D * np.exp(rng.normal(0.0, _SPREAD, size=boxes))
    received = day + np.ceil(transit).astype(np.int64)[box]
    reported = received + np.ceil(testing).astype(np.int64)[box]
    state = np.where(reported > last_day, SHIPPED, REPORTED).astype(np.int8)
    state[rng.random(len(day)) < lost] = LOST
    came = (received <= last_day) & (state != LOST)
    return Despatch(
        state=state,
        laboratory=laboratory,
        received_on=np.where(came, received, 0),
        reported_on=np.where(state == REPORTED, reported, 0),
    )
