"""Meters and what they showed, from files."""

from collections import Counter
from collections.abc import Mapping
from datetime import date
from itertools import pairwise
from typing import Any, Final

from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import Record, records
from fluiddesk.services.register_files.work import WHOLE_FILE, FileWork, NewReading, Origin
from fluiddesk.storage import RecordKey, RecordKind

_METER: Final = (
    "site_id", "id", "machine_id", "kind", "fitted_on", "removed_on", "start_value", "end_value",
    "hours_before", "rolls_over_at",
)  # fmt: skip
_FIELDS: Final = {"unit": "kind"}
_NAMES_TOLD: Final = 5


def import_meters(work: FileWork) -> None:
    """Add meters by machine and the day they were fitted, or change them.

    A meter on the register that the file does not name ends when the next one is fitted.
    """
    meters = _meters_of(work)
    named: set[bytes] = set()
    added: dict[bytes, list[Record]] = {}
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        machine = work.machine_of(row)
        if machine is None or _is_impossible(work, row):
            continue
        key = (machine["id"], row.values["fitted_on"])
        if work.is_repeated(row, key, "fitted_on", row.values["fitted_on"]):
            continue
        new = {_FIELDS.get(name, name): told for name, told in row.values.items() if name in _OWN}
        stands = meters.setdefault(machine["id"], [])
        known = next((one for one in stands if one["fitted_on"] == row.values["fitted_on"]), None)
        _remember(work, MachineId(machine["id"]))
        if known is None:
            made = _add(work, machine, new)
            added.setdefault(machine["id"], []).append(made)
            stands.append(made)
            known = made
        else:
            place = RecordKey(RecordKind.METER, SiteId(known["site_id"]), known["id"])
            name = f"meter of machine {machine['code']}"
            if not work.edit(place, known, new, name=name):
                named.add(known["id"])
                continue
        named.add(known["id"])
        _touch(work, MachineId(machine["id"]), since=known["fitted_on"])
        work.shared.touched.meter_rows[known["id"]] = Origin(work, row)
    for owner in added:
        _end_earlier(work, meters[owner], named)


_OWN: Final = (
    "unit", "fitted_on", "start_value", "hours_before", "rolls_over_at", "removed_on", "end_value",
)  # fmt: skip


def _meters_of(work: FileWork) -> dict[bytes, list[Record]]:
    found: dict[bytes, list[Record]] = {}
    for one in records(work.desk, "meter", _METER):
        found.setdefault(one["machine_id"], []).append(one)
    return found


def _remember(work: FileWork, machine: MachineId) -> None:
    """Keep a machine's meters as they stood before the import changed them."""
    before = work.shared.touched.meters_before
    if machine not in before:
        before[machine] = work.desk.fleet.meters(machine)


def _touch(work: FileWork, machine: MachineId, *, since: date) -> None:
    """What a machine's meters showed counts differently from a day on."""
    touched = work.shared.touched
    touched.metered.add(machine)
    touched.meters_since[machine] = min(since, touched.meters_since.get(machine, since))


def _is_impossible(work: FileWork, row: FileRow) -> bool:
    values = row.values
    fitted, removed = values["fitted_on"], values.get("removed_on")
    if removed is not None and removed < fitted:
        fault = Fault(f"lies before the meter was fitted on {fitted}", "Correct one of the dates.")
        work.refuse(row, "removed_on", fault, removed)
        return True
    most, start = values.get("rolls_over_at"), values.get("start_value", 0.0)
    if most is not None and start >= most:
        fault = Fault(
            f"is not below {most:g}, where the meter starts again", "Correct one of them."
        )
        work.refuse(row, "start_value", fault, f"{start:g}")
        return True
    return False


def _add(work: FileWork, machine: Record, new: Mapping[str, Any]) -> Record:
    made: Record = {
        "site_id": machine["site_id"],
        "id": work.desk.new_id(),
        "machine_id": machine["id"],
        "kind": "h",
        "removed_on": None,
        "start_value": 0.0,
        "end_value": None,
        "hours_before": 0.0,
        "rolls_over_at": None,
        **new,
    }
    work.desk.load("meter", _METER, [tuple(made[one] for one in _METER)])
    work.count_added(SiteId(machine["site_id"]))
    return made


def _end_earlier(work: FileWork, meters: list[Record], named: set[bytes]) -> None:
    ordered = sorted(meters, key=lambda one: one["fitted_on"])
    for meter, following in pairwise(ordered):
        if meter["removed_on"] is None and meter["id"] not in named:
            place = RecordKey(RecordKind.METER, SiteId(meter["site_id"]), meter["id"])
            code = work.index.machine_by_id[meter["machine_id"]]["code"]
            ended = {"removed_on": following["fitted_on"]}
            name = f"meter of machine {code}"
            work.desk.register.change(place, ended, version=None, name=name)


_READING: Final = ("machine_id", "read_on", "value", "source", "voided_reason")


def import_readings(work: FileWork) -> None:
    """Gather readings that are not on the register yet; they are checked and saved together.

    A machine without a meter gets an hour meter that shows its age, with a warning.
    """
    known: Counter[tuple[Any, ...]] = Counter(
        row[:4] for row in work.desk.register_rows.read("meter_reading", _READING) if row[4] is None
    )
    has_meter = {row[0] for row in work.desk.register_rows.read("meter", ("machine_id",))}
    bare: dict[bytes, list[NewReading]] = {}
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        machine = work.machine_of(row)
        if machine is None:
            continue
        source = row.values.get("source", "desk")
        key = (machine["id"], row.values["read_on"], row.values["value"], source)
        if known[key]:
            known[key] -= 1
            work.unchanged += 1
            continue
        new = NewReading(
            site=SiteId(machine["site_id"]),
            machine=MachineId(machine["id"]),
            read_on=row.values["read_on"],
            value=row.values["value"],
            source=source,
            origin=Origin(work, row),
        )
        work.shared.touched.readings.append(new)
        work.shared.touched.metered.add(new.machine)
        work.count_added(new.site)
        if machine["id"] not in has_meter:
            bare.setdefault(machine["id"], []).append(new)
    for owner, readings in bare.items():
        _fit_first_meter(work, work.index.machine_by_id[owner], readings)
    _tell_first_meters(work, [work.index.machine_by_id[owner]["code"] for owner in bare])


def _fit_first_meter(work: FileWork, machine: Record, readings: list[NewReading]) -> None:
    first = min(readings, key=lambda one: (one.read_on, one.value))
    new = {"fitted_on": first.read_on, "start_value": first.value, "hours_before": first.value}
    _remember(work, MachineId(machine["id"]))
    _touch(work, MachineId(machine["id"]), since=first.read_on)
    made = {
        "site_id": machine["site_id"],
        "id": work.desk.new_id(),
        "machine_id": machine["id"],
        "kind": "h",
        "removed_on": None,
        "end_value": None,
        "rolls_over_at": None,
        **new,
    }
    work.desk.load("meter", _METER, [tuple(made[one] for one in _METER)])


def _tell_first_meters(work: FileWork, codes: list[str]) -> None:
    if not codes:
        return
    named = ", ".join(codes[:_NAMES_TOLD])
    more = f" and {len(codes) - _NAMES_TOLD} more" if len(codes) > _NAMES_TOLD else ""
    fault = Fault(
        f"no meter is on the register for {named}{more}: each gets an hour meter that shows the "
        "machine's age",
        "Import meters.csv too where a meter was replaced, rolls over or counts kilometres.",
    )
    work.warn(WHOLE_FILE, "", fault)
