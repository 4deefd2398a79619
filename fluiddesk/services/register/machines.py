"""Machines and the history of their states."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from fluiddesk.domain.fleet import MachineState
from fluiddesk.domain.identity import MachineId, SiteId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.derive import FLEET_ONLY, rejudge
from fluiddesk.services.register.facts import NEW, MachineFacts
from fluiddesk.services.register.saving import Faults, Saved, write_record
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKey, RecordKind

_JUDGED_BY = {"kind", "model"}
"""What of a machine decides its limits."""


def save_machine(place: Workplace, facts: MachineFacts, *, today: date, moment: datetime) -> Saved:
    """Add a machine (version 0) or change one; see ``put_machine``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_machine(desk, place.catalogue, facts, today=today)


def put_machine(desk: Desk, catalogue: Catalogue, facts: MachineFacts, *, today: date) -> Saved:
    """Save a machine in an open transaction; the key in the answer is its identifier.

    A change of ``state`` holds from ``state_since`` on, or from today where that is left as it was.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    machine = facts.id or MachineId(desk.new_id())
    key = RecordKey(RecordKind.MACHINE, facts.site, machine)
    states = _states(desk, machine)
    since = _since(facts, states, today=today)
    _refuse_faults(desk, catalogue, facts, since=since, states=states, today=today)
    name = f"machine {facts.code.strip()}"
    values = _values(facts)
    if facts.version == NEW:
        values |= {"machine_uuid": facts.machine_uuid or machine}
    changed = write_record(desk, key, values, version=facts.version, name=name)
    if "state" in changed:
        add_state(desk, {**values, "site_id": facts.site, "id": machine}, since=since)
    if facts.version == NEW or not _JUDGED_BY & set(changed):
        return Saved(changes=FLEET_ONLY, key=machine)
    boxes = [one.id for one in desk.fleet.compartments_of(machine)]
    return Saved(changes=rejudge(desk, catalogue, boxes, moment=desk.moment), key=machine)


def set_state(
    place: Workplace,
    machine: MachineId,
    state: MachineState,
    *,
    since: date,
    note: str = "",
    today: date,
    moment: datetime,
) -> Saved:
    """Put a machine to work, on standby, down, or note that it is sold, from a day on.

    Raises:
        RegisterFaultsError: when the day lies ahead, or before the state it has.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = machine_row(desk, machine)
        states = _states(desk, machine)
        faults = Faults(f"Machine {row['code']}")
        _check_since(faults, since, states, today=today)
        faults.refuse()
        key = RecordKey(RecordKind.MACHINE, row["site_id"], machine)
        change_state(desk, key, row, state, since=since, note=note)
        return Saved(changes=FLEET_ONLY, key=machine)


def change_state(
    desk: Desk,
    key: RecordKey,
    row: Mapping[str, Any],
    state: MachineState,
    *,
    since: date,
    note: str,
) -> None:
    """Write a machine's new state and its history in an open transaction."""
    name = f"machine {row['code']}"
    desk.register.change(key, {"state": state.value}, version=row["version"], name=name)
    add_state(desk, {**row, "state": state.value}, since=since, note=note)


def add_state(desk: Desk, row: Mapping[str, Any], *, since: date, note: str = "") -> None:
    """Add the state in a machine's row to the history of its states."""
    key = RecordKey(RecordKind.STATE, SiteId(row["site_id"]), desk.new_id())
    values = {"machine_id": row["id"], "state": row["state"], "since": since, "note": note}
    desk.register.add(key, values, name=f"state of machine {row['code']}")


def machine_row(desk: Desk, machine: MachineId) -> dict[str, Any]:
    """A machine's record by the names of its columns.

    Raises:
        NotFoundError: when there is none.
    """
    found = desk.register.all(RecordKind.MACHINE, id=machine)
    site = SiteId(found[0]["site_id"] if found else 0)
    return desk.register.row(RecordKey(RecordKind.MACHINE, site, machine), name="The machine")


def state_order(row: Mapping[str, Any]) -> tuple[date, bytes]:
    """States by day; of one day the one noted later holds: identifiers rise with the moment."""
    return row["since"], row["id"]


def _values(facts: MachineFacts) -> dict[str, Any]:
    cost = facts.cost_per_down_hour
    return {
        "code": facts.code.strip(),
        "kind": facts.kind,
        "model": facts.model.strip(),
        "serial": facts.serial.strip(),
        "in_service_on": facts.in_service_on,
        "state": facts.state.value,
        "criticality": facts.criticality,
        "cost_per_down_hour": None if cost is None else float(cost),
    }


def _states(desk: Desk, machine: MachineId) -> list[Mapping[str, Any]]:
    found = desk.register.all(RecordKind.STATE, machine_id=machine)
    return sorted(found, key=state_order)


def _since(facts: MachineFacts, states: list[Mapping[str, Any]], *, today: date) -> date:
    if not states:
        return facts.state_since or facts.in_service_on or today
    held = states[-1]["since"]
    return today if facts.state_since in (None, held) else (facts.state_since or today)


def _refuse_faults(
    desk: Desk,
    catalogue: Catalogue,
    facts: MachineFacts,
    *,
    since: date,
    states: list[Mapping[str, Any]],
    today: date,
) -> None:
    code = facts.code.strip()
    faults = Faults(f"Machine {code}" if code else "The machine")
    faults.needs_text("code", code, "The machine's number")
    others = [one for one in desk.fleet.machines() if one.id != facts.id]
    if any(one.site == facts.site and one.code.casefold() == code.casefold() for one in others):
        text = f'There is a machine "{code}" on this site already. Give another number.'
        faults.add("code", code, text)
    if all(one.site != facts.site for one in desk.fleet.sites()):
        faults.add("site", facts.site, "The site is not in this register. Add the site first.")
    faults.needs_choice("kind", facts.kind, list(catalogue.machine_kinds), "Machine kind")
    faults.needs_text("model", facts.model, "The model")
    faults.needs_number("criticality", facts.criticality, "Criticality", low=1, high=5)
    faults.needs_number(
        "cost_per_down_hour", facts.cost_per_down_hour, "Cost per down hour", optional=True
    )
    faults.not_ahead("in_service_on", facts.in_service_on, "of going into service", today=today)
    is_new_state = not states or states[-1]["state"] != facts.state.value
    if is_new_state:
        _check_since(faults, since, states, today=today)
    faults.refuse()


def _check_since(
    faults: Faults, since: date, states: list[Mapping[str, Any]], *, today: date
) -> None:
    faults.not_ahead("state_since", since, "of the new state", today=today)
    if states and since < states[-1]["since"]:
        held = states[-1]
        text = (
            f"The new state would begin on {since.isoformat()}, before the one it has "
            f"({held['state']} since {held['since'].isoformat()}). Correct the day."
        )
        faults.add("state_since", since, text)
