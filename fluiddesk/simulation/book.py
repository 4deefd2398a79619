"""What was written down: samples with meters and ages, meter readings, events."""

from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.despatch import Despatch, send
from fluiddesk.simulation.hours import MeterRows
from fluiddesk.simulation.plan import SimulationPlan
from fluiddesk.simulation.records import EventRows, ReadingRows, SampleRows
from fluiddesk.simulation.run import FamilyTrace, World
from fluiddesk.simulation.sampling import Drawn

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

_METER_GUESS_H = 25.0
_YEARS = np.array([date(year, 1, 1).toordinal() for year in range(1990, 2100)])


def laboratories_of(plan: SimulationPlan) -> tuple[str, ...]:
    """The laboratories that the sites send to, each once."""
    return tuple(dict.fromkeys(site.laboratory for site in plan.sites))


class SampleIndex:
    """Where each family's samples stand in the fleet's list, which is sorted by day and box."""

    def __init__(self, traces: dict[str, FamilyTrace]) -> None:
        day = np.concatenate([trace.day for trace in traces.values()])
        box = np.concatenate([trace.compartment for trace in traces.values()])
        self.order: IntArray = np.lexsort((box, day))
        place = np.empty(len(self.order), dtype=np.int64)
        place[self.order] = np.arange(len(self.order))
        ends = np.cumsum([len(trace.day) for trace in traces.values()])
        self.places: dict[str, IntArray] = dict(
            zip(traces, np.split(place, ends[:-1]), strict=True)
        )


class Book:
    """What was written down about the samples when they were drawn and sent."""

    def __init__(self, world: World, meters: MeterRows, missing: BoolArray) -> None:
        """``missing`` tells at which visits nobody wrote the meter: shape (machines, visits)."""
        self._world, self._meters, self._missing = world, meters, missing

    def samples(
        self,
        traces: dict[str, FamilyTrace],
        drawn: dict[str, Drawn],
        order: IntArray,
        streams: dict[str, np.random.Generator],
    ) -> SampleRows:
        """All samples as columns in the fleet's order."""
        every, rng = tuple(traces.values()), streams["book"]
        box = np.concatenate([trace.compartment for trace in every])[order]
        visit = np.concatenate([trace.visit for trace in every])[order]
        day = np.concatenate([trace.day for trace in every])[order]
        true = np.concatenate([trace.hours for trace in every])[order]
        changed_at = np.concatenate([trace.changed_at for trace in every])[order]
        machine = self._world.roster.box_machine[box]
        estimated = self._missing[machine, visit]
        hours = self._known_hours(machine, visit, true, streams["book"])
        fluid_hours = np.maximum(hours - np.round(changed_at), 0.0)
        sent = self._send(day, machine, streams["despatch"])
        shown = np.round(self._meters.shown(machine, day, true))
        return SampleRows(
            compartment=box,
            taken_on=day,
            shown=np.where(estimated, np.nan, shown),
            true_hours=hours,
            hours_estimated=estimated,
            fluid_hours=fluid_hours,
            label_age=self._labels(fluid_hours, rng),
            fill=np.concatenate([trace.fill for trace in every])[order],
            method=np.concatenate([one.method for one in drawn.values()])[order],
            state=sent.state,
            laboratory=sent.laboratory,
            received_on=sent.received_on,
            reported_on=sent.reported_on,
            bottle=_running_numbers(day),
        )

    def _known_hours(
        self, machine: IntArray, visit: IntArray, true: FloatArray, rng: np.random.Generator
    ) -> FloatArray:
        """Rounded machine age; an estimate, the same for a whole visit, where no meter was read."""
        off = rng.normal(0.0, _METER_GUESS_H, size=self._missing.shape) * self._missing
        hours: FloatArray = np.round(true + off[machine, visit])
        return hours

    def _labels(self, fluid_hours: FloatArray, rng: np.random.Generator) -> FloatArray:
        count = len(fluid_hours)
        wrong = rng.random(count) < self._world.plan.rates.wrong_label_age
        other = np.round(fluid_hours * rng.uniform(0.3, 1.9, size=count))
        labels: FloatArray = np.where(wrong, other, fluid_hours)
        return labels

    def _send(self, day: IntArray, machine: IntArray, rng: np.random.Generator) -> Despatch:
        plan = self._world.plan
        names = laboratories_of(plan)
        of_site = np.array([names.index(site.laboratory) for site in plan.sites], dtype=np.int8)
        sent = send(
            day=day,
            machine=machine,
            laboratory=of_site[self._world.site[machine]],
            last_day=plan.last_day.toordinal(),
            lost=plan.rates.lost_bottle,
            rng=rng,
        )
        codes = [one.code for one in self._world.roster.machines]
        for code, since in plan.script.unanswered:
            sent.hold((machine == codes.index(code)) & (day >= since.toordinal()))
        return sent

    def readings(self) -> ReadingRows:
        """The meter readings of the visits, by machine and day, without those nobody wrote."""
        visits = self._world.visits
        machine, visit = np.nonzero(visits.valid & ~self._missing)
        day, hours = visits.day[machine, visit], visits.hours[machine, visit]
        shown = np.round(self._meters.shown(machine, day, hours))
        return ReadingRows(machine=machine, day=day, shown=shown, true_hours=np.round(hours))


def events_of(traces: dict[str, FamilyTrace]) -> EventRows:
    """The recorded events of all families, by box and day."""
    parts = [trace.diary.columns() for trace in traces.values()]
    box, kind, day, hours, litres, fluid = (
        np.concatenate(column) for column in zip(*parts, strict=True)
    )
    order = np.lexsort((hours, box))
    return EventRows(
        compartment=box[order].astype(np.int64),
        kind=kind[order].astype(np.int64),
        day=day[order].astype(np.int64),
        true_hours=np.round(hours[order], 0).astype(np.float64),
        litres=litres[order].astype(np.float64),
        fluid=fluid[order].astype(np.int64),
    )


def _running_numbers(day: IntArray) -> IntArray:
    """1, 2, 3, ... anew in every calendar year; ``day`` must rise."""
    year = np.searchsorted(_YEARS, day, side="right")
    starts = np.searchsorted(year, year, side="left")
    numbers: IntArray = np.arange(len(day)) - starts + 1
    return numbers
