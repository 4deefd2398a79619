"""What a draft would change: exactly what judging the whole fleet by it says."""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fluiddesk.domain.errors import CancelledError, NotFoundError
from fluiddesk.domain.identity import CompartmentId
from fluiddesk.domain.limits.limit_set import LimitKind, LimitSet, LimitSetState, Scope
from fluiddesk.domain.severity import Severity, Trust
from fluiddesk.services.limit_rules.differing import differing_boxes
from fluiddesk.services.limit_rules.spread import spread
from fluiddesk.services.limit_rules.what_if import row_effects, what_if_latest, what_if_year
from fluiddesk.services.limit_rules.what_if_fleet import WhatIfFleet, open_what_if
from fluiddesk.services.reassess.fleet_columns import judge_columns
from fluiddesk.services.reassess.judging import Judge
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.makers import make_limit


@pytest.fixture
def held(either_fleet: Fleet) -> WhatIfFleet:
    return open_what_if(either_fleet.place, today=LAST_DAY)


def tighter(fleet: WhatIfFleet, *, factor: float = 0.2, analyte: str = "iron") -> LimitSet:
    """The set in force with the levels of one analyte drawn in."""
    limits = tuple(
        replace(
            limit,
            **{
                name: None if bound is None else bound * factor
                for name, bound in zip(("watch", "act", "urgent"), limit.bounds(), strict=True)
            },
        )
        if limit.analyte == analyte and limit.kind is LimitKind.LEVEL
        else limit
        for limit in fleet.held.limits
    )
    return replace(fleet.held, number=2, state=LimitSetState.DRAFT, limits=limits)


def judged_whole(fleet: WhatIfFleet, limit_set: LimitSet):
    """Every sample of the fleet judged by one set, nothing left out and nothing kept."""
    return [one.severity for one in judge_columns(fleet.columns, fleet.rulebook(limit_set))]


def test_that_the_counts_are_those_of_judging_the_whole_fleet(held: WhatIfFleet):
    draft = tighter(held)
    found = what_if_latest(held, draft)
    for counts, limit_set in ((found.before, held.held), (found.after, draft)):
        whole = Counter(
            Severity(int(severity))
            for column, rows in zip(judged_whole(held, limit_set), held.latest, strict=True)
            for severity in column[rows]
        )
        whole[Severity.NO_VERDICT] += held.idle_boxes + len(held.columns.boxes) - whole.total()
        assert counts == {severity: whole[severity] for severity in Severity}
    assert found.before != found.after


def test_that_exactly_the_boxes_that_differ_are_listed(held: WhatIfFleet):
    draft = tighter(held)
    moves = what_if_latest(held, draft).moves
    old, new = judged_whole(held, held.held), judged_whole(held, draft)
    differing = {
        (
            held.columns.boxes[int(group.compartment[row])].compartment_id,
            int(old[place][row]),
            int(new[place][row]),
        )
        for place, group in enumerate(held.columns.groups)
        for row in np.flatnonzero(held.latest[place] & (old[place] != new[place]))
    }
    assert moves
    assert {(one.compartment_id, one.before, one.after) for one in moves} == differing
    assert all("Iron" in one.why and "limit" in one.why for one in moves if one.after > one.before)
    assert [one.after for one in moves] == sorted((one.after for one in moves), reverse=True)


def test_that_an_unchanged_draft_moves_nobody(held: WhatIfFleet):
    same = replace(held.held, number=2, state=LimitSetState.DRAFT)
    words = replace(
        same, limits=tuple(replace(limit, note="x", set_by="Kim") for limit in same.limits)
    )
    for draft in (same, words):
        found = what_if_latest(held, draft)
        assert found.before == found.after
        assert found.sentence == "No compartment would move."
        assert not differing(held, draft).any()


def differing(fleet: WhatIfFleet, draft: LimitSet):
    return differing_boxes(
        fleet.columns, fleet.kinds, fleet.held, draft,
        judge=Judge(fleet.rulebook(draft), ()), asked=fleet.latest,
    )  # fmt: skip


def test_that_only_boxes_whose_bands_change_are_judged_again(held: WhatIfFleet):
    box = held.columns.boxes[3]
    one = make_limit(scope=Scope(compartment=box.compartment_id.hex()))
    draft = replace(held.held, number=2, limits=(*held.held.limits, one))
    assert np.flatnonzero(differing(held, draft)).tolist() == [3]
    other = replace(held.held, number=2, settings={"clears_at": 0.9})
    assert differing(held, other).all()
    far = tighter(held, factor=0.999)
    assert not differing(held, far).any()
    gone = replace(
        held.held, number=2,
        limits=tuple(row for row in held.held.limits if row.scope.compartment_kind != "engine"),
    )  # fmt: skip
    kinds = {held.columns.boxes[place].kind for place in np.flatnonzero(differing(held, gone))}
    assert kinds == {"engine"}


@pytest.mark.slow
@given(data=st.data())
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_that_any_edits_are_previewed_as_judging_the_whole_fleet_says(fleet: Fleet, data):
    held = opened_once(fleet)
    draft = data.draw(edited_sets(held.held))
    latest, year = what_if_latest(held, draft), what_if_year(held, draft)
    whole = judged_whole(held, draft)
    for severity, count in latest.after.items():
        told = sum(
            int((column[rows] == severity).sum())
            for column, rows in zip(whole, held.latest, strict=True)
        )
        if severity is not Severity.NO_VERDICT:
            assert count == told
    alarms = sum(
        int((column[rows] >= Severity.ACT).sum())
        for column, rows in zip(whole, held.year, strict=True)
    )
    assert sum(one.after for one in year.months) == alarms


_OPENED: dict[str, WhatIfFleet] = {}


def opened_once(fleet: Fleet) -> WhatIfFleet:
    """The same small fleet for every example: every copy of the file holds the same."""
    if "small" not in _OPENED:
        _OPENED["small"] = open_what_if(fleet.place, today=LAST_DAY)
    return _OPENED["small"]


@st.composite
def edited_sets(draw: st.DrawFn, held: LimitSet) -> LimitSet:
    """The set in force with some rows moved, taken out, switched off, regrouped or added."""
    rows = list(held.limits)
    places = st.integers(0, len(rows) - 1)
    for _ in range(draw(st.integers(1, 4))):
        place = draw(places)
        row = rows[place]
        kind = draw(st.sampled_from(["move", "remove", "off", "model", "group", "beyond"]))
        factor = draw(st.sampled_from([0.3, 0.8, 1.2, 3.0]))
        moved = {
            name: None if bound is None else bound * factor
            for name, bound in zip(("watch", "act", "urgent"), row.bounds(), strict=True)
        }
        if kind == "move":
            rows[place] = replace(row, **moved)
        elif kind == "remove":
            rows[place] = replace(row, analyte="gold", kind=LimitKind.LEVEL)
        elif kind == "off":
            until = LAST_DAY - timedelta(days=draw(st.integers(-30, 200)))
            rows[place] = replace(row, is_off=True, off_until=until, note="x")
        elif kind == "model":
            machine = draw(st.sampled_from(["excavator", "haul_truck", "wheel_loader"]))
            rows.append(replace(row, **moved, scope=replace(row.scope, machine_kind=machine)))
        elif kind == "group":
            rows[place] = replace(row, group="additives", act_needs=draw(st.integers(1, 3)))
        else:
            rows[place] = replace(row, boundary="beyond")
    return replace(held, number=2, state=LimitSetState.DRAFT, limits=tuple(rows))


def test_that_alarms_a_month_add_up_to_the_replay(held: WhatIfFleet):
    draft = tighter(held)
    year = what_if_year(held, draft)
    assert year.since == LAST_DAY - timedelta(days=365)
    assert len(year.months) == 13
    assert (year.months[0].month, year.months[-1].month) == (date(2025, 6, 1), date(2026, 6, 1))
    for name, limit_set in (("before", held.held), ("after", draft)):
        whole = judged_whole(held, limit_set)
        alarms = Counter(
            date.fromordinal(int(day)).replace(day=1)
            for place, group in enumerate(held.columns.groups)
            for day in group.taken_on[held.year[place] & (whole[place] >= Severity.ACT)]
        )
        assert {
            one.month: getattr(one, name) for one in year.months if getattr(one, name)
        } == alarms
    assert sum(one.samples for one in year.months) == year.samples


def add_finding(fleet: Fleet, box: CompartmentId, *, result: str, found_on: date) -> None:
    site = fleet.box(box).site_id
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        action = desk.new_id()
        desk.load(
            "action", ("site_id", "id", "compartment_id", "kind", "status"),
            [(site, action, box, "inspect", "done")],
        )  # fmt: skip
        desk.load(
            "finding", ("site_id", "id", "action_id", "result", "found_on"),
            [(site, desk.new_id(), action, result, found_on)],
        )  # fmt: skip


def test_that_findings_are_caught_missed_or_false_alarms(either_fleet: Fleet):
    engine, other, *_ = either_fleet.boxes("engine")
    quiet = either_fleet.boxes("hydraulic")[0]
    for box in (engine, quiet):
        add_finding(either_fleet, box.compartment_id, result="fault_confirmed", found_on=LAST_DAY)
    add_finding(either_fleet, other.compartment_id, result="nothing_found", found_on=LAST_DAY)
    early = LAST_DAY - timedelta(days=900)
    add_finding(either_fleet, other.compartment_id, result="fault_confirmed", found_on=early)
    held = open_what_if(either_fleet.place, today=LAST_DAY)
    never = (None, 9e8, None)
    deaf = replace(
        held.held, number=2, limits=(make_limit(bounds=never), make_limit("water", bounds=never))
    )
    alert = replace(held.held, number=3, limits=(make_limit(bounds=(None, 0.001, None)),))
    silent, loud = what_if_year(held, deaf).findings_after, what_if_year(held, alert).findings_after
    assert (silent.caught, silent.missed, silent.false_alarms) == (0, 2, 0)
    assert (loud.caught, loud.missed, loud.false_alarms) == (2, 0, 1)


def test_that_samples_about_a_confirmed_fault_are_not_healthy(either_fleet: Fleet):
    engine = either_fleet.boxes("engine")[0]
    before = open_what_if(either_fleet.place, today=LAST_DAY)
    add_finding(either_fleet, engine.compartment_id, result="fault_confirmed", found_on=LAST_DAY)
    after = open_what_if(either_fleet.place, today=LAST_DAY)
    left = [
        (group.compartment[row], group.taken_on[row])
        for group, was, now in zip(
            before.columns.groups, before.healthy, after.healthy, strict=True
        )
        for row in np.flatnonzero(was & ~now)
    ]
    place = [box.compartment_id for box in after.columns.boxes].index(engine.compartment_id)
    assert left
    assert {int(box) for box, _ in left} == {place}
    assert min(int(day) for _, day in left) >= (LAST_DAY - timedelta(days=120)).toordinal()


def test_that_the_budget_is_the_share_of_healthy_samples_flagged(held: WhatIfFleet):
    draft = tighter(held)
    budget = what_if_year(held, draft).budget_after
    whole = judged_whole(held, draft)
    healthy = np.concatenate(
        [column[rows] for column, rows in zip(whole, held.healthy, strict=True)]
    )
    healthy = healthy[healthy >= Severity.NORMAL]
    assert (budget.healthy, budget.flagged) == (len(healthy), int((healthy >= 1).sum()))
    assert budget.low <= budget.measured <= budget.high
    assert budget.per_month == pytest.approx(budget.flagged / 12)
    assert 0 < budget.computed <= 1
    trusted = all(
        (group.trust[rows] == Trust.GOOD).all()
        for group, rows in zip(held.columns.groups, held.healthy, strict=True)
    )
    assert trusted


def test_that_a_lone_limit_flags_as_much_as_is_computed_from_its_own_rate(held: WhatIfFleet):
    alone = replace(held.held, number=2, limits=(make_limit(bounds=(20, None, None)),))
    budget = what_if_year(held, alone).budget_after
    [effect] = row_effects(held, alone)
    assert effect.place == 0
    assert budget.computed == pytest.approx(effect.healthy_flagged / effect.healthy)
    assert effect.healthy == budget.healthy
    assert effect.watch + effect.act + effect.urgent <= effect.judged


def test_that_a_what_if_can_be_stopped_and_asked_again(held: WhatIfFleet):
    draft = tighter(held)
    with pytest.raises(CancelledError):
        what_if_latest(held, draft, progress=lambda _done, _total: False)
    assert what_if_latest(held, draft, progress=lambda _done, _total: True).moves


def test_that_without_a_set_in_force_it_is_told(fleet: Fleet):
    with pytest.raises(NotFoundError, match="No limit set is in force on 1999-01-01"):
        open_what_if(fleet.place, today=date(1999, 1, 1))
    with pytest.raises(CancelledError):
        open_what_if(fleet.place, today=LAST_DAY, progress=lambda _done, _total: False)


def test_that_the_spread_counts_every_believed_sample_of_the_scope(held: WhatIfFleet):
    limit = make_limit(scope=Scope(compartment_kind="engine"))
    found = spread(held, limit, bins=20)
    number = held.catalogue.analytes["iron"].number
    engines = {place for place, box in enumerate(held.columns.boxes) if box.kind == "engine"}
    values = [
        float(value)
        for group, rows in zip(held.columns.groups, held.year, strict=True)
        if number in group.analytes
        for value, box, trust, inside in zip(
            group.values[:, group.analytes.index(number)], group.compartment, group.trust, rows,
            strict=True,
        )
        if inside and int(box) in engines and trust == Trust.GOOD and not np.isnan(value)
    ]  # fmt: skip
    assert (found.samples, found.counts.sum()) == (len(values), len(values))
    assert len(found.edges) == 21
    assert found.edges[-1] >= 150
    assert found.machines == 5
    assert found.percentiles[50.0] == pytest.approx(
        float(np.percentile(values, 50, method="hazen"))
    )
    nowhere = spread(held, make_limit(scope=Scope(machine_kind="boat")))
    assert (nowhere.samples, len(nowhere.counts), nowhere.percentiles) == (0, 0, {})
