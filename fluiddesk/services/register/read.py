"""Reads the register: the whole of it for the page, one machine with everything for its form."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import MachineId
from fluiddesk.services.register import rows
from fluiddesk.services.register.components import fit_facts
from fluiddesk.services.register.desk_lists import read_test_lists
from fluiddesk.services.register.facts import (
    CompartmentFacts,
    FluidFacts,
    MachineFacts,
    MachineRecord,
    MeterFacts,
    ReadingFacts,
    ReferenceFacts,
    RegisterFacts,
)
from fluiddesk.services.register.gaps import missing
from fluiddesk.services.register.machines import state_order
from fluiddesk.services.register.owners import earlier_machines
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, RecordKind, UsageRecord


def register_facts(place: Workplace, *, today: date) -> RegisterFacts:
    """The whole register with what is incomplete; a fixed number of statements for any fleet."""
    with place.store.reading() as desk:
        every = desk.register.all
        codes = {row["id"]: row["code"] for row in every(RecordKind.MACHINE)}
        last = {key: rows.reading_facts(row) for key, row in desk.register.last_readings().items()}
        meters = _in_place(every(RecordKind.METER))
        facts = RegisterFacts(
            sites=tuple(map(rows.site_facts, every(RecordKind.SITE))),
            machines=_machines(desk, place),
            meters=tuple(_meter(meter, last) for meter in meters),
            compartments=_compartments(desk, place, every(RecordKind.COMPARTMENT), codes),
            points=tuple(map(rows.point_facts, every(RecordKind.POINT))),
            fluids=_fluids(desk),
            batches=tuple(map(rows.batch_facts, every(RecordKind.BATCH))),
            tanks=tuple(map(rows.tank_facts, every(RecordKind.TANK))),
            laboratories=tuple(map(rows.laboratory_facts, every(RecordKind.LABORATORY))),
            test_lists=read_test_lists(desk),
            users=tuple(map(rows.user_facts, every(RecordKind.USER))),
        )
    return replace(facts, missing=missing(facts, today=today))


def machine_record(place: Workplace, machine: MachineId, *, today: date) -> MachineRecord:
    """Everything about one machine, voided readings and retired boxes included.

    Raises:
        NotFoundError: when there is no such machine.
    """
    _ = today
    with place.store.reading() as desk:
        found = {one.id: one for one in _machines(desk, place)}
        if machine not in found:
            raise NotFoundError("The machine is not in this register any more. Read it again.")
        whose = desk.register.all
        seen = whose(RecordKind.METER_READING, machine_id=machine)
        readings = [rows.reading_facts(one) for one in seen]
        readings.sort(key=lambda one: (one.read_on or date.min, one.id))
        code = found[machine].code
        boxes = _compartments(
            desk, place, whose(RecordKind.COMPARTMENT, machine_id=machine), {machine: code}
        )
        names = {one.id: one.name for one in boxes}
        fits = [fit for box in boxes for fit in whose(RecordKind.FIT, compartment_id=box.id)]
        meters = sorted(
            whose(RecordKind.METER, machine_id=machine),
            key=lambda one: (one["fitted_on"], one["id"]),
        )
        states = sorted(whose(RecordKind.STATE, machine_id=machine), key=state_order)
        return MachineRecord(
            machine=found[machine],
            states=tuple(map(rows.state_facts, states)),
            meters=tuple(_meter_of(one, readings) for one in meters),
            readings=tuple(readings),
            compartments=boxes,
            points=tuple(
                rows.point_facts(point)
                for box in boxes
                for point in whose(RecordKind.POINT, compartment_id=box.id)
            ),
            fits=tuple(
                fit_facts(fit, machine_code=code, compartment_name=names[fit["compartment_id"]])
                for fit in sorted(fits, key=lambda one: (one["fitted_on"], one["id"]))
            ),
            earlier=tuple(found[one] for one in earlier_machines(desk, machine)),
        )


def _machines(desk: Desk, place: Workplace) -> tuple[MachineFacts, ...]:
    every = desk.register.all
    sites = {row["site_id"]: row["name"] for row in every(RecordKind.SITE)}
    owner = {row["id"]: row["site_id"] for row in every(RecordKind.MACHINE)}
    since: dict[bytes, date] = {}
    for row in sorted(every(RecordKind.STATE), key=state_order):
        since[row["machine_id"]] = row["since"]
    usage: Mapping[MachineId, UsageRecord] = desk.fleet.usage()
    moves = every(RecordKind.TRANSFER)
    went = {row["machine_id"]: sites.get(row["to_site_id"], "") for row in moves}
    came = {row["to_machine_id"]: sites.get(owner.get(row["machine_id"], 0), "") for row in moves}
    answer = []
    for row in sorted(every(RecordKind.MACHINE), key=lambda one: (one["site_id"], one["code"])):
        used = usage.get(row["id"])
        answer.append(
            rows.machine_facts(
                row,
                place.catalogue,
                state_since=since.get(row["id"]),
                site_name=sites.get(row["site_id"], ""),
                hours_now=used.hours_now if used else None,
                hours_as_of=used.as_of if used else None,
                came_from=came.get(row["id"], ""),
                went_to=went.get(row["id"], ""),
            )
        )
    return tuple(answer)


def _compartments(
    desk: Desk,
    place: Workplace,
    found: Sequence[Mapping[str, Any]],
    codes: Mapping[bytes, str],
) -> tuple[CompartmentFacts, ...]:
    fitted = desk.register.all(RecordKind.FIT, removed_on=None)
    serials = {row["compartment_id"]: row["serial"] for row in fitted}
    kinds = place.catalogue.compartment_kinds
    order = {code: place for place, code in enumerate(kinds)}
    ordered = sorted(
        found, key=lambda one: (one["site_id"], codes.get(one["machine_id"], ""),
                                order.get(one["kind"], len(order)), one["position"])
    )  # fmt: skip
    # Few different names stand for many boxes.
    name = cache(place.catalogue.box_name)
    return tuple(
        rows.compartment_facts(
            row,
            name=name(row["kind"], row["position"]),
            machine_code=codes.get(row["machine_id"], ""),
            serial=serials.get(row["id"], ""),
        )
        for row in ordered
    )


def _in_place(found: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The meter that counts now of each machine: the one fitted last."""
    newest: dict[bytes, Mapping[str, Any]] = {}
    for row in sorted(found, key=lambda one: (one["fitted_on"], one["id"])):
        newest[row["machine_id"]] = row
    return list(newest.values())


def _meter(row: Mapping[str, Any], last: Mapping[bytes, ReadingFacts]) -> MeterFacts:
    reading = last.get(row["machine_id"])
    if reading and reading.read_on and reading.read_on < row["fitted_on"]:
        reading = None  # it was read on the meter before
    return rows.meter_facts(row, reading)


def _meter_of(row: Mapping[str, Any], readings: Sequence[ReadingFacts]) -> MeterFacts:
    until = row["removed_on"] or date.max
    seen = [
        one
        for one in readings
        if one.voided_reason is None
        and one.read_on is not None
        and row["fitted_on"] <= one.read_on < until
    ]
    return rows.meter_facts(row, seen[-1] if seen else None)


def _fluids(desk: Desk) -> tuple[FluidFacts, ...]:
    references: dict[str, list[ReferenceFacts]] = {}
    found = desk.register.all(RecordKind.REFERENCE)
    for row in sorted(found, key=lambda one: (one["valid_from"], one["number"])):
        references.setdefault(row["fluid_code"], []).append(
            ReferenceFacts(
                number=row["number"],
                valid_from=row["valid_from"],
                source=row["source"],
                values=json.loads(row["reference_values"]),
            )
        )
    return tuple(
        FluidFacts(
            code=row["code"],
            name=row["name"],
            fluid_class=row["fluid_class"],
            viscosity_grade=row["viscosity_grade"],
            density_kg_per_l=row["density_kg_per_l"],
            retired=row["retired"],
            references=tuple(references.get(row["code"], ())),
            version=row["version"],
        )
        for row in desk.register.all(RecordKind.FLUID)
    )
