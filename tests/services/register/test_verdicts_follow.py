from dataclasses import replace

from fluiddesk.services.changes import Subject
from fluiddesk.services.register.boxes import save_compartment
from fluiddesk.services.register.facts import CompartmentFacts
from fluiddesk.services.register.fluids import add_reference, save_fluid
from fluiddesk.services.register.history import undo_last_change
from fluiddesk.services.register.machines import save_machine
from fluiddesk.services.register.read import register_facts
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables

REGISTER_ONLY = {"compartment", "machine", "fluid", "fluid_reference", "audit_trail",
                 "interval_change", "record_change"}  # fmt: skip


def engine(fleet: Fleet) -> CompartmentFacts:
    known = {box.compartment_id for box in fleet.boxes("engine") if box.severity is not None}
    boxes = register_facts(fleet.place, today=LAST_DAY).compartments
    return next(one for one in boxes if one.id in known)


def test_that_verdicts_follow_the_fluid_of_a_box_and_come_back_when_it_does(
    either_fleet: Fleet,
) -> None:
    box = engine(either_fleet)
    before = either_fleet.dump()
    gear = replace(box, fluid="gear_oil_85w140")
    saved = save_compartment(either_fleet.place, gear, today=LAST_DAY, moment=NOW)
    assert saved.changes.subjects == {Subject.FLEET, Subject.ASSESSMENTS}
    assert saved.changes.compartments == {box.id}
    assert differing_tables(before, either_fleet.dump()) > {"assessment", "history_block"}
    assert either_fleet.check() == []
    undo_last_change(
        either_fleet.place, "compartment", box.id, site=box.site, today=LAST_DAY, moment=NOW
    )
    assert either_fleet.check() == []
    now = either_fleet.dump()
    assert now["history_block"] == before["history_block"]


def test_that_an_interval_or_capacity_alters_no_verdict(fleet: Fleet) -> None:
    box = engine(fleet)
    before = fleet.dump()
    changed = replace(box, interval_hours=125.0, capacity_l=44.0)
    saved = save_compartment(fleet.place, changed, today=LAST_DAY, moment=NOW)
    assert saved.changes.subjects == {Subject.FLEET}
    assert differing_tables(before, fleet.dump()) <= REGISTER_ONLY


def test_that_verdicts_follow_a_new_reference_a_class_and_a_machines_kind(fleet: Fleet) -> None:
    box = engine(fleet)
    register = register_facts(fleet.place, today=LAST_DAY)
    fluid = next(one for one in register.fluids if one.code == box.fluid)
    saved = add_reference(
        fleet.place, fluid.code, valid_from=fluid.references[-1].valid_from,
        values={"iron": 30.0}, source="own test", today=LAST_DAY, moment=NOW,
    )  # fmt: skip
    assert box.id in saved.changes.compartments
    assert fleet.check() == []
    other = replace(fluid, fluid_class="gear_oil")
    saved = save_fluid(fleet.place, other, today=LAST_DAY, moment=NOW)
    assert box.id in saved.changes.compartments
    assert fleet.check() == []
    machine = next(one for one in register.machines if one.id == box.machine)
    renamed = replace(machine, model=f"{machine.model} mark 2")
    saved = save_machine(fleet.place, renamed, today=LAST_DAY, moment=NOW)
    assert box.id in saved.changes.compartments
    assert fleet.check() == []


def test_that_a_retired_box_is_not_judged_and_comes_back_with_its_history(fleet: Fleet) -> None:
    box = engine(fleet)
    retired = replace(box, retired=True)
    save_compartment(fleet.place, retired, today=LAST_DAY, moment=NOW)
    assert box.id not in {one.compartment_id for one in fleet.boxes()}
    assert fleet.check() == []
    back = replace(box, version=box.version + 1)
    save_compartment(fleet.place, back, today=LAST_DAY, moment=NOW)
    assert fleet.box(box.id).severity is not None
    assert fleet.check() == []
