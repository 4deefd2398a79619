"""Machines and the history of their states, from files."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.intake.values import Fault
from fluiddesk.services.register_files.reading import FileRow
from fluiddesk.services.register_files.register_index import (
    MACHINE_COLUMNS,
    Record,
    records,
)
from fluiddesk.services.register_files.work import FileWork, ImportWork, plain

if TYPE_CHECKING:
    from datetime import date

_PLAIN: Final = (
    "model", "serial", "in_service_on", "state", "criticality", "cost_per_down_hour",
)  # fmt: skip
_STATE: Final = ("site_id", "id", "machine_id", "state", "since", "note")


def import_machines(work: FileWork) -> None:
    """Add machines by site and number, or change what their rows give."""
    serials = _Serials(work)
    for row in work.file.rows:
        code = row.values.get("machine", "")
        if row.is_sound and not work.lacks(row, ("machine",)) and _import_machine(work, row):
            serials.look(row)
        else:
            work.shared.doubtful_machines.add(code.casefold())


def _import_machine(work: FileWork, row: FileRow) -> bool:
    """Whether the row's machine stands in the register now."""
    site = work.site_of(row)
    code = row.values["machine"]
    if site is None:
        return False
    known = work.index.machine(site["site_id"], code)
    if isinstance(known, Fault):
        work.refuse(row, "machine", known, code)
        return False
    key = known["id"] if known else (site["site_id"], code.casefold())
    if work.is_repeated(row, key, "machine", code):
        return True
    new = {name: row.values[name] for name in _PLAIN if name in row.values}
    if "kind" in row.values:
        new["kind"] = _kind(work, row)
    if row.values.get("lasting_id") is not None:
        new["machine_uuid"] = row.values["lasting_id"]
    if known is not None:
        _change(work, known, new)
        return True
    if work.lacks(row):
        return False
    made = _add(work, SiteId(site["site_id"]), code, new)
    if "state" in new:
        work.shared.touched.states[made["id"]] = new["state"]
    # A later row may spell the same number in other letters.
    work.seen[made["id"]] = row.number
    return True


def _kind(work: FileWork, row: FileRow) -> str:
    text: str = row.values["kind"]
    found = work.index.machine_kind(text)
    if isinstance(found, str):
        return found
    fault = Fault("is no kind of machine the program knows; it is kept as written", found.remedy)
    work.warn(row, "kind", fault, text)
    return text


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
    work.desk.load("machine", MACHINE_COLUMNS, [tuple(made[one] for one in MACHINE_COLUMNS)])
    work.desk.audit.append(site, f"machine {code}", None, plain(new))
    made["state_before"] = made["state"]
    work.index.add_machine(made)
    work.count_added(site)
    return made


def _change(work: FileWork, known: Record, new: Mapping[str, Any]) -> None:
    site = SiteId(known["site_id"])
    key = {"site_id": site, "id": known["id"]}
    name = f"machine {known['code']}"
    before = work.edit("machine", key, known, new, name=name, site=site)
    if "state" in new:
        known["state_before"] = before.get("state", new["state"])
        work.shared.touched.states[known["id"]] = new["state"]
    if "kind" in before or "model" in before:
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
    for row in work.file.rows:
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
        site = SiteId(machine["site_id"])
        before = {"state": machine["state"]}
        name = f"machine {machine['code']}"
        key = {"site_id": site, "id": machine["id"]}
        work.desk.register_rows.edit("machine", key, {"state": state}, name=name)
        work.desk.audit.append(site, name, before, {"state": state})
        machine["state"] = state


def add_told_states(shared: ImportWork) -> None:
    """A line of history, from today on, for each state that machines.csv changed by itself."""
    for key, state in shared.touched.states.items():
        machine = shared.index.machine_by_id[key]
        if machine["state_before"] != state:
            new = (machine["site_id"], shared.desk.new_id(), key, state, shared.today, "")
            shared.desk.load("machine_state_history", _STATE, [new])
