"""`compliance`: shares, events, periods and exit codes."""

from fluiddesk.cli.output import Exit
from tests.cli.conftest import Run
from tests.fleets import Fleet


def test_that_shares_come_by_group_with_the_whole(run: Run, fleet: Fleet) -> None:
    told = run("compliance", "--by", "month", "--database", fleet.address, "--format", "json")
    assert told.code == Exit.OK
    answer = told.json
    assert answer["total"]["due"] == sum(one["due"] for one in answer["groups"]) > 0
    months = [one["month"] for one in answer["groups"]]
    assert months == sorted(months)


def test_that_events_can_be_listed_one_by_one(run: Run, fleet: Fleet) -> None:
    where = ("--database", fleet.address, "--format", "json")
    events = run("compliance", "--events", *where).json
    assert len(events) == run("compliance", *where).json["total"]["due"]
    assert {"due_on", "window", "outcome", "reason"} <= set(events[0])


def test_that_a_missed_target_leaves_with_1(run: Run, fleet: Fleet) -> None:
    where = ("--database", fleet.address)
    assert run("compliance", "--target", 100, *where).code == Exit.ATTENTION
    assert run("compliance", "--target", 0, *where).code == Exit.OK


def test_that_a_period_that_is_none_is_refused(run: Run, fleet: Fleet) -> None:
    where = ("--database", fleet.address)
    told = run("compliance", "--from", "March", *where)
    assert told.code == Exit.USAGE
    assert '"March" is not a day' in told.err
    turned = run("compliance", "--from", "2026-05-01", "--to", "2026-04-01", *where)
    assert turned.code != Exit.OK
    assert "ends before it begins" in turned.err
