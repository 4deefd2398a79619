from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.fleet import EventKind, MachineState
from fluiddesk.domain.identity import MachineId
from fluiddesk.services.register.boxes import add_event
from fluiddesk.services.register.components import fit_component, serial_history
from fluiddesk.services.register.facts import EventFacts, FitFacts
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.register.transfer import earlier_compartments, transfer_machine
from tests.services.register.desk import (
    MOMENT,
    START,
    TODAY,
    Register,
    add_excavator,
    add_site,
)

MOVED = START + timedelta(200)


def moved(register: Register, name: str = "South pit") -> Register:
    to = add_site(register.place, name)
    saved = transfer_machine(
        register.place, register.machine, to=to, on=MOVED, today=TODAY, moment=MOMENT
    )
    return Register(place=register.place, site=to, machine=MachineId(saved.row))


def test_that_another_site_gets_a_record_of_its_own_and_the_old_one_stays(
    either_register: Register,
) -> None:
    register = either_register
    register.read(100, 1000.0)
    register.read(190, 1900.0)
    before = register.record()
    new = moved(register)
    after, there = register.record(), new.record()
    assert there.machine.machine_uuid == after.machine.machine_uuid == register.machine
    assert (there.machine.site, after.machine.site) == (new.site, register.site)
    assert after.machine.state is MachineState.SOLD
    assert (after.machine.went_to, there.machine.came_from) == ("South pit", "North pit")
    assert there.machine.state is MachineState.WORKING
    assert [(one.kind, one.position, one.fluid) for one in there.compartments] == [
        (one.kind, one.position, one.fluid) for one in before.compartments
    ]
    assert len(there.points) == len(before.points)
    assert after.readings == before.readings
    assert [one.code for one in there.earlier] == ["EX-01"]
    assert earlier_compartments(register.place, new.box().id) == (register.box().id,)
    assert register.check() == []


def test_that_true_hours_go_on_where_they_stood(register: Register) -> None:
    register.read(190, 1900.0)
    register.replace_meter(195, 0.0, ends_last_at=1950.0)
    register.read(196, 5.0)
    new = moved(register)
    assert new.record().machine.hours_now == 1955.0
    new.read(210, 105.0)
    assert new.record().machine.hours_now == 2055.0


def test_that_component_and_fill_go_along(register: Register) -> None:
    register.read(100, 1000.0)
    register.read(199, 2000.0)
    engine = register.box()
    fitted = FitFacts(
        site=register.site, compartment=engine.id, serial="ENG-1",
        fitted_on=START + timedelta(100),
    )  # fmt: skip
    fit_component(register.place, fitted, today=TODAY, moment=MOMENT)
    change = EventFacts(
        site=register.site, compartment=engine.id, kind=EventKind.FLUID_CHANGE,
        happened_on=START + timedelta(100),
    )  # fmt: skip
    add_event(register.place, change, today=TODAY, moment=MOMENT)
    new = moved(register)
    told = serial_history(register.place, "ENG-1")
    assert [(one.hours_before, one.removed_at_hours, one.reason) for one in told] == [
        (0.0, 2000.0, "transferred"),
        (1000.0, None, ""),
    ]
    assert new.box().component_serial == "ENG-1"
    with register.place.store.reading() as desk:
        events = desk.fleet.events(new.box().id)
    assert [(one.kind, one.true_hours) for one in events] == [(EventKind.FLUID_CHANGE, 1000.0)]


def test_that_a_machine_handed_on_twice_tells_all_its_owners(register: Register) -> None:
    second = moved(register)
    third = moved(second, "West pit")
    owners = [one.site_name for one in third.record().earlier]
    assert owners == ["North pit", "South pit"]
    boxes = (register.box().id, second.box().id)
    assert earlier_compartments(register.place, third.box().id) == boxes


def test_that_a_transfer_that_cannot_be_is_refused_and_nothing_moved(register: Register) -> None:
    place = register.place
    to = add_site(place, "South pit")
    add_excavator(place, to)
    for wrong, words in (
        ({"to": register.site}, "there already"),
        ({"to": 77}, "not in this register"),
        ({"to": to}, 'South pit has a machine "EX-01" already'),
        ({"on": TODAY + timedelta(1)}, "future"),
        ({"on": START - timedelta(1)}, "Give that day or a later one"),
    ):
        given = {"to": to, "on": MOVED, **wrong}
        with pytest.raises(RegisterFaultsError, match=words):
            transfer_machine(place, register.machine, **given, today=TODAY, moment=MOMENT)  # type: ignore[arg-type]
    assert register.record().machine.state is MachineState.WORKING
    west = replace(moved(register, "West pit"))
    assert west.record().machine.came_from == "North pit"
    with pytest.raises(RegisterFaultsError, match="handed over already"):
        moved(register, "East pit")
