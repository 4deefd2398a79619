"""The set in force holds from an earlier day: judged anew since then, nothing silently changed."""

from dataclasses import replace
from datetime import timedelta

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.limit_set import LimitSetState
from fluiddesk.services.limit_rules.activate import hold_earlier
from fluiddesk.services.limit_rules.reach import reach
from fluiddesk.services.limit_rules.versions import limit_sets
from fluiddesk.services.limit_rules.what_if_fleet import open_what_if
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.services.limit_rules.test_activate import (
    FROM,
    judged_fleet,
    put_in_force,
    stricter,
)

__all__ = ["judged_fleet"]


def test_that_a_set_from_today_moves_nobody_until_it_is_held_from_an_earlier_day(
    judged_fleet: Fleet,
) -> None:
    place = judged_fleet.place
    day_after = LAST_DAY + timedelta(days=1)
    first = put_in_force(judged_fleet, stricter(judged_fleet), valid_from=day_after)
    assert (first.changed, first.moved) == (0, ())
    done = hold_earlier(
        place, 2, valid_from=FROM, note="New laboratory", today=LAST_DAY, moment=NOW
    )
    assert done.changed > 0
    assert done.retired == (1, 2)
    told = {one.number: one for one in limit_sets(place, today=day_after)}
    assert told[3].state is LimitSetState.IN_FORCE
    assert (told[3].valid_from, told[3].note, told[3].based_on) == (FROM, "New laboratory", 2)
    assert told[1].valid_until == FROM
    # The set that is replaced stays readable, and holds for no day any more.
    assert told[2].valid_from == told[2].valid_until == day_after


def test_that_it_comes_to_the_same_as_having_begun_on_that_day(judged_fleet: Fleet) -> None:
    place = judged_fleet.place
    put_in_force(judged_fleet, stricter(judged_fleet), valid_from=LAST_DAY + timedelta(days=1))
    late = hold_earlier(place, 2, valid_from=FROM, note="why", today=LAST_DAY, moment=NOW)
    samples = reach(open_what_if(place, today=LAST_DAY), [FROM])[0]
    assert 0 < late.changed <= samples.samples
    assert samples.boxes >= len(late.moved)


def test_that_only_an_earlier_day_of_the_set_in_force_is_taken(judged_fleet: Fleet) -> None:
    place = judged_fleet.place
    stricter(judged_fleet)
    known = {"note": "why", "today": LAST_DAY, "moment": NOW}
    with pytest.raises(OperatorError, match=r"is draft\. Only a set in force"):
        hold_earlier(place, 2, valid_from=FROM, **known)
    began = limit_sets(place, today=LAST_DAY)[-1].valid_from
    with pytest.raises(OperatorError, match="Give an earlier day"):
        hold_earlier(place, 1, valid_from=began, **known)
    with pytest.raises(OperatorError, match="Give a note"):
        hold_earlier(
            place, 1, valid_from=began - timedelta(days=9), note=" ", today=LAST_DAY, moment=NOW
        )
    with pytest.raises(OperatorError, match="named person"):
        hold_earlier(replace(place, who=""), 1, valid_from=FROM, **known)
    assert len(limit_sets(place, today=LAST_DAY)) == 2


def test_that_the_reach_of_a_day_counts_samples_and_boxes(judged_fleet: Fleet) -> None:
    fleet = open_what_if(judged_fleet.place, today=LAST_DAY)
    none, some, every = reach(
        fleet, [LAST_DAY + timedelta(days=1), FROM, LAST_DAY.replace(year=1990)]
    )
    assert (none.samples, none.boxes, none.words) == (0, 0, f"since {none.day}: none")
    assert 0 < some.samples < every.samples
    assert every.samples == sum(len(group) for group in fleet.columns.groups)
