"""Drafts, answered warnings, saved layouts and questions, on both stores."""

from dataclasses import replace

import pytest

from fluiddesk.domain.errors import NotFoundError, StaleEditError
from fluiddesk.storage import (
    AnsweredWarningRecord,
    DeskStore,
    EventQuestionRecord,
    KeyDraftRecord,
    SavedLayoutRecord,
)
from tests.stores import CLERK, LATER, MOMENT, SITE, Filled, report_all


def begun(store: DeskStore, filled: Filled) -> KeyDraftRecord:
    """A draft of the first sample's report."""
    sample = filled.samples[0]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        draft = KeyDraftRecord(
            site=SITE,
            id=desk.new_id(),
            bottle_code=sample.bottle_code,
            sample=sample.id,
            laboratory="own",
            cells={"cells": {"Fe": "12,4"}, "heads": {"issue": "1"}},
        )
        desk.keying.add_draft(draft)
        return desk.keying.draft(draft.id)


def test_that_a_draft_comes_back_as_it_was_kept(store: DeskStore, filled: Filled) -> None:
    draft = begun(store, filled)
    assert (draft.version, draft.begun_by, draft.changed_by) == (1, CLERK, CLERK)
    with store.transaction(who="Noor", moment=LATER) as desk:
        desk.keying.keep_draft(
            replace(draft, cells={"cells": {"Fe": "13"}}, second={"Fe": "13"}, note="waits")
        )
        [kept] = desk.keying.live_drafts(draft.bottle_code)
    assert (kept.cells, kept.second, kept.note) == ({"cells": {"Fe": "13"}}, {"Fe": "13"}, "waits")
    assert (kept.version, kept.begun_by, kept.changed_by) == (2, CLERK, "Noor")
    assert kept.changed_at == LATER


def test_that_a_draft_kept_elsewhere_is_not_written_over(store: DeskStore, filled: Filled) -> None:
    draft = begun(store, filled)
    with store.transaction(who="Noor", moment=LATER) as desk:
        desk.keying.keep_draft(draft)
        with pytest.raises(StaleEditError, match="changed by Noor"):
            desk.keying.keep_draft(draft)


def test_that_saved_and_dropped_drafts_are_live_no_more(store: DeskStore, filled: Filled) -> None:
    draft = begun(store, filled)
    with store.transaction(who=CLERK, moment=LATER) as desk:
        desk.keying.keep_draft(replace(draft, state="dropped"))
        assert desk.keying.live_drafts() == []
        assert desk.keying.draft(draft.id).state == "dropped"
        with pytest.raises(NotFoundError, match="Begin it anew"):
            desk.keying.draft(bytes(16))
    begun(store, filled)


def test_that_answers_follow_their_draft_to_the_sheet(store: DeskStore, filled: Filled) -> None:
    draft = begun(store, filled)
    answer = AnsweredWarningRecord(
        site=SITE,
        draft=draft.id,
        analyte="iron",
        kind="decimal_slip",
        told="Iron 124: the point seems moved.",
        answer="corrected",
        old_text="124",
        new_text="12,4",
    )
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.keying.add_warnings([answer])
        [kept] = desk.keying.warnings_of(draft=draft.id)
    assert replace(kept, made_at=None, made_by="") == answer
    assert (kept.made_at, kept.made_by) == (MOMENT, CLERK)
    report_all(store, filled, at=LATER)
    with store.transaction(who=CLERK, moment=LATER) as desk:
        sheet = desk.keying.sheet_in_force(SITE, filled.samples[0].id)
        assert sheet is not None
        desk.keying.link_warnings(SITE, draft.id, sheet)
        [linked] = desk.keying.warnings_of(sheet=sheet)
    assert linked.sheet == sheet


def test_that_the_last_laboratory_and_printed_places_of_a_box_are_known(
    store: DeskStore, filled: Filled
) -> None:
    box = filled.compartment.id
    with store.reading() as desk:
        assert desk.keying.laboratory_of(box) == ""
        assert desk.keying.printed_places(box) == []
    report_all(store, filled)
    with store.reading() as desk:
        assert desk.keying.laboratory_of(box) == "own"
        places = desk.keying.printed_places(box)
    assert sorted(set(places)) == [(1, "ppm", 0), (2, "ppm", 0)]
    assert len(places) == 2 * len(filled.samples)


def test_that_a_layout_is_kept_changed_and_retired(store: DeskStore, filled: Filled) -> None:
    assert filled.samples
    layout = SavedLayoutRecord(code="north", name="North", laboratory="own", document="a = 1")
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        desk.keying.put_layout(layout)
        [kept] = desk.keying.layouts()
        assert replace(kept, version=0) == layout
        desk.keying.put_layout(replace(kept, document="a = 2"))
        with pytest.raises(StaleEditError):
            desk.keying.put_layout(replace(kept, document="a = 3"))
        [changed] = desk.keying.layouts()
        assert (changed.document, changed.version) == ("a = 2", 2)
        desk.keying.put_layout(replace(changed, retired=True))
        assert desk.keying.layouts() == []
        assert len(desk.keying.layouts(with_retired=True)) == 1


def test_that_a_sample_is_asked_about_once_and_answered_once(
    store: DeskStore, filled: Filled
) -> None:
    sample = filled.samples[0]
    with store.transaction(who=CLERK, moment=MOMENT) as desk:
        question = EventQuestionRecord(
            site=SITE,
            id=desk.new_id(),
            compartment=filled.compartment.id,
            sample=sample.id,
            told={"since": "2025-01-01"},
        )
        desk.keying.add_question(question)
        desk.keying.add_question(replace(question, id=desk.new_id()))
        assert desk.keying.questions() == [question]
        desk.keying.answer_question(question, answer="unknown", event=None)
        assert desk.keying.questions() == []
        [answered] = desk.keying.questions(only_open=False)
        assert answered.answer == "unknown"
        with pytest.raises(NotFoundError, match="answered before"):
            desk.keying.answer_question(question, answer="no", event=None)
