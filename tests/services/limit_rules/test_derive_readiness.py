"""Groups that limits can be derived for: what is behind each, and what some lack."""

import pytest

from fluiddesk.domain.errors import OperatorError
from fluiddesk.domain.limits.limit_set import Scope
from fluiddesk.services.limit_rules.derive import derive, derive_groups
from fluiddesk.services.limit_rules.derive_readiness import groups_ready
from fluiddesk.services.limit_rules.what_if_fleet import open_what_if
from tests.fleets import LAST_DAY, Fleet


def test_that_groups_are_derived_as_each_alone_and_their_counts_are_those_of_the_answer(
    fleet: Fleet,
) -> None:
    opened = open_what_if(fleet.place, today=LAST_DAY)
    groups = groups_ready(opened)
    some = [groups[0].scope, groups[2].scope]
    found = derive_groups(opened, some, rounds=0)
    assert {row.scope for row in found.rows} == set(some)
    alone = [row for row in derive(opened, rounds=0).rows if row.scope in some]
    assert list(found.rows) == alone
    for group in groups:
        rows = [row for row in derive(opened, rounds=0).rows if row.scope == group.scope]
        assert max((row.samples for row in rows), default=0) <= group.samples
        # What is said to lack can indeed give no limit.
        assert group.is_ready or not any(row.may_be_taken for row in rows)


def test_that_the_small_fleet_lacks_machines_and_says_how_many(fleet: Fleet) -> None:
    told = [one.why for one in groups_ready(open_what_if(fleet.place, today=LAST_DAY))]
    assert any("of at least 10 machines" in why or "samples" in why for why in told)


def test_that_a_group_that_is_not_there_is_refused(fleet: Fleet) -> None:
    opened = open_what_if(fleet.place, today=LAST_DAY)
    with pytest.raises(OperatorError, match="Choose one of the list"):
        derive_groups(opened, [Scope(model="nowhere")])
