"""Compartments, their sampling points and what happened to them."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, Final

import numpy as np

from fluiddesk.domain.fleet import EventKind
from fluiddesk.domain.identity import CompartmentId, MachineId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.derive import FLEET_ONLY, rejudge
from fluiddesk.services.register.facts import (
    NEW,
    CompartmentFacts,
    EventFacts,
    FieldFault,
    PointFacts,
)
from fluiddesk.services.register.saving import Faults, Saved, write_record
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, EventRecord, RecordKey, RecordKind

POINT_KINDS: Final = (
    "live valve",
    "tube",
    "tube via dipstick",
    "tube via filler",
    "drain",
    "line probe",
)
RUN_STATES: Final = ("running_idle", "shut_down")
_JUDGED_BY: Final = {"fluid_code", "kind", "position", "retired"}
_LEAST_CHANGE_SHARE: Final = 0.1
"""Of the sampling interval; shorter change intervals are slips (common practice, no source)."""
_INTERVALS: Final = (
    "interval_hours", "interval_days", "change_interval_hours", "change_interval_days",
)  # fmt: skip
_USES_FLUID: Final = (EventKind.FLUID_CHANGE, EventKind.TOP_UP)


def save_compartment(
    place: Workplace, facts: CompartmentFacts, *, today: date, moment: datetime
) -> Saved:
    """Add a compartment (version 0) or change one; see ``put_compartment``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_compartment(desk, place.catalogue, facts, today=today)


def put_compartment(
    desk: Desk, catalogue: Catalogue, facts: CompartmentFacts, *, today: date
) -> Saved:
    """Save a compartment in an open transaction; the key in the answer is its identifier.

    Its verdicts are made anew where its fluid, its kind or its being in use changed. Another
    sampling interval holds from today on.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    box = facts.id or CompartmentId(desk.new_id())
    name = _name(desk, catalogue, facts)
    _refuse_box_faults(desk, catalogue, facts, name=name)
    kind = catalogue.compartment_kinds[facts.kind]
    residue = kind.residue_share if facts.residue_share is None else facts.residue_share
    values = {
        "machine_id": facts.machine,
        "kind": facts.kind,
        "position": facts.position.strip(),
        "fluid_code": facts.fluid,
        "capacity_l": float(facts.capacity_l or 0.0),
        "residue_share": float(residue),
        "filter_micron": _number(facts.filter_micron),
        "interval_hours": _number(facts.interval_hours),
        "interval_days": facts.interval_days,
        "change_interval_hours": _number(facts.change_interval_hours),
        "change_interval_days": facts.change_interval_days,
        "criticality": facts.criticality,
        "test_list_code": facts.test_list or None,
        "retired": facts.retired,
    }
    key = RecordKey(RecordKind.COMPARTMENT, facts.site, box)
    changed = write_record(desk, key, values, version=facts.version, name=name, on=today)
    if facts.version == NEW or not _JUDGED_BY & set(changed):
        return Saved(changes=FLEET_ONLY, key=box)
    return Saved(changes=rejudge(desk, catalogue, [box], moment=desk.moment), key=box)


def save_point(place: Workplace, facts: PointFacts, *, today: date, moment: datetime) -> Saved:
    """Add a sampling point (version 0) or change one; see ``put_point``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_point(desk, place.catalogue, facts, today=today)


def put_point(desk: Desk, catalogue: Catalogue, facts: PointFacts, *, today: date) -> Saved:
    """Save a sampling point in an open transaction.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    box = desk.fleet.compartment(facts.compartment)
    name = f"sampling point {facts.kind} of {catalogue.box_name(box.kind, box.position)}"
    faults = Faults(name.capitalize())
    faults.needs_choice("kind", facts.kind, POINT_KINDS, "Kind of sampling point")
    faults.needs_choice("run_state", facts.run_state, RUN_STATES, "Run state")
    faults.needs_number("flush_ml", facts.flush_ml, "Flush volume in ml", high=10_000)
    faults.needs_number(
        "tube_mm", facts.tube_mm, "Tube length in mm", above=True, high=20_000, optional=True
    )
    faults.refuse()
    key = RecordKey(RecordKind.POINT, facts.site, facts.id or desk.new_id())
    values = {
        "compartment_id": facts.compartment,
        "kind": facts.kind,
        "location": facts.location.strip(),
        "marking": facts.marking.strip(),
        "run_state": facts.run_state,
        "flush_ml": float(facts.flush_ml or 0.0),
        "tube_mm": _number(facts.tube_mm),
        "hazards": facts.hazards.strip(),
        "retired": facts.retired,
    }
    write_record(desk, key, values, version=facts.version, name=name)
    return Saved(changes=FLEET_ONLY, key=key.key)


def add_event(
    place: Workplace,
    facts: EventFacts,
    *,
    supersedes: bytes | None = None,
    today: date,
    moment: datetime,
) -> Saved:
    """Note what happened to a box: a top-up, a change of fluid or filter, a repair.

    Nothing is overwritten: a correction names the event it ``supersedes``. The true hours are read
    off the meter readings around the day where they are not given.

    Raises:
        RegisterFaultsError: naming each wrong field.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = desk.fleet.compartment(facts.compartment)
        name = place.catalogue.box_name(box.kind, box.position)
        faults = Faults(f"Event of {name}")
        faults.needs_day("happened_on", facts.happened_on, "of the event", today=today)
        faults.needs_number("litres", facts.litres, "Litres", optional=True)
        faults.needs_number("true_hours", facts.true_hours, "Hours", optional=True)
        known = [one.code for one in desk.fleet.fluids()]
        if facts.fluid:
            faults.needs_choice("fluid", facts.fluid, known, "Fluid")
        faults.refuse()
        day = facts.happened_on or today
        hours = facts.true_hours
        if hours is None:
            hours = hours_on(desk, box.machine, day)
        fluid = facts.fluid or (box.fluid if facts.kind in _USES_FLUID else None)
        made = desk.fleet.add_event(
            EventRecord(
                site=box.site,
                compartment=box.id,
                kind=facts.kind,
                happened_on=day,
                certainty=facts.certainty,
                source=facts.source,
                true_hours=_number(hours),
                litres=_number(facts.litres),
                fluid=fluid,
                note=facts.note.strip(),
            ),
            supersedes=supersedes,
        )
        return Saved(changes=FLEET_ONLY, key=made)


def hours_on(desk: Desk, machine: MachineId, day: date) -> float | None:
    """The machine's true hours on a day, on a straight line between the readings around it.

    ``None`` without a reading; before the first or after the last one, the hours of that one.
    """
    readings = desk.fleet.meter_readings(machine)
    if not readings:
        return None
    days = np.array([one.read_on.toordinal() for one in readings], dtype=np.float64)
    hours = np.array([one.true_hours for one in readings])
    return float(np.interp(day.toordinal(), days, hours))


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)


def _name(desk: Desk, catalogue: Catalogue, facts: CompartmentFacts) -> str:
    found = [one.code for one in desk.fleet.machines() if one.id == facts.machine]
    box = catalogue.box_name(facts.kind, facts.position) if facts.kind else "compartment"
    return f"{found[0]} {box}" if found else box


def _refuse_box_faults(
    desk: Desk, catalogue: Catalogue, facts: CompartmentFacts, *, name: str
) -> None:
    faults = Faults(name)
    machines = {(one.site, one.id) for one in desk.fleet.machines()}
    if (facts.site, facts.machine) not in machines:
        faults.add("machine", "", "The machine is not in this register. Add the machine first.")
    faults.needs_choice("kind", facts.kind, list(catalogue.compartment_kinds), "Compartment kind")
    _refuse_double(desk, facts, faults)
    faults.needs_choice("fluid", facts.fluid, [one.code for one in desk.fleet.fluids()], "Fluid")
    faults.needs_number("capacity_l", facts.capacity_l, "The capacity in litres", above=True)
    faults.needs_number(
        "residue_share", facts.residue_share, "The residue share", high=1.0, optional=True
    )
    faults.needs_number(
        "filter_micron", facts.filter_micron, "The filter in micron", above=True, optional=True
    )
    faults.needs_number(
        "interval_hours", facts.interval_hours, "The interval in hours", above=True, optional=True
    )
    faults.needs_number(
        "interval_days", facts.interval_days, "The interval in days", above=True, optional=True
    )
    _refuse_change_faults(facts, faults)
    faults.needs_number("criticality", facts.criticality, "Criticality", low=1, high=5)
    if facts.test_list:
        lists: list[Any] = [one["code"] for one in desk.register.all(RecordKind.TEST_LIST)]
        faults.needs_choice("test_list", facts.test_list, lists, "Test list")
    faults.refuse()


def _refuse_change_faults(facts: CompartmentFacts, faults: Faults) -> None:
    faults.needs_number(
        "change_interval_hours",
        facts.change_interval_hours,
        "The hours between fluid changes",
        above=True,
        optional=True,
    )
    faults.needs_number(
        "change_interval_days",
        facts.change_interval_days,
        "The days between fluid changes",
        above=True,
        optional=True,
    )
    faults.found += change_faults({name: getattr(facts, name) for name in _INTERVALS})


def change_faults(values: Mapping[str, Any]) -> tuple[FieldFault, ...]:
    """Planned fluid changes that come far more often than samples: a slip.

    Args:
        values: the intervals of a compartment by the names of the register's columns.
    """
    return tuple(
        FieldFault(
            field=f"change_interval_{axis}",
            value=f"{change:g}",
            text=f"A fluid change every {change:g} {unit} is less than a tenth of the sampling "
            f"interval of {sample:g} {unit}. Correct one of the two.",
        )
        for axis, unit in (("hours", "h"), ("days", "days"))
        if (change := values.get(f"change_interval_{axis}")) is not None
        and (sample := values.get(f"interval_{axis}")) is not None
        and 0 < change < _LEAST_CHANGE_SHARE * sample
    )


def _refuse_double(desk: Desk, facts: CompartmentFacts, faults: Faults) -> None:
    position = facts.position.strip()
    for one in desk.register.all(RecordKind.COMPARTMENT, machine_id=facts.machine):
        if one["id"] != facts.id and (one["kind"], one["position"]) == (facts.kind, position):
            remedy = "Bring that one back" if one["retired"] else "Give another position"
            text = f"The machine has this compartment already. {remedy}."
            faults.add("position", position, text)
