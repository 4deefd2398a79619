"""Plays a fleet from the first day to the last and hands back what is seen and what is true."""

from dataclasses import replace
from datetime import date
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation import hours as clock
from fluiddesk.simulation import people, sampling
from fluiddesk.simulation.book import Book, SampleIndex, events_of, laboratories_of
from fluiddesk.simulation.families import FAMILIES
from fluiddesk.simulation.plan import LaboratoryShift, SimulationPlan
from fluiddesk.simulation.records import (
    REPORTED,
    ResultRows,
    SampleRows,
    SimulatedFleet,
    Truth,
)
from fluiddesk.simulation.reporting import Reporting, Slip
from fluiddesk.simulation.roster import Roster, enrol
from fluiddesk.simulation.run import FamilyRun, FamilyTrace, World
from fluiddesk.simulation.setting import Setting

IntArray = NDArray[np.int64]
Streams = dict[str, np.random.Generator]

_STREAMS: Final = (
    *("fleet", "hours", "meters", "visits", "missing", "sampling", "swaps", "despatch"),
    *("laboratory", "keying", "people", "shifts", "book"),
    *("engine", "hydraulic", "transmission", "differential", "final_drive", "swing_drive"),
    "coolant",
)
_SHIFTING: Final = ("sodium", "silicon", "copper", "potassium", "zinc", "iron")
_RATIO_MEDIANS: Final = np.log([0.26, 0.10])
_RATIO_SPREAD: Final = 0.12


def streams_of(seed: int) -> Streams:
    """One independent random stream for every part, so that parts do not disturb each other."""
    spawned = np.random.Generator(np.random.PCG64(seed)).spawn(len(_STREAMS))
    return dict(zip(_STREAMS, spawned, strict=True))


def simulate(setting: Setting, plan: SimulationPlan) -> tuple[SimulatedFleet, Truth]:
    """Play the plan in a setting.

    Returns:
        The fleet as the program may see it, and the truth. The same seed gives the same fleet.
    """
    fleet, truth = simulate_with_unanswered(setting, plan)
    reported = fleet.samples.state == REPORTED
    results = tuple(only(rows, reported[rows.sample]) for rows in fleet.results)
    return replace(fleet, results=results), truth


def only(rows: ResultRows, wanted: NDArray[np.bool_]) -> ResultRows:
    """The wanted sheets, shape (n,); the same object where all are wanted."""
    if wanted.all():
        return rows
    return replace(
        rows,
        sample=rows.sample[wanted],
        issue=rows.issue[wanted],
        values=rows.values[wanted],
        signs=rows.signs[wanted],
    )


def simulate_with_unanswered(
    setting: Setting, plan: SimulationPlan
) -> tuple[SimulatedFleet, Truth]:
    """As ``simulate``, with the sheets that bottles still on their way will have one day."""
    streams = streams_of(plan.seed)
    roster = enrol(setting, plan, streams["fleet"])
    world, meters = _set_going(setting, plan, roster, streams)
    traces = _play_families(world, streams)
    drawn = {name: sampling.draw(t, plan.rates, streams["sampling"]) for name, t in traces.items()}
    swaps = _swap(traces, roster, plan, streams["swaps"])
    index = SampleIndex(traces)
    unread = streams["missing"].random(world.visits.valid.shape) < plan.rates.missing_meter
    book = Book(world, meters, unread)
    samples = book.samples(traces, drawn, index.order, streams)
    shifts = plan.script.shifts + _drawn_shifts(plan, streams["shifts"])
    results, slips = _report(world, samples, shifts, traces, index, streams)
    repaired = [row for trace in traces.values() for row in trace.diary.repaired]
    fleet = SimulatedFleet(
        first_day=plan.first_day.toordinal(),
        last_day=plan.last_day.toordinal(),
        sites=plan.sites,
        laboratories=laboratories_of(plan),
        fluids=tuple(fluid.code for fluid in setting.fluids),
        machines=roster.machines,
        meters=meters,
        compartments=roster.compartments,
        meter_readings=book.readings(),
        events=events_of(traces),
        samples=samples,
        results=results,
        findings=people.write_findings(repaired, plan.rates, streams["people"]),
    )
    return fleet, _truth(fleet, plan.seed, traces, drawn, index, swaps, slips, shifts)


def _set_going(
    setting: Setting, plan: SimulationPlan, roster: Roster, streams: Streams
) -> tuple[World, clock.MeterRows]:
    first_day = plan.first_day.toordinal()
    worked = clock.cumulative_hours(
        streams["hours"],
        first_day=first_day,
        days=plan.days,
        per_year=roster.per_year,
        standby=roster.standby,
    )
    visits = clock.plan_visits(
        streams["visits"],
        worked=worked,
        age=roster.age,
        first_day=first_day,
        last=roster.last_visit,
    )
    meters = clock.fit_meters(streams["meters"], worked=worked, age=roster.age, first_day=first_day)
    site = np.array([machine.site for machine in roster.machines])
    return World(setting=setting, plan=plan, roster=roster, visits=visits, site=site), meters


def _play_families(world: World, streams: Streams) -> dict[str, FamilyTrace]:
    names = np.array([box.family for box in world.roster.compartments])
    traces = {}
    for name, family in FAMILIES.items():
        boxes = np.flatnonzero(names == name)
        if len(boxes):
            traces[name] = FamilyRun(world, family, boxes, streams[name]).play()
    return traces


def _swap(
    traces: dict[str, FamilyTrace], roster: Roster, plan: SimulationPlan, rng: np.random.Generator
) -> list[sampling.TrueSwap]:
    swaps = [
        swap
        for trace in traces.values()
        for swap in sampling.swap_twins(trace, roster, plan.rates.swapped_pair, rng)
    ]
    for first, second, day in plan.script.swaps:
        swaps.append(sampling.swap_named(traces, roster, first, second, day.toordinal()))
    return swaps


def _drawn_shifts(plan: SimulationPlan, rng: np.random.Generator) -> tuple[LaboratoryShift, ...]:
    """Spans of two to six weeks in which a laboratory reads one analyte 15 to 40 % high."""
    shifts = []
    for name in laboratories_of(plan):
        for _ in range(rng.poisson(plan.rates.laboratory_shifts_per_year * plan.years)):
            first = plan.first_day.toordinal() + int(rng.integers(0, plan.days))
            shifts.append(
                LaboratoryShift(
                    laboratory=name,
                    analyte=str(rng.choice(_SHIFTING)),
                    first_day=date.fromordinal(first),
                    last_day=date.fromordinal(first + int(rng.integers(14, 43))),
                    factor=float(np.round(rng.uniform(1.15, 1.4), 2)),
                )
            )
    return tuple(shifts)


def _report(
    world: World,
    samples: SampleRows,
    shifts: tuple[LaboratoryShift, ...],
    traces: dict[str, FamilyTrace],
    index: SampleIndex,
    streams: Streams,
) -> tuple[tuple[ResultRows, ...], tuple[Slip, ...]]:
    boxes = len(world.roster.compartments)
    ratio = streams["laboratory"].normal(_RATIO_MEDIANS, _RATIO_SPREAD, size=(boxes, 2))
    reporting = Reporting(
        setting=world.setting,
        plan=world.plan,
        samples=samples,
        shifts=shifts,
        ratio=np.exp(ratio),
        laboratory=streams["laboratory"],
        keying=streams["keying"],
    )
    sheets = [reporting.sheets(trace, index.places[name]) for name, trace in traces.items()]
    slips = tuple(slip for _, found in sheets for slip in found)
    return tuple(rows for rows, _ in sheets), slips


def _truth(
    fleet: SimulatedFleet,
    seed: int,
    traces: dict[str, FamilyTrace],
    drawn: dict[str, sampling.Drawn],
    index: SampleIndex,
    swaps: list[sampling.TrueSwap],
    slips: tuple[Slip, ...],
    shifts: tuple[LaboratoryShift, ...],
) -> Truth:
    places = index.places
    spoiled: dict[str, list[int]] = {}
    for name, one in drawn.items():
        for error, rows in one.spoiled.items():
            spoiled.setdefault(error, []).extend(places[name][rows].tolist())
    hours = np.concatenate([trace.hours for trace in traces.values()])[index.order]
    diaries = [trace.diary for trace in traces.values()]
    return Truth(
        seed=seed,
        made_per_hour={name: trace.made for name, trace in traces.items()},
        boxes={name: trace.boxes for name, trace in traces.items()},
        states={name: trace.family.states for name, trace in traces.items()},
        faults=tuple(f for trace in traces.values() for f in trace.breakdowns.all_faults()),
        swaps=tuple(_pair(swap, places) for swap in swaps),
        unlogged=tuple(row for diary in diaries for row in diary.forgotten),
        mix_ups=tuple((b, d, fleet.fluids[f]) for diary in diaries for b, d, f in diary.mix_ups),
        spoiled=spoiled,
        mistyped=slips,
        shifts=shifts,
        sample_hours=hours,
    )


def _pair(swap: sampling.TrueSwap, places: dict[str, IntArray]) -> tuple[int, int]:
    (family_a, a), (family_b, b) = swap.first, swap.second
    return int(places[family_a][a]), int(places[family_b][b])
