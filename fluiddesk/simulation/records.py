"""A played fleet as the program may see it, and beside it the truth that it may not."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.identity import bottle_code
from fluiddesk.domain.samples import SampleState, Sign
from fluiddesk.simulation.breakdowns import TrueFault
from fluiddesk.simulation.hours import MeterRows
from fluiddesk.simulation.people import SimulatedFinding
from fluiddesk.simulation.plan import LaboratoryShift, SitePlan
from fluiddesk.simulation.roster import SimulatedCompartment, SimulatedMachine

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SAMPLE_STATES: Final = (SampleState.REPORTED, SampleState.SHIPPED, SampleState.LOST)
"""The states in the order of the numbers kept in columns."""
REPORTED, SHIPPED, LOST = range(3)
_FIRST_REPORT: Final = 10_000
REMARKS: Final = ("", "Too little in the bottle for all tests.", "Free water seen.")
"""What a laboratory writes under a report."""
_FREE_WATER_MG_PER_KG: Final = 5000.0


@dataclass(frozen=True, kw_only=True)
class ReadingRows:
    """What the meters showed: ``machine`` is a place in the list of machines."""

    machine: IntArray
    day: IntArray
    shown: FloatArray
    true_hours: FloatArray


@dataclass(frozen=True, kw_only=True)
class EventRows:
    """What the book says; ``kind`` is a place in ``diary.EVENT_KINDS``.

    All are recorded events: what nobody wrote is in the truth alone. ``litres`` is NaN and
    ``fluid`` (a place in ``SimulatedFleet.fluids``) -1 where they do not apply. Events before the
    first day are the changes the first fills began with.
    """

    compartment: IntArray
    kind: IntArray
    day: IntArray
    true_hours: FloatArray
    litres: FloatArray
    fluid: IntArray


@dataclass(frozen=True, kw_only=True)
class SampleRows:
    """All bottles, by day and then compartment.

    Attributes:
        compartment: place in the list of compartments.
        taken_on: proleptic ordinals.
        shown: what the meter showed, NaN where nobody wrote it.
        true_hours: machine age as the program works it out (estimated where the meter is missing).
        hours_estimated: where ``true_hours`` is an estimate.
        fluid_hours: hours since the last change that the book knows.
        label_age: fluid hours as written on the label; wrong now and then.
        fill: number of the fill by the book, 0 for the first.
        method: place in ``sampling.DRAW_METHODS``.
        state: place in ``SAMPLE_STATES``.
        laboratory: place in ``SimulatedFleet.laboratories``.
        received_on: day the laboratory had the bottle; 0 where it never came or is on its way.
        reported_on: day of the report; 0 where there is none.
        bottle: running number within the year of ``taken_on``.
    """

    compartment: IntArray
    taken_on: IntArray
    shown: FloatArray
    true_hours: FloatArray
    hours_estimated: NDArray[np.bool_]
    fluid_hours: FloatArray
    label_age: FloatArray
    fill: IntArray
    method: NDArray[np.int8]
    state: NDArray[np.int8]
    laboratory: NDArray[np.int8]
    received_on: IntArray
    reported_on: IntArray
    bottle: IntArray

    def __len__(self) -> int:
        return len(self.compartment)


@dataclass(frozen=True, kw_only=True)
class ResultRows:
    """Readings of one family's samples: n sheets, m analytes by rising number.

    ``sample`` is a place in ``SampleRows``; ``issue`` counts a report's issues, and the highest
    issue of a sample is in force. ``decimals`` are the places printed, shape (m,). Values are
    canonical: the bound for below, 0 and 1 for absent and present, NaN where there is no number.
    """

    family: str
    analytes: tuple[str, ...]
    numbers: IntArray
    decimals: IntArray
    sample: IntArray
    issue: IntArray
    values: FloatArray
    signs: NDArray[np.uint8]

    def __len__(self) -> int:
        return len(self.sample)


@dataclass(frozen=True, kw_only=True)
class SimulatedFleet:
    """Everything the program may see of a played fleet."""

    first_day: int
    last_day: int
    sites: tuple[SitePlan, ...]
    laboratories: tuple[str, ...]
    fluids: tuple[str, ...]
    machines: tuple[SimulatedMachine, ...]
    meters: MeterRows
    compartments: tuple[SimulatedCompartment, ...]
    meter_readings: ReadingRows
    events: EventRows
    samples: SampleRows
    results: tuple[ResultRows, ...]
    findings: tuple[SimulatedFinding, ...]


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What really happened; the program never sees it.

    Attributes:
        made_per_hour: by family, what each box makes when healthy, shape (boxes, states).
        boxes: by family, the compartments of the rows of ``made_per_hour``.
        states: by family, the columns of ``made_per_hour``.
        faults: every fault with its start, detectable and failure hours.
        swaps: pairs of samples whose bottles changed places.
        unlogged: kind of event, compartment, day.
        mix_ups: compartment, day, the other fluid.
        spoiled: samples by sampling error.
        mistyped: sample, analyte, kind of slip, value on paper.
        shifts: laboratory, analyte and span of every shift.
        sample_hours: true machine age at each sample.
    """

    seed: int
    made_per_hour: Mapping[str, FloatArray]
    boxes: Mapping[str, IntArray]
    states: Mapping[str, tuple[str, ...]]
    faults: tuple[TrueFault, ...]
    swaps: tuple[tuple[int, int], ...]
    unlogged: tuple[tuple[str, int, int], ...]
    mix_ups: tuple[tuple[int, int, str], ...]
    spoiled: Mapping[str, Sequence[int]]
    mistyped: tuple[tuple[int, str, str, float], ...]
    shifts: tuple[LaboratoryShift, ...]
    sample_hours: FloatArray


def remarks_of(rows: ResultRows) -> NDArray[np.int8]:
    """What the laboratory remarked on each sheet, as places in ``REMARKS``; shape (n,)."""
    remark = np.zeros(len(rows), dtype=np.int8)
    if "water" in rows.analytes:
        water = rows.values[:, rows.analytes.index("water")]
        remark[water >= _FREE_WATER_MG_PER_KG] = REMARKS.index("Free water seen.")
    remark[(rows.signs == Sign.NOT_ENOUGH).any(axis=1)] = 1
    return remark


def truth_text(truth: Truth) -> str:
    """The truth as JSON, days as ISO dates in shifts and as proleptic ordinals elsewhere."""
    rates = {
        family: {
            "states": list(truth.states[family]),
            "compartments": truth.boxes[family].tolist(),
            "made_per_hour": np.round(rows, 8).tolist(),
        }
        for family, rows in truth.made_per_hour.items()
    }
    shifts = [
        {**asdict(shift), "first_day": str(shift.first_day), "last_day": str(shift.last_day)}
        for shift in truth.shifts
    ]
    faults = [
        {name: None if value != value else value for name, value in asdict(fault).items()}  # noqa: PLR0124
        for fault in truth.faults
    ]
    told = {
        "seed": truth.seed,
        "rates": rates,
        "faults": faults,
        "swaps": truth.swaps,
        "unlogged_events": truth.unlogged,
        "mix_ups": truth.mix_ups,
        "spoiled_samples": {name: list(rows) for name, rows in truth.spoiled.items()},
        "mistyped": truth.mistyped,
        "laboratory_shifts": shifts,
        "sample_hours": np.round(truth.sample_hours, 1).tolist(),
    }
    return json.dumps(told, ensure_ascii=False)


def bottle_code_of(samples: SampleRows, sample: int) -> str:
    """The code on the label of a sample's bottle, with its check character."""
    year = date.fromordinal(int(samples.taken_on[sample])).year % 100
    return bottle_code(f"{year:02d}K{int(samples.bottle[sample]):05d}")


def report_number_of(fleet: SimulatedFleet, sample: int) -> str:
    """The number of the laboratory's report on a sample; all its issues carry the same."""
    laboratory = fleet.laboratories[int(fleet.samples.laboratory[sample])]
    year = date.fromordinal(int(fleet.samples.taken_on[sample])).year % 100
    letter = laboratory[-1].upper()
    return f"{letter}{year:02d}-{int(fleet.samples.bottle[sample]) + _FIRST_REPORT:06d}"
