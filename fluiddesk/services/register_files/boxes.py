"""Compartments and their sampling points, from files."""

from collections.abc import Mapping
from typing import Any, Final

from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register.boxes import change_faults
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import BOX_COLUMNS, Record, records
from fluiddesk.services.register_files.work import FileWork
from fluiddesk.storage import RecordKey, RecordKind

_PLAIN: Final = (
    "capacity_l", "filter_micron", "interval_hours", "interval_days",
    "change_interval_hours", "change_interval_days", "criticality", "retired",
)  # fmt: skip


def import_compartments(work: FileWork) -> None:
    """Add compartments by machine, kind and position, or change what their rows give."""
    for row in work.rows():
        if not (row.is_sound and _import_box(work, row)):
            work.shared.doubtful_machines.add(row.values.get("machine", "").casefold())


def _import_box(work: FileWork, row: FileRow) -> bool:
    """Whether the row's compartment stands in the register now."""
    machine, kind = work.machine_of(row), work.kind_of_box(row)
    if machine is None or kind is None:
        return False
    position = row.values.get("position", "")
    key = (machine["id"], kind, position)
    told = f"{kind} {position}".strip()
    if work.is_repeated(row, key, "compartment", told):
        return True
    new = _values(work, row)
    if new is None:
        return False
    known = work.index.box(machine, kind, position)
    if known is not None:
        return _change(work, machine, known, new, row)
    if work.lacks(row, ("fluid",)) | _lacks_capacity(work, row, kind):
        return False
    return _add(work, machine, (kind, position), new, row)


def _values(work: FileWork, row: FileRow) -> dict[str, Any] | None:
    """What a row gives of a compartment; ``None`` where it names what is not on the register."""
    new = {name: row.values[name] for name in _PLAIN if name in row.values}
    if row.values.get("residue_share") is not None:
        new["residue_share"] = row.values["residue_share"]
    if "fluid" in row.values:
        fluid = work.fluid_of(row)
        if fluid is None:
            return None
        new["fluid_code"] = fluid
    if "test_list" in row.values:
        code = row.values["test_list"]
        new["test_list_code"] = code or None
        if code and code not in work.index.test_lists:
            remedy = "Import it in test_lists.csv too, or leave the cell empty."
            work.refuse(row, "test_list", Fault("is no test list of the register", remedy), code)
            return None
    return new


def _lacks_capacity(work: FileWork, row: FileRow, kind: str) -> bool:
    if "capacity_l" in row.values:
        return False
    usual = work.shared.catalogue.compartment_kinds.get(kind)
    hint = f" Often it is about {usual.capacity_l:g} litres." if usual else ""
    fault = Fault(
        "a compartment needs its capacity", f"Write the litres from the machine's manual.{hint}"
    )
    work.refuse(row, "capacity_l", fault)
    return True


def _add(
    work: FileWork, machine: Record, place: tuple[str, str], new: Mapping[str, Any], row: FileRow
) -> bool:
    kind, position = place
    usual = work.shared.catalogue.compartment_kinds.get(kind)
    made: Record = {
        "site_id": machine["site_id"],
        "id": work.desk.new_id(),
        "machine_id": machine["id"],
        "kind": kind,
        "position": position,
        "residue_share": usual.residue_share if usual else 0.1,
        "filter_micron": None,
        "interval_hours": usual.interval_hours if usual else None,
        "interval_days": usual.interval_days if usual else None,
        "change_interval_hours": None,
        "change_interval_days": None,
        "criticality": 3,
        "test_list_code": None,
        "retired": False,
        **new,
    }
    if _has_change_slip(work, row, made):
        return False
    if made["interval_hours"] is not None:
        made["interval_hours"] = float(made["interval_hours"])
    work.desk.load("compartment", BOX_COLUMNS, [tuple(made[one] for one in BOX_COLUMNS)])
    work.index.add_box(made)
    work.count_added(SiteId(machine["site_id"]))
    if made["interval_hours"] is None and made["interval_days"] is None:
        fault = Fault("has no interval and never falls due", "Write hours or days, if it should.")
        told = f"{machine['code']} {kind} {position}".strip()
        work.warn(row, "interval_hours", fault, told)
    return True


def _has_change_slip(work: FileWork, row: FileRow, box: Mapping[str, Any]) -> bool:
    """Whether fluid changes would come far more often than samples; noted where they would."""
    found = change_faults(box)
    for one in found:
        fault = Fault(
            "is less than a tenth of the sampling interval", "Correct one of the two intervals."
        )
        work.refuse(row, one.field, fault, one.value)
    return bool(found)


def _change(
    work: FileWork, machine: Record, known: Record, new: Mapping[str, Any], row: FileRow
) -> bool:
    if _has_change_slip(work, row, {**known, **new}):
        return False
    key = RecordKey(RecordKind.COMPARTMENT, SiteId(machine["site_id"]), known["id"])
    box = f"{known['kind']} {known['position']}".strip()
    name = f"compartment {box} of machine {machine['code']}"
    changed = work.edit(key, known, new, name=name)
    if "fluid_code" in changed or "retired" in changed:
        work.shared.touched.judged.add(CompartmentId(known["id"]))
    return True


_POINT: Final = (
    "site_id", "id", "compartment_id", "kind", "location", "marking", "run_state", "flush_ml",
    "tube_mm", "hazards", "retired",
)  # fmt: skip
_POINT_PLAIN: Final = ("kind", "run_state", "flush_ml", "tube_mm", "hazards", "retired")


def import_points(work: FileWork) -> None:
    """Add sampling points by compartment, location and marking, or change what their rows give."""
    stands = {
        (one["compartment_id"], one["location"], one["marking"]): one
        for one in records(work.desk, "sampling_point", _POINT)
    }
    for row in work.rows():
        if not row.is_sound or work.lacks(row, ("location",)):
            continue
        box = work.box_of(row)
        if box is None:
            continue
        location, marking = row.values["location"], row.values.get("marking", "")
        key = (box["id"], location, marking)
        if work.is_repeated(row, key, "location", location):
            continue
        new = {name: row.values[name] for name in _POINT_PLAIN if name in row.values}
        known = stands.get(key)
        if known is not None:
            code = work.index.machine_by_id[box["machine_id"]]["code"]
            place = RecordKey(RecordKind.POINT, SiteId(box["site_id"]), known["id"])
            work.edit(place, known, new, name=f"sampling point {location} of machine {code}")
        elif not work.lacks(row):
            _add_point(work, box, new, location=location, marking=marking)


def _add_point(
    work: FileWork, box: Record, new: Mapping[str, Any], *, location: str, marking: str
) -> None:
    made: Record = {
        "site_id": box["site_id"],
        "id": work.desk.new_id(),
        "compartment_id": box["id"],
        "location": location,
        "marking": marking,
        "run_state": "running_idle",
        "tube_mm": None,
        "hazards": "",
        "retired": False,
        **new,
    }
    work.desk.load("sampling_point", _POINT, [tuple(made[one] for one in _POINT)])
    work.count_added(SiteId(box["site_id"]))
