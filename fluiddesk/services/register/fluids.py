"""Fluids with their dated new-fluid references, batches delivered and tanks."""

import math
from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.changes import Changes
from fluiddesk.services.register.derive import FLEET_ONLY, rejudge
from fluiddesk.services.register.facts import NEW, BatchFacts, FluidFacts, TankFacts
from fluiddesk.services.register.saving import Faults, Saved, write_record
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import NO_SITE, Desk, RecordKey, RecordKind


def save_fluid(place: Workplace, facts: FluidFacts, *, today: date, moment: datetime) -> Saved:
    """Add a fluid (version 0) or change one; its references are added by ``add_reference``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_fluid(desk, place.catalogue, facts, today=today)


def put_fluid(desk: Desk, catalogue: Catalogue, facts: FluidFacts, *, today: date) -> Saved:
    """Save a fluid in an open transaction; the key in the answer is its code.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    code = facts.code.strip()
    faults = Faults(f"Fluid {code}" if code else "The fluid")
    faults.needs_text("code", code, "The code")
    known = [one.code for one in desk.fleet.fluids()]
    if facts.version == NEW and code.casefold() in (one.casefold() for one in known):
        faults.add("code", code, f'There is a fluid "{code}" already. Choose another code.')
    faults.needs_text("name", facts.name, "The name")
    faults.needs_text("fluid_class", facts.fluid_class, "The class")
    faults.needs_number("density_kg_per_l", facts.density_kg_per_l, "The density", above=True)
    used = [one.id for one in desk.fleet.compartments() if one.fluid == code]
    if facts.retired and used:
        text = f"{len(used)} compartments hold it. Give them another fluid first."
        faults.add("retired", "yes", text)
    faults.refuse()
    values = {
        "name": facts.name.strip(),
        "fluid_class": facts.fluid_class.strip(),
        "viscosity_grade": facts.viscosity_grade.strip(),
        "density_kg_per_l": float(facts.density_kg_per_l or 0.0),
        "retired": facts.retired,
    }
    key = RecordKey(RecordKind.FLUID, NO_SITE, code)
    changed = write_record(desk, key, values, version=facts.version, name=f"fluid {code}")
    changes = FLEET_ONLY
    if facts.version != NEW and "fluid_class" in changed:
        changes = rejudge(desk, catalogue, used, moment=desk.moment)
    return Saved(changes=changes, key=code)


def add_reference(
    place: Workplace,
    fluid: str,
    *,
    valid_from: date,
    values: Mapping[str, float],
    source: str,
    today: date,
    moment: datetime,
) -> Saved:
    """Add what a fluid reads unused from a day on; older references stay for older samples.

    Args:
        place: where to work.
        fluid: the fluid's code.
        valid_from: the first day it holds.
        values: analyte's code to canonical units.
        source: where the figures come from.
        today: the day of the desk.
        moment: when it is saved.

    Returns:
        The number of the reference as key.

    Raises:
        RegisterFaultsError: naming each wrong field.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        faults = Faults(f"Reference of {fluid}")
        faults.needs_choice("fluid", fluid, [one.code for one in desk.fleet.fluids()], "Fluid")
        faults.needs_text("source", source, "The source of the figures")
        faults.not_ahead("valid_from", valid_from, "of the reference", today=today)
        if not values:
            faults.add("values", "", "The reference has no value. Give at least one analyte.")
        for code, value in values.items():
            _check_value(faults, place.catalogue, code, value)
        faults.refuse()
        number = desk.catalogue.add_reference(
            fluid, valid_from=valid_from, values=values, source=source.strip()
        )
        key = RecordKey(RecordKind.FLUID, NO_SITE, fluid)
        told = {"reference": number, "valid_from": valid_from.isoformat(), "values": dict(values)}
        desk.register.note(key, f"reference of fluid {fluid}", None, told)
        return Saved(changes=rejudge_fluid(desk, place.catalogue, fluid), key=number)


def save_batch(place: Workplace, facts: BatchFacts, *, today: date, moment: datetime) -> Saved:
    """Add a delivery of a fluid (no identifier yet) or change one; see ``put_batch``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_batch(desk, place.catalogue, facts, today=today)


def put_batch(desk: Desk, catalogue: Catalogue, facts: BatchFacts, *, today: date) -> Saved:
    """Save a delivery in an open transaction.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = catalogue
    batch = facts.batch.strip()
    faults = Faults(f"Batch {batch} of {facts.fluid}" if batch else "The batch")
    faults.needs_choice("fluid", facts.fluid, [one.code for one in desk.fleet.fluids()], "Fluid")
    faults.needs_text("batch", batch, "The batch number")
    faults.needs_day("delivered_on", facts.delivered_on, "of delivery", today=today)
    for one in desk.register.all(RecordKind.BATCH, site_id=facts.site):
        if one["id"] != facts.id and (one["fluid_code"], one["batch"]) == (facts.fluid, batch):
            text = f'There is a batch "{batch}" of this fluid already. Correct the number.'
            faults.add("batch", batch, text)
    references = desk.fleet.references()
    number = facts.reference_number
    if number is not None and (
        number not in references or references[number].fluid_code != facts.fluid
    ):
        text = f"Reference {number} is none of {facts.fluid}. Choose one of its own, or none."
        faults.add("reference_number", number, text)
    faults.refuse()
    values = {
        "fluid_code": facts.fluid,
        "batch": batch,
        "delivered_on": facts.delivered_on,
        "reference_number": number,
    }
    key = RecordKey(RecordKind.BATCH, facts.site, facts.id or desk.new_id())
    name = f"batch {batch} of fluid {facts.fluid}"
    write_record(desk, key, values, version=facts.version, name=name)
    return Saved(changes=FLEET_ONLY, key=key.key)


def save_tank(place: Workplace, facts: TankFacts, *, today: date, moment: datetime) -> Saved:
    """Add a tank or drum store (version 0) or change one.

    Raises:
        RegisterFaultsError: naming each wrong field.
        StaleRecordError: when somebody else saved it since it was read.
    """
    _ = today
    with place.store.transaction(who=place.who, moment=moment) as desk:
        code = facts.code.strip()
        faults = Faults(f"Tank {code}" if code else "The tank")
        faults.needs_text("code", code, "The tank's number")
        fluids = [one.code for one in desk.fleet.fluids()]
        faults.needs_choice("fluid", facts.fluid, fluids, "Fluid")
        faults.needs_number(
            "capacity_l", facts.capacity_l, "The capacity in litres", above=True, optional=True
        )
        known: list[Mapping[str, Any]] = desk.register.all(RecordKind.TANK, site_id=facts.site)
        if any(
            one["id"] != facts.id and one["code"].casefold() == code.casefold() for one in known
        ):
            faults.add("code", code, f'There is a tank "{code}" already. Give another number.')
        faults.refuse()
        litres = facts.capacity_l
        values = {
            "code": code,
            "fluid_code": facts.fluid,
            "capacity_l": None if litres is None else float(litres),
            "location": facts.location.strip(),
            "retired": facts.retired,
        }
        key = RecordKey(RecordKind.TANK, facts.site, facts.id or desk.new_id())
        write_record(desk, key, values, version=facts.version, name=f"tank {code}")
        return Saved(changes=FLEET_ONLY, key=key.key)


def _check_value(faults: Faults, catalogue: Catalogue, code: str, value: float) -> None:
    if code not in catalogue.analytes:
        text = f'Analyte "{code}" is not known. Give a code of the list of analytes.'
        faults.add("values", code, text)
    elif not math.isfinite(value):
        faults.add("values", value, f"{code}: {value} is not a number. Correct it.")


def rejudge_fluid(desk: Desk, catalogue: Catalogue, fluid: str) -> Changes:
    """Judge the boxes that hold a fluid again, within a transaction that is open."""
    boxes = [one.id for one in desk.fleet.compartments() if one.fluid == fluid]
    return rejudge(desk, catalogue, boxes, moment=desk.moment)
