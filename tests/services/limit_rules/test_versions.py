"""Limit sets from Draft to In force to Retired, and every edit of a draft."""

from dataclasses import replace
from datetime import date

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError, StaleEditError
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitSetState, Scope
from fluiddesk.services.limit_rules.editing import edited
from fluiddesk.services.limit_rules.facts import ChangeKind, EditKind, RowEdit
from fluiddesk.services.limit_rules.versions import (
    compare,
    discard_draft,
    draft_from,
    edit_draft,
    limit_sets,
    read_set,
    rename_draft,
)
from fluiddesk.storage.records.audit import NO_SITE
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.makers import make_limit, make_set

RULE = IntervalRule(
    scope=Scope(compartment_kind="engine"), interval_hours=250.0, interval_days=90,
    source="invented for a test", set_by="Kim",
)  # fmt: skip


def drafted(fleet: Fleet):
    return draft_from(fleet.place, 1, name="Stricter iron", note="a trial", moment=NOW)


def trail(fleet: Fleet) -> list[str]:
    with fleet.place.store.reading() as desk:
        return [record.what for record in desk.audit.newest(NO_SITE, count=20)]


def test_that_a_draft_copies_a_set_and_names_its_author(either_fleet: Fleet):
    draft = drafted(either_fleet)
    starter = read_set(either_fleet.place, 1).limit_set
    assert draft.limit_set.limits == starter.limits
    assert (draft.number, draft.limit_set.state) == (2, LimitSetState.DRAFT)
    assert (draft.limit_set.author, draft.limit_set.based_on) == ("Kim", 1)
    assert draft.changes == ()
    assert read_set(either_fleet.place, 2) == draft


def test_that_a_draft_needs_a_named_author_and_a_name(fleet: Fleet):
    nobody = replace(fleet.place, who=" ")
    with pytest.raises(OperatorError, match="A draft needs a named author"):
        draft_from(nobody, 1, name="x", note="", moment=NOW)
    with pytest.raises(OperatorError, match="has no name"):
        draft_from(fleet.place, 1, name=" ", note="", moment=NOW)
    with pytest.raises(NotFoundError, match="no limit set 9"):
        draft_from(fleet.place, 9, name="x", note="", moment=NOW)


def test_that_the_history_lists_sets_newest_first_with_their_state(fleet: Fleet):
    drafted(fleet)
    newest, oldest = limit_sets(fleet.place, today=LAST_DAY)
    assert (newest.number, newest.state_words, newest.holds_today) == (2, "Draft", False)
    assert (oldest.number, oldest.state_words, oldest.holds_today) == (1, "In force", True)
    assert newest.limits == oldest.limits
    assert newest.based_on == 1


def test_that_edits_are_saved_shown_and_stand_in_the_audit_trail(either_fleet: Fleet):
    draft = drafted(either_fleet)
    old = draft.limit_set.limits[0]
    first = replace(old, note="looked at again", set_by="Kim")
    edits = [
        RowEdit(kind=EditKind.CHANGE, place=0, limit=first),
        RowEdit(kind=EditKind.ADD, limit=make_limit("iron", bounds=(40, 80, None))),
        RowEdit(kind=EditKind.ADD, interval=RULE),
        RowEdit(kind=EditKind.REMOVE, place=1),
    ]
    now = edit_draft(either_fleet.place, 2, edits, version=draft.version, moment=NOW).draft
    assert now == read_set(either_fleet.place, 2)
    assert now.version == draft.version + 1
    assert now.limit_set.limits[0] == first
    assert now.limit_set.limits[-1].watch == 40
    assert now.limit_set.intervals == (RULE,)
    kinds = [change.kind for change in now.changes]
    assert kinds == [ChangeKind.CHANGED, ChangeKind.ADDED, ChangeKind.REMOVED, ChangeKind.ADDED]
    assert "whole fleet, Iron level up: added, 40 / 80 / -" in now.changes[1].told
    assert now.changes[3].told == (
        "engine, interval: added, 250 h or 90 days, window 10 %, rolling"
    )
    told = trail(either_fleet)
    assert "limit set 2, whole fleet, Iron level up: added, 40 / 80 / -" in told
    assert sum(one.startswith("limit set 2, ") for one in told) == len(kinds)
    assert either_fleet.check() == []


def test_that_the_undo_of_edits_leads_back_to_the_former_rows(fleet: Fleet):
    draft = drafted(fleet)
    edits = [
        RowEdit(kind=EditKind.REMOVE, place=3),
        RowEdit(kind=EditKind.ADD, place=0, limit=make_limit()),
        RowEdit(kind=EditKind.ADD, interval=RULE),
        RowEdit(kind=EditKind.CHANGE, place=2, limit=make_limit("copper")),
    ]
    one = edit_draft(fleet.place, 2, edits, version=draft.version, moment=NOW)
    back = edit_draft(fleet.place, 2, one.undo, version=one.draft.version, moment=NOW)
    assert back.draft.limit_set == draft.limit_set
    again = edit_draft(fleet.place, 2, back.undo, version=back.draft.version, moment=NOW)
    assert again.draft.limit_set == one.draft.limit_set


def test_that_somebody_elses_edit_is_never_written_over(either_fleet: Fleet):
    draft = drafted(either_fleet)
    remove = [RowEdit(kind=EditKind.REMOVE, place=0)]
    edit_draft(either_fleet.place, 2, remove, version=draft.version, moment=NOW)
    with pytest.raises(StaleEditError, match="limit set 2 was changed by Kim"):
        edit_draft(either_fleet.place, 2, remove, version=draft.version, moment=NOW)
    left = len(read_set(either_fleet.place, 2).limit_set.limits)
    assert left == len(draft.limit_set.limits) - 1


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        (RowEdit(kind=EditKind.REMOVE, place=5), "There is no row 6 in the draft, which has 1"),
        (RowEdit(kind=EditKind.REMOVE), "There is no row 2"),
        (RowEdit(kind=EditKind.CHANGE, place=-1, limit=make_limit()), "There is no row 0"),
        (RowEdit(kind=EditKind.CHANGE, place=0), "Row 1 is to be written, but no row is given"),
        (RowEdit(kind=EditKind.REMOVE, place=0, is_interval=True), "which has 0 rows"),
    ],
)
def test_that_an_edit_of_a_row_that_is_not_there_is_refused(edit, told):
    with pytest.raises(OperatorError, match=told):
        edited(make_set([make_limit()]), [edit])


def test_that_a_set_in_force_is_never_edited(fleet: Fleet):
    remove = [RowEdit(kind=EditKind.REMOVE, place=0)]
    version = read_set(fleet.place, 1).version
    told = "Limit set 1 is in force and is not edited any more"
    with pytest.raises(OperatorError, match=told):
        edit_draft(fleet.place, 1, remove, version=version, moment=NOW)
    with pytest.raises(OperatorError, match=told):
        discard_draft(fleet.place, 1, version=version, moment=NOW)
    with pytest.raises(OperatorError, match=told):
        rename_draft(fleet.place, 1, name="x", note="", version=version, moment=NOW)


def test_that_a_discarded_draft_stays_readable_and_never_holds(either_fleet: Fleet):
    draft = drafted(either_fleet)
    discard_draft(either_fleet.place, 2, version=draft.version, moment=NOW)
    newest, _ = limit_sets(either_fleet.place, today=LAST_DAY)
    assert (newest.state_words, newest.holds_today) == ("Discarded", False)
    assert read_set(either_fleet.place, 2).limit_set.limits == draft.limit_set.limits
    remove = [RowEdit(kind=EditKind.REMOVE, place=0)]
    with pytest.raises(OperatorError, match="Limit set 2 is retired"):
        edit_draft(either_fleet.place, 2, remove, version=newest.version, moment=NOW)


def test_that_a_draft_can_be_renamed_but_not_namelessly(fleet: Fleet):
    draft = drafted(fleet)
    now = rename_draft(fleet.place, 2, name="Iron", note="two", version=draft.version, moment=NOW)
    assert (now.limit_set.name, now.limit_set.note) == ("Iron", "two")
    assert now.limit_set.limits == draft.limit_set.limits
    with pytest.raises(OperatorError, match="has no name"):
        rename_draft(fleet.place, 2, name="", note="", version=now.version, moment=NOW)


def test_that_an_off_row_and_its_end_are_kept(either_fleet: Fleet):
    draft = drafted(either_fleet)
    off = replace(
        make_limit(bounds=(None, None, None)),
        is_off=True, off_until=date(2026, 9, 30), note="cooler run-in", companion="",
        least_change=2.5, derivation='{"n":30}',
    )  # fmt: skip
    edits = [RowEdit(kind=EditKind.ADD, limit=off)]
    now = edit_draft(either_fleet.place, 2, edits, version=draft.version, moment=NOW).draft
    assert read_set(either_fleet.place, 2).limit_set.limits[-1] == off
    [change] = now.changes
    assert change.told.endswith("added, off until 2026-09-30")


def test_that_two_sets_are_compared_row_by_row(fleet: Fleet):
    draft = drafted(fleet)
    assert compare(fleet.place, 1, 2) == ()
    row = draft.limit_set.limits[0]
    tighter = replace(row, watch=None)
    edits = [RowEdit(kind=EditKind.CHANGE, place=0, limit=tighter)]
    edit_draft(fleet.place, 2, edits, version=draft.version, moment=NOW)
    [change] = compare(fleet.place, 1, 2)
    assert (change.before, change.after) == (row, tighter)
    assert " -> " in change.told
