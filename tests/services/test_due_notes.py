"""Notes beside due samples that were written by mistake are taken back, and stay on record."""

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.sampling.outcome import Outcome
from fluiddesk.services.due_notes import due_notes, void_due_note
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.services.interval_compliance.facts import ComplianceTable, EventLine, GroupBy
from fluiddesk.services.interval_compliance.tables import compliance_table, event_lines
from fluiddesk.services.visits.boxes import note_due
from tests.fleets import LAST_DAY, NOW, Fleet

YEAR = {"first_day": LAST_DAY.replace(year=LAST_DAY.year - 1), "last_day": LAST_DAY}


def measured(fleet: Fleet) -> ComplianceTable:
    events = event_columns(fleet.place, today=LAST_DAY)
    return compliance_table(events, fleet.place.catalogue, by=GroupBy.SITE, **YEAR)


def lines(fleet: Fleet) -> tuple[EventLine, ...]:
    return event_lines(event_columns(fleet.place, today=LAST_DAY), **YEAR)


def excuse(fleet: Fleet) -> EventLine:
    late = next(one for one in lines(fleet) if one.outcome in (Outcome.LATE, Outcome.MISSED))
    note_due(
        fleet.place,
        late.compartment_id,  # type: ignore[arg-type]
        due_on=late.due_on,
        is_excused=True,
        reason="no_access",
        note="wrong machine",
        moment=NOW,
    )
    return late


def test_that_compliance_moves_back_when_an_excuse_is_taken_back(either_fleet: Fleet) -> None:
    fleet = either_fleet
    before = measured(fleet)
    late = excuse(fleet)
    between = measured(fleet)
    assert between.total.excused == before.total.excused + 1
    assert between.total.on_time_share.percent > before.total.on_time_share.percent
    [note] = due_notes(fleet.place)
    assert note.words == "excused: no access, wrong machine"
    assert note.due_on == late.due_on
    changes = void_due_note(fleet.place, note.id, why="other machine meant", moment=NOW)
    assert changes.compartments == {late.compartment_id}
    assert measured(fleet) == before
    assert due_notes(fleet.place) == ()
    [voided] = due_notes(fleet.place, voided=True)
    assert voided.voided_reason == "other machine meant"
    same = next(
        one
        for one in lines(fleet)
        if (one.compartment_id, one.due_on) == (late.compartment_id, late.due_on)
    )
    assert (same.outcome, same.reason) == (late.outcome, "")
    assert fleet.check() == []


def test_that_a_note_is_taken_back_once_and_with_a_reason(fleet: Fleet) -> None:
    excuse(fleet)
    [note] = due_notes(fleet.place)
    with pytest.raises(OperatorError, match="Say why"):
        void_due_note(fleet.place, note.id, why="", moment=NOW)
    void_due_note(fleet.place, note.id, why="mistake", moment=NOW)
    with pytest.raises(OperatorError, match=r"taken back already \(mistake\)"):
        void_due_note(fleet.place, note.id, why="mistake", moment=NOW)
    with pytest.raises(NotFoundError, match="Read the list again"):
        void_due_note(fleet.place, bytes(16), why="mistake", moment=NOW)
