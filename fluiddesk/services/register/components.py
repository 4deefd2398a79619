"""Components fitted by serial: history follows the serial from machine to machine."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any, Final

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.identity import CompartmentId, SiteId
from fluiddesk.services.catalogue import Catalogue
from fluiddesk.services.register.boxes import hours_on
from fluiddesk.services.register.derive import FLEET_ONLY
from fluiddesk.services.register.facts import FitFacts
from fluiddesk.services.register.saving import Faults, Saved
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import Desk, EventRecord, RecordKey, RecordKind

CONDITIONS: Final = ("new", "overhauled", "used")


def fit_component(place: Workplace, facts: FitFacts, *, today: date, moment: datetime) -> Saved:
    """Note that a component was fitted; see ``put_fit``."""
    with place.store.transaction(who=place.who, moment=moment) as desk:
        return put_fit(desk, place.catalogue, facts, today=today)


def put_fit(desk: Desk, catalogue: Catalogue, facts: FitFacts, *, today: date) -> Saved:
    """Fit a component to a box in an open transaction; the one that sat there is removed that day.

    The machine's hours on the day are read off its meter readings where they are not given, and
    the hours already on a used component follow from where it sat before.

    Raises:
        RegisterFaultsError: when the serial sits elsewhere, or a field is wrong.
    """
    box = desk.fleet.compartment(facts.compartment)
    facts = replace(facts, serial=facts.serial.strip())
    earlier = serial_rows(desk, facts.serial)
    here = _fitted(desk, box.id)
    _refuse_fit_faults(desk, catalogue, facts, earlier=earlier, here=here, today=today)
    day = facts.fitted_on or today
    hours = facts.fitted_at_hours
    if hours is None:
        hours = hours_on(desk, box.machine, day)
    key = RecordKey(RecordKind.FIT, box.site, facts.id or desk.new_id())
    name = f"component {facts.serial}"
    before = facts.hours_before
    if not before and earlier and facts.condition == "used":
        before = _hours_run(earlier[-1])
    if here is not None:
        _remove(desk, here, on=day, hours=hours, reason=f"replaced by {facts.serial}")
    desk.register.add(
        key,
        {
            "compartment_id": box.id,
            "serial": facts.serial,
            "fitted_on": day,
            "fitted_at_hours": hours,
            "hours_before": float(before),
            "condition": facts.condition,
            "reason": facts.reason.strip(),
        },
        name=name,
    )
    desk.fleet.add_event(
        EventRecord(
            site=box.site,
            compartment=box.id,
            kind=EventKind.COMPONENT_FIT,
            happened_on=day,
            certainty=Certainty.RECORDED,
            source="desk",
            true_hours=hours,
            note=facts.serial,
        )
    )
    return Saved(changes=FLEET_ONLY, key=key.key)


def remove_component(
    place: Workplace,
    compartment: CompartmentId,
    *,
    on: date,
    reason: str,
    hours: float | None = None,
    today: date,
    moment: datetime,
) -> Saved:
    """Note that the component in a box was taken out.

    Raises:
        RegisterFaultsError: when none sits there, or the day cannot be true.
    """
    with place.store.transaction(who=place.who, moment=moment) as desk:
        box = desk.fleet.compartment(compartment)
        name = place.catalogue.box_name(box.kind, box.position)
        faults = Faults(f"Component of {name}")
        here = _fitted(desk, compartment)
        faults.needs_day("removed_on", on, "of removal", today=today)
        if here is None:
            faults.add("serial", "", "No component is fitted here. Note which one was first.")
        elif on < here["fitted_on"]:
            text = f"It was fitted on {here['fitted_on'].isoformat()}, after that. Correct the day."
            faults.add("removed_on", on, text)
        faults.refuse()
        assert here is not None  # noqa: S101  # refused above
        if hours is None:
            hours = hours_on(desk, box.machine, on)
        _remove(desk, here, on=on, hours=hours, reason=reason.strip())
        return Saved(changes=FLEET_ONLY, key=here["id"])


def serial_history(place: Workplace, serial: str) -> tuple[FitFacts, ...]:
    """Where a component has sat, oldest first, over all machines and sites."""
    with place.store.reading() as desk:
        machines = {one.id: one.code for one in desk.fleet.machines()}
        answer = []
        for row in serial_rows(desk, serial.strip()):
            box = desk.fleet.compartment(CompartmentId(row["compartment_id"]))
            name = place.catalogue.box_name(box.kind, box.position)
            code = machines.get(box.machine, "")
            answer.append(fit_facts(row, machine_code=code, compartment_name=name))
    return tuple(answer)


def fit_facts(row: Mapping[str, Any], *, machine_code: str, compartment_name: str) -> FitFacts:
    """A fit as the register shows it."""
    return FitFacts(
        site=SiteId(row["site_id"]),
        compartment=CompartmentId(row["compartment_id"]),
        id=row["id"],
        serial=row["serial"],
        fitted_on=row["fitted_on"],
        fitted_at_hours=row["fitted_at_hours"],
        hours_before=row["hours_before"],
        condition=row["condition"],
        removed_on=row["removed_on"],
        removed_at_hours=row["removed_at_hours"],
        reason=row["reason"],
        machine_code=machine_code,
        compartment_name=compartment_name,
    )


def serial_rows(desk: Desk, serial: str) -> list[Mapping[str, Any]]:
    """The fits of a serial, oldest first, on every site."""
    found = desk.register.all(RecordKind.FIT, serial=serial)
    return sorted(found, key=lambda one: (one["fitted_on"], one["id"]))


def _fitted(desk: Desk, compartment: CompartmentId) -> Mapping[str, Any] | None:
    found = desk.register.all(RecordKind.FIT, compartment_id=compartment)
    return next((one for one in found if one["removed_on"] is None), None)


def _hours_run(fit: Mapping[str, Any]) -> float:
    """The hours on a component when it was taken out; those it came with where nothing is known."""
    start, end = fit["fitted_at_hours"], fit["removed_at_hours"]
    ran = 0.0 if start is None or end is None else max(0.0, end - start)
    return float(fit["hours_before"] + ran)


def _remove(
    desk: Desk, fit: Mapping[str, Any], *, on: date, hours: float | None, reason: str
) -> None:
    key = RecordKey(RecordKind.FIT, SiteId(fit["site_id"]), fit["id"])
    values = {"removed_on": on, "removed_at_hours": hours, "reason": reason}
    desk.register.change(key, values, version=None, name=f"component {fit['serial']}")


def _refuse_fit_faults(
    desk: Desk,
    catalogue: Catalogue,
    facts: FitFacts,
    *,
    earlier: list[Mapping[str, Any]],
    here: Mapping[str, Any] | None,
    today: date,
) -> None:
    faults = Faults(f"Component {facts.serial}" if facts.serial else "The component")
    faults.needs_text("serial", facts.serial, "The serial number")
    faults.needs_choice("condition", facts.condition, CONDITIONS, "Condition")
    faults.needs_day("fitted_on", facts.fitted_on, "of fitting", today=today)
    faults.needs_number("hours_before", facts.hours_before, "The hours already on it")
    faults.needs_number("fitted_at_hours", facts.fitted_at_hours, "The hours", optional=True)
    day = facts.fitted_on or today
    if earlier and facts.condition == "new":
        first = earlier[0]["fitted_on"].isoformat()
        text = f'It was fitted on {first} already, so it is not new. Choose "used" or "overhauled".'
        faults.add("condition", facts.condition, text)
    for fit in earlier:
        if fit["removed_on"] is None or fit["removed_on"] > day:
            where = _where(desk, catalogue, CompartmentId(fit["compartment_id"]))
            text = (
                f"It sits in {where} since {fit['fitted_on'].isoformat()}: one component cannot be "
                "in two places. Note its removal there first, or correct the serial."
            )
            faults.add("serial", facts.serial, text)
    if here is not None and here["serial"] != facts.serial and day < here["fitted_on"]:
        text = (
            f"{here['serial']} was fitted here on {here['fitted_on'].isoformat()}, after that. "
            "Correct the day."
        )
        faults.add("fitted_on", day, text)
    faults.refuse()


def _where(desk: Desk, catalogue: Catalogue, compartment: CompartmentId) -> str:
    box = desk.fleet.compartment(compartment)
    code = next((one.code for one in desk.fleet.machines() if one.id == box.machine), "")
    return f"{code} {catalogue.box_name(box.kind, box.position)}"
