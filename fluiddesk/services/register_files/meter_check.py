"""New meter readings and meters held against what can be true, then saved with true hours."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from fluiddesk.domain.fleet import (
    Meter,
    MeterFault,
    meter_doubts,
    meter_faults,
    meter_in_place,
    true_hours,
)
from fluiddesk.domain.identity import MachineId
from fluiddesk.intake.problems import Problem
from fluiddesk.intake.values import Fault
from fluiddesk.services.register.derive import refresh_true_hours, refresh_usage
from fluiddesk.services.register_files.work import ImportWork, NewReading
from fluiddesk.storage import MeterReadingRecord, MeterRecord

_STORED: Final = ("machine_id", "id", "read_on", "value", "voided_reason")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Readings:
    """All readings of one machine by day: those that stand, then the new ones.

    ``new`` is ``None`` where a reading stands already; ``key`` is its identifier then.
    """

    new: list[NewReading | None]
    key: list[bytes]
    day: NDArray[np.int64]
    value: NDArray[np.float64]


def settle_meters(shared: ImportWork) -> None:
    """Check the readings and meters of every machine touched, and save what is new."""
    touched = shared.touched
    if not touched.metered:
        return
    stands: dict[bytes, list[tuple[Any, ...]]] = {}
    for row in shared.desk.register_rows.read("meter_reading", _STORED):
        if row[0] in touched.metered and row[4] is None:
            stands.setdefault(row[0], []).append(row)
    new: dict[bytes, list[NewReading]] = {}
    for reading in touched.readings:
        new.setdefault(reading.machine, []).append(reading)
    for machine in sorted(touched.metered):
        readings = _gathered(stands.get(machine, []), new.get(machine, []))
        _settle_machine(shared, machine, readings)
    if not shared.refusals:
        refresh_usage(shared.desk, shared.catalogue, sorted(touched.metered))


def _gathered(stands: Sequence[tuple[Any, ...]], new: Sequence[NewReading]) -> _Readings:
    day = [row[2].toordinal() for row in stands] + [one.read_on.toordinal() for one in new]
    value = [row[3] for row in stands] + [one.value for one in new]
    # Readings of one day come in the order of what they show: a file knows no time of day.
    order = np.lexsort((np.array(value, dtype=np.float64), np.array(day, dtype=np.int64)))
    fresh: list[NewReading | None] = [*(None for _ in stands), *new]
    keys = [row[1] for row in stands] + [b""] * len(new)
    return _Readings(
        new=[fresh[place] for place in order.tolist()],
        key=[keys[place] for place in order.tolist()],
        day=np.array(day, dtype=np.int64)[order],
        value=np.array(value, dtype=np.float64)[order],
    )


def _settle_machine(shared: ImportWork, machine: MachineId, readings: _Readings) -> None:
    fitted = shared.desk.fleet.meter_records(machine)
    meters = [record.meter for record in fitted]
    if not meters:
        return
    refused = shared.refusals
    _tell_faults(shared, machine, fitted, readings)
    if shared.refusals > refused:
        return
    hours = true_hours(meters, read_on=readings.day, values=readings.value)
    which = meter_in_place(meters, readings.day)
    shared.desk.fleet.add_meter_readings(
        MeterReadingRecord(
            site=one.site,
            machine=machine,
            read_on=one.read_on,
            value=one.value,
            true_hours=float(hours[place]),
            source=one.source,
            meter=fitted[int(which[place])].id,
        )
        for place, one in enumerate(readings.new)
        if one is not None
    )
    since = shared.touched.meters_since.get(machine)
    if since is not None:
        shared.touched.judged |= refresh_true_hours(shared.desk, machine, since=since)


def _tell_faults(
    shared: ImportWork, machine: MachineId, fitted: Sequence[MeterRecord], readings: _Readings
) -> None:
    """Every reading or meter of a file that cannot be true, or that makes an older one untrue."""
    code = shared.index.machine_by_id[machine]["code"]
    meters = [record.meter for record in fitted]
    tolerated = _faulty_before(shared, machine, meters, readings)
    faults = meter_faults(meters, read_on=readings.day, values=readings.value, place="")
    for fault in faults:
        told = fault.text.split(": ", 1)[1]
        wrong, _, remedy = told.partition(". ")
        if fault.row < 0:
            _tell_meter(shared, fitted, fault, Fault(wrong, remedy))
            continue
        new = readings.new[fault.row]
        if new is not None:
            why = Fault(f"cannot be true of machine {code}: {wrong}", remedy)
            new.origin.file.refuse(new.origin.row, "value", why, f"{new.value:.10g}")
        elif readings.key[fault.row] not in tolerated:
            _tell_conflict(shared, machine, code, Fault(wrong, remedy))
    _tell_doubts(meters, readings)


def _tell_doubts(meters: Sequence[Meter], readings: _Readings) -> None:
    """New readings that are true only if they were read late in the day: to be looked at."""
    for doubt in meter_doubts(meters, read_on=readings.day, values=readings.value):
        new = readings.new[doubt.row]
        if new is not None:
            told, _, remedy = doubt.text.partition(". ")
            why = Fault(f"is more than full days can give: {told}", remedy)
            new.origin.file.warn(new.origin.row, "value", why, f"{new.value:.10g}")


def _faulty_before(
    shared: ImportWork, machine: MachineId, meters: Sequence[Meter], readings: _Readings
) -> set[bytes]:
    """The readings that could not be true before this import either; they are not its fault."""
    before = shared.touched.meters_before.get(machine, list(meters))
    stood = np.array([place for place, one in enumerate(readings.new) if one is None], dtype=int)
    if not before or not len(stood):
        return set()
    faults = meter_faults(before, read_on=readings.day[stood], values=readings.value[stood])
    return {readings.key[int(stood[fault.row])] for fault in faults if fault.row >= 0}


def _tell_meter(
    shared: ImportWork, fitted: Sequence[MeterRecord], fault: MeterFault, why: Fault
) -> None:
    """The age at which a meter was fitted does not fit what the meter before it showed."""
    for record in fitted:
        origin = shared.touched.meter_rows.get(record.id)
        if origin is not None and record.meter.hours_before == fault.value:
            wrong = f"cannot be true: {why.wrong}"
            origin.file.refuse(
                origin.row, "hours_before", Fault(wrong, why.remedy), f"{fault.value:.10g}"
            )
            return
    machine = fitted[0].machine
    _tell_conflict(shared, machine, shared.index.machine_by_id[machine]["code"], why)


def _tell_conflict(shared: ImportWork, machine: MachineId, code: str, why: Fault) -> None:
    """A reading on the register cannot be true any more beside what the files say."""
    touched = shared.touched
    origin = next((one.origin for one in touched.readings if one.machine == machine), None)
    if origin is None:
        origin = next(
            one
            for key, one in touched.meter_rows.items()
            if key in {record.id for record in shared.desk.fleet.meter_records(machine)}
        )
    wrong = f"the files do not fit machine {code} as it is on the register: {why.wrong}"
    problem = Problem(wrong=wrong, remedy=why.remedy)
    shared.note(origin.file.file.name, problem)
