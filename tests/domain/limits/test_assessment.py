"""What one limit says of one value, seen through ``assess``."""

import numpy as np
import pytest

from fluiddesk.domain.limits.assessment import assess, reference_matrix
from fluiddesk.domain.limits.combining import Why
from fluiddesk.domain.limits.fired import fired_rules
from fluiddesk.domain.limits.limit_set import LimitKind, Scope
from fluiddesk.domain.samples import Sign
from fluiddesk.domain.severity import Severity, Trust
from tests.makers import (
    NO_REFERENCES,
    judge_values,
    make_analyte,
    make_columns,
    make_limit,
    make_table,
)

NONE, NORMAL, WATCH, ACT, URGENT = Severity
RISING = make_limit(bounds=(60, 100, 150))
FALLING = make_limit("base_number", (6, 4, 2), direction="down")
CRACKLE = make_limit("water_crackle", (None, 1, None))
TO_A_TENTH = make_analyte("base_number", decimals=1)


def severities(values, limit, **given):
    return [Severity(one) for one in judge_values(values, limit, **given).severity]


def test_that_a_value_on_a_bound_belongs_to_the_worse_band():
    assert severities([59, 60, 99, 100, 150, 400], RISING) == [
        NORMAL, WATCH, WATCH, ACT, URGENT, URGENT,
    ]  # fmt: skip


def test_that_a_value_on_a_bound_passes_where_only_one_beyond_counts():
    limit = make_limit(bounds=(60, 100, 150), boundary="beyond")
    assert severities([60, 61, 100, 101, 150, 151], limit) == [
        NORMAL, WATCH, WATCH, ACT, ACT, URGENT,
    ]  # fmt: skip


def test_that_a_falling_value_passes_its_bounds_downwards():
    assert severities([6.1, 6, 4.1, 4, 2, 0], FALLING, analyte=TO_A_TENTH) == [
        NORMAL, WATCH, WATCH, ACT, URGENT, URGENT,
    ]  # fmt: skip


def test_that_a_limit_without_a_band_goes_straight_to_the_next():
    assert severities([59, 60, 149, 150], make_limit(bounds=(60, None, 150))) == [
        NORMAL, WATCH, WATCH, URGENT,
    ]  # fmt: skip


def test_that_a_change_of_a_tenth_lies_exactly_on_its_bound():
    # 13.05 - 14.5 in percent of 14.5 is -9.999999999999998 in binary arithmetic.
    limit = make_limit("viscosity_100c", (-10, -15, None), direction="down",
                       kind=LimitKind.CHANGE_PERCENT)  # fmt: skip
    analyte = make_analyte("viscosity_100c", decimals=2)
    judged = judge_values([14.5 * 0.9, 13.06], limit, analyte=analyte, new=14.5)
    assert judged.compared[:, 0].tolist() == [-10.0, -9.9]
    assert judged.severity.tolist() == [WATCH, NORMAL]


def test_that_values_are_compared_at_the_places_of_the_method():
    assert severities([99.4, 99.6], RISING) == [WATCH, ACT]


def test_that_a_bound_written_finer_than_the_method_is_compared_as_written():
    limit = make_limit(bounds=(None, 0.25, None))
    assert severities([0.24, 0.25], limit) == [NORMAL, ACT]


def test_that_a_change_is_counted_from_the_new_fluid():
    limit = make_limit(kind=LimitKind.CHANGE, bounds=(10, 20, None))
    judged = judge_values([14, 15, 25], limit, new=5.0)
    assert judged.severity.tolist() == [NORMAL, WATCH, ACT]
    assert judged.compared[:, 0].tolist() == [9, 10, 20]


@pytest.mark.parametrize("kind", [LimitKind.CHANGE, LimitKind.CHANGE_PERCENT])
def test_that_a_change_from_an_unknown_new_fluid_is_not_judged(kind):
    limit = make_limit(kind=kind, bounds=(10, 20, None))
    assert severities([500], limit) == [NONE]
    assert severities([500], limit, new=5.0, reference=-1) == [NONE]
    assert severities([500], limit, new=float("nan")) == [NONE]


def test_that_a_change_in_percent_of_nothing_is_not_judged():
    limit = make_limit(kind=LimitKind.CHANGE_PERCENT, bounds=(10, 20, None))
    assert severities([500], limit, new=0.0) == [NONE]


def test_that_a_change_from_nothing_is_judged():
    limit = make_limit(kind=LimitKind.CHANGE, bounds=(10, 20, None))
    assert severities([500], limit, new=0.0) == [ACT]


def test_that_a_rejected_sample_gets_no_verdict_and_a_doubted_one_stops_at_watch():
    trust = [Trust.GOOD, Trust.SUSPECT, Trust.REJECTED]
    judged = judge_values([200, 200, 200], RISING, trust=trust)
    assert judged.severity.tolist() == [URGENT, WATCH, NONE]
    assert judged.why[:, 0].tolist() == [0, Why.CAPPED, 0]
    assert judged.load[2] == 0


@pytest.mark.parametrize(
    ("sign", "value", "expected"),
    [
        (Sign.BELOW, 2, NORMAL),
        (Sign.BELOW, 60, NORMAL),
        (Sign.BELOW, 61, NONE),
        (Sign.BELOW, 200, NONE),
        (Sign.ABOVE, 30, NONE),
        (Sign.ABOVE, 60, WATCH),
        (Sign.ABOVE, 100, ACT),
        (Sign.ABOVE, 200, URGENT),
        (Sign.NOT_TESTED, float("nan"), NONE),
        (Sign.NOT_ENOUGH, float("nan"), NONE),
    ],
)
def test_that_a_censored_value_is_held_to_what_is_certain_of_it(sign, value, expected):
    assert severities([value], RISING, signs=sign) == [expected]


@pytest.mark.parametrize(
    ("sign", "value", "expected"),
    [
        (Sign.BELOW, 7, NONE),
        (Sign.BELOW, 6, WATCH),
        (Sign.BELOW, 2, URGENT),
        (Sign.ABOVE, 5, NONE),
        (Sign.ABOVE, 6, NORMAL),
        (Sign.ABOVE, 9, NORMAL),
    ],
)
def test_that_a_censored_value_is_held_to_a_falling_limit_the_other_way_round(
    sign, value, expected
):
    assert severities([value], FALLING, analyte=TO_A_TENTH, signs=sign) == [expected]


def test_that_below_fifty_against_a_limit_of_twenty_is_not_judged():
    judged = judge_values([50], make_limit(bounds=(20, 40, 80)), signs=Sign.BELOW)
    assert judged.severity.tolist() == [NONE]
    assert judged.load.tolist() == [0]


def test_that_above_a_bound_is_past_it_also_where_only_one_beyond_counts():
    limit = make_limit(bounds=(None, 100, None), boundary="beyond")
    assert severities([100], limit, signs=Sign.ABOVE) == [ACT]


def test_that_a_presence_test_fires_when_present_and_is_normal_when_absent():
    test = make_analyte("water_crackle", unit="absent/present")
    assert severities([0, 1], CRACKLE, analyte=test, signs=[Sign.ABSENT, Sign.PRESENT]) == [
        NORMAL, ACT,
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("bounds", "direction", "value", "load"),
    [
        ((60, 100, 150), "up", 50, 0.5),
        ((60, 100, 150), "up", -5, 0),
        ((60, 100, 150), "up", 1e9, 100),
        ((60, None, 150), "up", 30, 0.5),
        ((None, None, 150), "up", 75, 0.5),
        ((6, 4, 2), "down", 8, 0.5),
        ((6, 4, 2), "down", 4, 1),
        ((6, 4, 2), "down", 0, 100),
        ((-10, -20, None), "down", -10, 0.5),
        ((-10, -20, None), "down", 10, 0),
        # A freezing point rises towards its bound from below.
        ((-35, -30, None), "up", -40, 0.75),
        ((-35, -30, None), "up", -20, 1.5),
        ((-35, -30, None), "up", 0, 100),
        ((None, 0, None), "up", 0, 1),
        ((None, 0, None), "up", -1, 0),
        ((None, 0, None), "down", -1, 100),
        ((None, 0, None), "down", 1, 0),
    ],
)
def test_that_the_load_is_the_share_of_the_way_to_act(bounds, direction, value, load):
    limit = make_limit(bounds=bounds, direction=direction)
    assert judge_values([value], limit).load.tolist() == [load]


def test_that_the_highest_load_counts():
    limits = [make_limit("iron"), make_limit("copper", (10, 20, 30))]
    columns = make_columns([[50, 5], [50, 15]], analytes=(1, 2))
    judged = assess(columns, make_table(limits), references=NO_REFERENCES)
    assert judged.load.tolist() == [0.5, 0.75]


def test_that_samples_without_a_limit_get_no_verdict():
    judged = assess(make_columns([5.0, 6.0]), make_table([]), references=NO_REFERENCES)
    assert judged.severity.tolist() == [NONE, NONE]


def additives(*needs):
    return [
        make_limit(code, (10, 20, 30), group="additives", act_needs=needs[0], urgent_needs=needs[1])
        for code in ("calcium", "zinc", "phosphorus")
    ]


@pytest.mark.parametrize(
    ("values", "bands", "severity"),
    [
        ([25, 5, 5], [WATCH, NORMAL, NORMAL], WATCH),
        ([25, 25, 5], [ACT, ACT, NORMAL], ACT),
        ([35, 15, 5], [WATCH, WATCH, NORMAL], WATCH),
        ([35, 35, 5], [ACT, ACT, NORMAL], ACT),
        ([35, 35, 35], [URGENT, URGENT, URGENT], URGENT),
        ([35, 35, float("nan")], [ACT, ACT, NONE], ACT),
    ],
)
def test_that_a_band_of_a_group_needs_its_companions(values, bands, severity):
    table = make_table(additives(2, 3))
    columns = make_columns([values], analytes=(1, 2, 3))
    judged = assess(columns, table, references=NO_REFERENCES)
    assert judged.bands[0].tolist() == bands
    assert judged.severity.tolist() == [severity]


def test_that_two_limits_on_one_analyte_are_no_company_for_each_other():
    group = {"group": "wear", "act_needs": 2}
    limits = [
        make_limit("iron", (None, 100, None), **group),
        make_limit("iron", (None, 50, None), kind=LimitKind.CHANGE, **group),
        make_limit("copper", (None, 20, None), **group),
    ]
    columns = make_columns([[120, 5], [120, 25]], analytes=(1, 2), reference=0)
    judged = assess(columns, make_table(limits), references=np.array([[0.0, 0.0]]))
    assert judged.severity.tolist() == [WATCH, ACT]


def fired(limits, values, **given):
    references = given.pop("references", NO_REFERENCES)
    table = make_table(limits)
    columns = make_columns([values], analytes=tuple(range(1, len(values) + 1)), **given)
    judged = assess(columns, table, references=references)
    return fired_rules(judged, sample=0)


def test_that_a_fired_rule_carries_every_number_of_the_comparison():
    limit = make_limit(
        kind=LimitKind.CHANGE, bounds=(10, 20, 40), scope=Scope(compartment_kind="engine")
    )
    [rule] = fired([limit], [32.0], reference=0, references=np.array([[5.0]]))
    assert (rule.value, rule.reference, rule.compared, rule.bound) == (32, 5, 27, 20)
    assert rule.margin == 7
    assert (rule.severity, rule.sign, rule.scope) == (ACT, Sign.PLAIN, "engine")
    assert (rule.source, rule.set_by) == ("invented for a test", "a test")


def test_that_a_fired_level_rule_names_no_new_fluid():
    [rule] = fired([RISING], [112.0], reference=0, references=np.array([[5.0]]))
    assert rule.reference is None


def test_that_the_worst_rule_comes_first_and_then_the_one_furthest_past_its_bound():
    limits = [
        make_limit("iron", (60, 100, 150)),
        make_limit("copper", (10, 20, 30)),
        make_limit("lead", (10, 20, 30)),
        make_limit("tin", (10, 20, 30)),
        make_limit("drift", (None, 0, None)),
    ]
    rules = fired(limits, [110.0, 29.0, 5.0, 31.0, 0.0])
    assert [rule.analyte for rule in rules] == ["tin", "copper", "iron", "drift"]


@pytest.mark.parametrize(
    ("bounds", "bound"),
    [
        ((60, 100, 150), 60),
        ((60, None, 150), 60),
        ((None, None, 150), 150),
        ((None, 100, None), 100),
    ],
)
def test_that_a_rule_held_back_by_its_group_still_names_a_bound(bounds, bound):
    limit = make_limit(bounds=bounds, group="wear", act_needs=2, urgent_needs=2)
    [rule] = fired([limit], [180.0])
    assert (rule.severity, rule.bound) == (WATCH, bound)


def test_that_new_fluid_values_stand_in_the_row_of_their_number():
    matrix = reference_matrix({2: {4: 14.5, 7: 3.0}, 0: {1: 5.0}}, numbers=(1, 4))
    assert np.array_equal(matrix, [[5.0, np.nan], [np.nan, np.nan], [np.nan, 14.5]], equal_nan=True)
    assert reference_matrix({}, numbers=(1, 4)).shape == (0, 2)
