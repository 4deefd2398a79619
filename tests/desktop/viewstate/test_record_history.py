"""What happened to a machine or a box, as lines, with what can be done with each."""

from datetime import date

import pytest

from fluiddesk.desktop.viewstate.record_form import FormDraft
from fluiddesk.desktop.viewstate.record_history import (
    CORRECT,
    REMOVE,
    VOID,
    box_lines,
    deed_for,
    deed_form,
    keeps_history,
    machine_lines,
)
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.viewstate.register_services import RegisterServices
from fluiddesk.domain.fleet import Certainty
from fluiddesk.services.register.box_record import box_record
from fluiddesk.services.register.facts import CompartmentFacts, EventFacts, MachineFacts
from fluiddesk.services.register.read import machine_record, register_facts
from tests.desktop.makers_register import BOX, CATALOGUE, RECORD, TODAY, make_register
from tests.fleets import LAST_DAY, NOW, Fleet

OFFERS = Offers(facts=make_register(3), catalogue=CATALOGUE)
FLUIDS = {"engine_oil_15w40": "Engine oil 15W-40"}


def test_that_a_machine_s_states_meters_and_readings_stand_newest_first() -> None:
    assert [(one.on, one.what, one.words) for one in machine_lines(RECORD)] == [
        ("2026-06-01", "Meter reading", "12,100 h, written at the desk"),
        ("2026-05-01", "Voided reading", "99 h, written at the desk; another machine's"),
        ("2025-02-03", "Down", "slew ring"),
        ("2021-03-01", "Working", ""),
        (
            "2021-03-01",
            "Meter fitted",
            "showed 0 h, starts again at 10,000; removed 2026-01-07 at 9,990 h",
        ),
    ]


def test_that_a_box_s_events_and_components_stand_newest_first() -> None:
    assert [(one.on, one.what, one.words) for one in box_lines(BOX, FLUIDS)] == [
        ("2026-06-02", "Top-up", "4.5 L, Engine oil 15W-40"),
        ("2026-04-02", "Fluid change: no", ""),
        ("2025-04-02", "Component out", "ENG-1, worn"),
        ("2025-04-02", "Component fitted", "ENG-2, overhauled, 100 h on it"),
        ("2021-03-01", "Component fitted", "ENG-1, new"),
    ]


def test_that_each_line_offers_what_can_be_done_with_it() -> None:
    assert [deed_for(one)[0] for one in machine_lines(RECORD)] == [VOID, "", "", "", ""]
    assert [deed_for(one)[0] for one in box_lines(BOX, FLUIDS)] == [
        CORRECT, CORRECT, "", REMOVE, "",
    ]  # fmt: skip
    assert deed_for(None) == ("", "")


def test_that_the_form_of_a_correction_holds_what_stands_there() -> None:
    line = box_lines(BOX, FLUIDS)[0]
    form = deed_form(CORRECT, line, OFFERS.facts.compartments[0], OFFERS, today=TODAY)
    draft = FormDraft(form)
    assert draft.texts == {
        "kind": "top_up", "happened_on": "2026-06-02", "litres": "4.5",
        "fluid": "engine_oil_15w40", "note": "", "certainty": "recorded",
    }  # fmt: skip
    assert not draft.can_save
    draft.write("litres", "5.4")
    assert draft.can_save


def test_that_only_machines_and_boxes_keep_such_lines() -> None:
    facts = OFFERS.facts
    assert keeps_history(facts.machines[0])
    assert keeps_history(facts.compartments[0])
    assert not keeps_history(facts.fluids[0])


@pytest.fixture
def engine(fleet: Fleet) -> CompartmentFacts:
    """A box with an event on record."""
    boxes = register_facts(fleet.place, today=LAST_DAY).compartments
    return next(one for one in boxes if box_record(fleet.place, one.id).events)


def test_that_a_reading_is_voided_with_its_reason(fleet: Fleet) -> None:
    calls = RegisterServices(place=fleet.place)
    machine = register_facts(fleet.place, today=LAST_DAY).machines[0]
    line = calls.history(machine, fluids={}, today=LAST_DAY)[0]
    calls.act_on(VOID, line, {"reason": "misread"}, moment=NOW, today=LAST_DAY)
    again = machine_record(fleet.place, machine.id, today=LAST_DAY)
    assert [one.voided_reason for one in again.readings].count("misread") == 1
    assert isinstance(machine, MachineFacts)


def test_that_a_corrected_event_supersedes_the_one_before(
    fleet: Fleet, engine: CompartmentFacts
) -> None:
    calls = RegisterServices(place=fleet.place)
    lines = calls.history(engine, fluids=FLUIDS, today=LAST_DAY)
    line = next(one for one in lines if deed_for(one)[0] == CORRECT)
    assert isinstance(line.subject, EventFacts)
    offers = Offers(
        facts=register_facts(fleet.place, today=LAST_DAY), catalogue=fleet.place.catalogue
    )
    draft = FormDraft(deed_form(CORRECT, line, engine, offers, today=LAST_DAY))
    draft.write("litres", "7.5")
    draft.write("certainty", Certainty.DENIED.value)
    calls.act_on(CORRECT, line, draft.values(), moment=NOW, today=LAST_DAY)
    events = {one.id: one for one in box_record(fleet.place, engine.id).events}
    assert line.subject.id not in events
    made = next(one for one in events.values() if one.litres == 7.5)
    assert made.certainty is Certainty.DENIED
    assert made.happened_on == line.subject.happened_on


def test_that_a_component_is_taken_out(fleet: Fleet, engine: CompartmentFacts) -> None:
    calls = RegisterServices(place=fleet.place)
    fitted = {"serial": "ENG-77", "fitted_on": date(2026, 6, 1), "condition": "new",
              "hours_before": 0.0, "reason": ""}  # fmt: skip
    calls.act("fit", engine, fitted, moment=NOW, today=LAST_DAY)
    lines = calls.history(engine, fluids=FLUIDS, today=LAST_DAY)
    line = next(one for one in lines if deed_for(one)[0] == REMOVE)
    calls.act_on(REMOVE, line, {"on": LAST_DAY, "reason": "worn"}, moment=NOW, today=LAST_DAY)
    [fit] = [one for one in box_record(fleet.place, engine.id).fits if one.serial == "ENG-77"]
    assert (fit.removed_on, fit.reason) == (LAST_DAY, "worn")
