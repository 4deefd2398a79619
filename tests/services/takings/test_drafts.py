"""Half-keyed visit sheets: kept as typed, told with who keyed them, gone once they are recorded."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.errors import OperatorError, StaleEditError
from fluiddesk.services.takings.drafts import (
    SheetDraft,
    drop_sheet,
    keep_sheet,
    sheet_draft,
    sheet_drafts,
)
from fluiddesk.services.takings.record import record_visit
from fluiddesk.services.visits.book import drop_visit
from fluiddesk.storage import check_store
from tests.fleets import NOW, Fleet, differing_tables
from tests.services.takings.test_record import AFTER, TODAY, done, issued

CELLS = {"head": {"meter": "12 5"}, "bottle": {"litres": "3,5", "note": "Öl läuft\n漏油"}}


def test_that_a_sheet_is_kept_as_typed_and_found_with_who_keyed_it(either_fleet: Fleet) -> None:
    visit = issued(either_fleet)
    place = replace(either_fleet.place, who="Noor")
    assert sheet_drafts(place) == {}
    first = keep_sheet(place, SheetDraft(visit_id=visit.id, cells=CELLS), moment=NOW)
    assert first.cells == CELLS
    assert first.told == "half keyed by Noor, 2026-06-30 12:00 UTC"
    more = replace(first, cells={"head": {"meter": "125"}})
    second = keep_sheet(either_fleet.place, more, moment=NOW + timedelta(minutes=5))
    assert sheet_drafts(either_fleet.place) == {visit.id: second}
    assert sheet_draft(either_fleet.place, visit.id) == second
    assert (second.cells, second.changed_by) == (more.cells, either_fleet.place.who)
    assert check_store(either_fleet.place.store) == []


def test_that_a_second_desk_never_writes_over_the_first_unasked(either_fleet: Fleet) -> None:
    visit = issued(either_fleet)
    mine, theirs = either_fleet.place, replace(either_fleet.place, who="Noor")
    begun = SheetDraft(visit_id=visit.id, cells={"head": {"meter": "1"}})
    keep_sheet(theirs, begun, moment=NOW)
    with pytest.raises(StaleEditError, match="Noor"):
        keep_sheet(mine, replace(begun, cells={}), moment=AFTER)
    stored = sheet_draft(mine, visit.id)
    assert stored is not None
    assert stored.cells == begun.cells
    over = keep_sheet(mine, replace(begun, cells=CELLS), moment=AFTER, writes_over=True)
    assert sheet_draft(theirs, visit.id) == over


def test_that_a_dropped_sheet_is_gone_with_its_reason_in_the_trail(fleet: Fleet) -> None:
    visit = issued(fleet)
    kept = keep_sheet(fleet.place, SheetDraft(visit_id=visit.id, cells=CELLS), moment=NOW)
    with pytest.raises(OperatorError, match="Say why"):
        drop_sheet(fleet.place, kept, why=" ", moment=NOW)
    with pytest.raises(StaleEditError):
        drop_sheet(fleet.place, replace(kept, version=99), why="wrong sheet", moment=NOW)
    before = fleet.dump()
    drop_sheet(fleet.place, kept, why="wrong sheet", moment=NOW)
    assert sheet_draft(fleet.place, visit.id) is None
    assert sheet_drafts(fleet.place) == {}
    assert differing_tables(before, fleet.dump()) == {"taking_draft", "audit_trail"}
    again = keep_sheet(fleet.place, SheetDraft(visit_id=visit.id, cells={}), moment=AFTER)
    assert sheet_drafts(fleet.place) == {visit.id: again}
    assert fleet.check() == []


def test_that_a_recorded_visit_has_no_draft_and_takes_none(fleet: Fleet) -> None:
    visit = issued(fleet)
    kept = keep_sheet(fleet.place, SheetDraft(visit_id=visit.id, cells=CELLS), moment=NOW)
    record_visit(fleet.place, done(fleet, visit), today=TODAY, moment=AFTER)
    assert sheet_draft(fleet.place, visit.id) is None
    with pytest.raises(OperatorError, match="was done"):
        keep_sheet(fleet.place, kept, moment=AFTER)


def test_that_a_visit_given_up_takes_its_draft_along(fleet: Fleet) -> None:
    visit = issued(fleet)
    keep_sheet(fleet.place, SheetDraft(visit_id=visit.id, cells=CELLS), moment=NOW)
    drop_visit(fleet.place, visit.id, why="sold", version=visit.version, moment=NOW)
    assert sheet_drafts(fleet.place) == {}


def test_that_typing_makes_no_lines_in_the_audit_trail(fleet: Fleet) -> None:
    visit = issued(fleet)
    before = fleet.dump()
    kept = keep_sheet(fleet.place, SheetDraft(visit_id=visit.id, cells={}), moment=NOW)
    keep_sheet(fleet.place, replace(kept, cells=CELLS), moment=AFTER)
    assert differing_tables(before, fleet.dump()) == {"taking_draft"}
