"""A played fleet as rows of the database; identifiers are made here and shared by all tables."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.domain.identity import new_row_ids
from fluiddesk.domain.samples import SampleReason
from fluiddesk.domain.trust.drawing import trust_of_drawing
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.simulation.diary import EVENT_KINDS
from fluiddesk.simulation.records import SAMPLE_STATES, SimulatedFleet, bottle_code_of
from fluiddesk.simulation.sampling import DRAW_METHODS

SAMPLER: Final = "sampling round"


@dataclass(frozen=True, kw_only=True)
class Keys:
    """Identifiers of everything in a fleet, in the order of its columns."""

    machines: list[bytes]
    meters: list[bytes]
    compartments: list[bytes]
    samples: list[bytes]
    site_of_machine: list[int]
    machine_of_box: list[int]

    @classmethod
    def made(cls, fleet: SimulatedFleet, moment: datetime) -> "Keys":
        """New identifiers, all of one moment. Sites are numbered from 1."""
        stamp = int(moment.timestamp() * 1000)
        return cls(
            machines=new_row_ids(len(fleet.machines), milliseconds=stamp),
            meters=new_row_ids(len(fleet.meters.machine), milliseconds=stamp),
            compartments=new_row_ids(len(fleet.compartments), milliseconds=stamp),
            samples=new_row_ids(len(fleet.samples), milliseconds=stamp),
            site_of_machine=[machine.site + 1 for machine in fleet.machines],
            machine_of_box=[box.machine for box in fleet.compartments],
        )

    def site_of_box(self, box: int) -> int:
        """The site that owns a compartment."""
        return self.site_of_machine[self.machine_of_box[box]]


def machine_rows(fleet: SimulatedFleet, keys: Keys) -> Iterator[tuple[Any, ...]]:
    """Machines; an invented machine's lasting identifier is its first one."""
    for key, one in zip(keys.machines, fleet.machines, strict=True):
        state = MachineState.STANDBY if one.standby_from else MachineState.WORKING
        yield (
            one.site + 1, key, one.code, one.kind, one.model, one.serial, state.value,
            one.criticality, key,
        )  # fmt: skip


def meter_rows(fleet: SimulatedFleet, keys: Keys) -> Iterator[tuple[Any, ...]]:
    """Meters, with the identifiers of their machines."""
    meters = fleet.meters
    columns = (meters.machine, meters.fitted_on, meters.start_value, meters.hours_before,
               meters.rolls_over_at)  # fmt: skip
    for key, (machine, fitted, start, before, wrap) in zip(
        keys.meters, zip(*(column.tolist() for column in columns), strict=True), strict=True
    ):
        yield (
            keys.site_of_machine[machine], key, keys.machines[machine], "h",
            date.fromordinal(fitted), start, before, wrap or None,
        )  # fmt: skip


def compartment_rows(
    fleet: SimulatedFleet, keys: Keys, catalogue: Catalogue, planned: frozenset[str] = frozenset()
) -> Iterator[tuple[Any, ...]]:
    """Compartments, with the identifiers of their machines.

    ``planned``: machines whose fluids are changed by a plan that the register knows.
    """
    for place, (key, one) in enumerate(zip(keys.compartments, fleet.compartments, strict=True)):
        yield (
            keys.site_of_box(place), key, keys.machines[one.machine], one.kind, one.position,
            one.fluid, one.capacity_l, one.residue_share, one.interval_hours,
            catalogue.compartment_kinds[one.kind].interval_days,
            one.change_hours if fleet.machines[one.machine].code in planned else None,
        )  # fmt: skip


_AT_A_VALVE: Final = "live valve"
_FLUSH_ML: Final = 100.0
"""Run off before the real sample (common practice, no source)."""


def point_rows(
    fleet: SimulatedFleet, keys: Keys, catalogue: Catalogue, moment: datetime
) -> Iterator[tuple[Any, ...]]:
    """One sampling point for each compartment, as is usual for its kind."""
    stamp = int(moment.timestamp() * 1000)
    made = new_row_ids(len(fleet.compartments), milliseconds=stamp)
    for place, (key, one) in enumerate(zip(made, fleet.compartments, strict=True)):
        kind = catalogue.compartment_kinds[one.kind].sampling_point
        at_valve = kind == _AT_A_VALVE
        where = "sampling valve" if at_valve else "filler or level opening"
        yield (
            keys.site_of_box(place), key, keys.compartments[place], kind, where,
            "running_idle" if at_valve else "shut_down", _FLUSH_ML if at_valve else 0.0,
        )  # fmt: skip


def reading_rows(fleet: SimulatedFleet, keys: Keys, moment: datetime) -> Iterator[tuple[Any, ...]]:
    """What the meters showed."""
    rows = fleet.meter_readings
    made = new_row_ids(len(rows.machine), milliseconds=int(moment.timestamp() * 1000))
    columns = (rows.machine, rows.day, rows.shown, rows.true_hours)
    for key, (machine, day, shown, hours) in zip(
        made, zip(*(column.tolist() for column in columns), strict=True), strict=True
    ):
        yield (
            keys.site_of_machine[machine], key, keys.machines[machine], date.fromordinal(day),
            round(shown, 1), round(hours, 1), "sampler",
        )  # fmt: skip


def event_rows(fleet: SimulatedFleet, keys: Keys, moment: datetime) -> Iterator[tuple[Any, ...]]:
    """What the book says happened to each compartment."""
    rows = fleet.events
    made = new_row_ids(len(rows.compartment), milliseconds=int(moment.timestamp() * 1000))
    columns = (rows.compartment, rows.kind, rows.day, rows.true_hours, rows.litres, rows.fluid)
    for key, (box, kind, day, hours, litres, fluid) in zip(
        made, zip(*(column.tolist() for column in columns), strict=True), strict=True
    ):
        has_fluid = fluid >= 0 and EVENT_KINDS[kind] in (EventKind.FLUID_CHANGE, EventKind.TOP_UP)
        yield (
            keys.site_of_box(box), key, keys.compartments[box], EVENT_KINDS[kind].value,
            date.fromordinal(day), round(hours, 1), _known(litres),
            fleet.fluids[fluid] if has_fluid else None, Certainty.RECORDED.value, SAMPLER,
        )  # fmt: skip


TRUST_BY_METHOD: Final = np.array(
    [trust_of_drawing(method)[0] for method in DRAW_METHODS], dtype=np.int8
)
"""The trust in a sample by its place in ``DRAW_METHODS``."""

SAMPLE_COLUMNS: Final = (
    "site_id", "id", "compartment_id", "bottle_code", "reason", "state", "taken_on", "meter_value",
    "true_hours", "fluid_hours", "fill_number", "draw_method", "trust", "trust_reason", "taken_by",
)  # fmt: skip


def sample_rows(fleet: SimulatedFleet, keys: Keys) -> Iterator[tuple[Any, ...]]:
    """The bottles; columns as ``SAMPLE_COLUMNS``."""
    rows = fleet.samples
    trust = [trust_of_drawing(method) for method in DRAW_METHODS]
    columns = (rows.compartment, rows.state, rows.taken_on, rows.shown, rows.true_hours,
               rows.fluid_hours, rows.fill, rows.method)  # fmt: skip
    told = zip(*(column.tolist() for column in columns), strict=True)
    for place, (key, (box, state, day, shown, hours, age, fill, method)) in enumerate(
        zip(keys.samples, told, strict=True)
    ):
        code = bottle_code_of(rows, place)
        yield (
            keys.site_of_box(box), key, keys.compartments[box], code, SampleReason.ROUTINE.value,
            SAMPLE_STATES[state].value, date.fromordinal(day), _known(shown), round(hours, 1),
            round(max(age, 0.0), 1), fill, DRAW_METHODS[method].value, int(trust[method][0]),
            trust[method][1], SAMPLER,
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Sheets:
    """The identifiers of one family's sheets, and which is in force for its sample."""

    keys: list[bytes]
    is_current: NDArray[np.bool_]
    superseded_by: list[bytes | None]


def sheets_of(samples: NDArray[np.int64], issues: NDArray[np.int64], *, stamp: int) -> Sheets:
    """Make identifiers for sheets; of several issues of one sample the highest is in force."""
    keys = new_row_ids(len(samples), milliseconds=stamp)
    order = np.lexsort((issues, samples))
    is_last = np.diff(samples[order], append=-1) != 0
    current = np.zeros(len(samples), dtype=bool)
    current[order[is_last]] = True
    successor: list[bytes | None] = [None] * len(samples)
    for place in np.flatnonzero(~is_last).tolist():
        successor[order[place]] = keys[order[place + 1]]
    return Sheets(keys=keys, is_current=current, superseded_by=successor)


def _known(value: float) -> float | None:
    return None if np.isnan(value) else round(value, 1)
