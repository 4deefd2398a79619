"""What is wrong with an event as it is keyed: refused outright, or asked about."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

import numpy as np

from fluiddesk.domain.fleet import Certainty, Compartment, EventKind, meter_faults
from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.services.register.boxes import hours_on
from fluiddesk.services.sample_hours import MachineHours
from fluiddesk.storage import Desk

NAMES: Final = {
    EventKind.FLUID_CHANGE: "Fluid change",
    EventKind.TOP_UP: "Top-up",
    EventKind.FILTER_CHANGE: "Filter change",
    EventKind.COMPONENT_FIT: "Component fitted",
    EventKind.REPAIR: "Repair",
    EventKind.STAND_DOWN: "Stand-down",
}
_LARGE_TOP_UP: Final = 0.5
"""A top-up of more of the box than this may have been a change (common practice, no source)."""
_SOME_MORE: Final = 1.25
"""A fill may need this much of the register's litres: coolers and lines (common practice)."""
_HOURS_OFF: Final = 50.0
"""So far from the meter readings around the day, hours given are asked about."""
_LONG_AGO: Final = 366

Doubts = tuple[list[str], list[str]]
"""What is refused, and what is asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EventEntry:
    """An event as keyed.

    Either ``meter_value`` (what the meter showed) or ``hours`` (the machine's true hours) may be
    given; without both the hours are read off the meter readings around the day. ``litres`` of a
    change or a top-up; ``fluid`` its code, the box's own where left out. ``serial``, ``condition``
    and ``hours_before`` are those of a component. ``is_confirmed``: what was asked is meant so.
    """

    kind: EventKind
    happened_on: date
    meter_value: float | None = None
    hours: float | None = None
    litres: float | None = None
    fluid: str | None = None
    serial: str = ""
    condition: str = "new"
    hours_before: float = 0.0
    note: str = ""
    is_confirmed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class EventCheck:
    """What is wrong with an entry, and what is asked of whoever keys it.

    ``refused`` keeps it from being saved; ``asks`` only until it is confirmed. ``hours`` are the
    machine's hours it would be saved with.
    """

    refused: tuple[str, ...] = ()
    asks: tuple[str, ...] = ()
    hours: float | None = None

    @property
    def may_save(self) -> bool:
        """Whether nothing stands against saving it, once confirmed."""
        return not self.refused


def checked(
    desk: Desk, compartment: CompartmentId, entry: EventEntry, *, today: date
) -> EventCheck:
    """What is wrong with an entry in an open reading or transaction."""
    box = desk.fleet.compartment(compartment)
    refused, asks = _about_the_day(desk, box, entry, today=today)
    hours, wrong, odd = _hours(desk, box, entry)
    refused += wrong
    asks += odd
    for check in (_about_litres, _about_fluid):
        wrong, odd = check(desk, box, entry)
        refused += wrong
        asks += odd
    if entry.kind is EventKind.COMPONENT_FIT and not entry.serial.strip():
        refused.append("A component is known by its serial. Give it.")
    if entry.kind is EventKind.REPAIR and not entry.note.strip():
        refused.append("Say in the note what was repaired.")
    return EventCheck(refused=tuple(refused), asks=tuple(asks), hours=hours)


def _about_the_day(desk: Desk, box: Compartment, entry: EventEntry, *, today: date) -> Doubts:
    day = entry.happened_on
    name = NAMES[entry.kind]
    if day > today:
        return [f"{day} lies ahead. Give the day on which it was done."], []
    asks = []
    if day < today - timedelta(days=_LONG_AGO):
        asks.append(f"{day} is more than a year ago. Is the day right?")
    near = [
        one
        for one in desk.fleet.events(box.id)
        if one.kind is entry.kind
        and one.certainty is not Certainty.DENIED
        and abs((one.happened_on - day).days) <= 1
    ]
    if near:
        litres = f" of {near[0].litres:g} L" if near[0].litres else ""
        asks.append(f"{name}{litres} is on record for {near[0].happened_on}. Was this another one?")
    return [], asks


def _hours(
    desk: Desk, box: Compartment, entry: EventEntry
) -> tuple[float | None, list[str], list[str]]:
    """The machine's true hours at the event, what is refused and what is asked."""
    expected = _expected_hours(desk, box.machine, entry.happened_on)
    if entry.meter_value is not None:
        why = _meter_fault(desk, box.machine, entry.happened_on, entry.meter_value)
        if why:
            return None, [why], []
        seen = (entry.happened_on, entry.meter_value)
        believed = MachineHours(desk).believed(box.machine, [seen])
        if seen not in believed:
            text = (
                f"A meter of {entry.meter_value:g} on {entry.happened_on} does not fit the "
                "readings around it. Correct it, or record a meter replacement."
            )
            return None, [text], []
        return believed[seen], [], []
    if entry.hours is None:
        return expected, [], []
    if not np.isfinite(entry.hours) or entry.hours < 0:
        return None, [f"{entry.hours:g} are no machine hours. Correct them."], []
    asks = []
    if expected is not None and abs(entry.hours - expected) > _HOURS_OFF:
        asks.append(
            f"By its meter the machine had about {expected:.0f} h on {entry.happened_on}, "
            f"not {entry.hours:.0f}. Are the hours right?"
        )
    return entry.hours, [], asks


def _expected_hours(desk: Desk, machine: MachineId, day: date) -> float | None:
    """By the readings around the day; past the last one by how much the machine runs."""
    readings = desk.fleet.meter_readings(machine)
    found = hours_on(desk, machine, day)
    if found is None or day <= readings[-1].read_on:
        return found
    usage = desk.fleet.usage().get(machine)
    return found + (day - readings[-1].read_on).days * usage.hours_per_day if usage else found


def _meter_fault(desk: Desk, machine: MachineId, day: date, value: float) -> str:
    """Why a meter cannot have shown a value on a day, or nothing."""
    meters = desk.fleet.meters(machine)
    if not meters:
        return "The machine has no meter on record. Give its hours, or record the meter first."
    readings = [one for one in desk.fleet.meter_readings(machine) if one.read_on <= day]
    days = np.array([*(one.read_on.toordinal() for one in readings), day.toordinal()])
    values = np.array([*(one.value for one in readings), value], dtype=np.float64)
    faults = meter_faults(meters, read_on=days, values=values, place="The machine")
    own = [one for one in faults if one.row == len(values) - 1]
    return own[0].text if own else ""


def _about_litres(desk: Desk, box: Compartment, entry: EventEntry) -> Doubts:
    del desk
    litres = entry.litres
    if litres is None:
        missing = "Give the litres topped up: without them the wear cannot be worked out."
        return ([missing] if entry.kind is EventKind.TOP_UP else []), []
    if entry.kind not in (EventKind.TOP_UP, EventKind.FLUID_CHANGE):
        return [f"{NAMES[entry.kind]} has no litres. Leave them out, or log a top-up too."], []
    if not np.isfinite(litres) or litres <= 0:
        return [f"{litres:g} litres cannot be. Correct them."], []
    return _top_up(box, litres) if entry.kind is EventKind.TOP_UP else _change(box, litres)


def _top_up(box: Compartment, litres: float) -> Doubts:
    if litres > box.capacity_l:
        text = f"The box holds {box.capacity_l:g} L; {litres:g} L is more. Correct the litres."
        return [text], []
    if litres > _LARGE_TOP_UP * box.capacity_l:
        share = 100 * litres / box.capacity_l
        return [], [f"{litres:g} L is {share:.0f} % of the box. Was it a fluid change?"]
    return [], []


def _change(box: Compartment, litres: float) -> Doubts:
    if litres > _SOME_MORE * box.capacity_l:
        return [], [f"The register says {box.capacity_l:g} L, not {litres:g}. Is that right?"]
    return [], []


def _about_fluid(desk: Desk, box: Compartment, entry: EventEntry) -> Doubts:
    if entry.fluid is None or entry.fluid == box.fluid:
        return [], []
    fluids = {one.code: one for one in desk.fleet.fluids()}
    if entry.fluid not in fluids:
        return [f'There is no fluid "{entry.fluid}" on the register. Choose one of it.'], []
    own = fluids.get(box.fluid)
    new = fluids[entry.fluid]
    other = f"The register says {own.name if own else box.fluid} for this box, not {new.name}."
    if own is not None and own.fluid_class != new.fluid_class:
        return [], [f"{other} It is of another class of fluid. Was it really filled in?"]
    return [], [f"{other} Was it really filled in?"]
