"""The three bounds of one group and analyte, from percentiles with enough behind them."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.analytes import Analyte
from fluiddesk.domain.limits.derivation import (
    BAND_PERCENTS,
    drawn_to_parent,
    share_of_own,
    spaced_bounds,
)
from fluiddesk.domain.statistics.entry import NotEnough
from fluiddesk.domain.statistics.tail_percentile import (
    FEWEST_MACHINES,
    bootstrap_intervals,
    fewest_results,
    tail_percentiles,
)
from fluiddesk.services.limit_rules.derive_groups import Results
from fluiddesk.services.limit_rules.facts import DerivedBound

PERCENTS: Final = np.array(list(BAND_PERCENTS.values()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """The bounds of one group: Watch, Act, Urgent. ``own_share`` is how much its own counted."""

    bands: tuple[DerivedBound, DerivedBound, DerivedBound]
    machines: int
    own_share: float
    method: str


def derived_bounds(
    results: Results,
    *,
    analyte: Analyte,
    falling: bool,
    parent: Bounds | None,
    rounds: int,
    generator: np.random.Generator,
) -> Bounds:
    """Bounds of a group, each with its interval and what it was drawn towards.

    Args:
        results: the group's results of one analyte.
        analyte: the analyte.
        falling: whether low values are the harmful ones.
        parent: the bounds of the wider group; ``None`` for none.
        rounds: draws of the bootstrap; 0 leaves the intervals out.
        generator: source of chance.
    """
    size, machines = len(results.values), int(np.count_nonzero(np.bincount(results.machine)))
    share = 1.0 if parent is None else share_of_own(size)
    needed = [fewest_results(percent) for percent in PERCENTS.tolist()]
    enough = [size >= need and machines >= FEWEST_MACHINES for need in needed]
    own = _percentiles(results, falling=falling) if any(enough) else np.full(len(PERCENTS), np.nan)
    intervals = np.full((len(PERCENTS), 2), np.nan)
    if any(enough) and rounds:
        intervals = _intervals(results, falling=falling, rounds=rounds, generator=generator)
    wide = [None] * len(PERCENTS) if parent is None else [one.own for one in parent.bands]
    drawn = [
        drawn_to_parent(value, above, samples=size) if has and np.isfinite(value) else None
        for value, above, has in zip(own.tolist(), wide, enough, strict=True)
    ]
    spaced = spaced_bounds(drawn, analyte=analyte, falling=falling)
    bands = [
        DerivedBound(
            percent=percent,
            value=spaced[place],
            own=_known(own[place]) if enough[place] else None,
            low=_known(intervals[place, 0]) if enough[place] else None,
            high=_known(intervals[place, 1]) if enough[place] else None,
            parent=wide[place],
            why=_why(size, machines, needed[place], found=drawn[place], kept=spaced[place]),
        )
        for place, percent in enumerate(PERCENTS.tolist())
    ]
    censored = results.below.any()
    method = "Hazen percentile, Kaplan-Meier below limits" if censored else "Hazen percentile"
    return Bounds(
        bands=(bands[0], bands[1], bands[2]), machines=machines, own_share=share, method=method
    )


def _percentiles(results: Results, *, falling: bool) -> NDArray[np.float64]:
    if falling:
        # A "less than" result only says that it lies lower: at its limit it is counted too high.
        found = tail_percentiles(results.values, below=results.below, percents=100 - PERCENTS)
    else:
        found = tail_percentiles(results.values, below=results.below, percents=PERCENTS)
    return np.full(len(PERCENTS), np.nan) if isinstance(found, NotEnough) else found


def _intervals(
    results: Results, *, falling: bool, rounds: int, generator: np.random.Generator
) -> NDArray[np.float64]:
    turn = -1.0 if falling else 1.0
    found = bootstrap_intervals(
        turn * results.values,
        machine=results.machine,
        percents=PERCENTS,
        rounds=rounds,
        generator=generator,
    )
    return np.sort(turn * found, axis=1)


def _known(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None


def _why(size: int, machines: int, needed: int, *, found: float | None, kept: float | None) -> str:
    if kept is not None:
        return ""
    if size < needed:
        return f"Not enough: {size} of at least {needed} samples."
    if machines < FEWEST_MACHINES:
        return f"Not enough: {machines} of at least {FEWEST_MACHINES} machines."
    if found is None:
        return 'It lies among "less than" results.'
    return "It lies closer to the bound before than two results on one bottle may differ."
