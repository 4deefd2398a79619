"""Taking in a laboratory's file: preview, take in, revise, undo; all or nothing, on both stores."""

import json
from datetime import timedelta

import pytest

from fluiddesk.domain.errors import CancelledError, NotFoundError, StaleEditError
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.changes import Subject
from fluiddesk.services.lab_intake import apply
from fluiddesk.services.lab_intake import take_in as taking
from fluiddesk.services.lab_intake.facts import RowFate
from fluiddesk.services.lab_intake.take_in import past_intakes, take_in, undo_intake
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables, results

LATER = NOW + timedelta(hours=1)
URGENT_IRON = 480


def engines(fleet: Fleet):
    """Two engines without complaint, of two sites."""
    calm = fleet.boxes("engine", Severity.NORMAL)
    first = calm[0]
    return first, next(box for box in calm if box.site_id != first.site_id)


def undo(fleet: Fleet, result, *, moment=LATER):
    return undo_intake(fleet.place, result.intake_id, moment=moment, today=LAST_DAY)


def in_force(fleet: Fleet, compartment):
    """The assessments in force of a box, by sample."""
    with fleet.place.store.reading() as desk:
        found = desk.assessments.of_compartment(compartment)
    return {one.sample: one for one in found if one.superseded_by is None}


def reasons(condition):
    return {one["analyte"]: one["value"] for one in json.loads(condition["reasons"] or "[]")}


# --- preview -------------------------------------------------------------------------------------


def test_that_a_preview_tells_what_would_happen_and_changes_nothing(either_fleet: Fleet):
    fleet = either_fleet
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    file = fleet.lab_file("one.csv", results(code, iron=URGENT_IRON), results("26T-99999-9"))
    before = fleet.dump()
    preview = fleet.preview(file)
    assert differing_tables(before, fleet.dump()) == set()
    [new, held] = preview.rows
    assert (new.fate, held.fate) == (RowFate.NEW, RowFate.HELD)
    assert (new.severity_before, new.severity_after) == (Severity.NORMAL, Severity.URGENT)
    assert new.moves
    assert new.headline.startswith(f"Iron {URGENT_IRON} mg/kg, limit 150")
    assert (new.site, new.machine, new.compartment) == (box.site, box.machine, "Engine")
    assert preview.to_take_in == 1
    assert preview.already_taken_in == ""
    assert fleet.check() == []


def test_that_what_a_preview_shows_is_what_taking_in_does(fleet: Fleet):
    first, second = engines(fleet)
    rows = [
        results(fleet.draw(first, 1), iron=URGENT_IRON),
        results(fleet.draw(second, 2), iron=12, chromium=13),
    ]
    preview = fleet.preview(fleet.lab_file("two.csv", *rows))
    seen = {(row.machine, row.severity_after, row.headline) for row in preview.rows if row.moves}
    done = take_in(fleet.place, preview, moment=NOW, today=LAST_DAY)
    assert {(one.machine, one.after, one.headline) for one in done.moved} == seen
    assert len(seen) == 2


# --- take in -------------------------------------------------------------------------------------


def test_that_taking_in_moves_the_box_and_names_the_value(either_fleet: Fleet):
    fleet = either_fleet
    box, _ = engines(fleet)
    kept = in_force(fleet, box.compartment_id)
    code = fleet.draw(box, 1)
    done = fleet.take_in(fleet.lab_file("one.csv", results(code, iron=URGENT_IRON)))
    assert (done.taken_in, done.held, done.unchanged) == (1, 0, 0)
    [moved] = done.moved
    assert (moved.before, moved.after) == (Severity.NORMAL, Severity.URGENT)
    now = fleet.condition(box.compartment_id)
    assert (now["severity"], now["taken_on"]) == (Severity.URGENT, "2026-06-28")
    assert reasons(now) == {"iron": URGENT_IRON}
    assert done.changes.subjects == {Subject.RESULTS, Subject.ASSESSMENTS}
    assert done.changes.compartments == {box.compartment_id}
    after = in_force(fleet, box.compartment_id)
    assert {key: after[key] for key in kept} == kept, "earlier samples keep their assessments"
    assert len(after) == len(kept) + 1
    assert fleet.check() == []


def test_that_boxes_the_file_does_not_touch_stay_as_they_were(fleet: Fleet):
    box, other = engines(fleet)
    before = fleet.dump()
    fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON)))
    after = fleet.dump()
    changed = differing_tables(before, after)
    assert changed == {
        "sample", "intake", "result_sheet", "reading", "assessment", "history_block",
        "current_condition", "audit_trail", "laboratory", "verdict_block", "forecast",
    }  # fmt: skip
    assert len(after["assessment"]) == len(before["assessment"]) + 1
    blocks = set(before["history_block"]) ^ set(after["history_block"])
    assert {row[1] for row in blocks} == {box.compartment_id}
    assert other.compartment_id not in {row[1] for row in blocks}


@pytest.mark.parametrize("broken", ["refresh_blocks", "reassess_boxes"])
def test_that_a_fault_in_the_middle_leaves_everything_as_it_was(
    either_fleet: Fleet, monkeypatch: pytest.MonkeyPatch, broken: str
):
    fleet = either_fleet
    box, _ = engines(fleet)
    preview = fleet.preview(
        fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON))
    )
    before = fleet.dump()
    real = getattr(apply, broken)

    def fail(*given, **named):
        real(*given, **named)
        raise RuntimeError("the power went")

    monkeypatch.setattr(apply, broken, fail)
    with pytest.raises(RuntimeError, match="the power went"):
        take_in(fleet.place, preview, moment=NOW, today=LAST_DAY)
    assert differing_tables(before, fleet.dump()) == set()
    assert fleet.check() == []


def test_that_the_same_file_again_changes_nothing_and_says_when_it_was_taken_in(
    either_fleet: Fleet,
):
    fleet = either_fleet
    box, _ = engines(fleet)
    file = fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON))
    fleet.take_in(file)
    before = fleet.dump()
    again = fleet.take_in(file, moment=LATER)
    assert differing_tables(before, fleet.dump()) == set()
    assert again.already_taken_in == "2026-06-30 by Kim"
    assert (again.taken_in, again.unchanged, again.moved) == (0, 1, ())
    assert again.changes.subjects == set()


def test_that_the_same_results_in_another_file_are_unchanged(fleet: Fleet):
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=URGENT_IRON)))
    before = fleet.dump()
    again = fleet.take_in(fleet.lab_file("two.csv", {**results(code, iron=URGENT_IRON), "x": ""}))
    assert (again.taken_in, again.unchanged, again.already_taken_in) == (0, 1, "")
    assert differing_tables(before, fleet.dump()) == set()


def test_that_other_values_under_the_same_issue_number_are_held(fleet: Fleet):
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=20)))
    again = fleet.take_in(fleet.lab_file("two.csv", results(code, iron=200)))
    assert (again.taken_in, again.held) == (0, 1)
    assert "other values than taken in before" in again.problems[0].text
    assert fleet.condition(box.compartment_id)["severity"] == Severity.NORMAL


def test_that_a_file_with_nothing_sound_in_it_moves_no_box_and_keeps_its_rows(fleet: Fleet):
    before = fleet.dump()
    done = fleet.take_in(fleet.lab_file("none.csv", results("26T-99999-9", iron=20)))
    assert (done.taken_in, done.held, done.moved) == (0, 1, ())
    assert differing_tables(before, fleet.dump()) == {"intake", "held_row", "audit_trail"}


def test_that_a_bottle_reported_at_another_desk_since_the_preview_is_refused(either_fleet: Fleet):
    fleet = either_fleet
    first, second = engines(fleet)
    shared, mine = fleet.draw(first, 1), fleet.draw(second, 2)
    file = fleet.lab_file("mine.csv", results(mine, iron=300), results(shared, iron=300))
    preview = fleet.preview(file)
    fleet.take_in(fleet.lab_file("theirs.csv", results(shared, iron=20)))
    before = fleet.dump()
    with pytest.raises(StaleEditError, match=rf"Bottle {shared} was reported .* Nothing was saved"):
        take_in(fleet.place, preview, moment=LATER, today=LAST_DAY)
    assert differing_tables(before, fleet.dump()) == set()


def test_that_taking_in_the_same_preview_twice_is_refused_the_second_time(fleet: Fleet):
    box, _ = engines(fleet)
    preview = fleet.preview(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=20)))
    take_in(fleet.place, preview, moment=NOW, today=LAST_DAY)
    before = fleet.dump()
    with pytest.raises(StaleEditError):
        take_in(fleet.place, preview, moment=LATER, today=LAST_DAY)
    assert differing_tables(before, fleet.dump()) == set()


def test_that_stopping_before_the_saving_begins_changes_nothing(fleet: Fleet):
    box, _ = engines(fleet)
    preview = fleet.preview(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=20)))
    before = fleet.dump()
    with pytest.raises(CancelledError, match="nothing has changed"):
        take_in(
            fleet.place, preview, moment=NOW, today=LAST_DAY, progress=lambda _done, _total: False
        )
    assert differing_tables(before, fleet.dump()) == set()


# --- trust ---------------------------------------------------------------------------------------


def test_that_a_rejected_sample_is_judged_but_leaves_the_box_as_it_stood(fleet: Fleet):
    box, _ = engines(fleet)
    before = fleet.condition(box.compartment_id)
    code = fleet.draw(box, 1, trust=Trust.REJECTED, trust_reason="bottle of another machine")
    done = fleet.take_in(fleet.lab_file("one.csv", results(code, iron=URGENT_IRON)))
    assert done.taken_in == 1
    assert done.moved == ()
    now = fleet.condition(box.compartment_id)
    assert (now["severity"], now["sample_id"]) == (before["severity"], before["sample_id"])
    [newest] = [one for one in in_force(fleet, box.compartment_id).values() if one.made_at == NOW]
    assert newest.trust == Trust.REJECTED
    assert fleet.check() == []


def test_that_a_sample_in_doubt_moves_the_box_to_watch_and_says_that_it_is_suspect(fleet: Fleet):
    box, _ = engines(fleet)
    code = fleet.draw(box, 1, trust=Trust.SUSPECT, trust_reason="drawn from the drain stream")
    fleet.take_in(fleet.lab_file("one.csv", results(code, iron=URGENT_IRON)))
    now = fleet.condition(box.compartment_id)
    assert (now["severity"], now["trust"]) == (Severity.WATCH, Trust.SUSPECT)
    assert fleet.check() == []


# --- revisions -----------------------------------------------------------------------------------


def test_that_a_revised_issue_supersedes_and_undoing_it_brings_the_older_one_back(
    either_fleet: Fleet,
):
    fleet = either_fleet
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    fleet.take_in(fleet.lab_file("first.csv", results(code, iron=URGENT_IRON)))
    standing = fleet.condition(box.compartment_id)
    revised = fleet.take_in(fleet.lab_file("second.csv", results(code, iron=20, issue=2)))
    assert revised.taken_in == 1
    assert [(one.before, one.after) for one in revised.moved] == [
        (Severity.URGENT, Severity.NORMAL)
    ]
    now = fleet.condition(box.compartment_id)
    assert (now["severity"], reasons(now)) == (Severity.NORMAL, {})
    sheets = issues(fleet, box, code)
    assert [(one.issue, one.is_current) for one in sheets] == [(1, False), (2, True)]
    assert sheets[0].superseded_by == sheets[1].id, "the older issue is kept and names the newer"
    assert iron_in_block(fleet, box) == 20
    assert fleet.check() == []

    undone = undo(fleet, revised)
    assert [(one.before, one.after) for one in undone.moved] == [(Severity.NORMAL, Severity.URGENT)]
    back = fleet.condition(box.compartment_id)
    assert (back["severity"], reasons(back)) == (Severity.URGENT, {"iron": URGENT_IRON})
    assert {key: back[key] for key in ("headline", "sample_id", "first_seen_on")} == {
        key: standing[key] for key in ("headline", "sample_id", "first_seen_on")
    }
    assert [one.is_current for one in issues(fleet, box, code)] == [True, False]
    assert iron_in_block(fleet, box) == URGENT_IRON
    assert fleet.check() == []


def issues(fleet: Fleet, box, code):
    """Every issue of the report on one bottle."""
    with fleet.place.store.reading() as desk:
        return [
            one
            for one in desk.results.sheets_of(box.compartment_id)
            if one.report_number == f"R-{code}"
        ]


def iron_in_block(fleet: Fleet, box):
    """The last iron value in the box's packed history."""
    number = fleet.place.catalogue.analytes["iron"].number
    with fleet.place.store.reading() as desk:
        columns = desk.blocks.one(box.compartment_id)
    return columns.values[-1, columns.analytes.index(number)]


def test_that_a_revision_that_stays_in_its_band_still_shows_the_new_value(fleet: Fleet):
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    fleet.take_in(fleet.lab_file("first.csv", results(code, iron=URGENT_IRON)))
    revised = fleet.take_in(fleet.lab_file("second.csv", results(code, iron=400, issue=2)))
    assert revised.moved == ()
    now = fleet.condition(box.compartment_id)
    assert reasons(now) == {"iron": 400}
    assert now["headline"].startswith("Iron 400 mg/kg")
    assert fleet.check() == []


def test_that_both_issues_in_one_file_are_taken_in_and_the_newer_counts(fleet: Fleet):
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    rows = (results(code, iron=URGENT_IRON), results(code, iron=20, issue=2))
    done = fleet.take_in(fleet.lab_file("both.csv", *rows))
    assert (done.taken_in, done.moved) == (2, ())
    assert [one.is_current for one in issues(fleet, box, code)] == [False, True]
    undo(fleet, done)
    assert not any(one.is_current for one in issues(fleet, box, code))
    assert fleet.check() == []


# --- undo ----------------------------------------------------------------------------------------


def test_that_undoing_brings_the_box_back_to_the_sample_before(either_fleet: Fleet):
    fleet = either_fleet
    box, _ = engines(fleet)
    before = fleet.condition(box.compartment_id)
    code = fleet.draw(box, 1)
    done = fleet.take_in(fleet.lab_file("one.csv", results(code, iron=URGENT_IRON)))
    undone = undo(fleet, done)
    assert [(one.before, one.after) for one in undone.moved] == [(Severity.URGENT, Severity.NORMAL)]
    assert undone.moved[0].headline == before["headline"]
    now = fleet.condition(box.compartment_id)
    # The bottle just drawn waits for the laboratory; everything else is as before.
    same = [name for name in CONDITION_NAMES if name in now]
    assert {key: now[key] for key in same} == {key: before[key] for key in same}
    assert fleet.check() == []


CONDITION_NAMES = (
    "severity", "trust", "taken_on", "true_hours", "fluid_hours", "direction", "headline",
    "reasons", "first_seen_on", "sample_id", "previous_severity",
)  # fmt: skip


def test_that_a_file_over_two_sites_is_taken_in_as_one_and_undone_whole(either_fleet: Fleet):
    fleet = either_fleet
    boxes = engines(fleet)
    rows = [results(fleet.draw(box, number), iron=URGENT_IRON) for number, box in enumerate(boxes)]
    done = fleet.take_in(fleet.lab_file("sites.csv", *rows))
    [line] = past_intakes(fleet.place)
    assert (line.file_name, line.taken_in, line.is_undone) == ("sites.csv", 2, False)
    undone = undo(fleet, done)
    assert {one.site for one in undone.moved} == {box.site for box in boxes}
    [line] = past_intakes(fleet.place)
    assert line.is_undone
    assert {fleet.box(box.compartment_id).severity for box in boxes} == {Severity.NORMAL}
    assert fleet.check() == []


def test_that_an_intake_is_undone_once_only(fleet: Fleet):
    box, _ = engines(fleet)
    done = fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=20)))
    undo(fleet, done)
    before = fleet.dump()
    with pytest.raises(NotFoundError, match="undone before"):
        undo(fleet, done)
    assert differing_tables(before, fleet.dump()) == set()


def test_that_an_undone_file_may_be_taken_in_again(either_fleet: Fleet):
    fleet = either_fleet
    box, _ = engines(fleet)
    file = fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON))
    undo(fleet, fleet.take_in(file))
    again = fleet.take_in(file, moment=LATER + timedelta(hours=1))
    assert (again.taken_in, again.already_taken_in) == (1, "")
    assert fleet.condition(box.compartment_id)["severity"] == Severity.URGENT
    assert [one.is_undone for one in past_intakes(fleet.place)] == [False, True]
    assert fleet.check() == []


def test_that_a_fault_while_undoing_leaves_everything_as_it_was(
    fleet: Fleet, monkeypatch: pytest.MonkeyPatch
):
    box, _ = engines(fleet)
    done = fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON)))
    before = fleet.dump()

    def fail(*_given, **_named):
        raise RuntimeError("the power went")

    monkeypatch.setattr(taking, "reassess_boxes", fail)
    with pytest.raises(RuntimeError):
        undo(fleet, done)
    assert differing_tables(before, fleet.dump()) == set()


def test_that_undoing_an_older_issue_leaves_the_newer_in_force(fleet: Fleet):
    box, _ = engines(fleet)
    code = fleet.draw(box, 1)
    first = fleet.take_in(fleet.lab_file("first.csv", results(code, iron=URGENT_IRON)))
    fleet.take_in(fleet.lab_file("second.csv", results(code, iron=20, issue=2)), moment=LATER)
    undone = undo(fleet, first, moment=LATER + timedelta(hours=1))
    assert undone.moved == ()
    assert [one.is_current for one in issues(fleet, box, code)] == [False, True]
    assert fleet.check() == []


# --- boxes without samples -----------------------------------------------------------------------


@pytest.fixture
def bare_box(either_fleet: Fleet):
    """A box of the fleet that nobody has sampled yet."""
    from dataclasses import replace

    from fluiddesk.domain.identity import CompartmentId

    fleet = either_fleet
    like, _ = engines(fleet)
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        model = desk.fleet.compartment(like.compartment_id)
        made = replace(model, id=CompartmentId(desk.new_id()), position="rear")
        desk.fleet.add_compartment(made)
    return fleet, fleet.box(made.id)


def test_that_a_box_whose_only_sample_is_undone_has_no_verdict(bare_box):
    fleet, box = bare_box
    done = fleet.take_in(fleet.lab_file("one.csv", results(fleet.draw(box, 1), iron=URGENT_IRON)))
    assert [(one.before, one.after) for one in done.moved] == [
        (Severity.NO_VERDICT, Severity.URGENT)
    ]
    undone = undo(fleet, done)
    assert [(one.before, one.after) for one in undone.moved] == [
        (Severity.URGENT, Severity.NO_VERDICT)
    ]
    now = fleet.condition(box.compartment_id)
    assert (now["severity"], now["sample_id"], now["taken_on"]) == (Severity.NO_VERDICT, None, None)
    assert now["headline"] == ""
    assert fleet.check() == []


def test_that_a_box_whose_only_sample_is_rejected_has_no_verdict(bare_box):
    fleet, box = bare_box
    code = fleet.draw(box, 1, trust=Trust.REJECTED, trust_reason="no label")
    done = fleet.take_in(fleet.lab_file("one.csv", results(code, iron=URGENT_IRON)))
    assert done.moved == ()
    now = fleet.condition(box.compartment_id)
    assert now["severity"] in (None, Severity.NO_VERDICT)
    assert fleet.check() == []
