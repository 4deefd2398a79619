from datetime import timedelta

import pytest

from fluiddesk.domain.fleet import EventKind
from fluiddesk.services.register.components import (
    fit_component,
    remove_component,
    serial_history,
)
from fluiddesk.services.register.facts import CompartmentFacts, FitFacts
from fluiddesk.services.register.saving import RegisterFaultsError
from tests.services.register.desk import (
    MOMENT,
    START,
    TODAY,
    Register,
    add_excavator,
)


def fit(
    register: Register,
    box: CompartmentFacts,
    serial: str,
    day: int,
    condition: str = "new",
    hours_before: float = 0.0,
) -> None:
    facts = FitFacts(
        site=box.site, compartment=box.id, serial=serial, fitted_on=START + timedelta(day),
        condition=condition, hours_before=hours_before,
    )  # fmt: skip
    fit_component(register.place, facts, today=TODAY, moment=MOMENT)


def remove(register: Register, box: CompartmentFacts, day: int) -> None:
    remove_component(
        register.place, box.id, on=START + timedelta(day), reason="overhaul", today=TODAY,
        moment=MOMENT,
    )  # fmt: skip


def test_that_history_follows_the_serial_from_machine_to_machine(
    either_register: Register,
) -> None:
    register = either_register
    for day, value in ((0, 0.0), (100, 1000.0), (200, 2000.0)):
        register.read(day, value)
    engine = register.box()
    fit(register, engine, "ENG-1", 0)
    fit(register, engine, "ENG-2", 100)
    other = Register(
        place=register.place, site=register.site,
        machine=add_excavator(register.place, register.site, "EX-02"),
    )  # fmt: skip
    fit(register, other.box(), "ENG-1", 150, "used")
    told = serial_history(register.place, "ENG-1")
    assert [(one.machine_code, one.compartment_name) for one in told] == [
        ("EX-01", "Engine"),
        ("EX-02", "Engine"),
    ]
    assert [(one.removed_at_hours, one.reason) for one in told] == [
        (1000.0, "replaced by ENG-2"),
        (None, ""),
    ]
    assert told[1].hours_before == 1000.0
    assert register.box().component_serial == "ENG-2"
    assert other.box().component_serial == "ENG-1"
    with register.place.store.reading() as desk:
        events = [(one.kind, one.note) for one in desk.fleet.events(engine.id)]
    assert events == [(EventKind.COMPONENT_FIT, "ENG-1"), (EventKind.COMPONENT_FIT, "ENG-2")]


def test_that_a_component_cannot_sit_in_two_machines_at_once(either_register: Register) -> None:
    register = either_register
    fit(register, register.box("final_drive", "left"), "FD-1", 10)
    words = r"sits in EX-01 Final drive, left since 2024-01-11.*Note its removal there first"
    with pytest.raises(RegisterFaultsError, match=words):
        fit(register, register.box("final_drive", "right"), "FD-1", 20, "used")
    remove(register, register.box("final_drive", "left"), 20)
    fit(register, register.box("final_drive", "right"), "FD-1", 20, "used")
    with pytest.raises(RegisterFaultsError, match="in two places"):
        fit(register, register.box("final_drive", "left"), "FD-1", 15, "used")


def test_that_a_component_that_sat_before_is_not_new(register: Register) -> None:
    fit(register, register.box(), "ENG-1", 0)
    remove(register, register.box(), 50)
    with pytest.raises(RegisterFaultsError, match="fitted on 2024-01-01 already"):
        fit(register, register.box(), "ENG-1", 60)


def test_that_what_cannot_be_fitted_or_removed_is_told(register: Register) -> None:
    with pytest.raises(RegisterFaultsError, match="No component is fitted here"):
        remove(register, register.box(), 50)
    with pytest.raises(RegisterFaultsError) as told:
        fit(register, register.box(), " ", 5000, "shiny", -1.0)
    wrong = [one.field for one in told.value.faults]
    assert wrong == ["serial", "condition", "fitted_on", "hours_before"]
    fit(register, register.box(), "ENG-1", 50)
    with pytest.raises(RegisterFaultsError, match="fitted on 2024-02-20, after that"):
        remove(register, register.box(), 40)
    with pytest.raises(RegisterFaultsError, match="ENG-1 was fitted here on 2024-02-20"):
        fit(register, register.box(), "ENG-2", 40)
