"""How many samples a limit set would judge if it held from a day on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Samples drawn on a day or after it, and of how many boxes.

    A verdict is as of its sample's day: these samples are judged anew by a set that holds from the
    day on, all others keep theirs.
    """

    day: date
    samples: int
    boxes: int

    @property
    def words(self) -> str:
        """The figures in words.

        >>> Reach(day=date(2026, 11, 1), samples=1, boxes=1).words
        'since 2026-11-01: 1 sample of 1 box'
        """
        if not self.samples:
            return f"since {self.day}: none"
        samples = "1 sample" if self.samples == 1 else f"{self.samples} samples"
        boxes = "1 box" if self.boxes == 1 else f"{self.boxes} boxes"
        return f"since {self.day}: {samples} of {boxes}"


def reach(fleet: "WhatIfFleet", days: Sequence[date]) -> tuple[Reach, ...]:
    """The samples drawn since each of some days."""
    found = []
    for day in days:
        samples, boxes = 0, np.zeros(len(fleet.columns.boxes), dtype=bool)
        for group in fleet.columns.groups:
            since = group.taken_on >= day.toordinal()
            samples += int(since.sum())
            boxes[group.compartment[since]] = True
        found.append(Reach(day=day, samples=samples, boxes=int(boxes.sum())))
    return tuple(found)
