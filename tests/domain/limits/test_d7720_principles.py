"""Principles of ASTM D7720 (scope of D7720-21 and -11(2017)) as a checklist of what limits can do.

The guide's own percentages and numbers of points were not seen and are not checked here.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fluiddesk.domain.limits.limit_set import (
    STATISTICAL_KINDS,
    LimitKind,
    LimitSetState,
    Scope,
    set_in_force,
)
from fluiddesk.domain.severity import Severity
from fluiddesk.domain.statistics.shapiro_wilk import shapiro_wilk
from tests.makers import judge_values, make_limit, make_set

SKEWED = [
    12, 15, 14, 18, 22, 17, 13, 16, 19, 21, 14, 15, 17, 25, 20, 18, 16, 13, 15, 24, 19, 17, 14, 16,
    18, 20, 22, 15, 17, 41,
]  # fmt: skip
"""Thirty results with one far off: own worked example, of which the normality test fails."""


def test_that_there_are_normally_four_levels():
    levels = [one for one in Severity if one is not Severity.NO_VERDICT]
    assert [one.word for one in levels] == ["Normal", "Watch", "Act", "Urgent"]
    judged = judge_values([10, 60, 100, 150], make_limit(bounds=(60, 100, 150)))
    assert judged.severity.tolist() == levels


@pytest.mark.parametrize(
    ("bounds", "severities"),
    [((None, 100, 150), [0, 0, 2, 3]), ((60, 100, None), [0, 1, 2, 2])],
)
def test_that_three_levels_are_allowed_too(bounds, severities):
    judged = judge_values([10, 60, 100, 150], make_limit(bounds=bounds))
    assert judged.severity.tolist() == severities


def test_that_data_that_are_not_bell_shaped_are_limited_by_a_percentile():
    assert shapiro_wilk(SKEWED).probability < 0.05
    bound = float(np.percentile(SKEWED, 95, method="hazen"))
    assert bound == 25.0
    limit = make_limit(bounds=(bound, None, None), kind=LimitKind.PERCENTILE)
    judged = judge_values([float(one) for one in SKEWED], limit)
    flagged = int((judged.severity > Severity.NORMAL).sum())
    # No bell shape is asked for: about one result in twenty lies beyond it.
    assert flagged == 2
    assert LimitKind.PERCENTILE in STATISTICAL_KINDS


def test_that_limits_are_evaluated_again_after_false_positives_and_old_verdicts_keep_theirs():
    strict = make_set([make_limit(bounds=(20, 40, 60))], 1, valid_until=date(2025, 1, 1),
                      state=LimitSetState.RETIRED)  # fmt: skip
    wider = make_set([make_limit(bounds=(30, 40, 60))], 2, valid_from=date(2025, 1, 1))
    assert set_in_force([strict, wider], date(2024, 12, 31)) is strict
    assert set_in_force([strict, wider], date(2025, 1, 1)) is wider
    flagged = [
        int((judge_values([float(one) for one in SKEWED], *held.limits).severity > 0).sum())
        for held in (strict, wider)
    ]
    assert flagged == [8, 1]


def test_that_limits_serve_a_fleet_or_a_single_machine():
    assert Scope().rank < Scope(machine_kind="haul_truck").rank < Scope(compartment="0a" * 16).rank


def test_that_neighbouring_limits_may_not_coincide():
    from fluiddesk.domain.limits.limit_set import LimitError, check_limit

    # ASTM D7669: the distance between limits should exceed the method's repeatability.
    with pytest.raises(LimitError):
        check_limit(replace(make_limit(), watch=100.0))
