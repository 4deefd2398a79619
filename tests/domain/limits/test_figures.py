"""The figure each kind of limit compares, checked by hand."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fluiddesk.domain.analytes import AnalyteFamily, Precision
from fluiddesk.domain.limits.figures import Figures
from fluiddesk.domain.limits.fired import fired_rules
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity
from fluiddesk.domain.wear.mass_balance import mass_balance
from tests.makers import judge_history, make_analyte, make_columns, make_context, make_limit

NAN = float("nan")
IRON = {"iron": make_analyte("iron", decimals=0)}
PLAIN, BELOW, ABOVE = Sign.PLAIN, Sign.BELOW, Sign.ABOVE


def figure(columns, limit, analytes=IRON, *, references=None, **context):
    figures = Figures(
        columns,
        references=np.empty((0, 0)) if references is None else np.array(references),
        analytes=analytes,
        context=make_context(columns, **context),
    )
    return figures.of(limit)


# --- rate ----------------------------------------------------------------------------------------

RATE = make_limit(kind=LimitKind.RATE_PER_100H, bounds=(10, 20, 40))


def stretch(n, **given):
    """The last of n samples ends a stretch of 250 h from the one before it."""
    columns = {
        "start": [-1] * (n - 1) + [n - 2],
        "start_share": [NAN] * (n - 1) + [1.0],
        "hours": [NAN] * (n - 1) + [250.0],
        "kept": [NAN] * (n - 1) + [1.0],
        "brought": [NAN] * (n - 1) + [0.0],
        "per_made": [NAN] * (n - 1) + [250.0],
    }
    return {name: np.array(value) for name, value in (columns | given).items()}


def test_that_a_rate_inside_a_fill_is_the_rise_over_the_run():
    # ASTM D7669: rise over run; iron 12 at 100 h and 17 at 250 h is 3.3333 per 100 h.
    columns = make_columns([12.0, 17.0], fluid_hours=[100.0, 250.0])
    given = stretch(2, hours=[NAN, 150.0], per_made=[NAN, 150.0])
    assert figure(columns, RATE, **given).values[1] == pytest.approx(3.3333, abs=1e-4)


def test_that_a_rate_after_a_change_starts_from_what_the_old_fill_left():
    # 45 mg/kg, a tenth of it left, new oil 1: 5.4 at the start, by hand; 250 h later 32.
    columns = make_columns([45.0, 32.0], fluid_hours=[240.0, 250.0], reference=0)
    found = figure(columns, RATE, references=[[1.0]], **stretch(2, start_share=[NAN, 0.1]))
    assert found.values[1] == pytest.approx((32 - 5.4) / 2.5)


def test_that_a_rate_agrees_with_the_mass_balance_through_a_top_up():
    # One third of the box replaced in the middle: kept 2/3, brought 1/3, 300 * 2/3 + 200 per made.
    columns = make_columns([10.0, 15.0], fluid_hours=[100.0, 600.0], reference=0)
    given = stretch(
        2, hours=[NAN, 500.0], kept=[NAN, 2 / 3], brought=[NAN, 1 / 3], per_made=[NAN, 400.0]
    )
    found = figure(columns, RATE, references=[[0.5]], **given)
    assert found.values[1] == pytest.approx(2.04, abs=0.005)


def test_that_losses_spread_over_the_hours_agree_with_the_closed_form():
    known = mass_balance(
        start=5.4, end=32.0, hours=250.0, volume_l=250.0, density_kg_l=0.87, fresh=1.0,
        loss_l_per_h=0.08,
    )  # fmt: skip
    loss = 0.08 / 250.0
    kept, grown = math.exp(-loss * 250.0), (1 - math.exp(-loss * 250.0)) / loss
    columns = make_columns([45.0, 32.0], fluid_hours=[240.0, 250.0], reference=0)
    given = stretch(
        2, start_share=[NAN, 0.1], kept=[NAN, kept], brought=[NAN, 1 - kept],
        per_made=[NAN, grown],
    )  # fmt: skip
    found = figure(columns, RATE, references=[[1.0]], **given)
    assert found.values[1] == pytest.approx(known.ppm_per_100_h)


@pytest.mark.parametrize(("fluid_hours", "interval"), [(49.0, 100.0), (90.0, 500.0), (NAN, 100.0)])
def test_that_a_young_fill_gives_no_rate(fluid_hours, interval):
    columns = make_columns([12.0, 17.0], fluid_hours=[0.0, fluid_hours])
    given = stretch(2, hours=[NAN, 40.0], interval_hours=[interval] * 2)
    assert math.isnan(figure(columns, RATE, **given).values[1])
    found = judge_history(columns, [RATE], IRON, context=make_context(columns, **given))
    assert found.severity.tolist() == [-1, -1]


@pytest.mark.parametrize(
    ("start", "end", "band"),
    [
        ((1, BELOW), (2, PLAIN), 0),
        ((1, BELOW), (60, PLAIN), 2),
        ((30, BELOW), (40, PLAIN), -1),
        ((5, PLAIN), (8, BELOW), 0),
        ((1, BELOW), (1, BELOW), 0),
        ((1, PLAIN), (200, ABOVE), 3),
        ((1, PLAIN), (2, ABOVE), -1),
    ],
    ids=["cannot be past", "surely past", "open", "at most", "both below", "over", "open upwards"],
)
def test_that_a_rate_of_censored_values_is_held_to_what_is_certain(start, end, band):
    columns = make_columns([start[0], end[0]], signs=[start[1], end[1]], fluid_hours=[0.0, 250.0])
    found = judge_history(columns, [RATE], IRON, context=make_context(columns, **stretch(2)))
    assert found.own[1, 0] == band


def test_that_a_published_rise_of_43_in_10_hours_is_abnormal():
    # US Army TM 38-301-4 / NAVAIR 17-15-50.4: 43 mg/kg in 10 h, of a large two-stroke diesel.
    limit = make_limit(kind=LimitKind.RATE_PER_100H, bounds=(None, None, 430))
    for rise, severity in ((214, Severity.NORMAL), (215, Severity.URGENT)):
        columns = make_columns([10.0, 10.0 + rise], fluid_hours=[50.0, 100.0])
        given = stretch(2, hours=[NAN, 50.0], per_made=[NAN, 50.0])
        found = judge_history(columns, [limit], IRON, context=make_context(columns, **given))
        assert found.severity[1] == severity


# --- run-in --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fill", "values"),
    [(0, (119, 120)), (1, (89, 90)), (2, (59, 60)), (-1, (59, 60))],
    ids=["first fill", "second fill", "third fill", "no fit known"],
)
def test_that_wear_limits_are_wider_while_a_component_runs_in(fill, values):
    limit = make_limit(bounds=(60, 100, 150))
    columns = make_columns(list(values), compartment=[0, 1])
    context = make_context(columns, fills_since_fit=np.full(2, fill, dtype=np.int8))
    assert judge_history(columns, [limit], IRON, context=context).severity.tolist() == [0, 1]


def test_that_run_in_says_so_and_names_the_wider_bound():
    columns = make_columns([130.0])
    context = make_context(columns, fills_since_fit=np.zeros(1, dtype=np.int8))
    [rule] = fired_rules(judge_history(columns, [make_limit()], IRON, context=context), sample=0)
    assert (rule.bound, rule.factor) == (120, 2.0)


def test_that_run_in_widens_nothing_but_wear():
    dirt = {"iron": make_analyte("iron", family=AnalyteFamily.CONTAMINATION)}
    columns = make_columns([60.0])
    context = make_context(columns, fills_since_fit=np.zeros(1, dtype=np.int8))
    assert judge_history(columns, [make_limit()], dirt, context=context).severity.tolist() == [1]


# --- ratios --------------------------------------------------------------------------------------

SIDES = make_limit(kind=LimitKind.LEFT_RIGHT_RATIO, bounds=(1.7, 2.5, 4))


def beside(values, signs=None):
    signs = [PLAIN] * len(values) if signs is None else signs
    told = np.array(values, dtype=np.float64), np.array(signs, dtype=np.uint8)
    return {"side": lambda _: told}


@pytest.mark.parametrize(
    ("own", "other", "ratio"), [(170, 100, 1.7), (100, 200, 0.5), (100, 0, NAN), (100, NAN, NAN)]
)
def test_that_the_sides_of_a_machine_are_compared(own, other, ratio):
    found = figure(make_columns([own]), SIDES, **beside([other]))
    assert found.values[0] == pytest.approx(ratio, nan_ok=True)


def test_that_sides_closer_than_the_method_tells_apart_are_alike():
    exact = Precision(form="constant", a=3.0, b=1.0, source="invented for a test")
    iron = {"iron": make_analyte("iron", reproducibility=exact)}
    found = [figure(make_columns([own]), SIDES, iron, **beside([2])).values[0] for own in (5, 6)]
    assert found == [1.0, 3.0]


@pytest.mark.parametrize(
    ("own", "other", "sign"),
    [(PLAIN, PLAIN, PLAIN), (PLAIN, BELOW, ABOVE), (BELOW, PLAIN, BELOW), (ABOVE, BELOW, ABOVE)],
)
def test_that_a_ratio_carries_what_is_certain_of_it(own, other, sign):
    columns = make_columns([100.0], signs=own)
    assert figure(columns, SIDES, **beside([10.0], [other])).signs[0] == sign


def test_that_a_ratio_of_two_values_below_detection_is_not_judged():
    columns = make_columns([1.0], signs=BELOW)
    found = figure(columns, SIDES, **beside([1.0], [BELOW]))
    assert math.isnan(found.values[0])


PAIR = {
    "ferrous": make_analyte("ferrous", number=1, unit="index"),
    "iron": make_analyte("iron", number=2),
}


def test_that_a_companion_ratio_is_a_multiple_of_the_boxes_own_median():
    rows = [[20, 40], [30, 60], [22, 40], [10, 20], [60, 60]]
    limit = make_limit("ferrous", kind=LimitKind.COMPANION_RATIO, companion="iron")
    found = figure(make_columns(rows, analytes=(1, 2)), limit, PAIR)
    # Earlier ratios 0.5, 0.5, 0.55, 0.5: median 0.5; the last one is 1.0.
    assert found.values[4] == pytest.approx(2.0)
    assert np.isnan(found.values[:4]).all()


def test_that_a_plain_ratio_is_compared_as_it_stands():
    limit = make_limit("ferrous", kind=LimitKind.PLAIN_RATIO, companion="iron")
    found = figure(make_columns([[20, 80]], analytes=(1, 2)), limit, PAIR)
    assert found.values.tolist() == [0.25]


# --- own history ---------------------------------------------------------------------------------

INDEX = {"iron": make_analyte("iron", unit="index", decimals=1)}
STEP = make_limit(kind=LimitKind.OWN_STEP, bounds=(3, 4, 5))


def test_that_a_step_needs_four_earlier_trusted_samples():
    found = figure(make_columns([20.0] * 4 + [40.0]), STEP, INDEX)
    assert np.isnan(found.values[:4]).all()
    assert found.values[4] > 100


def test_that_a_step_tells_how_many_spreads_the_value_lies_off():
    # Misses of 1 each: mean 1, spread 1.2533 and the rounding of one decimal, 0.1 / sqrt(12).
    values = [20.0, 21.0, 19.5, 21.166666666666668, 19.291666666666668]
    columns = make_columns([*values, 30.0])
    figures = Figures(
        columns, references=np.empty((0, 0)), analytes=INDEX, context=make_context(columns)
    )
    step = figures.step("iron")
    assert step.earlier.tolist() == [0, 1, 2, 3, 4, 5]
    level, miss, seen = 20.0, 0.0, 1
    for value in values[1:]:
        off = value - level
        miss += max(0.3, 1 / seen) * (abs(off) - miss)
        level += max(0.3, 1 / (seen + 1)) * off
        seen += 1
    assert step.expected[5] == pytest.approx(level)
    assert step.spread[5] == pytest.approx(math.hypot(1.2533 * miss, 0.1 / math.sqrt(12)))
    assert step.spreads[5] == pytest.approx((30.0 - level) / step.spread[5])


def test_that_a_step_within_the_method_counts_as_none():
    wide = Precision(form="constant", a=25.0, b=1.0, source="invented for a test")
    exact = {"iron": replace(INDEX["iron"], reproducibility=wide)}
    values = [20.0] * 5 + [40.0]
    assert figure(make_columns(values), STEP, exact).values[5] == 0.0
    asked = replace(STEP, least_change=10.0)
    assert figure(make_columns(values), asked, exact).values[5] > 1


def test_that_a_component_fit_starts_a_new_history():
    columns = make_columns([20.0] * 5 + [40.0])
    history = np.array([0, 0, 0, 0, 0, 1], dtype=np.int32)
    assert math.isnan(figure(columns, STEP, INDEX, history=history).values[5])


def test_that_one_wild_sample_hardly_moves_what_is_expected():
    steady = [20.0, 20.4, 19.6, 20.2, 19.8, 20.0, 20.3]
    calm = figure_step([*steady, 20.0, 20.0])
    wild = figure_step([*steady, 200.0, 20.0])
    assert abs(wild.expected[-1] - calm.expected[-1]) < 1.0


def figure_step(values):
    columns = make_columns(values)
    return Figures(
        columns, references=np.empty((0, 0)), analytes=INDEX, context=make_context(columns)
    ).step("iron")


# --- grade and missing tests ---------------------------------------------------------------------

OIL = {"viscosity_40c": make_analyte("viscosity_40c", decimals=1, unit="mm2/s")}
EDGES = np.array([[41.4, 50.6, NAN, NAN]])


@pytest.mark.parametrize(
    ("value", "direction", "past"),
    [(46.0, "up", 0.0), (50.6, "up", 0.0), (55.66, "up", 10.0), (37.26, "down", -10.0)],
)
def test_that_viscosity_is_held_against_the_edges_of_its_grade(value, direction, past):
    # ISO 3448: VG 46 is 41.4 to 50.6 mm2/s at 40 C, both ends included.
    limit = make_limit("viscosity_40c", kind=LimitKind.OFF_GRADE, direction=direction)
    columns = make_columns([value])
    grade = np.zeros(1, dtype=np.int16)
    found = figure(columns, limit, OIL, grade=grade, grade_edges=EDGES)
    assert found.values[0] == pytest.approx(past)


def test_that_an_unknown_grade_is_not_judged():
    limit = make_limit("viscosity_40c", kind=LimitKind.OFF_GRADE)
    found = figure(make_columns([80.0]), limit, OIL, grade_edges=EDGES)
    assert math.isnan(found.values[0])


@pytest.mark.parametrize(
    ("value", "sign", "tests", "missing"),
    [
        (20.0, PLAIN, 0, 0.0),
        (20.0, BELOW, 0, 0.0),
        (NAN, Sign.NOT_TESTED, 0, 1.0),
        (NAN, Sign.NOT_ENOUGH, 0, 1.0),
        (NAN, Sign.NOT_TESTED, 1, 0.0),
        (NAN, Sign.NOT_TESTED, -1, NAN),
    ],
    ids=["tested", "below detection", "not tested", "not enough", "not ordered", "no list"],
)
def test_that_a_test_is_missing_where_it_was_ordered_and_not_made(value, sign, tests, missing):
    limit = make_limit(bounds=(1, None, None), kind=LimitKind.MISSING_TEST)
    found = figure(
        make_columns([value], signs=sign),
        limit,
        tests=np.array([tests], dtype=np.int16),
        ordered=(frozenset({1}), frozenset()),
    )
    assert found.values[0] == pytest.approx(missing, nan_ok=True)
