"""Reports of a played fleet typed with known slips, and what the checks say of each field.

The truth is what the invented laboratory printed; slips are made on purpose, one to a report.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.samples import Sign
from fluiddesk.domain.trust.expectation import MOST_PAST, Expectation, Past, Traits, expect, traits
from fluiddesk.domain.trust.typing_slips import decimal_slips, transposed_digits, unusual
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.simulated_fleet.setting import setting_of
from fluiddesk.simulation.plan import ErrorRates, SimulationPlan
from fluiddesk.simulation.play import simulate
from fluiddesk.simulation.records import ResultRows, SimulatedFleet

USUAL_GROUPS = {
    "engine": "engine",
    "hydraulic": "hydraulic",
    "coolant": "coolant",
}
FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Reports:
    """The newest reports of one family, and what their boxes foretell of each.

    ``values`` and ``signs`` (n, m), ``box`` and ``fluid`` (n,): which box, which product.
    ``before`` and ``now`` are the last two reports as numbers, ``days`` (n, 2) when they came.
    """

    family: str
    known: Traits
    expected: Expectation
    values: FloatArray
    signs: NDArray[np.uint8]
    decimals: NDArray[np.int64]
    box: NDArray[np.int64]
    fluid: NDArray[np.int64]
    before: FloatArray
    now: FloatArray
    fresh: FloatArray
    residue: FloatArray
    same_fill: NDArray[np.bool_]
    days: NDArray[np.int64]


def play(
    catalogue: Catalogue, *, machines: int, years: float, seed: int, rates: ErrorRates
) -> SimulatedFleet:
    first = date(2023, 1, 1)
    plan = SimulationPlan(machines=machines, years=years, seed=seed, first_day=first, rates=rates)
    return simulate(setting_of(catalogue, on=first), plan)[0]


def reports(fleet: SimulatedFleet, catalogue: Catalogue, *, newest: int) -> Iterator[Reports]:
    """The last few reports of every box, each foretold from those before it."""
    for rows in fleet.results:
        yield _reports(fleet, catalogue, rows, newest)


def _reports(fleet: SimulatedFleet, catalogue: Catalogue, rows: ResultRows, newest: int) -> Reports:
    samples = fleet.samples
    order = np.lexsort((rows.issue, rows.sample))
    last_issue = np.append(np.diff(rows.sample[order]) != 0, True)
    at = order[last_issue]
    sample = rows.sample[at]
    box = samples.compartment[sample]
    by_box = np.lexsort((samples.taken_on[sample], box))
    at, sample, box = at[by_box], sample[by_box], box[by_box]
    analytes = [catalogue.analytes[code] for code in rows.analytes]
    known = traits(analytes)
    numbers = rows.signs[at] <= Sign.ABOVE
    worked = np.where(numbers, rows.values[at], np.nan)
    worked = np.where(rows.signs[at] == Sign.BELOW, 0.5 * worked, worked)
    ends = np.append(np.flatnonzero(np.diff(box)) + 1, len(box))
    starts = np.append(0, ends[:-1])
    chosen, lanes = [], []
    for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
        for row in range(max(start + 1, end - newest), end):
            first = max(start, row - MOST_PAST)
            lanes.append([-1] * (MOST_PAST - (row - first)) + list(range(first, row)))
            chosen.append(row)
    lane = np.array(lanes, dtype=np.int64).reshape(-1, MOST_PAST)
    pick = np.array(chosen, dtype=np.int64)
    is_there = lane >= 0
    boxes = [fleet.compartments[int(one)] for one in box[pick]]
    fluids = [fleet.fluids[one.fluid] if isinstance(one.fluid, int) else one.fluid for one in boxes]
    fresh = np.array(
        [[_fresh(catalogue, fluid, code) for code in rows.analytes] for fluid in fluids]
    )
    past = Past(
        values=np.where(is_there[:, :, np.newaxis], worked[lane], np.nan),
        fluid_hours=np.where(is_there, samples.fluid_hours[sample][lane], np.nan),
        fill=np.where(is_there, samples.fill[sample][lane], -1),
        now_fluid_hours=samples.fluid_hours[sample][pick],
        now_fill=samples.fill[sample][pick],
        fresh=fresh,
        residue_share=np.array(
            [catalogue.compartment_kinds[one.kind].residue_share for one in boxes]
        ),
        usual_low=np.full((len(pick), len(analytes)), np.nan),
        usual_high=np.full((len(pick), len(analytes)), np.nan),
    )
    names = sorted(set(fluids))
    return Reports(
        family=rows.family,
        known=known,
        expected=expect(past, known),
        values=rows.values[at][pick],
        signs=rows.signs[at][pick],
        decimals=rows.decimals,
        box=box[pick],
        fluid=np.array([names.index(one) for one in fluids]),
        before=worked[lane[:, -1]],
        now=worked[pick],
        fresh=fresh,
        residue=past.residue_share,
        same_fill=past.fill[:, -1] == past.now_fill,
        days=np.stack(
            [samples.taken_on[sample][lane[:, -1]], samples.taken_on[sample][pick]], axis=1
        ),
    )


def _fresh(catalogue: Catalogue, fluid: str, code: str) -> float:
    references = catalogue.fluids[fluid].references
    return references[-1].values.get(code, np.nan) if references else np.nan


def doubted(
    typed: FloatArray, decimals: NDArray[np.int64], about: Reports
) -> dict[str, NDArray[np.bool_]]:
    """Which typed values (n, m) each check asks about."""
    printed = np.broadcast_to(about.decimals, typed.shape)
    return {
        "unusual": unusual(typed, about.expected),
        "decimal": decimal_slips(typed, about.expected).is_slip,
        "decimals": decimals > printed,
        "transposed": transposed_digits(typed, decimals, typed, about.expected).is_slip,
    }
