"""Past results: matched, taken in as past, confirmed by a person, undone."""

from collections.abc import Mapping
from datetime import date, timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError
from fluiddesk.domain.samples import SampleOrigin, SampleState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.lab_intake.take_in import undo_intake
from fluiddesk.services.past_results.confirm import confirm_rows, set_aside_rows, waiting_rows
from fluiddesk.services.past_results.facts import PastFate, PastPreview, PastTaken
from fluiddesk.services.past_results.preview import preview_past_results
from fluiddesk.services.past_results.take_in import take_in_past_results
from fluiddesk.services.reassess.fleet import BoxFacts
from tests.fleets import LAST_DAY, NOW, Fleet, write_lab_file

LONG_AGO = date(2024, 3, 5)
LATER = NOW + timedelta(hours=1)


def past(
    machine: str, box: str = "Engine", *, on: date = LONG_AGO, **told: object
) -> dict[str, object]:
    row: dict[str, object] = {
        "machine": machine,
        "compartment": box,
        "sampled on": on.isoformat(),
        "report": f"P-{machine}-{on:%Y%m%d}",
    }
    return row | {"iron [mg/kg]": 20} | told


def preview(fleet: Fleet, *rows: Mapping[str, object], name: str = "past.csv") -> PastPreview:
    file = write_lab_file(fleet.folder / name, *rows)
    return preview_past_results(fleet.place, file, today=LAST_DAY)


def take(fleet: Fleet, *rows: Mapping[str, object], name: str = "past.csv") -> PastTaken:
    return take_in_past_results(
        fleet.place, preview(fleet, *rows, name=name), moment=NOW, today=LAST_DAY
    )


def engine(fleet: Fleet, number: int = 0) -> BoxFacts:
    return fleet.boxes("engine")[number]


def test_that_a_sure_row_becomes_a_sample_of_the_past_with_a_verdict(either_fleet: Fleet):
    box = engine(either_fleet)
    before = len(either_fleet.samples(box.compartment_id))
    taken = take(either_fleet, past(box.machine.lower(), "eng. oil", **{"iron [mg/kg]": 900}))
    assert (taken.taken_in, taken.waiting) == (1, 0)
    samples = either_fleet.samples(box.compartment_id)
    assert len(samples) == before + 1
    [old] = [one for one in samples if one.taken_on == LONG_AGO]
    assert (old.origin, old.state) == (SampleOrigin.PAST, SampleState.REPORTED)
    assert not old.origin.counts_in_compliance
    with either_fleet.place.store.reading() as desk:
        verdict = desk.assessments.in_force(old.id)
    assert verdict is not None
    assert verdict.severity >= Severity.ACT
    assert either_fleet.check() == []


def test_that_the_present_condition_stays_with_the_newest_sample(fleet: Fleet):
    box = engine(fleet)
    before = fleet.condition(box.compartment_id)
    taken = take(fleet, past(box.machine, **{"iron [mg/kg]": 900}))
    assert fleet.condition(box.compartment_id)["sample_id"] == before["sample_id"]
    assert [one.machine for one in taken.moved] == []


@pytest.mark.parametrize(
    ("machine", "box", "fate"),
    [
        ("{code}", "Engine", PastFate.SURE),
        ("Machine {code}", "Engine", PastFate.SURE),
        ("{code}", "", PastFate.DOUBTFUL),
        ("{code}", "Left nostril", PastFate.DOUBTFUL),
        ("no such machine", "Engine", PastFate.DOUBTFUL),
        ("{code}9", "Engine", PastFate.DOUBTFUL),
    ],
)
def test_that_only_what_fits_well_is_sure(fleet: Fleet, machine: str, box: str, fate: PastFate):
    code = engine(fleet).machine
    [row] = preview(fleet, past(machine.format(code=code), box)).rows
    assert row.fate is fate
    assert bool(row.why) == (fate is not PastFate.SURE)


def test_that_a_box_on_two_sides_without_a_side_printed_waits_for_a_person(fleet: Fleet):
    left = next(box for box in fleet.boxes("final_drive") if box.position == "left")
    [row] = preview(fleet, past(left.machine, "Final drive")).rows
    assert row.fate is PastFate.DOUBTFUL
    assert {one.compartment for one in row.candidates[:2]} == {
        "Final drive, left",
        "Final drive, right",
    }
    [sure] = preview(fleet, past(left.machine, "FD L/H")).rows
    assert (sure.fate, sure.candidates[0].compartment_id) == (PastFate.SURE, left.compartment_id)


def test_that_rows_that_cannot_be_read_are_held_with_a_remedy(fleet: Fleet):
    code = engine(fleet).machine
    rows = preview(
        fleet,
        past("", "Engine"),
        past(code, on=LAST_DAY + timedelta(1)),
        past(code) | {"iron [mg/kg]": ""},
        past(code) | {"sampled on": "yesterday"},
    ).rows
    assert [row.fate for row in rows] == [PastFate.HELD] * 4
    assert [word in row.why for row, word in zip(
        rows, ("machine is missing", "lies after today", "has no results", "yesterday"), strict=True
    )] == [True] * 4  # fmt: skip


def test_that_the_same_rows_in_another_file_are_known(fleet: Fleet):
    code = engine(fleet).machine
    take(fleet, past(code))
    again = preview(fleet, past(code), past(code, on=LONG_AGO + timedelta(9)), name="more.csv")
    assert [row.fate for row in again.rows] == [PastFate.KNOWN, PastFate.SURE]
    other = preview(fleet, past(code, report="P-9") | {"iron [mg/kg]": 21}, name="other.csv")
    assert [row.fate for row in other.rows] == [PastFate.DOUBTFUL]


def test_that_the_same_file_changes_nothing_twice(fleet: Fleet):
    rows = (past(engine(fleet).machine),)
    take(fleet, *rows)
    before = fleet.dump()
    again = take(fleet, *rows)
    assert again.already_taken_in
    assert fleet.dump() == before


def test_that_issues_of_one_report_are_one_sample_with_the_newest_in_force(fleet: Fleet):
    box = engine(fleet)
    first = past(box.machine, issue=1)
    take(fleet, first, first | {"issue": 2, "iron [mg/kg]": 44})
    with fleet.place.store.reading() as desk:
        sheets = [
            one for one in desk.results.sheets_of(box.compartment_id) if one.report_number[0] == "P"
        ]
        values = [
            one.value
            for one in desk.results.readings_of(box.compartment_id)
            if one.taken_on == LONG_AGO
        ]
    assert [(one.issue, one.is_current) for one in sheets] == [(1, False), (2, True)]
    assert values == [44.0]
    assert fleet.check() == []


def test_that_a_sample_waiting_for_its_report_is_answered_not_doubled(fleet: Fleet):
    box = engine(fleet)
    code = fleet.draw(box, 5)
    count = len(fleet.samples(box.compartment_id))
    drawn = LAST_DAY - timedelta(2)
    take(fleet, past(box.machine, on=drawn + timedelta(1)))
    samples = fleet.samples(box.compartment_id)
    assert len(samples) == count
    [answered] = [one for one in samples if one.bottle_code == code]
    assert (answered.state, answered.origin) == (SampleState.REPORTED, SampleOrigin.PLAN)


def test_that_meter_values_give_hours_and_one_out_of_line_waits(fleet: Fleet):
    box = engine(fleet)
    with fleet.place.store.reading() as desk:
        machine = desk.fleet.machine(box.machine)
        first = desk.fleet.meter_readings(machine.id)[0]
    days = [first.read_on - timedelta(back) for back in (90, 60, 30)]
    hours = [first.value - back * 4 for back in (90, 60, 30)]
    assert hours[0] > 0
    rows = [past(box.machine, on=day, meter=value) for day, value in zip(days, hours, strict=True)]
    rows[1] |= {"meter": hours[1] * 10}
    found = preview(fleet, *rows).rows
    assert [row.fate for row in found] == [PastFate.SURE, PastFate.DOUBTFUL, PastFate.SURE]
    assert "does not fit the others" in found[1].why
    take(fleet, *rows)
    samples = {one.taken_on: one for one in fleet.samples(box.compartment_id)}
    assert samples[days[0]].true_hours == pytest.approx(hours[0])
    with fleet.place.store.reading() as desk:
        kept = desk.fleet.meter_readings(machine.id)
    assert [one.read_on for one in kept][:2] == [days[0], days[2]]


def test_that_a_person_confirms_a_doubtful_row_and_it_waits_no_more(either_fleet: Fleet):
    box = engine(either_fleet)
    taken = take(either_fleet, past(box.machine, ""), past(box.machine, "?", report="P-2"))
    assert (taken.taken_in, taken.waiting) == (0, 2)
    first, second = waiting_rows(either_fleet.place)
    assert any(one.compartment_id == box.compartment_id for one in first.candidates)
    done = confirm_rows(
        either_fleet.place, {first.key: box.compartment_id}, moment=LATER, today=LAST_DAY
    )
    assert done.taken_in == 1
    assert LONG_AGO in {one.taken_on for one in either_fleet.samples(box.compartment_id)}
    with pytest.raises(OperatorError, match="Write why"):
        set_aside_rows(either_fleet.place, [second.key], reason=" ", moment=LATER, today=LAST_DAY)
    set_aside_rows(
        either_fleet.place, [second.key], reason="not ours", moment=LATER, today=LAST_DAY
    )
    assert waiting_rows(either_fleet.place) == ()
    with pytest.raises(NotFoundError, match="does not wait any more"):
        confirm_rows(
            either_fleet.place, {first.key: box.compartment_id}, moment=LATER, today=LAST_DAY
        )
    assert either_fleet.check() == []


def test_that_a_row_is_not_confirmed_where_the_box_has_results_of_that_day(fleet: Fleet):
    box = engine(fleet)
    take(fleet, past(box.machine), past(box.machine, "", report="P-2", **{"iron [mg/kg]": 33}))
    [row] = waiting_rows(fleet.place)
    with pytest.raises(OperatorError, match="has results of 2024-03-05 already"):
        confirm_rows(fleet.place, {row.key: box.compartment_id}, moment=LATER, today=LAST_DAY)
    assert len(waiting_rows(fleet.place)) == 1


def test_that_a_row_confirmed_at_another_site_is_kept_there(fleet: Fleet):
    first = engine(fleet)
    other = next(box for box in fleet.boxes("engine") if box.site_id != first.site_id)
    take(fleet, past(first.machine, ""))
    [row] = waiting_rows(fleet.place)
    confirm_rows(fleet.place, {row.key: other.compartment_id}, moment=LATER, today=LAST_DAY)
    assert LONG_AGO in {one.taken_on for one in fleet.samples(other.compartment_id)}
    assert fleet.check() == []


def test_that_undoing_takes_samples_verdicts_and_meter_values_back(either_fleet: Fleet):
    box = engine(either_fleet)
    with either_fleet.place.store.reading() as desk:
        machine = desk.fleet.machine(box.machine)
        readings = desk.fleet.meter_readings(machine.id)
        usage = desk.fleet.usage()
    day, value = readings[0].read_on - timedelta(30), readings[0].value - 100
    taken = take(either_fleet, past(box.machine, on=day, meter=value))
    assert taken.intake_id is not None
    undo_intake(either_fleet.place, taken.intake_id, moment=LATER, today=LAST_DAY)
    with either_fleet.place.store.reading() as desk:
        assert desk.fleet.meter_readings(machine.id) == readings
        assert desk.fleet.usage() == usage
    [old] = [one for one in either_fleet.samples(box.compartment_id) if one.taken_on == day]
    assert old.state is SampleState.VOID
    assert either_fleet.check() == []
    assert (
        take(either_fleet, past(box.machine, on=day, meter=value), name="again.csv").taken_in == 1
    )


def test_that_a_register_changed_since_the_preview_stops_the_saving(fleet: Fleet):
    box = engine(fleet)
    seen = preview(fleet, past(box.machine), name="one.csv")
    take(fleet, past(box.machine), name="two.csv")
    before = fleet.dump()
    with pytest.raises(StaleEditError, match=r"one\.csv"):
        take_in_past_results(fleet.place, seen, moment=LATER, today=LAST_DAY)
    assert fleet.dump() == before


def test_that_a_file_without_sampling_days_is_refused(fleet: Fleet):
    row = past(engine(fleet).machine)
    del row["sampled on"]
    with pytest.raises(OperatorError, match="no column of sampling dates"):
        preview(fleet, row)
