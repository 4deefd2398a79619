import json
from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest

from fluiddesk.domain.fleet import EventKind, Meter, true_hours
from fluiddesk.domain.identity import normal_bottle_code
from fluiddesk.domain.samples import Sign
from fluiddesk.simulation.diary import EVENT_KINDS
from fluiddesk.simulation.faults import MODES
from fluiddesk.simulation.plan import ErrorRates, SimulationPlan
from fluiddesk.simulation.play import simulate
from fluiddesk.simulation.records import (
    LOST,
    REPORTED,
    ResultRows,
    SimulatedFleet,
    Truth,
    bottle_code_of,
    truth_text,
)
from tests.simulation.catalogue_setting import catalogue_setting
from tests.simulation.starter_severity import newest_severity

PLAN = SimulationPlan(machines=60, years=3, seed=11, first_day=date(2022, 3, 1))
NO_FAULTS = ErrorRates(faults_per_1000_h=0.0)


@cache
def played(
    machines: int = PLAN.machines, boxes: int = 0, rates: ErrorRates = PLAN.rates
) -> tuple[SimulatedFleet, Truth]:
    plan = replace(PLAN, machines=machines, boxes_per_machine=boxes, rates=rates)
    return simulate(catalogue_setting(), plan)


def results_of(fleet: SimulatedFleet, family: str) -> ResultRows:
    return next(rows for rows in fleet.results if rows.family == family)


def column(rows: ResultRows, analyte: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return rows.values[:, rows.analytes.index(analyte)]


def test_that_the_same_seed_gives_the_same_fleet_and_another_seed_another() -> None:
    first, truth = played()
    again, truth_again = simulate(catalogue_setting(), PLAN)
    other, _ = simulate(catalogue_setting(), replace(PLAN, seed=12))
    for one, two in zip(first.results, again.results, strict=True):
        np.testing.assert_array_equal(one.values, two.values)
        np.testing.assert_array_equal(one.signs, two.signs)
    np.testing.assert_array_equal(first.samples.shown, again.samples.shown)
    np.testing.assert_array_equal(first.events.day, again.events.day)
    assert truth_text(truth) == truth_text(truth_again)
    assert len(other.samples) != len(first.samples)


def test_that_a_value_below_detection_is_the_limit_and_never_zero() -> None:
    below = 0
    for rows in played()[0].results:
        censored = rows.signs == Sign.BELOW
        below += int(censored.sum())
        assert (rows.values[censored] > 0).all()
        numbers = rows.signs == Sign.PLAIN
        assert np.isfinite(rows.values[numbers]).all()
    assert below > 1000


def test_that_counts_are_cumulative_and_their_codes_fall() -> None:
    rows = results_of(played()[0], "hydraulic")
    typed = {(sample, code) for sample, code, _, _ in played()[1].mistyped}
    untyped = np.array([not any((s, c) in typed for c in rows.analytes) for s in rows.sample])
    untyped &= rows.issue == np.array([rows.issue[rows.sample == s].max() for s in rows.sample])
    for names in (
        ("particles_4um", "particles_6um", "particles_14um"),
        ("iso4406_4um", "iso4406_6um", "iso4406_14um"),
    ):
        small, middle, large = (column(rows, name)[untyped] for name in names)
        known = np.isfinite(small) & np.isfinite(middle) & np.isfinite(large)
        assert (small[known] >= middle[known]).all()
        assert (middle[known] >= large[known]).all()


def test_that_meters_run_forward_except_at_replacements_and_roll_overs() -> None:
    fleet, _ = played(machines=300, boxes=1)
    readings, meters = fleet.meter_readings, fleet.meters
    same = np.diff(readings.machine) == 0
    rise, days = np.diff(readings.shown)[same], np.diff(readings.day)[same]
    wrong = (rise < 0) | (rise > 24 * days + 1)
    strange = set(readings.machine[1:][same][wrong].tolist())
    replaced = {
        m for m, n in zip(*np.unique(meters.machine, return_counts=True), strict=True) if n > 1
    }
    rolling = set(meters.machine[meters.rolls_over_at > 0].tolist())
    assert strange
    assert strange <= replaced | rolling


def test_that_true_hours_follow_from_the_meters_by_the_programs_own_rule() -> None:
    fleet, _ = played(machines=300, boxes=1)
    meters, readings = fleet.meters, fleet.meter_readings
    for machine in range(len(fleet.machines)):
        own = [
            Meter(
                fitted_on=date.fromordinal(int(meters.fitted_on[row])),
                start_value=float(meters.start_value[row]),
                hours_before=float(meters.hours_before[row]),
                rolls_over_at=float(meters.rolls_over_at[row]) or None,
            )
            for row in np.flatnonzero(meters.machine == machine)
        ]
        rows = readings.machine == machine
        found = true_hours(own, read_on=readings.day[rows], values=readings.shown[rows])
        np.testing.assert_allclose(found, readings.true_hours[rows], atol=1.1)


def test_that_a_healthy_fleet_is_nearly_all_normal_by_the_starter_limits() -> None:
    fleet, _ = played(machines=150, rates=NO_FAULTS)
    share = np.bincount(list(newest_severity(fleet).values()), minlength=4) / len(
        fleet.compartments
    )
    assert share[0] > 0.90
    assert share[3] < 0.005


def test_that_a_fleet_with_faults_has_few_urgent_boxes_and_mostly_normal_ones() -> None:
    fleet, _ = played(machines=300)
    found = np.array(list(newest_severity(fleet).values()))
    share = np.bincount(found, minlength=4) / len(found)
    assert 0.78 < share[0] < 0.90
    assert 0.07 < share[1] < 0.15
    assert 0.015 < share[2] < 0.06
    assert 0.01 < share[3] < 0.035


def test_that_a_change_takes_most_of_the_metal_out_and_leaves_some() -> None:
    fleet, _ = played(machines=150, rates=NO_FAULTS)
    rows, samples = results_of(fleet, "final_drive"), fleet.samples
    iron, age = column(rows, "iron"), samples.fluid_hours[rows.sample]
    young, old = iron[(age > 200) & (age < 300)], iron[age > 1700]
    assert np.nanmedian(young) < 0.5 * np.nanmedian(old)
    assert np.nanmedian(young) > 3


def test_that_fuel_thins_the_oil_and_soot_thickens_it() -> None:
    fleet, _ = played(machines=300)
    rows = results_of(fleet, "engine")
    fuel, soot = column(rows, "fuel"), column(rows, "soot")
    thickness = column(rows, "viscosity_100c")
    thin = np.nanmedian(thickness[(fuel > 4) & (soot < 2)])
    usual = np.nanmedian(thickness[(fuel < 1) & (soot < 1)])
    thick = np.nanmedian(thickness[(fuel < 1) & (soot > 4)])
    assert thin < 0.90 * usual
    assert thick > 1.04 * usual


def test_that_a_leaking_cooler_shows_the_markers_of_its_coolant() -> None:
    fleet, truth = played(machines=300)
    leaking = [
        f for f in truth.faults if f.mode == "coolant_leak" and f.ended_hours == f.ended_hours
    ]
    rows, samples = results_of(fleet, "engine"), fleet.samples
    found = 0
    for fault in leaking:
        late = samples.compartment[rows.sample] == fault.compartment
        late &= samples.true_hours[rows.sample] > fault.detectable_hours + fault.doubling_hours
        late &= samples.true_hours[rows.sample] <= fault.ended_hours
        if late.any() and fleet.compartments[fault.compartment].family == "engine":
            found += 1
            assert np.nanmax(column(rows, "sodium")[late]) > 15
    assert found >= 3


def test_that_every_fault_is_detectable_before_it_fails_and_ends_by_then() -> None:
    _, truth = played(machines=300)
    codes = {mode.code for mode in MODES}
    assert len({fault.mode for fault in truth.faults}) == len(codes)
    for fault in truth.faults:
        assert fault.start_hours < fault.detectable_hours < fault.failure_hours
        assert 40 <= fault.doubling_hours <= 300


def test_that_sampling_and_laboratory_slips_come_as_often_as_asked() -> None:
    fleet, truth = played(machines=300)
    count = len(fleet.samples)
    rates = PLAN.rates
    assert (fleet.samples.state == LOST).mean() == pytest.approx(rates.lost_bottle, rel=0.3)
    assert fleet.samples.hours_estimated.mean() == pytest.approx(rates.missing_meter, rel=0.2)
    off = fleet.samples.label_age != fleet.samples.fluid_hours
    assert off.mean() == pytest.approx(rates.wrong_label_age, rel=0.2)
    second = sum(int((rows.issue == 2).sum()) for rows in fleet.results)
    assert second / count == pytest.approx(rates.revised_report, rel=0.3)
    assert len(truth.swaps) > 10
    assert len(truth.mistyped) > 10
    assert all(truth.spoiled[name] for name in ("drained", "cold", "unmixed", "dirty_bottle"))


def test_that_results_belong_to_reported_samples_only_and_hold_every_issue_once() -> None:
    fleet, _ = played()
    seen: list[tuple[int, int]] = []
    for rows in fleet.results:
        assert (fleet.samples.state[rows.sample] == REPORTED).all()
        assert (np.diff(rows.numbers) > 0).all()
        seen += zip(rows.sample.tolist(), rows.issue.tolist(), strict=True)
    assert len(seen) == len(set(seen))
    assert {sample for sample, _ in seen} == set(
        np.flatnonzero(fleet.samples.state == REPORTED).tolist()
    )


def test_that_fills_are_counted_by_the_changes_the_book_knows() -> None:
    fleet, truth = played()
    events, samples = fleet.events, fleet.samples
    change = EVENT_KINDS.index(EventKind.FLUID_CHANGE)
    for box in range(0, len(fleet.compartments), 7):
        known = np.sort(events.day[(events.compartment == box) & (events.kind == change)])
        rows = samples.compartment == box
        before = np.searchsorted(known, samples.taken_on[rows], side="left")
        np.testing.assert_array_equal(samples.fill[rows], before - 1)
    assert any(kind == "fluid_change" for kind, _, _ in truth.unlogged)


def test_that_bottle_codes_are_unique_and_carry_a_fitting_check_character() -> None:
    fleet, _ = played()
    codes = [bottle_code_of(fleet.samples, place) for place in range(len(fleet.samples))]
    assert len(set(codes)) == len(codes)
    assert all(normal_bottle_code(code) == code for code in codes[:200])


def test_that_the_truth_is_plain_json_with_its_seed() -> None:
    told = json.loads(truth_text(played()[1]))
    assert told["seed"] == PLAN.seed
    assert told["faults"]
    assert {"rates", "swaps", "unlogged_events", "laboratory_shifts"} <= set(told)


def test_that_iron_and_ferrous_index_tell_different_stories_of_spalls_and_rust() -> None:
    # A spall sheds coarse pieces that the index sees; rust is fine (common practice, no source).
    modes = {mode.code: mode.adds for mode in MODES}
    spall = modes["spall"]["ferrous_index"] / modes["spall"]["iron"]
    rust = modes["water_rust"]["ferrous_index"] / modes["water_rust"]["iron"]
    assert spall > 5 * rust
