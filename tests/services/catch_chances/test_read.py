"""The columns of a whole fleet, on both databases."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest

from fluiddesk.services.catch_chances.asking import chances
from fluiddesk.services.catch_chances.facts import KnownFrom, LeftOut
from fluiddesk.services.catch_chances.lanes import LabRecord, answer_columns
from fluiddesk.services.catch_chances.read import chance_columns, lane_of_boxes, pace_of
from fluiddesk.services.fleet_condition import fleet_condition
from fluiddesk.services.workplace import Workplace
from fluiddesk.storage import open_store
from fluiddesk.wiring import new_database
from tests.fleets import LAST_DAY, Fleet, the_catalogue
from tests.services.catch_chances.makers import make_row


def test_that_every_box_of_the_fleet_has_its_lane_and_a_chance_or_a_reason(
    either_fleet: Fleet,
) -> None:
    columns = chance_columns(either_fleet.place, today=LAST_DAY)
    fleet = fleet_condition(either_fleet.place, today=LAST_DAY)
    assert {row.compartment_id for row in columns.rows} == {r.compartment_id for r in fleet.rows}
    found = chances(columns)
    told = columns.left_out == LeftOut.NOT
    assert told.any()
    assert np.isnan(found.chance[~told]).all()
    assert ((found.chance[told] >= 0) & (found.chance[told] <= 1)).all()
    for at in range(len(columns)):
        assert columns.lanes[columns.lane[at]].site == columns.rows[at].site
    assert all(lane.days > 0 for lane in columns.lanes_used)


def test_that_a_lane_is_the_median_of_its_sheets(fleet: Fleet) -> None:
    columns = chance_columns(fleet.place, today=LAST_DAY)
    for lane in columns.lanes_used:
        assert lane.known_from is KnownFrom.MEASURED
        there, back, _ = lane.legs
        assert there.days is not None
        assert back.days is not None
        assert lane.days == pytest.approx(there.days + back.days + 1, abs=1.5)


def test_that_a_machine_of_unknown_pace_runs_as_its_kind() -> None:
    rows = [
        make_row(1, hours_per_day=10.0),
        make_row(2, hours_per_day=14.0),
        make_row(3, hours_per_day=0.0),
        make_row(4, hours_per_day=None),
        make_row(5, hours_per_day=None, machine_kind="drill"),
    ]
    per_day, is_assumed = pace_of(rows)
    assert per_day.tolist() == [10.0, 14.0, 0.0, 12.0, 8.0]
    assert is_assumed.tolist() == [False, False, False, True, True]


def test_that_a_box_without_a_report_goes_the_way_of_its_site_else_of_the_fleet() -> None:
    rows = [make_row(1), make_row(2), make_row(3, site_id=2, site="Pit")]
    taken, issued = date(2026, 5, 1), date(2026, 5, 6)
    told = [
        (1, code, rows[0].compartment_id, day, None, issued, None)
        for code, day in (("old", date(2026, 4, 1)), ("lab", taken))
    ]
    answers = answer_columns(told, today=LAST_DAY)
    assert lane_of_boxes(rows, answers, {}) == [(1, "lab"), (1, "lab"), (2, "lab")]
    nobody = answer_columns((), today=LAST_DAY)
    assert lane_of_boxes(rows[:1], nobody, {}) == [(1, "")]
    one = LabRecord(code="x", name="X", lane_days=None, turnaround_days=None)
    assert lane_of_boxes(rows[:1], nobody, {"x": one}) == [(1, "x")]


def test_that_an_empty_database_has_no_boxes_and_no_lanes(tmp_path: Path) -> None:
    address = str(tmp_path / "empty.fluiddesk")
    new_database(address)
    store = open_store(address)
    try:
        place = Workplace(store=store, catalogue=the_catalogue(), who="Kim")
        columns = chance_columns(place, today=LAST_DAY)
        assert len(columns) == 0
        assert columns.lanes_used == ()
        assert not len(chances(columns).chance)
    finally:
        store.close()
