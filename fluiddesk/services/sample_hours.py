"""The machine's true hours and the fluid's hours at samples that no plan foresaw."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import Certainty, Compartment, EventKind, Meter, true_hours
from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.domain.trust.meter_chain import believable
from fluiddesk.storage import Desk, EventRecord, MeterReadingRecord, MeterRecord

Seen = tuple[date, float]
"""What a meter showed on a day."""


@dataclass(slots=True)
class MachineHours:
    """The meters of machines, read once for each machine."""

    desk: Desk
    _meters: dict[MachineId, list[MeterRecord]] = field(default_factory=dict)
    _known: dict[MachineId, list[Seen]] = field(default_factory=dict)

    def believed(self, machine: MachineId, seen: Iterable[Seen]) -> Mapping[Seen, float]:
        """The true hours at those values that can be true beside each other and the register's."""
        meters = [one.meter for one in self._meters_of(machine)]
        known = self._known[machine]
        new = sorted(set(seen) - set(known))
        together = [*known, *new]
        if not meters or not together:
            return {}
        hours = _hours(meters, together)
        days = np.array([day.toordinal() for day, _ in together], dtype=np.int64)
        kept = believable(days, hours)
        return {one: float(hours[at]) for at, one in enumerate(together) if kept[at]}

    def is_known(self, machine: MachineId, seen: Seen) -> bool:
        """Whether the register has a meter reading of that day."""
        self._meters_of(machine)
        return any(day == seen[0] for day, _ in self._known[machine])

    def reading(self, box: Compartment, seen: Seen, age: float) -> MeterReadingRecord:
        """A meter value as it is kept, under the meter that was in place that day."""
        meters = self._meters_of(box.machine)
        place = sum(one.meter.fitted_on <= seen[0] for one in meters) - 1
        return MeterReadingRecord(
            site=box.site,
            machine=box.machine,
            read_on=seen[0],
            value=seen[1],
            true_hours=age,
            source="sampler",
            meter=meters[max(place, 0)].id,
        )

    def _meters_of(self, machine: MachineId) -> list[MeterRecord]:
        if machine not in self._meters:
            self._meters[machine] = self.desk.fleet.meter_records(machine)
            readings = self.desk.fleet.meter_readings(machine)
            self._known[machine] = [(one.read_on, one.value) for one in readings]
        return self._meters[machine]


def _hours(meters: Sequence[Meter], seen: Sequence[Seen]) -> NDArray[np.float64]:
    """True hours at each value; before the first meter was fitted, as if it had always counted."""
    days = np.array([day.toordinal() for day, _ in seen], dtype=np.int64)
    values = np.array([value for _, value in seen], dtype=np.float64)
    hours = np.empty(len(values))
    early = days < meters[0].fitted_on.toordinal()
    for part, chosen in ((early, [_without_roll_over(meters[0])]), (~early, list(meters))):
        if part.any():
            hours[part] = true_hours(chosen, read_on=days[part], values=values[part])
    return hours


def _without_roll_over(meter: Meter) -> Meter:
    return Meter(
        fitted_on=meter.fitted_on,
        start_value=meter.start_value,
        hours_before=meter.hours_before,
        unit=meter.unit,
    )


def fill_at(
    events: Sequence[EventRecord], *, day: date, hours: float | None, printed: float | None
) -> tuple[int, float | None]:
    """The number of the fill on a day, and the hours it had run.

    Args:
        events: the box's events in force, by day.
        day: when the sample was drawn; a change on that day came after it, as is usual.
        hours: the machine's true hours then.
        printed: what the laboratory was told of the fluid's hours, used where no change is known.
    """
    changes = [
        event
        for event in events
        if event.kind is EventKind.FLUID_CHANGE
        and event.certainty is not Certainty.DENIED
        and event.happened_on < day
    ]
    since = changes[-1].true_hours if changes else None
    if since is not None and hours is not None and hours >= since:
        return len(changes), hours - since
    return len(changes), printed


def events_of(
    desk: Desk, compartments: Iterable[CompartmentId]
) -> dict[CompartmentId, list[EventRecord]]:
    """The events in force of some boxes."""
    return {key: desk.fleet.events(key) for key in compartments}
