"""Which limit holds for a box, since when, and which ones it overrode."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fluiddesk.domain.errors import NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.interval_rule import IntervalRule
from fluiddesk.domain.limits.limit_set import LimitKind, Scope
from fluiddesk.services.limit_rules.activate import activate
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit
from fluiddesk.services.limit_rules.holds import box_limits
from fluiddesk.services.limit_rules.versions import draft_from, edit_draft
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.makers import make_limit

FROM = LAST_DAY - timedelta(days=30)


def rule(scope: Scope, hours: float) -> IntervalRule:
    return IntervalRule(
        scope=scope, interval_hours=hours, interval_days=None, source="x", set_by="Kim"
    )


def put_in_force(fleet: Fleet, *edits: RowEdit) -> None:
    draft = draft_from(fleet.place, 1, name="Mine", note="", moment=NOW)
    draft = edit_draft(fleet.place, 2, edits, version=draft.version, moment=NOW).draft
    activate(
        fleet.place, 2, valid_from=FROM, note="x", version=draft.version, today=LAST_DAY, moment=NOW
    )


def iron_of(found):
    return next(
        one for one in found.held
        if (one.limit.analyte, one.limit.kind) == ("iron", LimitKind.LEVEL)
    )  # fmt: skip


def test_that_the_most_specific_limit_holds_and_names_what_it_overrode(either_fleet: Fleet):
    box = either_fleet.boxes("engine")[0]
    own = make_limit(bounds=(None, 95, None), scope=Scope(compartment=box.compartment_id.hex()))
    kind = make_limit(
        bounds=(50, 90, 140),
        scope=Scope(machine_kind=box.machine_kind, compartment_kind="engine"),
    )
    rules = [rule(Scope(compartment_kind="engine"), 300), rule(Scope(), 500)]
    put_in_force(
        either_fleet,
        *(RowEdit(kind=EditKind.ADD, limit=one) for one in (own, kind)),
        *(RowEdit(kind=EditKind.ADD, interval=one) for one in rules),
    )
    found = box_limits(either_fleet.place, box.compartment_id, day=LAST_DAY)
    iron = iron_of(found)
    assert iron.limit == own
    assert [one.bounds() for one in iron.overrode] == [kind.bounds(), (60, 100, 150)]
    assert (iron.since, iron.set_number, iron.unit) == (FROM, 2, "mg/kg")
    assert (found.interval, found.interval_overrode) == (rules[0], (rules[1],))
    assert (found.machine, found.set_name) == (box.machine, "Mine")


def test_that_the_day_asked_about_decides_which_set_held(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    put_in_force(fleet, RowEdit(kind=EditKind.REMOVE, place=0))
    before = box_limits(fleet.place, box.compartment_id, day=FROM - timedelta(days=1))
    assert (before.set_number, iron_of(before).since) == (1, date(2000, 1, 1))
    assert box_limits(fleet.place, box.compartment_id, day=FROM).set_number == 2
    kept = iron_of(box_limits(fleet.place, box.compartment_id, day=LAST_DAY))
    assert kept.since == date(2000, 1, 1)


def test_that_a_limit_switched_off_says_so(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    off = replace(
        make_limit(bounds=(None, None, None), scope=Scope(compartment=box.compartment_id.hex())),
        is_off=True, off_until=LAST_DAY, note="run-in",
    )  # fmt: skip
    put_in_force(fleet, RowEdit(kind=EditKind.ADD, limit=off))
    held = iron_of(box_limits(fleet.place, box.compartment_id, day=LAST_DAY))
    assert held.is_off
    assert held.overrode[0].bounds() == (60, 100, 150)
    later = iron_of(box_limits(fleet.place, box.compartment_id, day=LAST_DAY + timedelta(days=1)))
    assert not later.is_off


def test_that_an_unknown_box_or_a_day_without_a_set_is_told(fleet: Fleet):
    box = fleet.boxes("engine")[0]
    with pytest.raises(NotFoundError, match="There is no compartment 0a0a"):
        box_limits(fleet.place, CompartmentId(b"\x0a" * 16), day=LAST_DAY)
    with pytest.raises(NotFoundError, match="No limit set held on 1999-01-01"):
        box_limits(fleet.place, box.compartment_id, day=date(1999, 1, 1))
