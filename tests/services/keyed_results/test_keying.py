"""A report keyed by hand: opened, typed, checked, kept, answered, saved, undone."""

import json
from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError, UsageError
from fluiddesk.domain.identity import BottleCodeError, bottle_code
from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.keyed_results.cells import read_cell
from fluiddesk.services.keyed_results.checking import check_report
from fluiddesk.services.keyed_results.drafts import (
    answer_warning,
    drop_draft,
    keep_draft,
    open_draft,
    park_draft,
)
from fluiddesk.services.keyed_results.facts import Answer, HeadField, WarningKind
from fluiddesk.services.keyed_results.open_report import keying_layouts, open_report
from fluiddesk.services.keyed_results.queue import results_queue
from fluiddesk.services.lab_intake.take_in import undo_intake
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables, results
from tests.services.keyed_results.clerk import LATER, at_the_desk, open_for

# --- opening -------------------------------------------------------------------------------------


def test_that_a_slip_in_the_bottle_code_is_refused_at_once_with_what_to_do(fleet: Fleet):
    code = fleet.draw(fleet.boxes("engine", Severity.NORMAL)[0], 1)
    slipped = code.replace("00001", "00010")
    with pytest.raises(BottleCodeError, match="Compare it with the label"):
        open_report(fleet.place, slipped, today=LAST_DAY)


def test_that_a_code_may_be_typed_small_and_without_hyphens(fleet: Fleet):
    code = fleet.draw(fleet.boxes("engine", Severity.NORMAL)[0], 1)
    report = open_report(fleet.place, f" {code.lower().replace('-', '')} ", today=LAST_DAY)
    assert report.bottle_code == code


def test_that_a_bottle_nobody_registered_is_told_with_the_way_on(fleet: Fleet):
    with pytest.raises(NotFoundError, match="register the sample"):
        open_report(fleet.place, bottle_code("26T99999"), today=LAST_DAY)


def test_that_a_bottle_never_drawn_is_refused(fleet: Fleet):
    code = fleet.draw(fleet.boxes("engine", Severity.NORMAL)[0], 1)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        sample = desk.sampling.by_bottle([code])[code]
        desk.sampling.update_samples([replace(sample, state=SampleState.LOST)])
    with pytest.raises(OperatorError, match="is lost"):
        open_report(fleet.place, code, today=LAST_DAY)


def test_that_an_opened_bottle_shows_its_box_and_three_values_to_confirm(fleet: Fleet):
    clerk = at_the_desk(fleet)
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    assert (clerk.report.machine, clerk.report.compartment) == (box.machine, "Engine")
    assert len(clerk.report.to_confirm) == 3
    assert all(name and value for name, value in clerk.report.to_confirm)


def test_that_the_grid_follows_the_form_of_the_laboratory_that_reported_last(fleet: Fleet):
    clerk = at_the_desk(fleet)
    headings = [cell.heading for cell in clerk.report.cells]
    assert headings[:5] == ["Fe", "Cr", "Ni", "Al", "Cu"]
    assert clerk.cell("water").unit == "%"
    names = {one.name for one in keying_layouts(fleet.place)}
    assert {"lab_a", "lab_b", "plain"} <= names
    other = open_report(fleet.place, clerk.report.bottle_code, layout="lab_b", today=LAST_DAY)
    assert other.cells[0].heading == "Iron mg/kg"


def test_that_our_own_form_lists_what_the_box_is_tested_for(fleet: Fleet):
    clerk = at_the_desk(fleet, layout="plain")
    assert clerk.cell("iron").heading == "iron [mg/kg]"
    assert not any("ph" in cell.analytes for cell in clerk.report.cells)


def test_that_ghosts_lie_inside_their_band_and_follow_the_last_report(fleet: Fleet):
    clerk = at_the_desk(fleet)
    calcium = clerk.cell("calcium").expected
    assert calcium is not None
    assert float(calcium.low) < float(calcium.text) < float(calcium.high)
    assert calcium.last
    assert calcium.last_on is not None


# --- typing --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value", "sign"),
    [
        ("12", 12, 0),
        ("12,5", 12.5, 0),
        ("12.5", 12.5, 0),
        ("<2", 2, 1),
        ("> 15", 15, 2),
        ("n", None, 5),
        ("i", None, 6),
    ],
)
def test_that_numbers_signs_and_short_words_are_read(fleet: Fleet, text, value, sign):
    clerk = at_the_desk(fleet)
    read = read_cell(clerk.report, clerk.key("iron"), text)
    [reading] = read.readings
    assert (reading.value, int(reading.sign)) == (value, sign)
    assert reading.printed == text.strip()


def test_that_a_test_of_presence_takes_plus_and_minus(fleet: Fleet):
    clerk = at_the_desk(fleet)
    key = clerk.key("glycol_test")
    assert [int(read_cell(clerk.report, key, text).readings[0].sign) for text in "+-"] == [4, 3]


def test_that_a_value_is_kept_in_the_unit_of_the_form(fleet: Fleet):
    clerk = at_the_desk(fleet)
    [reading] = read_cell(clerk.report, clerk.key("water"), "0,05").readings
    assert reading.value == pytest.approx(500.0)
    assert (reading.printed, reading.printed_unit) == ("0,05", "%")


def test_that_a_contamination_code_is_typed_into_one_cell(fleet: Fleet):
    clerk = at_the_desk(fleet, kind="hydraulic", layout="lab_b")
    read = read_cell(clerk.report, clerk.key("iso4406_4um"), "20/18/15")
    assert [one.value for one in read.readings] == [20, 18, 15]
    assert read_cell(clerk.report, clerk.key("iso4406_4um"), "15/18/20").fault


def test_that_what_cannot_be_read_stays_and_is_told(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type(iron="12,4O")
    warning = clerk.warning(WarningKind.UNREADABLE)
    assert warning.is_hard
    assert warning.told == 'Fe: "12,4O" is not a number.'
    assert not clerk.checked.can_save


def test_that_what_the_ghosts_say_raises_no_warning(fleet: Fleet):
    clerk = at_the_desk(fleet)
    checked = clerk.type_as_expected()
    assert checked.warnings == ()
    assert checked.can_save


# --- checks --------------------------------------------------------------------------------------


def test_that_a_slipped_point_is_told_with_the_value_it_should_be(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    calcium = clerk.cell("calcium").expected.text
    clerk.type(calcium=f"{calcium}0")
    warning = clerk.warning(WarningKind.DECIMAL_SLIP)
    assert warning.proposed == calcium
    assert warning.cell == "Ca"
    assert "earlier reports" in warning.why
    checked = clerk.answer(warning, Answer.CORRECTED)
    assert clerk.draft.cells["Ca"] == calcium
    assert checked.can_save


def test_that_a_value_no_machine_has_is_refused_and_cannot_be_confirmed(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(viscosity_100c="-14.5")
    warning = clerk.warning(WarningKind.IMPOSSIBLE)
    assert warning.is_hard
    with pytest.raises(UsageError, match="cannot be confirmed"):
        clerk.answer(warning, Answer.CONFIRMED)


def test_that_exchanged_digits_are_told(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    text = clerk.cell("calcium").expected.text
    swapped = text[1] + text[0] + text[2:]
    clerk.type(calcium=swapped)
    assert clerk.warning(WarningKind.TRANSPOSED).proposed == text


def test_that_a_value_in_another_unit_is_told(fleet: Fleet):
    clerk = at_the_desk(fleet, layout="lab_b")
    clerk.type_as_expected()
    # The laboratory says mg/kg; 0.05 is what a report in percent would have for 500.
    share = float(clerk.cell("calcium").expected.text) / 10_000
    clerk.type(calcium=f"{share:.4f}")
    warning = clerk.warning(WarningKind.UNIT)
    assert "% mass" in warning.told


def test_that_an_unusual_value_is_asked_about_and_may_be_confirmed(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(calcium="3400")
    warning = clerk.warning(WarningKind.UNUSUAL)
    assert not warning.is_hard
    checked = clerk.answer(warning, Answer.CONFIRMED)
    assert checked.can_save
    clerk.type(calcium="3401")
    assert not clerk.checked.can_save, "another value is another question"


def test_that_less_than_a_little_where_much_is_usual_is_asked_about(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(calcium="<5")
    assert clerk.warning(WarningKind.UNUSUAL).cell == "Ca"
    clerk.type(calcium="<9000")
    assert clerk.checked.can_save


def test_that_a_row_typed_one_field_too_far_is_told_and_moved_back(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    keys = [clerk.key(code) for code in ("boron", "calcium", "magnesium", "zinc", "phosphorus")]
    right = [clerk.draft.cells[key] for key in keys]
    shifted = dict(zip(keys, [right[0], right[0], *right[1:4]], strict=True))
    clerk.keep(cells={**clerk.draft.cells, **shifted})
    warning = clerk.warning(WarningKind.COLUMN_SHIFT)
    assert "previous field" in warning.told
    assert warning.moved["Ca"] == right[1]
    clerk.answer(warning, Answer.CORRECTED)
    assert [clerk.draft.cells[key] for key in keys[1:4]] == right[1:4]


def test_that_the_report_before_typed_again_is_noticed(fleet: Fleet):
    clerk = at_the_desk(fleet)
    cells = {
        one.key: one.expected.last
        for one in clerk.report.cells
        if one.expected is not None and one.expected.last
    }
    clerk.keep(cells=cells)
    assert WarningKind.REPEATED in clerk.kinds()


def test_that_an_oil_report_under_the_label_of_another_oil_names_the_bottle_it_fits(fleet: Fleet):
    other = fleet.draw(fleet.boxes("hydraulic", Severity.NORMAL)[0], 2)
    clerk = at_the_desk(fleet)
    hydraulic = open_for(fleet, other)
    cells = {
        one.key: one.expected.text for one in hydraulic.report.cells if one.expected is not None
    }
    clerk.keep(cells=cells)
    warning = clerk.warning(WarningKind.OTHER_BOTTLE)
    assert warning.other_bottle
    assert WarningKind.UNUSUAL not in clerk.kinds(), "one question is enough"
    clerk.answer(warning, Answer.CONFIRMED)
    assert WarningKind.UNUSUAL in clerk.kinds()


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"particles_4um": "100", "particles_6um": "900", "particles_14um": "10"}, "rise"),
        ({"zinc": "1200", "phosphorus": "300"}, "do not go together"),
    ],
)
def test_that_values_which_cannot_stand_together_are_told(fleet: Fleet, typed, told):
    clerk = at_the_desk(fleet)
    clerk.type(**typed)
    assert any(told in one.told for one in clerk.checked.warnings if one.kind is WarningKind.PAIR)


def test_that_exchanged_viscosities_are_told_and_put_back(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type(viscosity_40c="14.4", viscosity_100c="108")
    warning = clerk.warning(WarningKind.EXCHANGED)
    assert "thicker at 100" in warning.told
    clerk.answer(warning, Answer.CORRECTED)
    assert clerk.draft.cells["Visc 40 °C"] == "108"
    assert clerk.draft.cells["Visc 100 °C"] == "14.4"


def test_that_days_out_of_order_and_ahead_are_told(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.head(sampled_on="28.06.2026", received_on="27.06.2026", issued_on="01.07.2026")
    told = [one.told for one in clerk.checked.warnings if one.kind is WarningKind.DATES]
    assert any("not in order" in one for one in told)
    assert any("lies after today" in one for one in told)
    clerk.head(sampled_on="31.11.2026")
    assert any(one.cell == "sampled_on" and one.is_hard for one in clerk.checked.warnings)


def test_that_a_sampling_day_far_from_the_register_is_told(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.head(sampled_on="28.05.2026")
    assert "days off the register" in clerk.warning(WarningKind.DATES).told


def test_that_a_report_without_its_number_is_not_saved(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.head(report_number="")
    assert clerk.warning(WarningKind.MISSING).cell == HeadField.REPORT_NUMBER
    with pytest.raises(OperatorError, match="number of the report is missing"):
        clerk.save()


def test_that_an_expected_cell_left_empty_keeps_the_report_open(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(iron="")
    assert clerk.checked.missing == ("Fe",)
    with pytest.raises(OperatorError, match="n where it was not tested"):
        clerk.save()


# --- drafts --------------------------------------------------------------------------------------


def test_that_a_draft_is_there_again_after_a_crash(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type(iron="12", copper="<2")
    again = open_for(fleet, clerk.report.bottle_code)
    assert again.draft.cells == {"Fe": "12", "Cu": "<2"}
    assert again.draft.id == clerk.draft.id


def test_that_two_desks_on_one_draft_do_not_write_over_each_other(fleet: Fleet):
    clerk = at_the_desk(fleet)
    other = open_for(fleet, clerk.report.bottle_code, who="Sam")
    clerk.type(iron="12")
    with pytest.raises(StaleEditError, match="draft of bottle"):
        other.type(iron="13")


def test_that_a_parked_report_waits_with_its_warnings_and_its_note(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(calcium="3400")
    clerk.answer(clerk.warning(WarningKind.UNUSUAL), Answer.PARKED)
    clerk.draft = park_draft(fleet.place, clerk.draft, note="asked the laboratory", moment=NOW)
    queue = results_queue(fleet.place, today=LAST_DAY)
    [line] = queue.warnings_open
    assert (line.bottle_code, line.note) == (clerk.report.bottle_code, "asked the laboratory")
    assert queue.to_key == ()
    assert not clerk.checked.can_save
    clerk.answer(clerk.warning(WarningKind.UNUSUAL), Answer.CONFIRMED)
    assert clerk.draft.state == "open"
    assert clerk.checked.can_save


def test_that_a_dropped_draft_is_begun_anew(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type(iron="12")
    drop_draft(fleet.place, clerk.draft, moment=NOW)
    with pytest.raises(NotFoundError, match="dropped"):
        keep_draft(fleet.place, clerk.report, clerk.draft, moment=NOW)
    again = open_draft(fleet.place, clerk.report, moment=LATER)
    assert again.cells == {}


def test_that_every_answer_is_kept_with_what_was_said(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    text = clerk.cell("calcium").expected.text
    clerk.type(calcium=f"{text}0")
    clerk.answer(clerk.warning(WarningKind.DECIMAL_SLIP), Answer.CORRECTED)
    clerk.type(calcium="3400")
    clerk.answer(clerk.warning(WarningKind.UNUSUAL), Answer.CONFIRMED)
    saved = clerk.save()
    with fleet.place.store.reading() as desk:
        sheet = desk.keying.sheet_in_force(clerk.report.site_id, clerk.report.sample)
        kept = desk.keying.warnings_of(sheet=sheet)
    told = sorted((one.kind, one.answer, one.old_text, one.new_text) for one in kept)
    assert told == [
        ("decimal_slip", "corrected", f"{text}0", text),
        ("unusual", "confirmed", "3400", ""),
    ]
    assert saved.bottle_code == clerk.report.bottle_code


def test_that_a_correction_without_a_value_is_refused(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(calcium="3400")
    with pytest.raises(UsageError, match="Type the right value"):
        clerk.answer(clerk.warning(WarningKind.UNUSUAL), Answer.CORRECTED)


# --- saving --------------------------------------------------------------------------------------


def test_that_a_saved_report_is_judged_at_once_and_undone_whole(either_fleet: Fleet):
    fleet = either_fleet
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.type(iron="480")
    for warning in clerk.checked.warnings:
        clerk.answer(warning, Answer.CONFIRMED)
    saved = clerk.save()
    assert (saved.before, saved.after) == (Severity.NORMAL, Severity.URGENT)
    assert saved.headline.startswith("Iron 480 mg/kg")
    assert "Normal to Urgent" in saved.sentence
    assert clerk.report.compartment_id in saved.changes.compartments
    assert fleet.check() == []
    queue = results_queue(fleet.place, today=LAST_DAY)
    assert clerk.report.bottle_code not in {one.bottle_code for one in queue.waiting}
    undo_intake(fleet.place, saved.intake_id, moment=LATER, today=LAST_DAY)
    condition = fleet.condition(clerk.report.compartment_id)
    assert condition["severity"] == Severity.NORMAL
    assert fleet.check() == []


def test_that_a_keyed_report_is_the_same_as_one_from_a_file(fleet: Fleet):
    box = fleet.boxes("engine", Severity.NORMAL)[0]
    first = fleet.draw(box, 1, on=LAST_DAY - timedelta(3))
    second = fleet.draw(box, 2, on=LAST_DAY - timedelta(2))
    fleet.take_in(fleet.lab_file("one.csv", results(first, iron=14, copper=3)))
    clerk = open_for(fleet, second, layout="plain")
    clerk.head(report_number="R-1")
    clerk.type(iron="14", copper="3")
    blank = dict.fromkeys(clerk.checked.missing, "n")
    clerk.keep(cells={**clerk.draft.cells, **blank})
    for warning in clerk.checked.warnings:
        clerk.answer(warning, Answer.CONFIRMED)
    clerk.save()
    with fleet.place.store.reading() as desk:
        readings = desk.results.readings_of(box.compartment_id)
    by_sample = {}
    for one in readings:
        if one.value is not None:
            told = (one.analyte, one.sign, one.value, one.printed_unit)
            by_sample.setdefault(one.sample, set()).add(told)
    samples = {one.bottle_code: one.id for one in fleet.samples(box.compartment_id)}
    assert by_sample[samples[first]] == by_sample[samples[second]]


def test_that_a_revision_needs_a_later_issue_and_shows_what_changed(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    clerk.save()
    again = open_for(fleet, clerk.report.bottle_code)
    assert "issue 1, is in already" in again.report.note
    assert again.draft.heads["issue"] == "2"
    again.keep(cells=dict(clerk.draft.cells))
    again.head(issue="1")
    assert again.warning(WarningKind.REPORT).is_hard
    again.head(issue="2")
    old = clerk.draft.cells["Fe"]
    again.type(iron=str(int(old) + 1))
    for warning in again.checked.warnings:
        again.answer(warning, Answer.CONFIRMED)
    saved = again.save()
    [change] = saved.revised
    assert (change.name, change.before, change.after) == (
        "Iron",
        f"{old} mg/kg",
        f"{int(old) + 1} mg/kg",
    )


def test_that_a_bottle_reported_at_another_desk_meanwhile_is_not_saved_twice(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    fleet.take_in(fleet.lab_file("one.csv", results(clerk.report.bottle_code, iron=14)))
    before = fleet.dump()
    with pytest.raises(StaleEditError, match="Open it again"):
        clerk.save()
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_draft_saved_elsewhere_takes_the_whole_save_back(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    stale = clerk.draft
    clerk.head(remark="looked at twice")
    clerk.draft = replace(stale, heads=clerk.draft.heads)
    before = fleet.dump()
    with pytest.raises(StaleEditError):
        clerk.save()
    assert differing_tables(before, fleet.dump()) == set()


def test_that_the_queue_names_what_waits(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type(iron="12")
    queue = results_queue(fleet.place, today=LAST_DAY)
    [line] = queue.to_key
    assert (line.machine, line.note) == (clerk.report.machine, "1 values typed by Kim")
    assert "1 begun" in queue.sentence
    days = [one.days for one in queue.waiting]
    assert days == sorted(days, reverse=True)


def test_that_a_check_touches_no_database(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type_as_expected()
    fleet.place.store.close()
    assert check_report(clerk.report, clerk.draft).can_save


def test_that_a_draft_in_the_database_is_plain_json(fleet: Fleet):
    clerk = at_the_desk(fleet)
    clerk.type(iron="12")
    [row] = fleet.dump()["key_draft"]
    cells = next(json.loads(one) for one in row if isinstance(one, str) and "heads" in one)
    assert cells["cells"] == {"Fe": "12"}
    with pytest.raises(StaleEditError):
        answer_warning(
            fleet.place,
            clerk.report,
            replace(clerk.draft, version=99),
            replace(_any_warning(clerk), is_hard=False),
            Answer.CONFIRMED,
            moment=NOW,
        )


def _any_warning(clerk):
    return clerk.warning(WarningKind.MISSING)
