"""Which machines work where and which boxes they have: the fleet before the first hour."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fluiddesk.simulation.plan import BoxName, MachinePlan, SimulationPlan
from fluiddesk.simulation.setting import CompartmentKindFacts, MachineKindFacts, Setting

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedMachine:
    """A machine as registered; ``site`` is the place in the fleet's list of sites."""

    code: str
    kind: str
    model: str
    serial: str
    site: int
    criticality: int
    standby_from: int
    """Proleptic ordinal, 0 for a machine that works to the end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedCompartment:
    """A box as registered; ``machine`` is the place in the fleet's list of machines."""

    machine: int
    kind: str
    position: str
    fluid: str
    family: str
    capacity_l: float
    residue_share: float
    interval_hours: float
    change_hours: float


@dataclass(frozen=True, kw_only=True)
class Roster:
    """Machines and boxes with the columns that the play works on."""

    machines: tuple[SimulatedMachine, ...]
    compartments: tuple[SimulatedCompartment, ...]
    per_year: FloatArray
    age: FloatArray
    standby: IntArray
    """First day without work; a day far ahead where there is none."""
    last_visit: IntArray
    """Fixed last visit, 0 where drawn."""
    box_machine: IntArray
    visits_between: IntArray
    phase: IntArray
    """Visits by which a box's samples are offset from the machine's last visit."""

    def box(self, name: BoxName) -> int:
        """The place of a named box.

        Raises:
            KeyError: when no machine or box of that name plays; the text names it.
        """
        for place, box in enumerate(self.compartments):
            machine = self.machines[box.machine].code
            if (machine, box.kind, box.position) == (name.machine, name.kind, name.position):
                return place
        raise KeyError(f"No box {name.kind} {name.position} on machine {name.machine}".strip())


def enrol(setting: Setting, plan: SimulationPlan, rng: np.random.Generator) -> Roster:
    """Register the plan's machines, named or drawn, with the boxes of their kinds."""
    kinds = {kind.code: kind for kind in setting.machine_kinds}
    boxes = {kind.code: kind for kind in setting.compartment_kinds}
    named = plan.script.machines or _drawn_machines(setting, plan, rng)
    machines: list[SimulatedMachine] = []
    compartments: list[SimulatedCompartment] = []
    for place, one in enumerate(named):
        kind = kinds[one.kind]
        machines.append(_machine(one, kind, rng))
        compartments.extend(_compartments(place, kind, boxes, plan.boxes_per_machine))
    return _columns(named, machines, compartments, boxes, rng)


def _drawn_machines(
    setting: Setting, plan: SimulationPlan, rng: np.random.Generator
) -> tuple[MachinePlan, ...]:
    kinds = rng.integers(0, len(setting.machine_kinds), size=plan.machines)
    sites = rng.integers(0, len(plan.sites), size=plan.machines)
    return tuple(
        MachinePlan(
            code=f"{setting.machine_kinds[kind].prefix}-{101 + place}",
            kind=setting.machine_kinds[kind].code,
            site=int(site),
        )
        for place, (kind, site) in enumerate(zip(kinds, sites, strict=True))
    )


def _machine(
    one: MachinePlan, kind: MachineKindFacts, rng: np.random.Generator
) -> SimulatedMachine:
    standby = one.standby_from.toordinal() if one.standby_from else 0
    return SimulatedMachine(
        code=one.code,
        kind=one.kind,
        model=one.model or kind.model,
        serial=f"{kind.prefix}{int(rng.integers(10_000, 99_999))}",
        site=one.site,
        criticality=int(rng.integers(2, 6)),
        standby_from=standby,
    )


def _compartments(
    machine: int, kind: MachineKindFacts, boxes: Mapping[str, CompartmentKindFacts], most: int
) -> list[SimulatedCompartment]:
    found = []
    for box in kind.boxes[: most or None]:
        facts = boxes[box.kind]
        found.append(
            SimulatedCompartment(
                machine=machine,
                kind=box.kind,
                position=box.position,
                fluid=box.fluid,
                family=facts.wear_family,
                capacity_l=box.capacity_l or facts.capacity_l,
                residue_share=facts.residue_share,
                interval_hours=facts.interval_hours,
                change_hours=facts.change_hours,
            )
        )
    return found


def _columns(
    named: tuple[MachinePlan, ...],
    machines: list[SimulatedMachine],
    compartments: list[SimulatedCompartment],
    kinds: Mapping[str, CompartmentKindFacts],
    rng: np.random.Generator,
) -> Roster:
    count = len(machines)
    drawn_age = np.round(rng.uniform(300.0, 14_000.0, size=count))
    drawn_hours = np.clip(rng.normal(2700.0, 600.0, size=count), 1200.0, 4500.0)
    between = np.array([kinds[box.kind].visits_between_samples for box in compartments])
    box_machine = np.array([box.machine for box in compartments])
    offset = rng.integers(0, 12, size=count)
    for place, one in enumerate(named):
        offset[place] = 0 if one.last_visit else offset[place]
    return Roster(
        machines=tuple(machines),
        compartments=tuple(compartments),
        per_year=np.array(
            [one.hours_per_year or h for one, h in zip(named, drawn_hours, strict=True)]
        ),
        age=np.array(
            [
                a if one.hours_at_start is None else one.hours_at_start
                for one, a in zip(named, drawn_age, strict=True)
            ]
        ),
        standby=np.array([m.standby_from or 10_000_000 for m in machines]),
        last_visit=np.array([one.last_visit.toordinal() if one.last_visit else 0 for one in named]),
        box_machine=box_machine,
        visits_between=between,
        phase=offset[box_machine] % between,
    )
