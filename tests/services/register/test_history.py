from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.fleet import MachineState
from fluiddesk.services.register.boxes import save_compartment
from fluiddesk.services.register.history import (
    CannotUndoError,
    changes_of,
    undo_last_change,
)
from fluiddesk.services.register.machines import save_machine
from tests.services.register.desk import MOMENT, TODAY, Register

LATER = MOMENT + timedelta(hours=1)


def undo(register: Register, record: str, key: bytes) -> None:
    undo_last_change(register.place, record, key, site=register.site, today=TODAY, moment=LATER)


def test_that_a_change_is_taken_back_by_a_change_of_its_own(either_register: Register) -> None:
    register = either_register
    box = register.box()
    changed = replace(box, capacity_l=44.0, interval_hours=500.0)
    save_compartment(register.place, changed, today=TODAY, moment=MOMENT)
    undo(register, "compartment", box.id)
    assert replace(register.box(), version=box.version) == box
    told = changes_of(register.place, "compartment", box.id, site=register.site)
    assert [(one.who, one.old, one.new) for one in told[:2]] == [
        ("Kim", {"capacity_l": 44.0, "interval_hours": 500.0},
         {"capacity_l": 38.0, "interval_hours": 250.0}),
        ("Kim", {"capacity_l": 38.0, "interval_hours": 250.0},
         {"capacity_l": 44.0, "interval_hours": 500.0}),
    ]  # fmt: skip
    assert told[-1].old is None
    undo(register, "compartment", box.id)
    assert register.box().capacity_l == 44.0
    with register.place.store.reading() as desk:
        assert desk.audit.verify() == []


def test_that_a_state_taken_back_stays_in_the_history_of_states(register: Register) -> None:
    machine = register.record().machine
    sold = replace(machine, state=MachineState.SOLD)
    save_machine(register.place, sold, today=TODAY, moment=MOMENT)
    undo(register, "machine", machine.id)
    states = [one.state for one in register.record().states]
    assert states == [MachineState.WORKING, MachineState.SOLD, MachineState.WORKING]
    assert register.record().machine.state is MachineState.WORKING


def test_that_what_was_added_is_not_deleted(register: Register) -> None:
    with pytest.raises(CannotUndoError, match="nothing is deleted"):
        undo(register, "machine", register.machine)
    with pytest.raises(CannotUndoError, match="hours were counted on it"):
        undo(register, "meter", register.record().meters[0].id)


def test_that_a_record_changed_another_way_since_is_not_taken_back(register: Register) -> None:
    box = register.box()
    changed = replace(box, capacity_l=44.0)
    save_compartment(register.place, changed, today=TODAY, moment=MOMENT)
    with register.place.store.transaction(who="Noor", moment=MOMENT) as desk:
        other = replace(desk.fleet.compartment(box.id), capacity_l=50.0)
        desk.fleet.edit_compartment(other, version=None)
    with pytest.raises(CannotUndoError, match="capacity_l was changed since"):
        undo(register, "compartment", box.id)
    assert register.box().capacity_l == 50.0


def test_that_a_record_nobody_changed_has_nothing_to_take_back(register: Register) -> None:
    code = register.box().fluid
    with pytest.raises(CannotUndoError, match="Nothing was changed"):
        undo_last_change(register.place, "fluid", code, today=TODAY, moment=MOMENT)
    assert changes_of(register.place, "fluid", code) == ()
