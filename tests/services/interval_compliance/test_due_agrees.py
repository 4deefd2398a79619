"""Compliance owes what the due list asks for: the first event since the last sample of a box.

The due list asks sooner, never later, where a special interval makes a box due or where the last
bottle gave no verdict; an interval that changed after the window had closed leaves what was owed.
"""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fluiddesk.domain.samples import SampleState
from fluiddesk.domain.severity import Trust
from fluiddesk.services.fleet_condition import FleetCondition, fleet_condition
from fluiddesk.services.interval_compliance.events import event_columns
from fluiddesk.services.interval_compliance.facts import EventColumns
from fluiddesk.storage import Desk
from tests.fleets import LAST_DAY, NOW, Fleet
from tests.intervals import interval_rule, put_in_force

EVER = date(2000, 1, 1)


def owed(events: EventColumns) -> dict[int, tuple[float, float]]:
    """By box, the due point on the meter and on the calendar; NaN on the other."""
    rows = np.flatnonzero(events.is_owed).tolist()
    found = {
        int(events.box[row]): (float(events.due_hours[row]), float(events.due_day[row]))
        for row in rows
    }
    assert len(found) == len(rows)
    return found


def points(fleet: FleetCondition, at: int) -> tuple[float, float]:
    by_hours = bool(fleet.usual.by_hours[at])
    hours, day = float(fleet.usual_at.hours[at]), float(fleet.usual_at.day[at])
    return (round(hours, 6), np.nan) if by_hours else (np.nan, day)


def without_verdict(desk: Desk) -> set[bytes]:
    """Boxes whose last bottle was lost, or its sample rejected."""
    found = set()
    for row in desk.condition.rows():
        drawn = [
            one
            for one in desk.sampling.samples_of(row[7])
            if one.taken_on and one.state not in (SampleState.VOID, SampleState.NOT_TAKEN)
        ]
        last = max(drawn, key=lambda one: one.taken_on or EVER, default=None)
        if last and (last.state is SampleState.LOST or last.trust is Trust.REJECTED):
            found.add(row[7])
    return found


def compare(fleet: Fleet, today: date) -> int:
    condition = fleet_condition(fleet.place, today=today)
    found = owed(event_columns(fleet.place, today=today))
    with fleet.place.store.reading() as desk:
        apart = without_verdict(desk)
    compared = 0
    for at, point in found.items():
        row = condition.rows[at]
        if row.compartment_id in apart:
            continue
        compared += 1
        asked = points(condition, at)
        assert np.array_equal(asked, point, equal_nan=True), (row.machine, row.kind, asked, point)
    return compared


@pytest.mark.parametrize("days", [0, 40, 400])
def test_that_every_box_owes_what_the_due_list_asks_for(either_fleet: Fleet, days: int) -> None:
    assert compare(either_fleet, LAST_DAY + timedelta(days)) > 10


@pytest.mark.parametrize("seed", range(4))
def test_that_whatever_the_rules_both_count_to_one_point(fleet: Fleet, seed: int) -> None:
    rng = np.random.default_rng(seed)
    rules = [
        interval_rule(
            box.compartment_id,
            hours=float(rng.choice([50, 125, 250, 500])) if either < 2 else None,
            days=int(rng.choice([14, 45, 90, 180])) if either > 0 else None,
            convention="grid" if rng.uniform() < 0.5 else "rolling",
            share=float(rng.choice([0.05, 0.1, 0.25])),
        )
        for box in fleet.boxes()
        for either in (int(rng.integers(0, 3)),)
    ]
    put_in_force(fleet.place, *rules, since=EVER)
    assert compare(fleet, LAST_DAY) > 10


def test_that_a_lost_bottle_makes_a_box_due_sooner_than_compliance_owes(fleet: Fleet) -> None:
    before = owed(event_columns(fleet.place, today=LAST_DAY))
    condition = fleet_condition(fleet.place, today=LAST_DAY)
    at = next(iter(before))
    box = condition.rows[at].compartment_id
    with fleet.place.store.transaction(who="Kim", moment=NOW) as desk:
        last = desk.sampling.samples_of(box)[-1]  # type: ignore[arg-type]
        desk.sampling.update_samples([replace(last, state=SampleState.LOST)])
        assert box in without_verdict(desk)
    after = owed(event_columns(fleet.place, today=LAST_DAY))
    assert np.array_equal(after[at], before[at], equal_nan=True)
