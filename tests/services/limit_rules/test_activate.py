"""A draft takes force from a day on, whole or not at all; old verdicts keep their set."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.errors import CancelledError, OperatorError, StaleEditError
from fluiddesk.domain.limits.limit_set import LimitKind, LimitSetState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.limit_rules.activate import activate
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit, RulesRefusedError
from fluiddesk.services.limit_rules.versions import (
    discard_draft,
    draft_from,
    edit_draft,
    limit_sets,
    read_set,
)
from fluiddesk.services.reassess.fleet import reassess_fleet
from tests.fleets import LAST_DAY, NOW, Fleet, differing_tables

FROM = LAST_DAY - timedelta(days=90)


@pytest.fixture
def judged_fleet(either_fleet: Fleet) -> Fleet:
    """The small fleet, every verdict as the rules of this program say."""
    reassess_fleet(either_fleet.place, moment=NOW)
    return either_fleet


def stricter(fleet: Fleet, *, based_on: int = 1):
    """A draft in which an engine's iron is at Act from 5 mg/kg on."""
    draft = draft_from(fleet.place, based_on, name="Strict iron", note="", moment=NOW)
    edits = [
        RowEdit(kind=EditKind.CHANGE, place=place, limit=replace(limit, watch=1.0, act=5.0))
        for place, limit in enumerate(draft.limit_set.limits)
        if (limit.analyte, limit.scope.compartment_kind) == ("iron", "engine")
        and limit.kind is LimitKind.LEVEL
    ]
    assert edits
    return edit_draft(fleet.place, draft.number, edits, version=draft.version, moment=NOW).draft


def put_in_force(fleet: Fleet, draft, *, valid_from: date = FROM, **changes):
    given = {
        "valid_from": valid_from, "note": "by trial", "version": draft.version,
        "today": LAST_DAY, "moment": NOW,
    }  # fmt: skip
    return activate(fleet.place, draft.number, **(given | changes))


def numbers_by_day(fleet: Fleet) -> dict[tuple[date, str], set[int]]:
    """The limit sets of the assessments in force, before and since the day, engines and others."""
    found: dict[tuple[date, str], set[int]] = {}
    kind = {box.compartment_id: box.kind for box in fleet.boxes()}
    with fleet.place.store.reading() as desk:
        for box, code in kind.items():
            for sample in desk.sampling.samples_of(box):
                held = desk.assessments.in_force(sample.id)
                if held is not None and held.limit_set is not None and sample.taken_on:
                    side = "since" if sample.taken_on >= FROM else "before"
                    found.setdefault((side, code), set()).add(held.limit_set)
    return found


def test_that_a_draft_takes_force_and_reports_who_moved(judged_fleet: Fleet):
    before = {box.compartment_id: box.severity for box in judged_fleet.boxes("engine")}
    done = put_in_force(judged_fleet, stricter(judged_fleet))
    assert done.retired == (1,)
    assert done.changed > 0
    assert {one.after for one in done.moved} >= {Severity.ACT}
    after = {box.compartment_id: box.severity for box in judged_fleet.boxes("engine")}
    moved = {one.compartment_id for one in done.moved}
    assert {key for key in before if before[key] != after[key]} == moved
    newest, oldest = limit_sets(judged_fleet.place, today=LAST_DAY)
    assert (newest.state_words, newest.valid_from, newest.note) == ("In force", FROM, "by trial")
    assert newest.holds_today
    assert (oldest.state_words, oldest.valid_until) == ("Retired", FROM)
    assert judged_fleet.check() == []


def test_that_old_assessments_keep_the_set_that_made_them(judged_fleet: Fleet):
    put_in_force(judged_fleet, stricter(judged_fleet))
    found = numbers_by_day(judged_fleet)
    assert found["before", "engine"] == {1}
    assert found["since", "engine"] == {1, 2} or found["since", "engine"] == {2}
    assert all(numbers == {1} for (_, kind), numbers in found.items() if kind != "engine")


def test_that_a_day_ahead_moves_nobody_and_the_old_set_holds_until_then(judged_fleet: Fleet):
    ahead = LAST_DAY + timedelta(days=10)
    done = put_in_force(judged_fleet, stricter(judged_fleet), valid_from=ahead)
    assert done.moved == ()
    newest, oldest = limit_sets(judged_fleet.place, today=LAST_DAY)
    assert oldest.holds_today
    assert not newest.holds_today
    newest, oldest = limit_sets(judged_fleet.place, today=ahead)
    assert newest.holds_today
    assert not oldest.holds_today


def test_that_a_set_may_be_overtaken_before_its_own_first_day(fleet: Fleet):
    put_in_force(fleet, stricter(fleet), valid_from=LAST_DAY + timedelta(days=30))
    put_in_force(fleet, stricter(fleet, based_on=2), valid_from=LAST_DAY)
    three, two, one = limit_sets(fleet.place, today=LAST_DAY + timedelta(days=60))
    assert three.holds_today
    assert (two.state_words, two.valid_until) == ("Retired", two.valid_from)
    assert (one.state_words, one.valid_until) == ("Retired", LAST_DAY)


def test_that_a_discarded_draft_is_left_as_it_is_when_another_takes_force(fleet: Fleet):
    gone = stricter(fleet)
    discard_draft(fleet.place, gone.number, version=gone.version, moment=NOW)
    done = put_in_force(fleet, stricter(fleet))
    assert done.retired == (1,)
    [_, discarded, _] = limit_sets(fleet.place, today=LAST_DAY)
    assert discarded.state_words == "Discarded"


def test_that_every_problem_is_told_and_nothing_changes(fleet: Fleet):
    draft = draft_from(fleet.place, 1, name="Broken", note="", moment=NOW)
    one, two = draft.limit_set.limits[:2]
    edits = [
        RowEdit(kind=EditKind.CHANGE, place=0, limit=replace(one, source="")),
        RowEdit(kind=EditKind.CHANGE, place=1, limit=replace(two, analyte="unobtainium")),
    ]
    draft = edit_draft(fleet.place, 2, edits, version=draft.version, moment=NOW).draft
    before = fleet.dump()
    with pytest.raises(RulesRefusedError) as refused:
        put_in_force(fleet, draft)
    assert [problem.place for problem in refused.value.problems] == [0, 1]
    assert 'analyte "unobtainium" is not in the catalogue' in str(refused.value)
    assert str(refused.value).startswith("limit set 2: row 1, ")
    assert differing_tables(before, fleet.dump()) == set()


def test_that_a_stopped_activation_changes_nothing(judged_fleet: Fleet):
    draft = stricter(judged_fleet)
    before = judged_fleet.dump()
    with pytest.raises(CancelledError):
        put_in_force(judged_fleet, draft, progress=lambda _done, _total: False)
    assert differing_tables(before, judged_fleet.dump()) == set()
    assert read_set(judged_fleet.place, 2).limit_set.state is LimitSetState.DRAFT


def test_that_it_needs_a_person_a_note_a_draft_and_the_version_read(fleet: Fleet):
    draft = stricter(fleet)
    with pytest.raises(OperatorError, match="by a named person"):
        activate(
            replace(fleet.place, who=""), 2, valid_from=FROM, note="x", version=draft.version,
            today=LAST_DAY, moment=NOW,
        )  # fmt: skip
    with pytest.raises(OperatorError, match="Give a note"):
        put_in_force(fleet, draft, note=" ")
    with pytest.raises(StaleEditError):
        put_in_force(fleet, draft, version=draft.version - 1)
    put_in_force(fleet, draft)
    with pytest.raises(OperatorError, match="Limit set 2 is in force and is not edited"):
        put_in_force(fleet, draft)
