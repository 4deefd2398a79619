"""Which groups of like boxes have enough behind them for own limits, and why others have not."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from fluiddesk.domain.limits.derivation import BAND_PERCENTS
from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.domain.statistics.tail_percentile import FEWEST_MACHINES, fewest_results
from fluiddesk.services.limit_rules.derive_facts import SPAN
from fluiddesk.services.limit_rules.derive_groups import chosen_rows, groups_of, machine_numbers
from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet

_FIRST_BAND: Final = min(BAND_PERCENTS.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class GroupReadiness:
    """A group that limits can be asked for: what is behind it, and what it lacks.

    Attributes:
        scope: the group.
        boxes: how many boxes it has, in use or not.
        samples: believed samples of the span, without known faults.
        machines: how many machines they came from.
        why: what is missing for a Watch bound; empty where nothing is. One analyte may still have
            fewer results than there are samples.
    """

    scope: Scope
    boxes: int
    samples: int
    machines: int
    why: str

    @property
    def is_ready(self) -> bool:
        """Whether there is enough for at least Watch."""
        return not self.why


def groups_ready(fleet: WhatIfFleet) -> tuple[GroupReadiness, ...]:
    """Every group of the fleet, in the order of the power path, a kind before its models."""
    chosen = chosen_rows(fleet, since=(fleet.today - SPAN).toordinal())
    counts = np.zeros(len(fleet.columns.boxes), dtype=np.int64)
    for columns, rows in zip(fleet.columns.groups, chosen.rows, strict=True):
        np.add.at(counts, columns.compartment[rows], 1)
    machine = machine_numbers(fleet)
    found = []
    for group in groups_of(fleet):
        sampled = group.boxes[counts[group.boxes] > 0]
        samples, machines = int(counts[group.boxes].sum()), len(np.unique(machine[sampled]))
        found.append(
            GroupReadiness(
                scope=group.scope,
                boxes=len(group.boxes),
                samples=samples,
                machines=machines,
                why=_why(samples, machines),
            )
        )
    return tuple(found)


def _why(samples: int, machines: int) -> str:
    needed = fewest_results(_FIRST_BAND)
    if samples < needed:
        return f"{samples} of at least {needed} samples"
    if machines < FEWEST_MACHINES:
        return f"{machines} of at least {FEWEST_MACHINES} machines"
    return ""
