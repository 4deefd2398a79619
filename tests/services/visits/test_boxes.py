from datetime import timedelta

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import SampleReason, SampleState
from fluiddesk.services.visit_papers.sheets import visit_sheets
from fluiddesk.services.visits.book import issue_bottles, save_visits
from fluiddesk.services.visits.boxes import add_box, move_box, note_due, remove_box
from fluiddesk.services.visits.facts import BoxOutcome, Visit, VisitState
from fluiddesk.services.visits.plan import PlanWishes, propose_visits
from fluiddesk.services.visits.read import visits
from tests.fleets import LAST_DAY, NOW, Fleet


def kept(fleet: Fleet) -> Visit:
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    chosen = next(one for one in plan.visits if len(one.boxes) >= 2)
    save_visits(fleet.place, [chosen], moment=NOW)
    [visit] = visits(fleet.place, today=LAST_DAY)
    return visit


def again(fleet: Fleet, visit: Visit) -> Visit:
    [found] = visits(fleet.place, today=LAST_DAY, ids=[visit.id])
    return found


def test_that_a_resample_is_added_by_hand_and_printed_with_its_bar(either_fleet: Fleet) -> None:
    visit = kept(either_fleet)
    issue_bottles(either_fleet.place, [visit.id], today=LAST_DAY, moment=NOW)
    box = visit.boxes[0].compartment_id
    add_box(either_fleet.place, visit.id, box, reason=SampleReason.RESAMPLE, moment=NOW)
    after = again(either_fleet, visit)
    assert after.state is VisitState.PLANNED
    assert len(after.boxes) == len(visit.boxes) + 1
    issue_bottles(either_fleet.place, [visit.id], today=LAST_DAY, moment=NOW)
    [sheet] = visit_sheets(either_fleet.place, [visit.id], today=LAST_DAY)
    assert [row.reason for row in sheet.rows if row.is_special] == [SampleReason.RESAMPLE]
    with pytest.raises(OperatorError, match="for that reason already"):
        add_box(either_fleet.place, visit.id, box, reason=SampleReason.RESAMPLE, moment=NOW)


def test_that_a_box_of_another_machine_and_a_reason_of_none_are_refused(fleet: Fleet) -> None:
    visit = kept(fleet)
    other = next(box for box in fleet.boxes() if box.machine != visit.machine)
    with pytest.raises(OperatorError, match="on another machine"):
        add_box(
            fleet.place, visit.id, other.compartment_id, reason=SampleReason.SPECIAL, moment=NOW
        )
    with pytest.raises(OperatorError, match='"duplicate" is no reason'):
        add_box(
            fleet.place,
            visit.id,
            visit.boxes[0].compartment_id,
            reason=SampleReason.DUPLICATE,
            moment=NOW,
        )


def test_that_a_moved_bottle_keeps_its_label_and_none_is_lost(fleet: Fleet) -> None:
    first = kept(fleet)
    issue_bottles(fleet.place, [first.id], today=LAST_DAY, moment=NOW)
    first = again(fleet, first)
    from dataclasses import replace

    later = replace(first, id=b"", boxes=(), planned_on=LAST_DAY + timedelta(days=9))
    [second] = save_visits(fleet.place, [later], moment=NOW)
    moved = first.boxes[0]
    move_box(fleet.place, moved.id, second, moment=NOW)
    [there] = visits(fleet.place, today=LAST_DAY, ids=[second])
    assert [box.bottle_code for box in there.boxes] == [moved.bottle_code]
    rest = again(fleet, first)
    assert {box.bottle_code for one in (there, rest) for box in one.boxes} == {
        box.bottle_code for box in first.boxes
    }


def test_that_a_bottle_taken_off_is_void_and_its_box_due_as_before(fleet: Fleet) -> None:
    visit = kept(fleet)
    issue_bottles(fleet.place, [visit.id], today=LAST_DAY, moment=NOW)
    visit = again(fleet, visit)
    with pytest.raises(OperatorError, match="Say why"):
        remove_box(fleet.place, visit.boxes[0].id, why="", moment=NOW)
    remove_box(fleet.place, visit.boxes[0].id, why="wrong box", moment=NOW)
    assert again(fleet, visit).boxes[0].outcome is BoxOutcome.NOT_TAKEN
    with fleet.place.store.reading() as desk:
        [sample] = desk.sampling.by_bottle([visit.boxes[0].bottle_code]).values()
    assert sample.state is SampleState.VOID
    plan = propose_visits(fleet.place, today=LAST_DAY, wishes=PlanWishes(days=28))
    planned = {box.compartment_id for one in plan.visits for box in one.boxes}
    assert visit.boxes[0].compartment_id in planned
    with pytest.raises(OperatorError, match="already"):
        remove_box(fleet.place, visit.boxes[0].id, why="again", moment=NOW)


@pytest.mark.parametrize(
    ("reason", "note", "why"), [("lazy", "", "no reason of the list"), ("other", " ", "a note")]
)
def test_that_a_note_on_a_due_sample_needs_a_reason(
    fleet: Fleet, reason: str, note: str, why: str
) -> None:
    box = fleet.boxes()[0].compartment_id
    with pytest.raises(OperatorError, match=why):
        note_due(
            fleet.place, box, due_on=LAST_DAY, is_excused=True, reason=reason, note=note, moment=NOW
        )
    note_due(
        fleet.place, box, due_on=LAST_DAY, is_excused=True, reason="weather", note="", moment=NOW
    )
