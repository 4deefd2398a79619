"""Special intervals a person asks for, ends and takes back."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from fluiddesk.domain.errors import NotFoundError, OperatorError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.register.saving import RegisterFaultsError
from fluiddesk.services.special_by_hand import (
    Special,
    SpecialWish,
    add_special,
    end_special,
    specials,
    undo_special,
)
from fluiddesk.storage import RecordKey, RecordKind
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.services.test_special_intervals import at, normal_box


def wish(box: CompartmentId, **given: Any) -> SpecialWish:
    usual = SpecialWish(
        compartment=box, reason="laboratory_asks", hours=40.0, days=5, valid_from=LAST_DAY
    )
    return replace(usual, **given)


def add(fleet: Fleet, asked: SpecialWish) -> bytes:
    return add_special(fleet.place, asked, today=LAST_DAY, moment=NOW).row


def told(fleet: Fleet, **given: Any) -> tuple[Special, ...]:
    return tuple(
        one for one in specials(fleet.place, today=LAST_DAY, **given) if not one.is_lost_bottle
    )


def due_day(fleet: Fleet, box: CompartmentId) -> date:
    found = fleet_condition(fleet.place, today=LAST_DAY)
    return date.fromordinal(int(found.due.due_on[at(found, box)]))


def test_that_a_box_is_due_sooner_until_it_is_ended_and_again_once_that_is_taken_back(
    either_fleet: Fleet,
) -> None:
    fleet = either_fleet
    box = normal_box(fleet)
    usual = due_day(fleet, box)
    key = add(fleet, wish(box))
    sooner = due_day(fleet, box)
    assert sooner < usual
    [one] = told(fleet)
    assert (one.id, one.is_in_force, one.state_words) == (key, True, "in force")
    assert one.interval_words == "40 h or 5 days"
    end_special(fleet.place, key, why="steady", today=LAST_DAY, moment=NOW)
    assert due_day(fleet, box) == usual
    assert told(fleet) == ()
    [ended] = told(fleet, ended=True)
    assert (ended.ended_on, ended.note) == (LAST_DAY, "ended: steady")
    undo_special(fleet.place, key, moment=NOW)
    assert due_day(fleet, box) == sooner
    with fleet.place.store.reading() as desk:
        site = desk.fleet.compartment(box).site
        changes = desk.register.changes(RecordKey(RecordKind.SPECIAL_INTERVAL, site, key))
    assert [one.undoes is None for one in changes] == [False, True, True]
    assert {one.who for one in changes} == {fleet.place.who}
    assert fleet.check() == []


def test_that_taking_back_an_addition_leaves_it_on_record_without_effect(fleet: Fleet) -> None:
    box = normal_box(fleet)
    usual = due_day(fleet, box)
    key = add(fleet, wish(box))
    undo_special(fleet.place, key, moment=NOW)
    assert due_day(fleet, box) == usual
    [one] = told(fleet, ended=True)
    assert one.ended_on == one.valid_from
    with pytest.raises(OperatorError, match="taken back already"):
        undo_special(fleet.place, key, moment=NOW)
    add(fleet, wish(box))


@pytest.mark.parametrize(
    ("given", "field", "words"),
    [
        ({"reason": "whim"}, "reason", '"whim" is not known. Choose: laboratory_asks'),
        ({"hours": None, "days": None}, "days", "Give one of them, or both"),
        ({"hours": -5.0}, "hours", "cannot be -5. Give more than 0"),
        ({"hours": float("nan")}, "hours", "cannot be nan"),
        ({"days": 0}, "days", "cannot be 0. Give 1 or more"),
        ({"reason": "resample"}, "hours", "40 h cannot be counted. Leave the hours empty"),
        ({"reason": "other"}, "note", "needs a note"),
        ({"valid_from": LAST_DAY + timedelta(900)}, "valid_from", "Correct the day"),
        ({"hours": 9_000.0, "days": None}, "hours", "9000 h is not shorter than the usual"),
    ],
)
def test_that_what_cannot_hold_is_refused_with_value_place_and_remedy(
    fleet: Fleet, given: dict[str, Any], field: str, words: str
) -> None:
    box = normal_box(fleet)
    with pytest.raises(RegisterFaultsError, match="Special interval of ") as refused:
        add(fleet, wish(box, **given))
    assert field in {one.field for one in refused.value.faults}
    assert words in str(refused.value)
    assert told(fleet) == ()


def test_that_one_reason_holds_once_for_a_box(fleet: Fleet) -> None:
    box = normal_box(fleet)
    add(fleet, wish(box))
    with pytest.raises(OperatorError, match="End that one first"):
        add(fleet, wish(box, hours=20.0))
    add(fleet, wish(box, reason="other", note="dust"))
    assert len(told(fleet)) == 2


def test_that_a_sample_answers_a_resample_which_can_then_be_asked_again(fleet: Fleet) -> None:
    box = normal_box(fleet)
    with fleet.place.store.reading() as desk:
        last = max(one.taken_on for one in desk.sampling.samples_of(box) if one.taken_on)
    key = add(fleet, wish(box, reason="resample", hours=None, days=7, valid_from=last))
    assert told(fleet) == ()
    [one] = told(fleet, ended=True)
    assert (one.id, one.answered_on, one.is_in_force) == (key, last, False)
    assert one.interval_words == "within 7 days"
    assert one.state_words == f"sampled {last}"
    again = wish(box, reason="resample", hours=None, days=7, valid_from=last + timedelta(1))
    add(fleet, again)
    assert len(told(fleet)) == 1


def test_that_one_that_is_to_come_holds_from_its_day_on(fleet: Fleet) -> None:
    box = normal_box(fleet)
    usual = due_day(fleet, box)
    key = add(fleet, wish(box, valid_from=LAST_DAY + timedelta(2)))
    assert due_day(fleet, box) == usual
    [one] = told(fleet)
    assert one.state_words == "to come"
    end_special(fleet.place, key, why="not needed", today=LAST_DAY, moment=NOW)
    assert specials(fleet.place, today=LAST_DAY + timedelta(2), compartment=box) == ()


def test_that_an_end_needs_a_reason_and_something_to_end(fleet: Fleet) -> None:
    key = add(fleet, wish(normal_box(fleet)))
    with pytest.raises(OperatorError, match="Say why"):
        end_special(fleet.place, key, why=" ", today=LAST_DAY, moment=NOW)
    end_special(fleet.place, key, why="steady", today=LAST_DAY, moment=NOW)
    with pytest.raises(OperatorError, match="ended on 2026-06-30 already"):
        end_special(fleet.place, key, why="steady", today=LAST_DAY, moment=NOW)
    with pytest.raises(NotFoundError, match="Read the list again"):
        end_special(fleet.place, bytes(16), why="steady", today=LAST_DAY, moment=NOW)
    with pytest.raises(NotFoundError):
        add(fleet, wish(CompartmentId(bytes(16))))


def test_that_days_asked_for_today_make_no_box_due_before_today(fleet: Fleet) -> None:
    box = normal_box(fleet)
    add(fleet, wish(box, hours=None, days=1))
    assert due_day(fleet, box) >= LAST_DAY
