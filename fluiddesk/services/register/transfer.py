"""A machine goes to another site: a record of its own there, its history readable through it.

The site that owns a record never changes. The new record has the same ``machine_uuid``; the old one
stays with its samples, as sold, so that it owes no more.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from fluiddesk.domain.fleet import Certainty, EventKind, MachineState
from fluiddesk.domain.identity import CompartmentId, MachineId, SiteId
from fluiddesk.services.register.boxes import hours_on
from fluiddesk.services.register.derive import FLEET_ONLY, refresh_usage
from fluiddesk.services.register.machines import add_state, change_state, machine_row
from fluiddesk.services.register.owners import earlier_boxes
from fluiddesk.services.register.saving import Faults, Saved
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, EventRecord, RecordKey, RecordKind

CARRIED_NOTE = "before the transfer"
"""Marks the fluid change that went along, so that a history over both sites tells it once."""

_NOT_CARRIED = {"site_id", "id", "created_at", "created_by", "version", "changed_at", "changed_by"}


@dataclass(frozen=True, slots=True, kw_only=True)
class _Move:
    """One machine on its way: the old record, the new one and what both share."""

    desk: Desk
    old: Mapping[str, Any]
    new: MachineId
    to: SiteId
    on: date
    hours: float | None

    @property
    def site(self) -> SiteId:
        return SiteId(self.old["site_id"])

    @property
    def machine(self) -> MachineId:
        return MachineId(self.old["id"])

    @property
    def code(self) -> str:
        return str(self.old["code"])


def transfer_machine(
    place: Workplace,
    machine: MachineId,
    *,
    to: SiteId,
    on: date,
    note: str = "",
    today: date,
    moment: datetime,
) -> Saved:
    """Hand a machine over to another site, with its boxes, points, meter and fitted components.

    Args:
        place: where to work.
        machine: the record to hand over.
        to: the site that takes it.
        on: the day from which it owns the machine.
        note: why, in words.
        today: the day of the desk.
        moment: when it is saved.

    Returns:
        The identifier of the new record as key.

    Raises:
        RegisterFaultsError: naming what does not fit.
        NotFoundError: when there is no such machine.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        row = machine_row(desk, machine)
        sites = {one.site: one.name for one in desk.fleet.sites()}
        _refuse_faults(desk, row, to=to, on=on, sites=sites, today=today)
        hours = hours_on(desk, machine, on)
        new = MachineId(desk.new_id())
        move = _Move(desk=desk, old=row, new=new, to=to, on=on, hours=hours)
        _copy_machine(move)
        _copy_meter(move)
        _copy_boxes(move)
        key = RecordKey(RecordKind.MACHINE, move.site, machine)
        told = f"transferred to {sites[to]}"
        change_state(desk, key, row, MachineState.SOLD, since=on, note=told)
        link = {"machine_id": machine, "to_site_id": to, "to_machine_id": new, "moved_on": on}
        transfer = RecordKey(RecordKind.TRANSFER, move.site, desk.new_id())
        name = f"transfer of machine {move.code} to {sites[to]}"
        desk.register.add(transfer, {**link, "note": note.strip()}, name=name)
        # Until the first sample there, its boxes stand as they stood here.
        desk.condition.carry_on([one.id for one in desk.fleet.compartments_of(machine)])
        refresh_usage(desk, place.catalogue, [new])
        return Saved(changes=FLEET_ONLY, key=new)


def earlier_compartments(place: Workplace, compartment: CompartmentId) -> tuple[CompartmentId, ...]:
    """The records of the same box at sites that owned the machine before, oldest first."""
    with place.store.reading() as desk:
        return earlier_boxes(desk, compartment)


def _refuse_faults(
    desk: Desk,
    row: Mapping[str, Any],
    *,
    to: SiteId,
    on: date,
    sites: Mapping[SiteId, str],
    today: date,
) -> None:
    faults = Faults(f"Machine {row['code']}")
    faults.not_ahead("on", on, "of the transfer", today=today)
    if to not in sites:
        faults.add("to", to, "The site is not in this register. Add the site first.")
    if to == row["site_id"]:
        faults.add("to", sites.get(to, to), "The machine is there already. Choose another site.")
    if desk.register.all(RecordKind.TRANSFER, machine_id=row["id"]):
        faults.add("to", "", "It was handed over already. Hand over the record that goes on.")
    for one in desk.fleet.machines():
        if one.site == to and one.code.casefold() == row["code"].casefold():
            text = f'{sites[to]} has a machine "{one.code}" already. Give one another number first.'
            faults.add("code", one.code, text)
    days = [one["since"] for one in desk.register.all(RecordKind.STATE, machine_id=row["id"])]
    if days and on < max(days):
        text = f"Its state is noted until {max(days).isoformat()}. Give that day or a later one."
        faults.add("on", on, text)
    faults.refuse()


def _carried(row: Mapping[str, Any], **changes: Any) -> dict[str, Any]:
    kept = {name: value for name, value in row.items() if name not in _NOT_CARRIED}
    return {**kept, **changes}


def _copy_machine(move: _Move) -> None:
    key = RecordKey(RecordKind.MACHINE, move.to, move.new)
    move.desk.register.add(key, _carried(move.old), name=f"machine {move.code}")
    taken = {**move.old, "site_id": move.to, "id": move.new}
    add_state(move.desk, taken, since=move.on, note="taken over")


def _copy_meter(move: _Move) -> None:
    """The meter counts on: at the new site from the last reading at the old one."""
    register = move.desk.register
    meters = register.all(RecordKind.METER, machine_id=move.machine)
    counting = sorted(meters, key=lambda one: (one["fitted_on"], one["id"]))[-1:]
    readings = move.desk.fleet.meter_readings(move.machine)
    for meter in counting:
        last = [one for one in readings if one.read_on >= meter["fitted_on"]][-1:]
        value = last[0].value if last else meter["start_value"]
        since = last[0].read_on if last else meter["fitted_on"]
        hours = last[0].true_hours if last else meter["hours_before"]
        source = last[0].source if last else "desk"
        name = f"meter of machine {move.code}"
        old = RecordKey(RecordKind.METER, move.site, meter["id"])
        ended = {"removed_on": max(move.on, meter["fitted_on"]), "end_value": value}
        register.change(old, ended, version=None, name=name)
        made = RecordKey(RecordKind.METER, move.to, move.desk.new_id())
        starts = {"machine_id": move.new, "fitted_on": since, "removed_on": None}
        figures = {"start_value": value, "end_value": None, "hours_before": hours}
        register.add(made, _carried(meter, **starts, **figures), name=name)
        if not readings:
            continue
        # What it showed last, or when it was fitted: the new record knows the machine's age too.
        key = RecordKey(RecordKind.METER_READING, move.to, move.desk.new_id())
        seen = {"machine_id": move.new, "meter_id": made.key, "read_on": since, "value": value}
        values = {**seen, "true_hours": hours, "source": source}
        register.add(key, values, name=f"meter reading of machine {move.code}")


def _copy_boxes(move: _Move) -> None:
    register = move.desk.register
    for row in register.all(RecordKind.COMPARTMENT, machine_id=move.machine, retired=False):
        new = CompartmentId(move.desk.new_id())
        made = RecordKey(RecordKind.COMPARTMENT, move.to, new)
        name = " ".join(filter(None, (move.code, row["kind"], row["position"])))
        register.add(made, _carried(row, machine_id=move.new), name=name)
        box = CompartmentId(row["id"])
        for point in register.all(RecordKind.POINT, compartment_id=box, retired=False):
            key = RecordKey(RecordKind.POINT, move.to, move.desk.new_id())
            values = _carried(point, compartment_id=new)
            register.add(key, values, name=f"sampling point {point['kind']} of {name}")
        _copy_fit(move, box, new)
        _copy_fill(move, box, new)


def _copy_fit(move: _Move, box: CompartmentId, made: CompartmentId) -> None:
    register = move.desk.register
    for fit in register.all(RecordKind.FIT, compartment_id=box):
        if fit["removed_on"] is not None:
            continue
        name = f"component {fit['serial']}"
        key = RecordKey(RecordKind.FIT, move.site, fit["id"])
        day = max(move.on, fit["fitted_on"])
        ended = {"removed_on": day, "removed_at_hours": move.hours, "reason": "transferred"}
        register.change(key, ended, version=None, name=name)
        start = fit["fitted_at_hours"]
        ran = 0.0 if start is None or move.hours is None else max(0.0, move.hours - start)
        values = {
            "compartment_id": made,
            "fitted_on": day,
            "fitted_at_hours": move.hours,
            "hours_before": fit["hours_before"] + ran,
            "condition": "used",
        }
        register.add(RecordKey(RecordKind.FIT, move.to, move.desk.new_id()),
                     _carried(fit, **values), name=name)  # fmt: skip


def _copy_fill(move: _Move, box: CompartmentId, made: CompartmentId) -> None:
    """The fill goes along: hours on it are counted from its own change, wherever that was."""
    changes = [
        event
        for event in move.desk.fleet.events(box)
        if event.kind is EventKind.FLUID_CHANGE and event.certainty is not Certainty.DENIED
    ]
    for event in changes[-1:]:
        move.desk.fleet.add_event(
            EventRecord(
                site=move.to,
                compartment=made,
                kind=event.kind,
                happened_on=event.happened_on,
                certainty=event.certainty,
                source=event.source,
                true_hours=event.true_hours,
                litres=event.litres,
                fluid=event.fluid,
                note=CARRIED_NOTE,
            )
        )
