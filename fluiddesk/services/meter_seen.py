"""A meter value seen with a sample: whether it can be true, what age it gives, and kept."""

from collections.abc import Sequence
from datetime import date

import numpy as np

from fluiddesk.domain.fleet import (
    Compartment,
    Meter,
    MeterFault,
    MeterReadingError,
    meter_doubts,
    meter_faults,
)
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.derive import refresh_usage
from fluiddesk.services.sample_hours import MachineHours
from fluiddesk.storage import Desk


def age_at(desk: Desk, box: Compartment, day: date, meter: float | None) -> float | None:
    """The machine's true hours at a meter value that can be true; ``None`` without a value.

    Raises:
        MeterReadingError: the meter cannot show that on the day.
    """
    if meter is None:
        return None
    machine = next(one for one in desk.fleet.machines() if one.id == box.machine)
    meters = desk.fleet.meters(box.machine)
    known = [(one.read_on, one.value) for one in desk.fleet.meter_readings(box.machine)]
    place = f"Machine {machine.code}"
    tolerated = {one.text for one in _faults(meters, known, place)} if known else set()
    new = [
        one.text
        for one in _faults(meters, [*known, (day, meter)], place)
        if one.text not in tolerated
    ]
    if new:
        raise MeterReadingError("\n".join(new))
    return MachineHours(desk).believed(box.machine, [(day, meter)]).get((day, meter))


def doubts_at(desk: Desk, box: Compartment, day: date, meter: float | None) -> tuple[str, ...]:
    """What should be looked at of a meter value that is kept all the same."""
    if meter is None:
        return ()
    readings = desk.fleet.meter_readings(box.machine)
    own = (day, meter)
    seen = sorted({own, *((one.read_on, one.value) for one in readings)})
    found = meter_doubts(
        desk.fleet.meters(box.machine),
        read_on=np.array([at.toordinal() for at, _ in seen], dtype=np.int64),
        values=np.array([value for _, value in seen], dtype=np.float64),
    )
    return tuple(one.text[:1].upper() + one.text[1:] for one in found if seen[one.row] == own)


def keep_reading(
    desk: Desk,
    catalogue: Catalogue,
    box: Compartment,
    day: date,
    *,
    meter: float | None,
    age: float | None,
) -> None:
    """Keep the value as a reading of the machine's meter, and how much the machine runs with it."""
    if meter is None or age is None:
        return
    hours = MachineHours(desk)
    if not hours.is_known(box.machine, (day, meter)):
        desk.fleet.add_meter_readings([hours.reading(box, (day, meter), age)])
    refresh_usage(desk, catalogue, [box.machine])


def _faults(
    meters: Sequence[Meter], seen: Sequence[tuple[date, float]], place: str
) -> list[MeterFault]:
    return meter_faults(
        meters,
        read_on=np.array([day.toordinal() for day, _ in seen], dtype=np.int64),
        values=np.array([value for _, value in seen], dtype=np.float64),
        place=place,
    )
