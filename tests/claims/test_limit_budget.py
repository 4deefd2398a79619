"""Whether the preview of a draft keeps its word: the false-alarm budget, and the replay.

Budget: limits are derived from two years of a healthy invented fleet, and the share of healthy
samples they will flag is foretold from them. The year that follows says what they really flag:
within 20 % of what was foretold. Replay: alarms by month, faults caught
and missed as previewed are those that stand in the database once the draft is in force.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from fluiddesk.domain.limits.limit_set import LimitKind, LimitSet, LimitSetState
from fluiddesk.domain.severity import Severity
from fluiddesk.services.founding import found
from fluiddesk.services.limit_rules.activate import activate
from fluiddesk.services.limit_rules.derive import derive
from fluiddesk.services.limit_rules.facts import EditKind, RowEdit
from fluiddesk.services.limit_rules.versions import draft_from, edit_draft
from fluiddesk.services.limit_rules.what_if import what_if_year
from fluiddesk.services.limit_rules.what_if_fleet import LOOK_BACK, WhatIfFleet, open_what_if
from fluiddesk.services.simulated_fleet.setting import setting_of
from fluiddesk.services.simulated_fleet.write import fill_database
from fluiddesk.services.workplace import Workplace
from fluiddesk.simulation.plan import ErrorRates, SimulationPlan
from fluiddesk.simulation.play import simulate
from fluiddesk.simulation.records import SimulatedFleet, Truth
from fluiddesk.storage import DeskStore, open_store
from tests.claims.reports import FULL, write_report
from tests.fleets import the_catalogue

pytestmark = pytest.mark.slow

SEED = 505
MACHINES = 600 if FULL else 60
LAST_DAY = date(2026, 6, 30)
NOW = datetime(2026, 6, 30, 6, tzinfo=UTC)

HEALTHY = ErrorRates(**{field.name: 0.0 for field in fields(ErrorRates)})
"""Nothing breaks, nobody errs; what is left is wear, dust, fluid changes and measuring."""


def played(
    folder: Path, seed: int, rates: ErrorRates, *, years: float = 2.0
) -> tuple[DeskStore, SimulatedFleet, Truth]:
    """An invented fleet in a database of its own, as it was played, and its truth."""
    first_day = LAST_DAY - timedelta(days=round(years * 365.25) - 1)
    plan = SimulationPlan(
        machines=MACHINES, years=years, seed=seed, first_day=first_day, rates=rates,
        boxes_per_machine=6,
    )  # fmt: skip
    fleet, truth = simulate(setting_of(the_catalogue(), on=first_day), plan)
    address = str(folder / f"fleet{seed}.fluiddesk")
    found(address, the_catalogue(), who="simulation", moment=NOW)
    fill_database(address, fleet, the_catalogue(), moment=NOW)
    return open_store(address), fleet, truth


def place_of(store: DeskStore) -> Workplace:
    return Workplace(store=store, catalogue=the_catalogue(), who="Kim")


@pytest.fixture(scope="module")
def budget(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, float]:
    """The share foretold from two years of a healthy fleet, and what the third year gets."""
    store, *_ = played(tmp_path_factory.mktemp("budget"), SEED, HEALTHY, years=5.0)
    with store:
        learned = open_what_if(place_of(store), today=LAST_DAY - timedelta(days=365))
        own = own_limits(learned)
        foretold = what_if_year(learned, own).budget_after
        met = what_if_year(open_what_if(place_of(store), today=LAST_DAY), own).budget_after
    assert foretold.measured is not None
    assert met.measured is not None
    assert foretold.computed is not None
    figures = {
        "foretold": foretold.measured,
        "foretold_low": foretold.low or 0.0,
        "foretold_high": foretold.high or 0.0,
        "if_independent": foretold.computed,
        "met": met.measured,
        "healthy_samples": met.healthy,
        "limits": len(own.limits),
    }
    write_report("limit_budget", {"seed": SEED, "machines": MACHINES, "figures": figures})
    return figures


def own_limits(fleet: WhatIfFleet) -> LimitSet:
    """A draft of nothing but what the fleet's own history says."""
    rows = [row.limit for row in derive(fleet, rounds=0).rows if row.limit is not None]
    limits = tuple(replace(limit, set_by="Kim") for limit in rows)
    return replace(fleet.held, number=2, state=LimitSetState.DRAFT, limits=limits)


def test_that_the_false_alarm_budget_is_met_within_a_fifth(budget):
    assert budget["limits"] > 50
    assert budget["healthy_samples"] > 1000
    assert budget["met"] == pytest.approx(budget["foretold"], rel=0.20)


def test_that_the_share_computed_from_each_limits_own_rate_comes_near_the_measured_one(budget):
    # Analytes that rise together make it smaller, alarms that stand until cleared make it larger.
    assert budget["if_independent"] == pytest.approx(budget["foretold"], rel=0.25)


@pytest.fixture(scope="module")
def replayed(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Any]:
    """A fleet with faults: what was previewed, and what stands once the draft is in force."""
    folder = tmp_path_factory.mktemp("replay")
    store, fleet_played, truth = played(folder, SEED + 2, ErrorRates())
    place = place_of(store)
    with store:
        put_findings(store, fleet_played, truth)
        draft = draft_from(place, 1, name="Tighter iron", note="", moment=NOW)
        edits = [
            RowEdit(
                kind=EditKind.CHANGE, place=row,
                limit=replace(limit, watch=0.6 * (limit.watch or 0), act=0.6 * (limit.act or 0)),
            )
            for row, limit in enumerate(draft.limit_set.limits)
            if limit.analyte == "iron" and limit.kind is LimitKind.LEVEL and limit.watch
        ]  # fmt: skip
        draft = edit_draft(place, 2, edits, version=draft.version, moment=NOW).draft
        fleet = open_what_if(place, today=LAST_DAY)
        year = what_if_year(fleet, draft.limit_set)
        before = standing(store, fleet)
        activate(
            place, 2, valid_from=date(2000, 1, 1), note="claim", version=draft.version,
            today=LAST_DAY, moment=NOW,
        )  # fmt: skip
        after = standing(store, fleet)
    findings = {
        name: {"caught": score.caught, "missed": score.missed}
        for name, score in (("before", year.findings_before), ("after", year.findings_after))
    }
    alarms = {
        "before": sum(one.before for one in year.months),
        "after": sum(one.after for one in year.months),
    }
    figures = {"alarms": alarms, "findings": findings, "samples": year.samples}
    write_report("limit_replay", {"seed": SEED + 2, "machines": MACHINES, "figures": figures})
    return {"year": year, "before": before, "after": after, "figures": figures}


def put_findings(store: DeskStore, fleet: SimulatedFleet, truth: Truth) -> None:
    """A finding for every true fault that was repaired or led to a failure in the last year."""
    with store.transaction(who="Kim", moment=NOW) as desk:
        known = {(row[3], row[6], row[7]): (row[0], row[1]) for row in desk.boxes.rows()}
        for fault in truth.faults:
            found_on = date.fromordinal(max(1, int(fault.ended_day)))
            if not LAST_DAY - timedelta(days=365) <= found_on <= LAST_DAY:
                continue
            part = fleet.compartments[fault.compartment]
            machine = fleet.machines[part.machine].code
            site, box = known[machine, part.kind, part.position]
            action = desk.new_id()
            desk.load(
                "action", ("site_id", "id", "compartment_id", "kind", "status"),
                [(site, action, box, "inspect", "done")],
            )  # fmt: skip
            desk.load(
                "finding", ("site_id", "id", "action_id", "result", "found_on"),
                [(site, desk.new_id(), action, "fault_confirmed", found_on)],
            )  # fmt: skip


def standing(store: DeskStore, fleet: WhatIfFleet) -> Mapping[str, Any]:
    """Alarms of the last year by month, and faults caught, counted from stored verdicts one by one.

    This is the slow and plain way: no column, no replay.
    """
    alarms: Counter[date] = Counter()
    verdicts: dict[bytes, list[tuple[date, int]]] = {}
    with store.reading() as desk:
        for box in fleet.columns.boxes:
            for sample in desk.sampling.samples_of(box.compartment_id):
                held = desk.assessments.in_force(sample.id)
                if held is None or sample.taken_on is None:
                    continue
                verdicts.setdefault(box.compartment_id, []).append((sample.taken_on, held.severity))
                if sample.taken_on >= fleet.since and held.severity >= Severity.ACT:
                    alarms[sample.taken_on.replace(day=1)] += 1
        lines = desk.findings.lines()
    caught = missed = 0
    for line in lines:
        first = max(line.found_on - LOOK_BACK, fleet.since)
        about = [
            severity
            for day, severity in verdicts.get(line.compartment_id, ())
            if first <= day <= line.found_on
        ]
        if about:
            caught, missed = (
                (caught + 1, missed) if max(about) >= Severity.ACT else (caught, missed + 1)
            )
    return {"alarms": alarms, "caught": caught, "missed": missed}


@pytest.mark.parametrize("name", ["before", "after"])
def test_that_previewed_alarms_are_those_that_stand_in_the_database(replayed, name):
    told = {one.month: getattr(one, name) for one in replayed["year"].months}
    assert {month: count for month, count in told.items() if count} == replayed[name]["alarms"]
    assert sum(told.values()) > 50


@pytest.mark.parametrize("name", ["before", "after"])
def test_that_faults_caught_and_missed_are_those_counted_one_by_one(replayed, name):
    score = getattr(replayed["year"], f"findings_{name}")
    assert (score.caught, score.missed) == (replayed[name]["caught"], replayed[name]["missed"])
    assert score.caught + score.missed > 5


def test_that_tighter_limits_catch_no_fewer_faults_and_raise_no_fewer_alarms(replayed):
    year = replayed["year"]
    assert year.findings_after.caught >= year.findings_before.caught
    assert all(one.after >= one.before for one in year.months)
    assert sum(one.after for one in year.months) > sum(one.before for one in year.months)
