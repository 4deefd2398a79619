"""A whole fleet in memory judged by rules that change."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fluiddesk.domain.limits.limit_set import LimitKind, LimitSetState, Scope
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.reassess.fleet import reassess_fleet
from fluiddesk.services.reassess.fleet_columns import (
    explained,
    judge_columns,
    latest_rows,
    load_fleet_columns,
    reasons_of,
    rows_since,
)
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.makers import make_limit, make_set


@pytest.fixture
def loaded(fleet: Fleet):
    reassess_fleet(fleet.place, moment=NOW)
    with fleet.place.store.reading() as desk:
        return load_fleet_columns(desk, fleet.place.catalogue)


def whatever(loaded, *limits):
    held = make_set(limits, 9, valid_from=date(2000, 1, 1), state=LimitSetState.IN_FORCE)
    return replace(loaded.rulebook, sets=(held,))


def test_that_judging_in_memory_says_what_is_stored(loaded):
    for group, found in zip(loaded.groups, judge_columns(loaded, loaded.rulebook), strict=True):
        assert found.severity.tolist() == group.severity.tolist()
        assert found.digest.tolist() == group.digest.tolist()


def test_that_rates_sides_and_companions_of_the_starter_set_are_judged(loaded):
    judged = dict.fromkeys(LimitKind, 0)

    def count(part):
        for index, limit in enumerate(part.limits):
            judged[limit.kind] += int((part.own[:, index] >= Severity.NORMAL).sum())

    judge_columns(loaded, loaded.rulebook, on_part=count)
    for kind in (LimitKind.RATE_PER_100H, LimitKind.LEFT_RIGHT_RATIO, LimitKind.COMPANION_RATIO):
        assert judged[kind] > 0, kind


def test_that_rows_asked_for_are_judged_as_in_the_whole(loaded):
    rows = latest_rows(loaded)
    whole = judge_columns(loaded, loaded.rulebook)
    some = judge_columns(loaded, loaded.rulebook, rows=rows)
    for mask, one, other in zip(rows, whole, some, strict=True):
        assert one.severity[mask].tolist() == other.severity[mask].tolist()
        assert (other.severity[~mask] == Severity.NO_VERDICT).all()
        assert (other.limit_set[~mask] == 0).all()


def test_that_the_latest_row_is_the_last_believed_sample_of_each_box(loaded):
    seen = np.concatenate(
        [
            group.compartment[mask]
            for group, mask in zip(loaded.groups, latest_rows(loaded), strict=True)
        ]
    )
    assert sorted(seen.tolist()) == sorted(set(seen.tolist()))
    for group, mask in zip(loaded.groups, latest_rows(loaded), strict=True):
        for row in np.flatnonzero(mask)[:5].tolist():
            own = (group.compartment == group.compartment[row]) & (group.trust != Trust.REJECTED)
            assert group.taken_on[row] == group.taken_on[own].max()


def test_that_rows_since_a_day_are_those_taken_then_or_later(loaded):
    day = date(2026, 1, 1)
    for group, mask in zip(loaded.groups, rows_since(loaded, day), strict=True):
        assert mask.tolist() == (group.taken_on >= day.toordinal()).tolist()


def test_that_a_draft_is_tried_without_a_database(loaded):
    strict = whatever(loaded, make_limit("iron", (0, None, None)))
    found = judge_columns(loaded, strict)
    assert {9} == {int(one) for part in found for one in np.unique(part.limit_set)}
    worst = np.concatenate([part.severity for part in found])
    assert (worst >= Severity.WATCH).mean() > 0.4


def test_that_a_row_for_one_box_changes_that_box_alone(loaded):
    box = loaded.boxes[0]
    own = make_limit("iron", (0, 1, 2), scope=Scope(compartment=box.compartment_id.hex()))
    loose = make_limit("iron", (1e6, None, None))
    before = judge_columns(loaded, whatever(loaded, loose))
    after = judge_columns(loaded, whatever(loaded, loose, own))
    for group, one, other in zip(loaded.groups, before, after, strict=True):
        moved = one.severity != other.severity
        assert set(group.compartment[moved].tolist()) <= {0}


def test_that_every_verdict_past_watch_can_be_explained(loaded):
    rows = [np.flatnonzero(group.severity >= Severity.WATCH) for group in loaded.groups]
    told = explained(loaded, loaded.rulebook, rows)
    assert len(told) == sum(map(len, rows))
    for (place, row), rules in told.items():
        assert rules[0].severity == loaded.groups[place].severity[row]
    place, row = next(iter(told))
    assert reasons_of(loaded, loaded.rulebook, group=place, row=row) == told[place, row]


def test_that_an_off_ends_on_its_day(loaded):
    limit = make_limit("iron", (0, None, None))
    until = date(2025, 12, 31)
    off = replace(limit, scope=Scope(compartment_kind="engine"), is_off=True, off_until=until)
    found = judge_columns(loaded, whatever(loaded, limit, off))
    engines = [place for place, box in enumerate(loaded.boxes) if box.kind == "engine"]
    for group, part in zip(loaded.groups, found, strict=True):
        own = np.isin(group.compartment, engines) & (group.trust == Trust.GOOD)
        earlier = own & (group.taken_on <= until.toordinal())
        later = own & (group.taken_on > until.toordinal())
        assert (part.severity[earlier] == Severity.NO_VERDICT).all()
        assert (part.severity[later] >= Severity.NORMAL).any() or not later.any()


def test_that_a_tighter_set_never_lowers_a_verdict_of_the_fleet(loaded):
    [held] = loaded.rulebook.held()
    turned = {"up": -1.0, "down": 1.0}
    tight = tuple(
        replace(
            one,
            **{
                name: None
                if getattr(one, name) is None
                else getattr(one, name) + turned[one.direction] * 0.02 * abs(getattr(one, name))
                for name in ("watch", "act", "urgent")
            },
        )
        for one in held.limits
        if one.kind is not LimitKind.MISSING_TEST
    )
    after = judge_columns(loaded, replace(loaded.rulebook, sets=(replace(held, limits=tight),)))
    for group, part in zip(loaded.groups, after, strict=True):
        assert (part.severity >= group.severity)[group.trust != Trust.REJECTED].mean() > 0.999


def test_that_the_last_day_of_the_played_fleet_is_not_in_the_future(loaded):
    newest = max(int(group.taken_on.max()) for group in loaded.groups)
    assert newest <= LAST_DAY.toordinal()
