"""What cannot be is refused with field, value and remedy, on both databases; nothing is saved."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from fluiddesk.domain.fleet import EventKind, MachineState
from fluiddesk.services.register.boxes import add_event, save_compartment
from fluiddesk.services.register.components import fit_component
from fluiddesk.services.register.facts import (
    BatchFacts,
    CompartmentFacts,
    EventFacts,
    FitFacts,
    MachineFacts,
    MeterFacts,
)
from fluiddesk.services.register.fluids import add_reference, save_batch
from fluiddesk.services.register.machines import save_machine, set_state
from fluiddesk.services.register.meters import save_meter
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.register.templates import add_machine_by_template
from fluiddesk.services.register.transfer import transfer_machine
from tests.services.register.desk import MOMENT, START, TODAY, Register, add_excavator, add_site

FLUID = "engine_oil_15w40"
TOMORROW = TODAY + timedelta(1)

Work = Callable[[Register], object]
"""Work of a person at the desk that cannot be."""


def when() -> dict[str, Any]:
    return {"today": TODAY, "moment": MOMENT}


def box(register: Register, **given: Any) -> CompartmentFacts:
    made = CompartmentFacts(
        site=register.site,
        machine=register.machine,
        kind="transmission",
        fluid=FLUID,
        capacity_l=5.0,
        interval_hours=250.0,
    )
    return replace(made, **given)


def machine(register: Register, **given: Any) -> MachineFacts:
    made = MachineFacts(site=register.site, code="EX-02", kind="excavator", model="A")
    return replace(made, **given)


def fit(register: Register, **given: Any) -> FitFacts:
    made = FitFacts(
        site=register.site,
        compartment=register.box().id,
        serial="ENG-1",
        fitted_on=START + timedelta(10),
        condition="used",
    )
    return replace(made, **given)


def twice_the_number(register: Register) -> object:
    return save_machine(register.place, machine(register, code="ex-01"), **when())


def twice_the_number_by_kind(register: Register) -> object:
    return add_machine_by_template(register.place, machine(register, code="EX-01"), **when())


def without_capacity(register: Register) -> object:
    return save_compartment(register.place, box(register, capacity_l=None), **when())


def interval_of_no_hours(register: Register) -> object:
    return save_compartment(register.place, box(register, interval_hours=0.0), **when())


def interval_of_no_days(register: Register) -> object:
    return save_compartment(register.place, box(register, interval_days=0), **when())


def change_of_no_hours(register: Register) -> object:
    return save_compartment(register.place, box(register, change_interval_hours=0.0), **when())


def change_of_negative_hours(register: Register) -> object:
    return save_compartment(register.place, box(register, change_interval_hours=-500.0), **when())


def change_of_no_days(register: Register) -> object:
    return save_compartment(register.place, box(register, change_interval_days=0), **when())


def change_far_more_often_than_samples(register: Register) -> object:
    return save_compartment(register.place, box(register, change_interval_hours=24.0), **when())


def meter_backwards(register: Register) -> object:
    return register.read(60, 400.0)


def meter_between_two_readings(register: Register) -> object:
    return register.read(40, 600.0)


def machine_younger_by_a_new_meter(register: Register) -> object:
    facts = MeterFacts(
        site=register.site, machine=register.machine, fitted_on=START, hours_before=9_000.0
    )
    register.replace_meter(60, 0.0)
    first = register.record().meters[0]
    return save_meter(register.place, replace(facts, id=first.id, version=first.version), **when())


def component_in_two_machines(register: Register) -> object:
    other = replace(register, machine=add_excavator(register.place, register.site, "EX-03"))
    fit_component(register.place, fit(other), **when())
    return fit_component(register.place, fit(register), **when())


def machine_of_tomorrow(register: Register) -> object:
    return save_machine(register.place, machine(register, in_service_on=TOMORROW), **when())


def reading_of_tomorrow(register: Register) -> object:
    return register.read((TOMORROW - START).days, 600.0)


def meter_of_tomorrow(register: Register) -> object:
    return register.replace_meter((TOMORROW - START).days, 0.0)


def event_of_tomorrow(register: Register) -> object:
    facts = EventFacts(
        site=register.site,
        compartment=register.box().id,
        kind=EventKind.FLUID_CHANGE,
        happened_on=TOMORROW,
    )
    return add_event(register.place, facts, **when())


def fit_of_tomorrow(register: Register) -> object:
    return fit_component(register.place, fit(register, fitted_on=TOMORROW), **when())


def state_of_tomorrow(register: Register) -> object:
    return set_state(register.place, register.machine, MachineState.DOWN, since=TOMORROW, **when())


def transfer_of_tomorrow(register: Register) -> object:
    to = add_site(register.place, "South pit")
    return transfer_machine(register.place, register.machine, to=to, on=TOMORROW, **when())


def reference_of_tomorrow(register: Register) -> object:
    return add_reference(
        register.place, FLUID, valid_from=TOMORROW, values={"iron": 1.0}, source="own", **when()
    )


def batch_of_tomorrow(register: Register) -> object:
    facts = BatchFacts(site=register.site, fluid=FLUID, batch="B1", delivered_on=TOMORROW)
    return save_batch(register.place, facts, **when())


AHEAD = "2026-07-01, lies in the future. Correct the day."


REFUSED: tuple[tuple[Work, str, str, str], ...] = (
    (twice_the_number, "code", "ex-01", "already. Give another number."),
    (twice_the_number_by_kind, "code", "EX-01", "already. Give another number."),
    (without_capacity, "capacity_l", "", "The capacity in litres is missing. Give one."),
    (interval_of_no_hours, "interval_hours", "0.0", "cannot be 0. Give more than 0, or leave"),
    (interval_of_no_days, "interval_days", "0", "cannot be 0. Give more than 0, or leave"),
    (change_of_no_hours, "change_interval_hours", "0.0", "cannot be 0. Give more than 0, or leave"),
    (change_of_negative_hours, "change_interval_hours", "-500.0", "cannot be -500. Give more than"),
    (change_of_no_days, "change_interval_days", "0", "cannot be 0. Give more than 0, or leave"),
    (
        change_far_more_often_than_samples,
        "change_interval_hours",
        "24",
        "every 24 h is less than a tenth of the sampling interval of 250 h. Correct one of the two",
    ),
    (meter_backwards, "value", "400", "showed 500 h on 2024-02-20. Correct the reading, or"),
    (meter_between_two_readings, "value", "600", "but showed 600 h on 2024-02-10. Correct"),
    (component_in_two_machines, "serial", "ENG-1", "sits in EX-03"),
    (machine_of_tomorrow, "in_service_on", "2026-07-01", AHEAD),
    (reading_of_tomorrow, "read_on", "2026-07-01", AHEAD),
    (meter_of_tomorrow, "fitted_on", "2026-07-01", AHEAD),
    (event_of_tomorrow, "happened_on", "2026-07-01", AHEAD),
    (fit_of_tomorrow, "fitted_on", "2026-07-01", AHEAD),
    (state_of_tomorrow, "state_since", "2026-07-01", AHEAD),
    (transfer_of_tomorrow, "on", "2026-07-01", AHEAD),
    (reference_of_tomorrow, "valid_from", "2026-07-01", AHEAD),
    (batch_of_tomorrow, "delivered_on", "2026-07-01", AHEAD),
    (machine_younger_by_a_new_meter, "hours_before", "500.0", "Correct the age"),
)
"""What is tried, the field, its value and words of the message; in this order in one register."""


def test_that_what_cannot_be_names_field_value_and_remedy_and_saves_nothing(
    either_register: Register,
) -> None:
    register = either_register
    register.read(50, 500.0)
    for work, field, value, told in REFUSED:
        with pytest.raises(RegisterFaultsError) as refused:
            work(register)
        before = rows(register)
        [fault] = [one for one in refused.value.faults if one.field == field]
        assert fault.value == value, work
        assert told in fault.text, work
        # What the work did before the fault stands; the refused save leaves nothing behind.
        with pytest.raises(RegisterFaultsError):
            repeated(work, register)
        assert rows(register) == before, work
    assert register.check() == []


def repeated(work: Work, register: Register) -> object:
    """The refused save alone, where the work before it can be done once only."""
    if work is component_in_two_machines:
        return fit_component(register.place, fit(register), **when())
    if work is machine_younger_by_a_new_meter:
        first = register.record().meters[0]
        return save_meter(register.place, replace(first, hours_before=9_000.0), **when())
    if work is transfer_of_tomorrow:
        to = register.facts().sites[-1].site
        return transfer_machine(register.place, register.machine, to=to, on=TOMORROW, **when())
    return work(register)


def rows(register: Register) -> tuple[Any, ...]:
    """How much is in every table, and what the register says."""
    with register.place.store.reading() as desk:
        counts = desk.facts.counts()
        trail = len(desk.register.links("audit_trail"))
    return counts, trail, register.facts(), register.record()
