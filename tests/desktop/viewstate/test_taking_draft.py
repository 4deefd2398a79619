"""A visit keyed from its sheet."""

from datetime import timedelta

import pytest

from fluiddesk.desktop.viewstate.round_plan import RoundPlan
from fluiddesk.desktop.viewstate.sampling_calls import SamplingCalls
from fluiddesk.desktop.viewstate.taking_draft import Cell, TakingDraft
from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.samples import DrawMethod
from fluiddesk.domain.trust.taking import FillLevel
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.takings.facts import Recorded
from fluiddesk.services.visits.plan import PlanWishes
from tests.fleets import LAST_DAY, NOW, Fleet


@pytest.fixture
def calls(fleet: Fleet) -> SamplingCalls:
    return SamplingCalls(place=fleet.place)


@pytest.fixture
def draft(calls: SamplingCalls) -> TakingDraft:
    facts = calls.facts(PlanWishes(days=28), today=LAST_DAY)
    wanted = next(one for one in facts.plan.visits if len(one.boxes) > 1)
    ids = calls.keep([wanted], moment=NOW).ids
    calls.issue(ids, today=LAST_DAY, moment=NOW)
    plan = RoundPlan(calls.facts(PlanWishes(days=28), today=LAST_DAY))
    one = plan.visit(ids[0])
    assert one is not None
    return TakingDraft(one, today=LAST_DAY + timedelta(days=30), by="Kim")


def test_that_short_forms_are_written_out(draft: TakingDraft) -> None:
    for column, typed, told in (
        (Cell.FLUSHED, "y", "yes"),
        (Cell.WARM, "N", "no"),
        (Cell.METHOD, "t", "tube"),
        (Cell.FILL, "b", "below"),
        (Cell.LITRES, "0", "0"),
        (Cell.LITRES, "1,5", "1.5"),
        (Cell.MIXED, "", ""),
    ):
        assert draft.write(0, column, typed)
        assert draft.text(0, column) == told


def test_that_what_cannot_be_read_is_marked_and_kept(draft: TakingDraft) -> None:
    assert not draft.write(0, Cell.LITRES, "some")
    assert draft.text(0, Cell.LITRES) == "some"
    assert "some" in draft.problem(0, Cell.LITRES)
    with pytest.raises(OperatorError, match="some"):
        draft.done()
    assert draft.write(0, Cell.LITRES, "2")
    assert not draft.problem(0, Cell.LITRES)
    assert not draft.write(0, Cell.FLUSHED, "perhaps")
    assert not draft.write(0, Cell.FILL, "x")
    assert not draft.write(0, Cell.BOTTLE, "another")


def test_that_a_cell_fills_the_blanks_below_it_alone(draft: TakingDraft) -> None:
    draft.write(1, Cell.FLUSHED, "n")
    draft.write(0, Cell.FLUSHED, "y")
    draft.fill_down(0, Cell.FLUSHED)
    draft.turn(0, Cell.WARM)
    draft.fill_down(0, Cell.WARM)
    assert [draft.text(row, Cell.FLUSHED) for row in (0, 1)] == ["yes", "no"]
    assert {draft.text(row, Cell.WARM) for row in range(len(draft))} == {"yes"}


def test_that_a_bottle_not_taken_has_a_reason_and_nothing_else(draft: TakingDraft) -> None:
    draft.turn(0, Cell.TAKEN)
    assert not draft.can_write(0, Cell.FLUSHED)
    draft.write(0, Cell.NOTE, "no access")
    draft.head.meter_unreadable = True
    bottle = draft.done().bottles[0]
    assert (bottle.is_taken, bottle.why_not) == (False, "no access")


def test_that_a_wrong_day_or_meter_is_refused(draft: TakingDraft) -> None:
    draft.head.meter = "many"
    with pytest.raises(OperatorError, match="many"):
        draft.done()
    draft.head.meter, draft.head.taken_on = "", "yesterday"
    with pytest.raises(OperatorError, match="yesterday"):
        draft.done()


def test_that_the_musts_of_the_sheet_lead_back_to_their_cells(
    calls: SamplingCalls, draft: TakingDraft
) -> None:
    draft.head.meter_unreadable = True
    later = LAST_DAY + timedelta(days=30)
    answer = calls.record(draft.done(), today=later, moment=NOW + timedelta(days=30))
    assert isinstance(answer, RegisterFaultsError)
    assert draft.take_faults(answer.faults) is not None
    assert draft.problem(0, Cell.CHANGED)
    assert draft.problem(0, Cell.LITRES)
    draft.forget_refusal()
    assert not draft.problem(0, Cell.LITRES)
    for column, said in ((Cell.CHANGED, "n"), (Cell.LITRES, "0"), (Cell.FILL, "a")):
        draft.write(0, column, said)
        draft.fill_down(0, column)
    done = draft.done()
    assert {one.fill_level for one in done.bottles} == {FillLevel.ABOVE_LINE}
    assert DrawMethod.UNKNOWN not in {one.method for one in done.bottles}
    recorded = calls.record(done, today=later, moment=NOW + timedelta(days=30))
    assert isinstance(recorded, Recorded)
    assert len(recorded.samples) == len(draft)


def test_that_a_sheet_is_taken_up_as_it_was_typed(draft: TakingDraft) -> None:
    draft.head.meter, draft.head.taken_by = "12 x", "Ünal 李"
    draft.head.meter_unreadable = True
    draft.write(0, Cell.FLUSHED, "y")
    draft.write(0, Cell.LITRES, "1,5")
    draft.write(0, Cell.FILL, "q")
    draft.write(1, Cell.TAKEN, "n")
    draft.write(1, Cell.NOTE, "no access")
    draft.type_in(0, Cell.NOTE, "hal")
    again = TakingDraft(draft.planned, today=LAST_DAY)
    again.take_up(draft.cells)
    assert again.head == draft.head
    assert again.is_touched
    for row in range(len(draft)):
        for column in (one for one in Cell if (row, one) != (0, Cell.NOTE)):
            assert again.text(row, column) == draft.text(row, column)
            assert again.problem(row, column) == draft.problem(row, column)
    assert again.text(0, Cell.NOTE) == "hal"


def test_that_cells_of_bottles_that_are_gone_or_new_do_no_harm(draft: TakingDraft) -> None:
    cells = {key: dict(fields) for key, fields in draft.cells.items()}
    gone = draft.boxes[0].id.hex()
    told = cells.pop(gone)
    cells["f" * 32] = told
    again = TakingDraft(draft.planned, today=LAST_DAY)
    before = [again.text(0, column) for column in Cell]
    again.take_up({**cells, "head": {}})
    assert [again.text(0, column) for column in Cell] == before
    assert again.head.taken_on
