"""How bands of several limits make one severity (common practice, no source)."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fluiddesk.domain.analytes import Precision
from fluiddesk.domain.limits.combining import NO_COMPANIONS, Pattern, Why
from fluiddesk.domain.limits.fired import fired_rules
from fluiddesk.domain.limits.limit_set import LimitKind
from fluiddesk.domain.limits.settings import JudgingSettings
from fluiddesk.domain.severity import Severity, Trust
from tests.makers import judge_history, make_analyte, make_columns, make_context, make_limit

NORMAL, WATCH, ACT, URGENT = Severity.NORMAL, Severity.WATCH, Severity.ACT, Severity.URGENT
R_OF_5 = Precision(form="constant", a=5.0, b=1.0, source="invented for a test")
ANALYTES = {
    "iron": make_analyte("iron", number=1, reproducibility=R_OF_5),
    "chromium": make_analyte("chromium", number=2),
    "copper": make_analyte("copper", number=3),
}
DUST = Pattern(
    code="dust",
    name="Dust",
    groups=("engine",),
    signs=(("iron", "up"), ("chromium", "up")),
    source="invented for a test",
)
WITH_DUST = replace(NO_COMPANIONS, patterns=(DUST,), group_of={"engine": "engine"})
LIMITS = [
    make_limit("iron", (60, 100, 150)),
    make_limit("chromium", (6, 12, 20)),
    make_limit("copper", (25, 50, 100)),
]


def judged(*rows, limits=LIMITS, companions=WITH_DUST, settings=None, **given):
    columns = make_columns(rows, analytes=(1, 2, 3), **given)
    extra = {} if settings is None else {"settings": settings}
    context = make_context(columns)
    return judge_history(columns, limits, ANALYTES, context=context, companions=companions, **extra)


@pytest.mark.parametrize(
    ("iron", "chromium", "copper", "severity"),
    [
        (60, 1, 1, WATCH),
        (60, 6, 1, ACT),
        (100, 6, 1, URGENT),
        (100, 12, 1, URGENT),
        (150, 20, 1, URGENT),
        (60, 1, 25, WATCH),
        (10, 6, 25, WATCH),
    ],
)
def test_that_two_of_a_pattern_raise_it_by_one_step(iron, chromium, copper, severity):
    assert judged([iron, chromium, copper]).severity.tolist() == [severity]


def test_that_what_was_raised_names_its_companions():
    found = judged([60, 6, 1])
    rules = {rule.analyte: rule for rule in fired_rules(found, sample=0)}
    assert rules["iron"].beside == ("chromium",)
    assert (rules["iron"].alone, rules["iron"].severity, rules["iron"].bound) == (WATCH, ACT, 60)
    assert rules["iron"].why == Why.RAISED


def test_that_a_pattern_of_another_kind_of_box_raises_nothing():
    elsewhere = replace(WITH_DUST, group_of={"engine": "gear"})
    assert judged([60, 6, 1], companions=elsewhere).severity.tolist() == [WATCH]


def test_that_settings_can_switch_companions_off():
    off = JudgingSettings(companions_needed=0)
    assert judged([60, 6, 1], settings=off).severity.tolist() == [WATCH]


def test_that_what_companions_raised_falls_back_once_they_fail_twice():
    found = judged([60, 6, 1], [60, 1, 1], [60, 1, 1])
    assert found.severity.tolist() == [ACT, ACT, WATCH]


def test_that_a_sample_in_doubt_is_not_raised_by_companions():
    assert judged([60, 6, 1], trust=Trust.SUSPECT).severity.tolist() == [WATCH]


PERCENTILE = make_limit("iron", (40, 50, 55), kind=LimitKind.PERCENTILE)


@pytest.mark.parametrize(
    ("values", "severity"),
    [
        ([52, 52], WATCH),
        ([47, 52], WATCH),
        ([46, 52], ACT),
        ([46, 57], URGENT),
    ],
    ids=["no change", "exactly R", "more than R", "more than R, Urgent"],
)
def test_that_a_percentile_alone_stops_at_watch_unless_the_change_exceeds_r(values, severity):
    # R is 5 mg/kg; ASTM D7669: a change must be more than the method can tell apart.
    rows = [[value, 1, 1] for value in values]
    found = judged(
        *rows, limits=[PERCENTILE], taken_on=[date(2025, 1, day).toordinal() for day in (1, 9)]
    )
    assert found.severity[-1] == severity


def test_that_a_percentile_beside_an_absolute_watch_is_act():
    both = [PERCENTILE, make_limit("iron", (50, 100, 150))]
    found = judged([52, 1, 1], limits=both)
    assert found.severity.tolist() == [ACT]
    assert (found.why[0] & Why.AGREED > 0).all()


def test_that_a_percentile_beside_another_analyte_agrees_with_nothing():
    both = [PERCENTILE, make_limit("copper", (25, 50, 100))]
    assert judged([52, 1, 30], limits=both).severity.tolist() == [WATCH]


def test_that_a_rising_and_a_falling_limit_do_not_agree():
    both = [PERCENTILE, make_limit("iron", (60, None, None), direction="down")]
    assert judged([52, 1, 1], limits=both).severity.tolist() == [WATCH]


def test_that_two_statistical_kinds_that_agree_are_act():
    debris = {"debris": make_analyte("debris", unit="index")}
    percentile = make_limit("debris", (22, None, None), kind=LimitKind.PERCENTILE)
    step = make_limit("debris", (3, None, None), kind=LimitKind.OWN_STEP, least_change=1.0)
    columns = make_columns([20.0] * 6 + [24.0])
    for alone in (percentile, step):
        assert judge_history(columns, [alone], debris).severity[-1] == WATCH
    found = judge_history(columns, [percentile, step], debris)
    assert found.severity.tolist()[-2:] == [NORMAL, ACT]


def test_that_a_missing_test_is_at_least_watch_and_never_more():
    columns = make_columns([[20, 1, float("nan")]], analytes=(1, 2, 3))
    context = make_context(columns, tests=np.zeros(1, dtype=np.int16), ordered=(frozenset({1, 3}),))
    missing = [make_limit(code, (1, None, None), kind=LimitKind.MISSING_TEST) for code in ANALYTES]
    found = judge_history(columns, [*LIMITS, *missing], ANALYTES, context=context)
    assert found.severity.tolist() == [WATCH]
    assert [rule.analyte for rule in fired_rules(found, sample=0)] == ["copper"]


COPPER_ALONE = Pattern(
    code="copper_alone",
    name="Copper alone",
    groups=("engine",),
    signs=(("copper", "up"),),
    source="invented for a test",
    against=("iron", "chromium"),
)
WITH_COPPER = replace(NO_COMPANIONS, patterns=(COPPER_ALONE,), group_of={"engine": "engine"})


@pytest.mark.parametrize(
    ("iron", "chromium", "copper", "severity"),
    [
        (10, 1, 120, ACT),  # Urgent alone, everything beside it Normal
        (10, 1, 60, WATCH),
        (10, 1, 30, WATCH),  # never below Watch
        (60, 1, 120, URGENT),  # iron moved too: nothing speaks against it
        (10, np.nan, 120, URGENT),  # chromium was not tested: nothing is known
    ],
)
def test_that_strong_evidence_against_lowers_a_sign_by_one_step(iron, chromium, copper, severity):
    found = judged([iron, chromium, copper], companions=WITH_COPPER)
    assert found.severity.tolist() == [severity]


def test_that_evidence_against_never_lowers_a_sign_of_an_unsafe_fluid():
    unsafe = replace(WITH_COPPER, unsafe_fluid=frozenset({"copper"}))
    assert judged([10, 1, 120], companions=unsafe).severity.tolist() == [URGENT]


def test_that_a_tighter_limit_beside_it_only_takes_the_lowering_away():
    loose = judged([10, 1, 120], companions=WITH_COPPER).severity[0]
    tight = [make_limit("iron", (5, 100, 150)), *LIMITS[1:]]
    assert judged([10, 1, 120], limits=tight, companions=WITH_COPPER).severity[0] > loose
