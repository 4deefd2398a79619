import numpy as np

from fluiddesk.domain.severity import Severity
from fluiddesk.services.visits.worthwhile import EARLIEST_SHARE, worthwhile_bottles
from tests.fleets import LAST_DAY, Fleet


def test_that_bottles_come_by_what_they_are_worth_and_those_that_must_be_filled_first(
    fleet: Fleet,
) -> None:
    lines = worthwhile_bottles(fleet.place, today=LAST_DAY)
    assert lines
    must = [one.must for one in lines]
    assert must == sorted(must, reverse=True)
    free = [one.worth_per_minute for one in lines if not one.must]
    assert free == sorted(free, reverse=True)
    assert all(one.since_share >= EARLIEST_SHARE for one in lines)
    assert all(np.isfinite(one.worth_per_minute) for one in lines)


def test_that_a_box_in_trouble_says_so_in_its_reason(fleet: Fleet) -> None:
    lines = worthwhile_bottles(fleet.place, today=LAST_DAY)
    trouble = [one for one in lines if one.severity >= Severity.WATCH]
    assert trouble
    assert all("times as likely" in one.why for one in trouble)


def test_that_only_as_many_are_told_as_asked_for(fleet: Fleet) -> None:
    assert len(worthwhile_bottles(fleet.place, today=LAST_DAY, count=3)) == 3
