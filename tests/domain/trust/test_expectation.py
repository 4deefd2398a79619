"""What a box's history foretells: level and rate, spread, the first report, bad values."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.analytes import AnalyteFamily, Precision
from fluiddesk.domain.trust.expectation import (
    MOST_PAST,
    WEIGHT,
    Expectation,
    Past,
    expect,
    traits,
)
from tests.makers import make_analyte

IRON = make_analyte("iron", detection_limit=1.0)
CALCIUM = make_analyte("calcium", number=2, family=AnalyteFamily.ADDITIVE, detection_limit=1.0)
BASE = make_analyte(
    "base_number", number=3, family=AnalyteFamily.FLUID_CONDITION, unit="mg KOH/g", decimals=1
)
INDEX = make_analyte(
    "viscosity_index", number=4, family=AnalyteFamily.FLUID_CONDITION, unit="index"
)


def past(values, **given) -> Past:
    """One box; ``values`` oldest first, one row a report, one column an analyte."""
    seen = np.array(values, dtype=np.float64)
    count, width = seen.shape
    lanes = np.full((1, MOST_PAST, width), np.nan)
    hours = np.full((1, MOST_PAST), np.nan)
    fill = np.full((1, MOST_PAST), -1, dtype=np.int64)
    if count:
        lanes[0, -count:] = seen
        hours[0, -count:] = given.get("fluid_hours", [250.0] * count)
        fill[0, -count:] = given.get("fill", list(range(count)))
    nothing = np.full((1, width), np.nan)
    return Past(
        values=lanes,
        fluid_hours=hours,
        fill=fill,
        now_fluid_hours=np.array([given.get("now_hours", 250.0)]),
        now_fill=np.array([given.get("now_fill", count)]),
        fresh=np.array([given["fresh"]]) if "fresh" in given else nothing,
        residue_share=np.array([given.get("residue", 0.1)]),
        usual_low=np.array([given["low"]]) if "low" in given else nothing,
        usual_high=np.array([given["high"]]) if "high" in given else nothing,
    )


def foretold(values, *analytes, **given) -> Expectation:
    return expect(past(values, **given), traits(analytes or (IRON,)))


def test_that_the_level_is_smoothed_with_the_weight_the_module_names():
    known = traits((BASE,))
    found = foretold([[8.0], [9.0]], BASE, now_hours=np.nan)
    assert known.is_log.tolist() == [False]
    assert found.centre[0, 0] == pytest.approx(8.0 + WEIGHT * 1.0)


def test_that_wear_grows_with_the_hours_of_the_fill():
    """Iron made evenly, 0.1 mg/kg an hour: at twice the hours about twice the level is expected."""
    hours = [100.0, 400.0, 150.0, 300.0, 200.0, 350.0, 120.0]
    values = [[0.1 * one] for one in hours]
    found = foretold(values, fluid_hours=hours, now_hours=500.0, residue=0.0)
    assert found.at(0.0)[0, 0] == pytest.approx(50.0, rel=0.02)
    short = foretold(values, fluid_hours=hours, now_hours=100.0, residue=0.0)
    assert short.at(0.0)[0, 0] == pytest.approx(10.0, rel=0.05)


def test_that_a_second_sample_of_a_fill_starts_where_the_first_ended():
    hours = [100.0, 200.0] * 4
    fill = [one // 2 for one in range(8)]
    values = [[0.1 * one] for one in hours]
    found = foretold(values, fluid_hours=hours, fill=fill, now_hours=300.0, now_fill=3, residue=0.0)
    assert found.at(0.0)[0, 0] == pytest.approx(30.0, rel=0.05)


def test_that_one_slip_nobody_caught_hardly_moves_the_forecast():
    calm = foretold([[50.0]] * 8).at(0.0)[0, 0]
    spoiled = foretold([[50.0]] * 6 + [[500.0], [50.0]]).at(0.0)[0, 0]
    assert calm == pytest.approx(50.0)
    assert calm < spoiled < 1.5 * calm


def test_that_the_spread_follows_the_box_once_it_has_told_enough():
    quiet = foretold([[50.0]] * 12).spread[0, 0]
    rng = np.random.default_rng(3)
    loud = foretold(50.0 * np.exp(0.8 * rng.standard_normal((12, 1)))).spread[0, 0]
    assert quiet < traits((IRON,)).usual_spread[0] < loud


def test_that_the_spread_is_never_below_what_the_laboratory_scatters():
    exact = make_analyte(
        "iron",
        detection_limit=1.0,
        reproducibility=Precision(form="relative", a=2.77, b=1.0, source="a test"),
    )
    plain, scattering = foretold([[50.0]] * 12), foretold([[50.0]] * 12, exact)
    assert scattering.spread[0, 0] > plain.spread[0, 0]


def test_that_before_any_report_an_additive_is_expected_as_in_new_fluid():
    found = foretold(
        np.empty((0, 2)),
        CALCIUM,
        IRON,
        fresh=[2_400.0, 1.0],
        low=[1_000.0, 5.0],
        high=[3_000.0, 60.0],
    )
    assert found.at(0.0)[0, 0] == pytest.approx(2_400.0)
    # Iron: the middle of what is usual, in the scale it is worked on.
    assert 5.0 < found.at(0.0)[0, 1] < 60.0
    assert found.reports.tolist() == [[0, 0]]


def test_that_where_nothing_is_known_nothing_is_foretold():
    found = foretold(np.empty((0, 1)))
    assert np.isnan(found.centre).all()
    assert np.isnan(found.spreads_off(np.array([[12.0]]))).all()


def test_that_scales_are_worked_on_as_they_are_and_quantities_by_their_logarithm():
    known = traits((IRON, CALCIUM, BASE, INDEX))
    assert known.is_log.tolist() == [True, True, False, False]
    assert known.shown(known.worked(np.array([[3.0, 100.0, 8.5, 97.0]]))).tolist() == [
        pytest.approx([3.0, 100.0, 8.5, 97.0])
    ]


@given(st.lists(st.floats(0.0, 5_000.0), min_size=1, max_size=MOST_PAST))
def test_that_a_forecast_lies_within_what_was_seen_or_made_of_it(levels):
    found = foretold([[one] for one in levels], now_hours=np.nan)
    middle = found.at(0.0)[0, 0]
    assert min(levels) - 1e-6 <= middle <= max(levels) + 1e-6
    assert found.spread[0, 0] > 0
    low, high = found.at(-2.0)[0, 0], found.at(2.0)[0, 0]
    assert low <= middle <= high
    assert low >= 0


@given(st.floats(0.1, 5_000.0), st.floats(0.1, 5_000.0))
def test_that_what_lies_nearer_is_likelier(first, second):
    found = foretold([[50.0]] * 6)
    near, far = sorted((first, second), key=lambda one: abs(found.spreads_off(np.array([[one]]))))
    told = [float(found.log_likelihood(np.array([[one]]))[0, 0]) for one in (near, far)]
    assert told[0] >= told[1]
