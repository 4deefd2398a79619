"""What happened to compartments, and which components sat in them, from files."""

from collections import Counter
from collections.abc import Mapping
from datetime import date
from itertools import pairwise
from typing import Any, Final

import numpy as np

from fluiddesk.domain.fleet import EventKind, Meter, true_hours
from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import Record, records
from fluiddesk.services.register_files.work import FileWork
from fluiddesk.storage import MeterReadingRecord, RecordKey, RecordKind

_EVENT: Final = (
    "site_id", "id", "compartment_id", "kind", "happened_on", "true_hours", "litres",
    "fluid_code", "certainty", "source", "note", "superseded_by",
)  # fmt: skip
_TOLD: Final = _EVENT[2:-1]
_USES_FLUID: Final = (EventKind.FLUID_CHANGE.value, EventKind.TOP_UP.value)


def import_events(work: FileWork) -> None:
    """Add events that are not on the register yet. An event that stands is never changed."""
    stands = records(work.desk, "compartment_event", _EVENT)
    known: Counter[tuple[Any, ...]] = Counter(
        tuple(one[name] for name in _TOLD) for one in stands if one["superseded_by"] is None
    )
    first: dict[tuple[Any, ...], int] = {}
    made = []
    hours = _HoursOnTheDay(work)
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        box = work.box_of(row)
        if box is None:
            continue
        new = _event(work, row, box, hours)
        if new is None:
            continue
        key = tuple(new[name] for name in _TOLD)
        earlier = first.setdefault(key, row.number)
        if known[key]:
            known[key] -= 1
            work.unchanged += 1
            continue
        if earlier != row.number:
            fault = Fault(f"is the same event as in row {earlier}", "Take one out if it was one.")
            work.warn(row, "kind", fault, new["kind"])
        new["id"] = work.desk.new_id()
        made.append(tuple(new[name] for name in _EVENT))
        work.count_added(SiteId(box["site_id"]))
    work.desk.load("compartment_event", _EVENT, made)


def _event(
    work: FileWork, row: FileRow, box: Record, hours: "_HoursOnTheDay"
) -> dict[str, Any] | None:
    """What the row says of the event; nothing where it is refused."""
    values = row.values
    fluid = work.fluid_of(row) if values.get("fluid") else None
    if values.get("fluid") and fluid is None:
        return None
    if "fluid" not in work.file.given and values["kind"] in _USES_FLUID:
        fluid = box["fluid_code"]
    litres = values.get("litres")
    if litres is not None and litres > box["capacity_l"]:
        fault = Fault(
            f"is more than the {box['capacity_l']:g} litres the compartment holds",
            "Compare litres and capacity.",
        )
        work.warn(row, "litres", fault, f"{litres:g}")
    return {
        "site_id": box["site_id"],
        "compartment_id": box["id"],
        "kind": values["kind"],
        "happened_on": values["happened_on"],
        "true_hours": _age(work, row, box, hours),
        "litres": litres,
        "fluid_code": fluid,
        "certainty": values.get("certainty", "recorded"),
        "source": values.get("source", "desk"),
        "note": values.get("note", ""),
        "superseded_by": None,
    }


def _age(work: FileWork, row: FileRow, box: Record, hours: "_HoursOnTheDay") -> float | None:
    """The machine's hours at an event: given, from what its meter showed, or from its readings.

    Readings around the day are looked at where the file has no column ``machine_hours`` at all.
    """
    day, shown = row.values["happened_on"], row.values.get("meter_value")
    age: float | None = row.values.get("machine_hours")
    if age is not None:
        return age
    if shown is None:
        is_told = "machine_hours" in work.file.given
        return None if is_told else hours.around(box["machine_id"], day)
    age = hours.at(box["machine_id"], day, shown)
    if age is None:
        fault = Fault("the machine has no meter", "Import meters.csv too.")
        work.refuse(row, "meter_value", fault, f"{shown:g}")
    return age


class _HoursOnTheDay:
    """Turns days and what a meter showed into the machine's age, beside its meter readings."""

    def __init__(self, work: FileWork) -> None:
        self._fleet = work.desk.fleet
        self._known: dict[bytes, tuple[list[Meter], list[MeterReadingRecord]]] = {}

    def at(self, machine: bytes, day: date, value: float) -> float | None:
        """The machine's true hours when its meter showed a value; ``None`` without a meter."""
        meters, readings = self._of(machine)
        if not meters:
            return None
        days = [*(one.read_on.toordinal() for one in readings), day.toordinal()]
        read_on = np.array(days, dtype=np.int64)
        shown = np.array([*(one.value for one in readings), value], dtype=np.float64)
        order = np.lexsort((shown, read_on))
        ages = true_hours(meters, read_on=read_on[order], values=shown[order])
        return float(ages[int(np.flatnonzero(order == len(readings))[0])])

    def around(self, machine: bytes, day: date) -> float | None:
        """The machine's true hours between its readings; ``None`` where it has none."""
        _, readings = self._of(machine)
        if not readings:
            return None
        days = [one.read_on.toordinal() for one in readings]
        return float(np.interp(day.toordinal(), days, [one.true_hours for one in readings]))

    def _of(self, machine: bytes) -> tuple[list[Meter], list[MeterReadingRecord]]:
        if machine not in self._known:
            key = MachineId(machine)
            self._known[machine] = (self._fleet.meters(key), self._fleet.meter_readings(key))
        return self._known[machine]


_FIT: Final = (
    "site_id", "id", "compartment_id", "serial", "fitted_on", "fitted_at_hours", "hours_before",
    "condition", "removed_on", "removed_at_hours", "reason",
)  # fmt: skip
_FIT_PLAIN: Final = (
    "fitted_at_hours", "hours_before", "condition", "removed_on", "removed_at_hours", "reason",
)  # fmt: skip


def import_fits(work: FileWork) -> None:
    """Add components fitted to compartments, or what their rows add to them."""
    stands = records(work.desk, "component_fit", _FIT)
    known = {(one["compartment_id"], one["serial"], one["fitted_on"]): one for one in stands}
    rows: dict[bytes, FileRow] = {}
    for row in work.rows():
        if not row.is_sound or work.lacks(row, ("serial", "fitted_on")):
            continue
        box = work.box_of(row)
        if box is None or _is_backwards(work, row):
            continue
        key = (box["id"], row.values["serial"], row.values["fitted_on"])
        if work.is_repeated(row, key, "serial", row.values["serial"]):
            continue
        new = {name: row.values[name] for name in _FIT_PLAIN if name in row.values}
        one = known.get(key)
        if one is None:
            one = _add_fit(work, box, key, new)
            stands.append(one)
        else:
            place = RecordKey(RecordKind.FIT, SiteId(one["site_id"]), one["id"])
            work.edit(place, one, new, name=f"component {key[1]}")
        rows[one["id"]] = row
    _refuse_two_places(work, stands, rows)
    _refuse_two_in_one(work, stands, rows)


def _is_backwards(work: FileWork, row: FileRow) -> bool:
    fitted, removed = row.values["fitted_on"], row.values.get("removed_on")
    if removed is None or removed >= fitted:
        return False
    fault = Fault(f"lies before it was fitted on {fitted}", "Correct one of the dates.")
    work.refuse(row, "removed_on", fault, removed)
    return True


def _add_fit(
    work: FileWork, box: Record, key: tuple[bytes, str, date], new: Mapping[str, Any]
) -> Record:
    made: Record = {
        "site_id": box["site_id"],
        "id": work.desk.new_id(),
        "compartment_id": key[0],
        "serial": key[1],
        "fitted_on": key[2],
        "fitted_at_hours": None,
        "hours_before": 0.0,
        "condition": "new",
        "removed_on": None,
        "removed_at_hours": None,
        "reason": "",
        **new,
    }
    work.desk.load("component_fit", _FIT, [tuple(made[one] for one in _FIT)])
    work.count_added(SiteId(box["site_id"]))
    return made


def _refuse_two_places(work: FileWork, fits: list[Record], rows: Mapping[bytes, FileRow]) -> None:
    """A component sits in one compartment at a time."""
    for before, after in _overlaps(fits, "serial"):
        if before["compartment_id"] != after["compartment_id"]:
            row = rows.get(after["id"]) or rows.get(before["id"])
            other = before if after["id"] in rows else after
            if row is not None:
                fault = Fault(
                    f"sits in {_place(work, other)} since {other['fitted_on']} already",
                    "Write the day it was removed there, or correct the serial.",
                )
                work.refuse(row, "serial", fault, before["serial"])


def _refuse_two_in_one(work: FileWork, fits: list[Record], rows: Mapping[bytes, FileRow]) -> None:
    """A compartment holds one component at a time."""
    for before, after in _overlaps(fits, "compartment_id"):
        row = rows.get(after["id"]) or rows.get(before["id"])
        if row is not None:
            fault = Fault(
                f"is fitted to {_place(work, after)} while {before['serial']} is still in it",
                f"Write the day {before['serial']} was removed.",
            )
            work.refuse(row, "serial", fault, after["serial"])


def _overlaps(fits: list[Record], column: str) -> list[tuple[Record, Record]]:
    """Pairs with one value in a column of which the first was not out when the second went in."""
    groups: dict[Any, list[Record]] = {}
    for one in fits:
        groups.setdefault(one[column], []).append(one)
    found = []
    for group in groups.values():
        ordered = sorted(group, key=lambda one: (one["fitted_on"], one["removed_on"] or date.max))
        found += [
            (before, after)
            for before, after in pairwise(ordered)
            if before["removed_on"] is None or before["removed_on"] > after["fitted_on"]
        ]
    return found


def _place(work: FileWork, fit: Record) -> str:
    for machine, boxes in work.index.boxes_of.items():
        for box in boxes:
            if box["id"] == fit["compartment_id"]:
                code = work.index.machine_by_id[machine]["code"]
                name = work.shared.catalogue.box_name(box["kind"], box["position"])
                return f"{code}, {name}"
    return "another compartment"
