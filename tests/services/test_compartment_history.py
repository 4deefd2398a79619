"""One box's story: what scripts are given is what the page shows."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history.read import compartment_history, find_compartment
from fluiddesk.services.compartment_history.telling import event_rows, sample_rows
from tests.fleets import LAST_DAY, NOW, Fleet, results


def history(fleet: Fleet, box):
    return compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)


def engine(fleet: Fleet):
    return fleet.boxes("engine", Severity.NORMAL)[0]


def test_that_a_bottle_at_the_laboratory_is_told_until_its_report_comes(fleet: Fleet):
    box = engine(fleet)
    assert history(fleet, box).due.awaited_on is None
    drawn_on = LAST_DAY - timedelta(2)
    fleet.draw(box, 901, on=drawn_on)
    assert history(fleet, box).due.awaited_on == drawn_on


# --- the whole -----------------------------------------------------------------------------------


def test_that_the_history_holds_what_the_store_holds(either_fleet: Fleet):
    fleet = either_fleet
    box = engine(fleet)
    told = history(fleet, box)
    with fleet.place.store.reading() as desk:
        samples = {one.id: one for one in desk.sampling.samples_of(box.compartment_id)}
        sheets = {
            one.sample: one for one in desk.results.sheets_of(box.compartment_id) if one.is_current
        }
        readings = {
            (one.sample, one.analyte): one for one in desk.results.readings_of(box.compartment_id)
        }
        events = desk.fleet.events(box.compartment_id)
    assert {one.sample_id for one in told.samples} == set(sheets)
    for one in told.samples:
        sample, sheet = samples[one.sample_id], sheets[one.sample_id]
        assert (one.bottle_code, one.taken_on) == (sample.bottle_code, sample.taken_on)
        assert (one.report_number, one.issue) == (sheet.report_number, sheet.issue)
    days = [one.taken_on for one in told.samples]
    assert days == sorted(days)
    seen = {
        (told.samples[index].sample_id, series.analyte.code): (series.values[index], sign)
        for series in told.series
        for index, sign in enumerate(series.signs.tolist())
        if sign != Sign.NOT_TESTED
    }
    stored = {
        key: (math.nan if one.value is None else one.value, int(one.sign))
        for key, one in readings.items()
        if one.sign is not Sign.NOT_TESTED
    }
    assert seen.keys() == stored.keys()
    np.testing.assert_equal([seen[key] for key in stored], list(stored.values()))
    assert len(told.events) == len([one for one in events if one.superseded_by is None])
    assert told.severity == box.severity
    assert told.limit_set == "1 Starter limits"


def test_that_the_rows_for_scripts_are_the_facts_of_the_page(fleet: Fleet):
    told = history(fleet, engine(fleet))
    rows = sample_rows(told)
    assert [row["bottle"] for row in rows] == [one.bottle_code for one in told.samples]
    assert [row["severity"] for row in rows] == [one.severity.word for one in told.samples]
    for index, row in enumerate(rows):
        shown = {one["analyte"]: one for one in row["readings"]}
        for series in told.series:
            code = series.analyte.code
            if series.signs[index] == Sign.NOT_TESTED:
                assert code not in shown
                continue
            assert shown[code]["shown"] == series.shown(index)
            assert shown[code]["printed"] == series.printed[index]
            assert shown[code]["unit"] == series.analyte.unit
            assert shown[code]["severity"] == Severity(int(series.severity[index])).word
    events = event_rows(told)
    assert [one["happened_on"] for one in events] == [one.happened_on for one in told.events]
    assert [one["kind"] for one in events] == [one.kind.value for one in told.events]


def test_that_a_value_below_detection_keeps_its_sign_and_is_no_number_of_its_own(fleet: Fleet):
    box = engine(fleet)
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=20, silver="<1")))
    last = sample_rows(history(fleet, box))[-1]
    [silver] = [one for one in last["readings"] if one["analyte"] == "silver"]
    assert (silver["sign"], silver["value"], silver["shown"]) == ("below", 1.0, "<1")
    assert silver["printed"].startswith("<1")


def test_that_the_reasons_name_the_value_of_the_last_sample(fleet: Fleet):
    box = engine(fleet)
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=480)))
    told = history(fleet, box)
    [reason] = told.reasons
    assert (reason.title, reason.text) == ("Iron above the Urgent limit", "480 mg/kg, limit 150")
    assert told.sentence.startswith("Urgent: iron above the Urgent limit (480 mg/kg, limit 150)")
    assert told.series[0].analyte.code == "iron", "the curve that matters now comes first"
    assert told.series[0].severity[-1] == Severity.URGENT
    assert "Iron" in told.changed_since


def test_that_a_suspect_sample_is_doubted_in_the_sentence(fleet: Fleet):
    box = engine(fleet)
    code = fleet.draw(box, 1, trust=Trust.SUSPECT, trust_reason="drawn from the drain stream")
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=480)))
    told = history(fleet, box)
    assert told.trust is Trust.SUSPECT
    assert "Doubt the sample first: drawn from the drain stream." in told.sentence


def test_that_a_rejected_sample_is_said_to_be_so(fleet: Fleet):
    box = engine(fleet)
    code = fleet.draw(box, 1, trust=Trust.REJECTED, trust_reason="bottle of another machine")
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=480)))
    told = history(fleet, box)
    assert told.sentence.startswith(
        "The last sample, of 2026-06-28, was rejected: bottle of another machine."
    )
    assert told.severity is Severity.NORMAL


def test_that_a_box_never_sampled_has_a_history_all_the_same(fleet: Fleet):
    like = engine(fleet)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        model = desk.fleet.compartment(like.compartment_id)
        bare = replace(model, id=CompartmentId(desk.new_id()), position="rear")
        desk.fleet.add_compartment(bare)
    told = compartment_history(fleet.place, bare.id, today=LAST_DAY)
    assert told.sentence == "No sample has been reported for this box yet."
    assert (told.samples, told.series, told.changed_since) == ((), (), "")
    assert told.severity is Severity.NO_VERDICT
    assert sample_rows(told) == []


def test_that_a_box_that_is_not_there_is_named_so(fleet: Fleet):
    with pytest.raises(NotFoundError, match="not in the database any more"):
        compartment_history(fleet.place, CompartmentId(bytes(16)), today=LAST_DAY)


# --- finding -------------------------------------------------------------------------------------


def test_that_a_box_is_found_by_code_or_by_the_words_shown(fleet: Fleet):
    box = next(one for one in fleet.boxes() if one.position)
    words = fleet.place.catalogue.box_name(box.kind, box.position)
    for name in (f"{box.kind} {box.position}", words, words.upper(), words.replace(",", "")):
        assert find_compartment(fleet.place, box.machine.lower(), name) == box.compartment_id


def test_that_an_unknown_machine_is_named_with_the_remedy(fleet: Fleet):
    with pytest.raises(NotFoundError, match=r'no machine "XX-1".*fluiddesk condition'):
        find_compartment(fleet.place, "XX-1", "engine")


def test_that_an_unknown_box_is_told_which_there_are(fleet: Fleet):
    box = engine(fleet)
    with pytest.raises(NotFoundError, match=r'no compartment "wing"\. It has: .*"Engine"'):
        find_compartment(fleet.place, box.machine, "wing")


def test_that_a_machine_number_used_at_two_sites_needs_the_site(fleet: Fleet):
    first = engine(fleet)
    other = next(one for one in fleet.boxes("engine") if one.site_id != first.site_id)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.session.connection.exec_driver_sql(
            "UPDATE machine SET code = ? WHERE code = ?", (first.machine, other.machine)
        )
    with pytest.raises(NotFoundError, match=r"several sites: North pit, South pit\. Add --site"):
        find_compartment(fleet.place, first.machine, "engine")
    found = find_compartment(fleet.place, first.machine, "engine", site=other.site)
    assert found == other.compartment_id
