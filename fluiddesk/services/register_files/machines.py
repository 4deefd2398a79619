"""Machines and the history of their states, from files."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import (
    Record,
    records,
)
from fluiddesk.services.register_files.work import FileWork, ImportWork
from fluiddesk.storage import RecordKey, RecordKind

if TYPE_CHECKING:
    from datetime import date

_PLAIN: Final = (
    "model", "serial", "in_service_on", "state", "criticality", "cost_per_down_hour",
)  # fmt: skip
_STATE: Final = ("site_id", "id", "machine_id", "state", "since", "note")


def import_machines(work: FileWork) -> None:
    """Add machines by site and number, or change what their rows give."""
    serials = _Serials(work)
    for row in work.rows():
        code = row.values.get("machine", "")
        if row.is_sound and not work.lacks(row, ("machine",)) and _import_machine(work, row):
            serials.look(row)
        else:
            work.shared.doubtful_machines.add(code.casefold())


def _import_machine(work: FileWork, row: FileRow) -> bool:
    """Whether the row's machine stands in the register now."""
    site = work.site_of(row)
    new = _values(work, row)
    if site is None or new is None:
        return False
    code = row.values["machine"]
    known = work.index.machine(site["site_id"], code)
    if isinstance(known, Fault):
        work.refuse(row, "machine", known, code)
        return False
    key = known["id"] if known else (site["site_id"], code.casefold())
    if work.is_repeated(row, key, "machine", code):
        return True
    if known is not None:
        _change(work, known, new)
    elif not work.lacks(row):
        made = _add(work, SiteId(site["site_id"]), code, new)
        # A later row may spell the same number in other letters.
        work.seen[made["id"]] = row.number
        return True
    return known is not None


def _values(work: FileWork, row: FileRow) -> dict[str, Any] | None:
    """What the row says of the machine; nothing where its kind is refused."""
    new = {name: row.values[name] for name in _PLAIN if name in row.values}
    if row.values.get("lasting_id") is not None:
        new["machine_uuid"] = row.values["lasting_id"]
    if "kind" in row.values:
        kind = work.index.machine_kind(row.values["kind"])
        if isinstance(kind, Fault):
            work.refuse(row, "kind", kind, row.values["kind"])
            return None
        new["kind"] = kind
    return new


def _add(work: FileWork, site: SiteId, code: str, new: Mapping[str, Any]) -> Record:
    key = work.desk.new_id()
    made: Record = {
        "site_id": site,
        "id": key,
        "code": code,
        "model": "",
        "serial": "",
        "in_service_on": None,
        "state": MachineState.WORKING.value,
        "criticality": 3,
        "cost_per_down_hour": None,
        "machine_uuid": key,
        **new,
    }
    told = {column: value for column, value in made.items() if column not in ("site_id", "id")}
    place = RecordKey(RecordKind.MACHINE, site, key)
    work.desk.register.add(place, told, name=f"machine {code}")
    made["state_before"] = made["state"]
    if "state" in new:
        work.shared.touched.states[key] = new["state"]
    work.index.add_machine(made)
    work.count_added(site)
    return made


def _change(work: FileWork, known: Record, new: Mapping[str, Any]) -> None:
    key = RecordKey(RecordKind.MACHINE, SiteId(known["site_id"]), known["id"])
    known["state_before"] = known["state"]
    changed = work.edit(key, known, new, name=f"machine {known['code']}")
    if "state" in new:
        work.shared.touched.states[known["id"]] = new["state"]
    if "kind" in changed or "model" in changed:
        boxes = work.index.boxes_of.get(known["id"], [])
        work.shared.touched.judged.update(CompartmentId(box["id"]) for box in boxes)


class _Serials:
    """Tells where two machines carry one serial."""

    def __init__(self, work: FileWork) -> None:
        self._work = work
        self._owner: dict[str, str] = {}
        for machine in work.index.machines.values():
            if machine["serial"]:
                self._owner.setdefault(machine["serial"], machine["code"])

    def look(self, row: FileRow) -> None:
        serial, code = row.values.get("serial", ""), row.values["machine"]
        if not serial:
            return
        owner = self._owner.setdefault(serial, code)
        if owner.casefold() != code.casefold():
            fault = Fault(f"is the serial of machine {owner} too", "Compare both plates.")
            self._work.warn(row, "serial", fault, serial)


def import_states(work: FileWork) -> None:
    """Add changes of state; the newest one is the machine's state now."""
    stands = records(work.desk, "machine_state_history", _STATE)
    known = {(one["machine_id"], one["since"], one["state"], one["note"]) for one in stands}
    newest: dict[bytes, tuple[date, FileRow, str]] = {}
    for row in work.rows():
        if not row.is_sound or work.lacks(row):
            continue
        machine = work.machine_of(row)
        if machine is None:
            continue
        since, state = row.values["since"], row.values["state"]
        key = (machine["id"], since, state, row.values.get("note", ""))
        if work.is_repeated(row, key, "machine", machine["code"]):
            continue
        if machine["id"] not in newest or newest[machine["id"]][0] <= since:
            newest[machine["id"]] = (since, row, state)
        if key in known:
            work.unchanged += 1
            continue
        new = (machine["site_id"], work.desk.new_id(), machine["id"], state, since, key[3])
        work.desk.load("machine_state_history", _STATE, [new])
        work.count_added(SiteId(machine["site_id"]))
    held = {one["machine_id"]: one["since"] for one in sorted(stands, key=lambda one: one["since"])}
    for owner, (since, row, state) in newest.items():
        if owner not in held or held[owner] <= since:
            _settle_state(work, work.index.machine_by_id[owner], row, state)


def _settle_state(work: FileWork, machine: Record, row: FileRow, state: str) -> None:
    """The newest change of state is the machine's state, unless machines.csv says another one."""
    told = work.shared.touched.states.pop(machine["id"], None)
    if told is not None and told != state:
        fault = Fault(
            f"is the newest state of machine {machine['code']} here, but its row in machines.csv "
            f"says {told}",
            "Write the same state in both.",
        )
        work.refuse(row, "state", fault, state)
    elif machine["state"] != state:
        key = RecordKey(RecordKind.MACHINE, SiteId(machine["site_id"]), machine["id"])
        name = f"machine {machine['code']}"
        work.desk.register.change(key, {"state": state}, version=None, name=name)
        machine["state"] = state


def add_told_states(shared: ImportWork) -> None:
    """A line of history, from today on, for each state that machines.csv changed by itself."""
    for key, state in shared.touched.states.items():
        machine = shared.index.machine_by_id[key]
        if machine["state_before"] != state:
            new = (machine["site_id"], shared.desk.new_id(), key, state, shared.today, "")
            shared.desk.load("machine_state_history", _STATE, [new])
