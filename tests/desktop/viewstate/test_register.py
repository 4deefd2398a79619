"""The lists and forms of the Register page, without a window."""

from dataclasses import replace

import pytest

from fluiddesk.desktop.viewstate.first_hour import is_under_way, label_texts, steps
from fluiddesk.desktop.viewstate.outside_forms import outside_form
from fluiddesk.desktop.viewstate.outside_plan import prefill
from fluiddesk.desktop.viewstate.record_form import FormDraft
from fluiddesk.desktop.viewstate.register import RegisterState, Section
from fluiddesk.desktop.viewstate.register_actions import (
    FLUID_SAMPLE,
    WALK_UP,
    action_form,
    actions_for,
    new_record,
)
from fluiddesk.desktop.viewstate.register_forms import facts_from, record_form
from fluiddesk.desktop.viewstate.register_offers import Offers
from fluiddesk.desktop.viewstate.register_words import Record, key_of, lacks_line
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.fleet import MachineState
from fluiddesk.services.register.facts import SiteFacts
from tests.desktop.makers_register import CATALOGUE, EMPTY, TODAY, machine_key, make_register

FULL = make_register(8)
STATE = RegisterState(FULL, CATALOGUE)
OFFERS = Offers(facts=FULL, catalogue=CATALOGUE, layouts=("lab_a",))
EVERY_RECORD: tuple[Record, ...] = (
    *FULL.sites, FULL.machines[0], FULL.meters[0], FULL.compartments[0], FULL.points[0],
    FULL.fluids[0], FULL.tanks[0], FULL.batches[0], *FULL.laboratories, *FULL.test_lists,
    *FULL.users,
)  # fmt: skip


def test_that_machines_stand_under_their_site_with_what_is_missing() -> None:
    assert STATE.rows[0].name == "Kestrel pit (invented), 8 machines"
    assert STATE.rows[0].record is None
    assert [row.name for row in STATE.rows[1:3]] == ["HT-01", "HT-02"]
    assert [row.name for row in STATE.rows if row.lacks] == ["HT-04", "HT-08"]
    assert STATE.rows[4].lacks == "capacity"


def test_that_the_sentence_tells_how_many_machines_are_held_up() -> None:
    assert STATE.sentence == (
        "8 machines at 1 site, 72 compartments; 2 incomplete, 2 cannot be planned or judged yet."
    )
    assert RegisterState(EMPTY, CATALOGUE).sentence.startswith("The register is empty.")
    whole = replace(FULL, missing=())
    assert RegisterState(whole, CATALOGUE).sentence.endswith("nothing is missing.")


def test_that_the_filter_finds_serials_and_what_is_missing() -> None:
    state = RegisterState(FULL, CATALOGUE)
    state.wanted = "s7003"
    state.arrange()
    assert [row.name for row in state.rows[1:]] == ["HT-03"]
    state.wanted, state.only_incomplete = "", True
    state.arrange()
    assert [row.name for row in state.rows[1:]] == ["HT-04", "HT-08"]


@pytest.mark.parametrize("section", list(Section))
def test_that_every_section_lists_as_many_records_as_its_chip_counts(section: Section) -> None:
    state = RegisterState(FULL, CATALOGUE)
    state.section = section
    state.arrange()
    assert sum(row.record is not None for row in state.rows) == state.count(section) > 0


def test_that_a_box_stands_before_its_sampling_point_among_the_parts() -> None:
    names = [row.cells[0] for row in STATE.part_rows(machine_key(1))]
    assert names[:2] == ["Engine", "Sampling point, engine"]
    assert names[-1] == "Meter (h), fitted 2021-03-01"


@pytest.mark.parametrize("record", EVERY_RECORD, ids=lambda one: type(one).__name__)
def test_that_a_form_saved_as_it_stands_changes_nothing(record: Record) -> None:
    assert facts_from(record, FormDraft(record_form(record, OFFERS)).values()) == record


def test_that_lists_of_pairs_are_read_from_one_field() -> None:
    draft = FormDraft(record_form(FULL.sites[0], OFFERS))
    draft.write("dust_shares", "Si 0.7, Al 0.2")
    assert facts_from(FULL.sites[0], draft.values()).dust_shares == {"Si": 0.7, "Al": 0.2}
    draft.write("dust_shares", "Si")
    with pytest.raises(OperatorError, match="has no value"):
        facts_from(FULL.sites[0], draft.values())


def test_that_a_change_of_state_is_read_from_the_form() -> None:
    draft = FormDraft(record_form(FULL.machines[0], OFFERS))
    draft.write("state", "down")
    assert facts_from(FULL.machines[0], draft.values()).state is MachineState.DOWN


def test_that_a_new_machine_needs_a_site_first() -> None:
    assert new_record("new_machine", None, replace(OFFERS, facts=EMPTY)) is None
    made = new_record("new_machine", None, OFFERS)
    assert made is not None
    form = record_form(made, OFFERS)
    assert form.is_new
    assert set(FormDraft(form).problems) == {"code", "kind", "model"}


@pytest.mark.parametrize("record", EVERY_RECORD, ids=lambda one: type(one).__name__)
def test_that_every_action_offered_has_a_form_or_a_record_of_its_own(record: Record) -> None:
    for action in actions_for(record, OFFERS):
        if action.key in (WALK_UP, FLUID_SAMPLE):
            known = prefill(record, OFFERS)
            form = outside_form(action.key, OFFERS, today=TODAY, prefill=known)
            assert any(one.value == text for one in form.fields for text in known.values())
        elif action.key != "undo" and new_record(action.key, record, OFFERS) is None:
            assert action_form(action.key, record, OFFERS, today=TODAY).fields


def test_that_a_machine_can_be_transferred_only_where_there_is_another_site() -> None:
    machine = FULL.machines[0]
    assert "Transfer" not in [one.words for one in actions_for(machine, OFFERS)]
    two = replace(FULL, sites=(*FULL.sites, SiteFacts(site=2, name="Second", version=1)))
    offers = replace(OFFERS, facts=two)
    assert "Transfer" in [one.words for one in actions_for(machine, offers)]
    to = action_form("transfer", machine, offers, today=TODAY).fields[0]
    assert to.choices == (("2", "Second"),)


def test_that_an_empty_database_begins_with_the_site() -> None:
    first, second, *others = steps(EMPTY)
    assert first.actions == (("new_site", "Add your site"),)
    assert not second.actions
    assert not any(step.is_done for step in (first, second, *others))
    assert is_under_way(EMPTY, steps(EMPTY))


def test_that_each_step_names_what_is_missing() -> None:
    told = {step.title: step for step in steps(FULL)}
    assert told["Fluids and capacities"].told == (
        "2 without a fluid or litres: HT-04 engine, HT-08 engine"
    )
    assert not told["Fluids and capacities"].is_done
    assert told["Intervals"].is_done
    whole = replace(
        FULL, compartments=tuple(replace(box, capacity_l=30.0) for box in FULL.compartments)
    )
    assert not is_under_way(whole, steps(whole))


def test_that_the_labels_cover_each_box_that_owes_a_sample() -> None:
    lines = label_texts(FULL, CATALOGUE).splitlines()
    assert lines[0].split("\t")[:2] == ["machine", "compartment"]
    # HT-07 stands by and owes none.
    assert len(lines) - 1 == 7 * 9
    assert not any(line.startswith("HT-07") for line in lines)


def test_that_the_pressing_lacks_stand_first_and_are_counted() -> None:
    [lack] = FULL.missing[:1]
    mild = replace(lack, field="filter_micron", blocks=False)
    assert lacks_line((mild, lack, lack)) == "capacity (2), filter micron"


def test_that_every_record_is_found_again_by_its_key() -> None:
    for record in EVERY_RECORD:
        assert STATE.find(key_of(record)) == record
