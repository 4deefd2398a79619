"""True wear, hours left and what is said of them, on a small fleet."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from fluiddesk.domain.fleet import Certainty, EventKind
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.compartment_history import sisters
from fluiddesk.services.compartment_history.read import compartment_history
from fluiddesk.services.compartment_history.telling import (
    event_rows,
    hours_left_row,
    sample_rows,
    wear_rows,
)
from fluiddesk.storage import EventRecord
from tests.fleets import LAST_DAY, NOW, Fleet, results


def history(fleet: Fleet, box):
    return compartment_history(fleet.place, box.compartment_id, today=LAST_DAY)


def engine(fleet: Fleet):
    return fleet.boxes("engine", Severity.NORMAL)[0]


# --- curves ---------------------------------------------------------------------------------------


def test_that_a_curve_starts_anew_at_each_change_by_what_the_old_oil_left(fleet: Fleet):
    told = history(fleet, engine(fleet))
    iron = next(one for one in told.series if one.analyte.code == "iron")
    assert iron.starts, "the engine had its oil changed in the year"
    with fleet.place.store.reading() as desk:
        share = desk.fleet.compartment(told.compartment).residue_share
    by_fill = {one.number: one for one in told.fill_facts}
    for start in iron.starts:
        first, _ = by_fill[start.fill].samples
        before = float(iron.values[first - 1])
        new = float(iron.references[first])
        new = 0.0 if math.isnan(new) else new
        assert start.value == pytest.approx(share * before + (1 - share) * new)
        assert told.samples[first].hours > start.hours


def test_that_limits_are_told_for_each_run_of_samples_without_a_gap(fleet: Fleet):
    told = history(fleet, engine(fleet))
    for one in told.series:
        assert one.spans[0].first == 0
        assert one.spans[-1].last == len(told.samples) - 1
        assert one.bands_at(len(told.samples) - 1) == one.bands


def test_that_a_change_counts_from_the_believed_sample_before(fleet: Fleet):
    box = engine(fleet)
    before = history(fleet, box)
    iron = next(one for one in before.series if one.analyte.code == "iron")
    last = float(iron.values[-1])
    code = fleet.draw(
        box, 1, on=LAST_DAY - timedelta(3), trust=Trust.REJECTED, trust_reason="mixed up"
    )
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=900)))
    fleet.take_in(fleet.lab_file("two.csv", results(fleet.draw(box, 2), iron=last + 1)))
    iron = next(one for one in history(fleet, box).series if one.analyte.code == "iron")
    assert iron.changes[-1] == pytest.approx(1.0)
    assert not iron.is_large_change[-1]
    assert iron.is_large_change[-2]


def test_that_the_other_side_of_the_machine_is_on_the_same_curve(fleet: Fleet):
    pairs = [box for box in fleet.boxes() if box.position in ("left", "right")]
    told = history(fleet, pairs[0])
    others = [one.other_side for one in told.series if one.other_side is not None]
    assert others
    swapped = {"left": "right", "right": "left"}[pairs[0].position]
    assert others[0].name.endswith(swapped)
    assert len(others[0].values) == len(others[0].hours) == len(others[0].signs)


def test_that_like_machines_are_a_band_only_where_there_are_enough(fleet: Fleet):
    counts = {}
    for box in fleet.boxes():
        counts.setdefault((box.machine_kind, box.kind, box.fluid_class), []).append(box)
    many = max(counts.values(), key=len)
    few = min(counts.values(), key=len)
    if len(many) >= 5:
        bands = [one.sisters for one in history(fleet, many[0]).series if one.sisters]
        assert bands
        for band in bands:
            assert (band.low <= band.middle).all()
            assert (band.middle <= band.high).all()
    assert len(few) < 5
    assert all(one.sisters is None for one in history(fleet, few[0]).series)


# --- wear -----------------------------------------------------------------------------------------


def test_that_the_wear_of_an_engine_is_told_for_each_fill_with_its_band(fleet: Fleet):
    told = history(fleet, engine(fleet))
    iron = next(one for one in told.wear.metals if one.analyte.code == "iron")
    rated = [fill for fill in iron.fills if fill.has_rate]
    assert rated
    mass = None
    for fill in rated:
        assert fill.ppm_low < fill.ppm_per_100_h < fill.ppm_high
        mass = fill.mg_per_hour / fill.ppm_per_100_h * 100
    assert mass == pytest.approx(told.capacity_l * 0.87, rel=0.06)
    assert iron.now_ppm_low < iron.now_ppm_per_100_h < iron.now_ppm_high
    assert iron.cumulative is not None
    assert (iron.cumulative.low <= iron.cumulative.grams).all()
    assert (iron.cumulative.grams <= iron.cumulative.high).all()
    assert iron.cumulative.grams[-1] == pytest.approx(sum(fill.grams for fill in rated), rel=1e-6)
    assert iron.chart is not None or "needs 8 fills" in iron.no_chart_why


def test_that_a_box_never_sampled_has_no_wear_and_no_forecast_but_a_reason(fleet: Fleet):
    box = engine(fleet)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        like = desk.fleet.compartment(box.compartment_id)
        key = desk.new_id()
        desk.fleet.add_compartment(replace(like, id=key, kind="drop_box", position="spare"))
    told = compartment_history(fleet.place, key, today=LAST_DAY)
    assert told.wear.metals == ()
    assert told.wear.why
    left = told.hours_left
    assert (left.p10, left.p50, left.p90) == (None, None, None)
    assert not left.is_enough
    assert left.why.startswith("Not enough to say")


# --- hours left -----------------------------------------------------------------------------------


def test_that_hours_left_are_three_numbers_in_order_or_none_with_a_reason(fleet: Fleet):
    seen = set()
    for box in fleet.boxes():
        left = history(fleet, box).hours_left
        numbers = (left.p10, left.p50, left.p90)
        if left.p50 is None:
            assert numbers == (None, None, None)
            assert left.why
            seen.add("why")
            continue
        assert 0 <= left.p10 <= left.p50 <= left.p90
        assert left.analyte is not None
        assert left.bound is not None
        assert left.chance_before_due is None or 0 <= left.chance_before_due <= 1
        if left.p50 > 0 and left.on50 is not None:
            assert left.on10 <= left.on50 <= left.on90
            seen.add("numbers")
    assert seen == {"why", "numbers"}


def test_that_a_value_past_the_urgent_limit_leaves_no_hours(fleet: Fleet):
    box = engine(fleet)
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=480)))
    left = history(fleet, box).hours_left
    assert (left.p10, left.p50, left.p90) == (0.0, 0.0, 0.0)
    assert left.analyte.code == "iron"
    assert "past its Urgent limit" in left.why


def test_that_a_value_at_act_looks_ahead_to_urgent(fleet: Fleet):
    box = engine(fleet)
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=110)))
    told = history(fleet, box)
    assert told.severity is Severity.ACT
    clocks = {one.analyte.code: one for one in told.hours_left.clocks}
    assert clocks["iron"].severity is Severity.URGENT


def test_that_the_same_box_is_told_the_same_twice(fleet: Fleet):
    box = engine(fleet)
    first, second = history(fleet, box), history(fleet, box)
    assert first.hours_left == second.hours_left
    assert [one.sentence for one in first.wear.metals] == [
        one.sentence for one in second.wear.metals
    ]


def test_that_scripts_are_given_the_numbers_of_the_page(fleet: Fleet):
    for box in fleet.boxes()[:6]:
        told = history(fleet, box)
        row = hours_left_row(told)
        left = told.hours_left
        assert (row["p10"], row["p50"], row["p90"]) == (left.p10, left.p50, left.p90)
        assert row["why"] == left.why
        assert row["on50"] == left.on50
        assert row["chance_before_due"] == left.chance_before_due
        assert [one["p50"] for one in row["clocks"]] == [one.p50 for one in left.clocks]
        for one, metal in zip(wear_rows(told), told.wear.metals, strict=True):
            np.testing.assert_equal(
                math.nan if one["ppm_per_100_h"] is None else one["ppm_per_100_h"],
                metal.now_ppm_per_100_h,
            )
            assert len(one["fills"]) == len(metal.fills)
            if metal.cumulative is not None:
                assert one["grams"] == float(metal.cumulative.grams[-1])
        assert len(sample_rows(told)) == len(told.samples)
        assert len(event_rows(told)) == len(told.events)


# --- for and against ------------------------------------------------------------------------------


def test_that_reasons_stand_for_and_doubts_against_the_verdict(fleet: Fleet):
    box = engine(fleet)
    code = fleet.draw(box, 1, trust=Trust.SUSPECT, trust_reason="drawn from the drain stream")
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=480)))
    told = history(fleet, box).arguments
    speak_for = [one.text for one in told if one.is_for]
    against = [one.text for one in told if not one.is_for]
    assert speak_for[0].startswith("Iron above the Urgent limit")
    assert any("drain stream" in one for one in against)
    assert any("10 h only" in one for one in against), "the sample was drawn 10 h after the change"


def test_that_the_sentence_ends_with_the_next_sample(fleet: Fleet):
    told = history(fleet, engine(fleet))
    assert "ext sample" in told.sentence or "at the laboratory" in told.sentence


def test_that_denied_events_stand_in_the_history_and_change_no_fill(fleet: Fleet):
    box = engine(fleet)
    before = history(fleet, box)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        desk.fleet.add_event(
            EventRecord(
                site=box.site_id, compartment=box.compartment_id, kind=EventKind.FLUID_CHANGE,
                happened_on=before.samples[-1].taken_on, certainty=Certainty.DENIED, source="desk",
            )
        )  # fmt: skip
    after = history(fleet, box)
    assert len(after.events) == len(before.events) + 1
    assert after.fill_facts == before.fill_facts
    assert after.hours_left == before.hours_left


def test_that_a_revised_report_tells_what_it_says_otherwise(fleet: Fleet):
    box = engine(fleet)
    code = fleet.draw(box, 1)
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=32, copper=9)))
    fleet.take_in(fleet.lab_file("two.csv", results(code, issue=2, iron=23, copper=9)))
    first, second = history(fleet, box).samples[-1].revisions
    assert (first.issue, first.is_current, first.changed) == (1, False, ())
    assert (second.issue, second.is_current) == (2, True)
    assert second.changed == ("Iron 32 to 23",)


def test_that_the_base_number_clock_counts_down_to_its_limit(fleet: Fleet):
    clocks = []
    for box in fleet.boxes("engine"):
        left = history(fleet, box).hours_left
        assert (left.base_number is None) == bool(left.base_number_why)
        if left.base_number is not None:
            clocks.append(left.base_number)
    assert clocks, "some engine had its base number tested"
    for one in clocks:
        assert one.limit < one.value
        assert one.used_per_1000_h > 0
        assert one.hours_left >= one.straight_line_hours_left - 1e-6, "fresh oil stretches the life"


def test_that_like_boxes_are_worked_out_once_until_a_report_comes(fleet: Fleet):
    box = engine(fleet)
    history(fleet, box)
    shelf = sisters.shelf_of(fleet.place.store)
    with fleet.place.store.reading() as desk:
        before = shelf.stamp(desk)
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=20)))
    with fleet.place.store.reading() as desk:
        assert shelf.stamp(desk) != before
        with shelf.held_still(desk):
            assert shelf.stamp(desk) == shelf.stamp(desk)


def test_that_a_finding_stands_where_its_sample_was_drawn(fleet: Fleet):
    box = engine(fleet)
    sample = history(fleet, box).samples[-1]
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        action, finding = desk.new_id(), desk.new_id()
        desk.load(
            "action",
            ("site_id", "id", "compartment_id", "sample_id", "kind", "status", "created_at",
             "created_by"),
            [(box.site_id, action, box.compartment_id, sample.sample_id, "look", "done", NOW,
              "Kim")],
        )  # fmt: skip
        desk.load(
            "finding",
            ("site_id", "id", "action_id", "result", "part", "note", "found_on"),
            [(box.site_id, finding, action, "nothing_found", "liner", "", LAST_DAY)],
        )
    [found] = history(fleet, box).findings
    assert (found.result, found.part, found.found_on) == ("nothing found", "liner", LAST_DAY)
    assert found.place_hours == pytest.approx(sample.hours)
