"""What was raised stands until it is cleared (common practice, no source)."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.limits.combining import NO_COMPANIONS, Why
from fluiddesk.domain.limits.fired import fired_rules
from fluiddesk.domain.severity import Severity, Trust
from tests.makers import judge_history, make_analyte, make_columns, make_context, make_limit

NORMAL, WATCH, ACT, URGENT = Severity.NORMAL, Severity.WATCH, Severity.ACT, Severity.URGENT
DAY = date(2025, 1, 1).toordinal()
IRON = {"iron": make_analyte("iron")}
SOOT = {"iron": make_analyte("iron", family=AnalyteFamily.FLUID_CONDITION)}
LIMIT = make_limit(bounds=(60, 100, 150))


def judged(values, *, analytes=IRON, companions=NO_COMPANIONS, limits=(LIMIT,), **given):
    context = given.pop("context", {})
    given.setdefault("taken_on", [DAY + 30 * place for place in range(len(values))])
    columns = make_columns(values, **given)
    return judge_history(
        columns, limits, analytes, context=make_context(columns, **context), companions=companions
    )


def severities(values, **given):
    return judged(values, **given).severity.tolist()


def test_that_a_limit_is_raised_at_once():
    assert severities([10, 160]) == [NORMAL, URGENT]


def test_that_it_is_lowered_after_two_samples_short_of_the_share_of_the_bound():
    # 85 % of the bounds 60, 100 and 150 is 51, 85 and 127.5.
    assert severities([160, 50, 50, 50]) == [URGENT, URGENT, NORMAL, NORMAL]
    assert severities([160, 52, 52]) == [URGENT, URGENT, WATCH]
    assert severities([160, 128, 128, 128]) == [URGENT, URGENT, URGENT, URGENT]
    assert severities([160, 127, 84, 84]) == [URGENT, URGENT, ACT, WATCH]


def test_that_a_sample_between_clears_nothing():
    assert severities([160, 50, 128, 50, 50]) == [URGENT, URGENT, URGENT, URGENT, NORMAL]


def test_that_boxes_do_not_hold_each_other_up():
    assert severities([160, 50, 50, 20], compartment=[0, 0, 1, 1]) == [URGENT, URGENT, 0, 0]


def test_that_a_fluid_change_clears_no_wear_alarm():
    found = judged([160, 10, 10], fill=[0, 1, 1])
    assert found.severity.tolist() == [URGENT, URGENT, NORMAL]
    assert found.why[1, 0] == Why.MASKED
    [rule] = fired_rules(found, sample=1)
    assert (rule.severity, rule.alone, rule.value, rule.margin) == (URGENT, NORMAL, 10, 0)
    assert rule.stands_over


def test_that_without_a_change_it_is_held_and_not_masked():
    assert judged([160, 10]).why[:, 0].tolist() == [0, Why.HELD]


def test_that_a_fluid_change_clears_an_alarm_of_the_fluid_itself():
    assert severities([160, 10], fill=[0, 1], analytes=SOOT) == [URGENT, NORMAL]
    assert severities([160, 10], fill=[0, 0], analytes=SOOT) == [URGENT, URGENT]


def test_that_contamination_known_to_leave_with_the_fluid_does():
    dirt = {"iron": make_analyte("iron", family=AnalyteFamily.CONTAMINATION)}
    leaves = replace(NO_COMPANIONS, fluid_clears=frozenset({"iron"}))
    assert severities([160, 10], fill=[0, 1], analytes=dirt) == [URGENT, URGENT]
    assert severities([160, 10], fill=[0, 1], analytes=dirt, companions=leaves) == [URGENT, NORMAL]


@pytest.mark.parametrize(
    ("repaired_on", "fluid_hours", "after"),
    [
        (DAY + 10, 130, NORMAL),
        (DAY, 130, NORMAL),
        (DAY - 1, 130, URGENT),
        (DAY + 10, 124, URGENT),
        (0, 130, URGENT),
    ],
    ids=["after", "on the day of the alarm", "before the alarm", "too few hours", "no repair"],
)
def test_that_one_sample_clears_after_a_repair_at_half_the_usual_hours(
    repaired_on, fluid_hours, after
):
    context = {
        "repaired_on": np.array([min(repaired_on, DAY), repaired_on], dtype=np.int32),
        "interval_hours": np.array([250.0, 250.0]),
    }
    found = severities([160, 20], fluid_hours=[200.0, fluid_hours], context=context)
    assert found == [URGENT, after]


def test_that_a_sample_in_doubt_neither_raises_nor_clears():
    trust = [Trust.GOOD, Trust.SUSPECT, Trust.GOOD, Trust.GOOD]
    assert severities([10, 160, 10, 10], trust=trust) == [NORMAL, WATCH, NORMAL, NORMAL]
    assert severities([160, 10, 10, 10], trust=trust) == [URGENT, URGENT, URGENT, NORMAL]


def test_that_a_sign_of_an_unsafe_fluid_counts_on_a_sample_in_doubt():
    unsafe = replace(NO_COMPANIONS, unsafe_fluid=frozenset({"iron"}))
    trust = [Trust.SUSPECT, Trust.GOOD]
    assert severities([160, 10], trust=trust, companions=unsafe) == [URGENT, URGENT]


def test_that_a_rejected_sample_is_passed_over():
    trust = [Trust.GOOD, Trust.REJECTED, Trust.GOOD, Trust.GOOD]
    assert severities([160, 10, 10, 10], trust=trust) == [URGENT, -1, URGENT, NORMAL]


def test_that_a_test_that_was_not_made_lowers_nothing():
    assert severities([160, float("nan"), 10, 10]) == [URGENT, URGENT, URGENT, NORMAL]


def test_that_a_falling_limit_clears_above_its_bound():
    falling = make_limit(bounds=(40, 20, None), direction="down")
    assert severities([10, 47, 47], limits=[falling]) == [ACT, ACT, NORMAL]
    assert severities([10, 45, 45], limits=[falling]) == [ACT, ACT, WATCH]


def test_that_days_between_samples_do_not_matter_to_two_clear_samples():
    days = [DAY, DAY, DAY + timedelta(days=1).days]
    assert severities([160, 10, 10], taken_on=days) == [URGENT, URGENT, NORMAL]


def test_that_a_limit_that_is_no_more_says_nothing_and_holds_nothing():
    from fluiddesk.domain.limits.alone import Part
    from fluiddesk.domain.limits.assessment import assess_history
    from fluiddesk.domain.limits.figures import Figures
    from fluiddesk.domain.limits.limit_table import limit_table

    columns = make_columns([160.0, 10.0, 10.0, 160.0])
    held, gone = (limit_table(one, analytes=IRON, numbers=(1,)) for one in ([LIMIT], []))
    figures = Figures(columns, references=np.empty((0, 0)), analytes=IRON)
    parts = [Part(at=np.array([0, 3]), table=held), Part(at=np.array([1, 2]), table=gone)]
    found = assess_history(figures, slice(0, 4), parts)
    assert found.severity.tolist() == [URGENT, -1, -1, URGENT]
