"""Samples outside the plan as lines, words and forms, in plain Python."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.desktop.viewstate.outside_forms import OutsideCalls, outside_form
from fluiddesk.desktop.viewstate.outside_plan import (
    OutsideList,
    Subject,
    facts_told,
    label_texts,
    lines_of,
    offers_for,
    prefill,
    sentence,
    title_of,
    value_cells,
)
from fluiddesk.desktop.viewstate.record_form import FormDraft
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.identity import bottle_code
from fluiddesk.domain.samples import SampleOrigin, SampleState
from fluiddesk.services.outside_plan.fluid_samples import FluidSampleKind
from fluiddesk.services.register.facts import TankFacts
from fluiddesk.services.register.fluids import save_tank
from fluiddesk.services.register.read import register_facts
from tests.desktop.makers_outside import FACTS, LABEL, NEW_FLUID, NOTHING, TWIN, VALUES, WALK_UP
from tests.desktop.makers_register import CATALOGUE, TODAY, make_register
from tests.fleets import LAST_DAY, NOW, Fleet, results

OFFERS = Offers(facts=make_register(3), catalogue=CATALOGUE)
FIRST, SECOND, DRUM = (bottle_code(f"26W{n:05}") for n in (1, 2, 3))


def test_that_each_list_tells_bottle_kind_and_state() -> None:
    first, twin = lines_of(FACTS, OutsideList.BOXES)
    assert (first.what, first.of, first.state) == ("Walk-up", "HT-01, Engine", "Drawn")
    assert (twin.what, twin.state) == ("Duplicate", "Rejected")
    [fluid] = lines_of(FACTS, OutsideList.FLUIDS)
    assert (fluid.what, fluid.of) == ("New fluid", "Delivery D-12, Engine oil 15W-40")
    [label] = lines_of(FACTS, OutsideList.LABELS)
    assert (label.bottle, label.of, label.state) == (LABEL.code, LABEL.site, "Unused")


def test_that_the_sentence_counts_what_is_awaited_and_rejected() -> None:
    assert sentence(FACTS) == (
        "3 samples outside the plan, 1 without a report, 1 rejected; 1 spare label."
    )
    assert sentence(NOTHING) == "No sample outside the plan yet; 0 spare labels."


@pytest.mark.parametrize("subject", [WALK_UP, TWIN, NEW_FLUID, LABEL])
def test_that_what_is_known_is_told_and_what_is_not_is_left_out(subject: Subject) -> None:
    told = facts_told(subject)
    assert title_of(subject)
    assert told
    assert all(words for _, words in told)


def test_that_only_what_fits_is_offered() -> None:
    assert [key for key, _ in offers_for(WALK_UP)] == ["open", "duplicate", "reject"]
    assert [key for key, _ in offers_for(TWIN)] == ["open", "duplicate"]
    assert [key for key, _ in offers_for(NEW_FLUID)] == ["reference"]
    awaited = replace(NEW_FLUID, report_number="", state=SampleState.TAKEN)
    assert [key for key, _ in offers_for(awaited)] == ["reject"]
    assert [key for key, _ in offers_for(LABEL)] == ["walk_up", "fluid", "copy_labels"]


def test_that_values_keep_what_was_printed() -> None:
    assert value_cells(VALUES) == (
        ("Fe", "<1", "mg/kg", "1 mg/kg"), ("Zn", "1120", "mg/kg", ""),
    )  # fmt: skip
    assert label_texts([LABEL]) == f"label\tsite\n{LABEL.code}\t{LABEL.site}"


def test_that_a_record_fills_in_what_it_knows() -> None:
    facts = OFFERS.facts
    assert prefill(facts.compartments[0], OFFERS) == {"compartment": "HT-01, Engine"}
    assert prefill(facts.tanks[0], OFFERS) == {
        "kind": "tank", "store": "Tank T-1, Engine oil 15W-40, Kestrel pit (invented)",
    }  # fmt: skip
    assert prefill(facts.machines[0], OFFERS) == {}


def test_that_a_box_is_picked_by_its_words_in_any_case() -> None:
    draft = FormDraft(outside_form("walk_up", OFFERS, today=TODAY))
    draft.write("compartment", "ht-02,  engine")
    box = next(one for one in OFFERS.facts.compartments if one.machine_code == "HT-02")
    assert "compartment" not in draft.problems
    draft.write("bottle_code", FIRST)
    assert draft.values()["compartment"] == bytes(box.id).hex()
    draft.write("compartment", "HT-0")
    assert draft.problem("compartment") == '"HT-0" is not in the list. Type a part and choose one.'


def test_that_a_machine_number_of_two_sites_is_told_with_its_site(fleet: Fleet) -> None:
    offers = offers_of(fleet)
    words = [words for _, words in offers.boxes]
    assert len(set(words)) == len(words)


def offers_of(fleet: Fleet) -> Offers:
    return Offers(
        facts=register_facts(fleet.place, today=LAST_DAY), catalogue=fleet.place.catalogue
    )


def act(fleet: Fleet, key: str, **written: str) -> str:
    offers = offers_of(fleet)
    draft = FormDraft(outside_form(key, offers, today=LAST_DAY))
    for field, text in written.items():
        draft.write(field, text)
    done = OutsideCalls(place=fleet.place).act(
        key, draft.values(), offers, moment=NOW, today=LAST_DAY
    )
    assert done.bottle
    return done.told


def test_that_a_walk_up_its_duplicate_and_a_rejection_go_through_their_forms(fleet: Fleet) -> None:
    box = next(words for _, words in offers_of(fleet).boxes if "Engine" in words)
    act(fleet, "walk_up", bottle_code=FIRST, compartment=box, taken_by="Kim",
        taken_on=(LAST_DAY - timedelta(1)).isoformat())  # fmt: skip
    act(fleet, "duplicate", first=FIRST.lower(), bottle_code=SECOND)
    laboratory = offers_of(fleet).laboratories[0][0]
    told = act(fleet, "reject", bottle_code=SECOND, laboratory=laboratory, reason="leaked")
    assert told == f"Bottle {SECOND} is rejected; its compartment is due again."
    facts = OutsideCalls(place=fleet.place).facts()
    found = {one.bottle_code: one for one in facts.box_samples}
    assert found[FIRST].origin is SampleOrigin.WALK_UP
    assert (found[SECOND].first_bottle, found[SECOND].rejected_reason) == (FIRST, "leaked")


def test_that_a_tank_says_the_site_and_the_fluid_of_its_sample(fleet: Fleet) -> None:
    facts = register_facts(fleet.place, today=LAST_DAY)
    tank = TankFacts(site=facts.sites[0].site, code="T-1", fluid=facts.fluids[0].code)
    save_tank(fleet.place, tank, today=LAST_DAY, moment=NOW)
    [(_, store)] = offers_of(fleet).stores
    act(fleet, "fluid", kind="new_fluid", bottle_code=DRUM, store=store)
    [sample] = OutsideCalls(place=fleet.place).facts().fluid_samples
    assert (sample.kind, sample.container) == (FluidSampleKind.NEW_FLUID, "T-1")
    assert (sample.fluid_code, sample.site) == (facts.fluids[0].code, facts.sites[0].name)
    fleet.take_in(fleet.lab_file("one.csv", results(DRUM, iron=3) | {"machine": ""}))
    assert act(fleet, "reference", bottle_code=DRUM).startswith("Reference ")
    [value] = OutsideCalls(place=fleet.place).values(DRUM)
    assert value.printed == "3"


def test_that_a_check_sample_needs_its_site_and_fluid(fleet: Fleet) -> None:
    facts = register_facts(fleet.place, today=LAST_DAY)
    with pytest.raises(OperatorError, match="Choose the site and the fluid"):
        act(fleet, "check", bottle_code=DRUM, container="reference can 3")
    act(fleet, "check", bottle_code=DRUM, container="reference can 3",
        site=str(int(facts.sites[0].site)), fluid=facts.fluids[0].code)  # fmt: skip
    [sample] = OutsideCalls(place=fleet.place).facts().fluid_samples
    assert (sample.kind, sample.state) == (FluidSampleKind.CHECK, SampleState.TAKEN)


def test_that_labels_are_made_for_a_site(fleet: Fleet) -> None:
    site = str(int(register_facts(fleet.place, today=LAST_DAY).sites[0].site))
    assert " to " in act(fleet, "labels", site=site, count="3")
    assert len(OutsideCalls(place=fleet.place).facts().spare_labels) == 3
