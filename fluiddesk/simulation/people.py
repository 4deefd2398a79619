"""What people wrote down after a repair: missing often, wrong now and then, late."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from fluiddesk.simulation.faults import MODES
from fluiddesk.simulation.plan import ErrorRates

_WRONG_PARTS: Final = ("sensor", "loose clamp", "gasket")


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedFinding:
    """What somebody says to have found: ``result`` in the trade's words, the part, the day."""

    compartment: int
    day: int
    result: str
    part: str


def write_findings(
    repaired: Sequence[tuple[int, int, float, int]], rates: ErrorRates, rng: np.random.Generator
) -> tuple[SimulatedFinding, ...]:
    """The findings that came back from the repairs (compartment, day, hours, mode)."""
    written = []
    for compartment, day, _, mode in repaired:
        if rng.random() < rates.finding_missing:
            continue
        wrong = rng.random() < rates.finding_wrong
        written.append(
            SimulatedFinding(
                compartment=compartment,
                day=day + int(rng.integers(0, 12)),
                result="nothing found" if wrong else "fault confirmed",
                part=str(rng.choice(_WRONG_PARTS)) if wrong else MODES[mode].part,
            )
        )
    return tuple(written)
