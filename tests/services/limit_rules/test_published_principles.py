"""The published principles of ASTM D7720 (scope, editions of 2011 and 2021) as a checklist.

Only what its published scope says is held against; its percentages, multipliers and numbers of
results were not seen, and ours are marked as common practice. The thirty results are own data, with
figures computed by scipy 1.17.1.
"""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from fluiddesk.domain.limits.limit_set import Box, Scope, limits_in_force
from fluiddesk.domain.severity import Severity
from fluiddesk.domain.statistics.percentile import PercentileDefinition, percentile
from fluiddesk.domain.statistics.shapiro_wilk import shapiro_wilk
from fluiddesk.services.limit_rules.check import problems_of
from fluiddesk.services.limit_rules.derive_bounds import derived_bounds
from fluiddesk.services.limit_rules.derive_groups import Results
from fluiddesk.services.limit_rules.derive_notes import outlier_note, shape_note
from fluiddesk.services.limit_rules.facts import FindingScore, LastYear
from fluiddesk.services.limit_rules.row_checks import Known
from tests.fleets import the_catalogue
from tests.makers import make_analyte, make_limit, make_set

THIRTY = (
    12, 15, 14, 18, 22, 17, 13, 16, 19, 21, 14, 15, 17, 25, 20, 18, 16, 13, 15, 24, 19, 17, 14, 16,
    18, 20, 22, 15, 17, 41,
)  # fmt: skip


def results(values) -> Results:
    numbers = np.array(values, dtype=np.float64)
    size = len(numbers)
    return Results(
        values=numbers,
        below=np.zeros(size, dtype=bool),
        box=np.zeros(size, dtype=np.int32),
        machine=np.arange(size, dtype=np.int64) % 15,
        day=np.full(size, date(2026, 6, 30).toordinal(), dtype=np.int32),
    )


def test_that_there_are_four_severity_levels():
    judged = [severity for severity in Severity if severity is not Severity.NO_VERDICT]
    assert len(judged) == 4


def test_that_limits_come_from_the_sorted_results_whatever_their_distribution():
    skewed = np.random.default_rng(7).lognormal(3, 1.0, 3000)
    found = derived_bounds(
        results(skewed), analyte=make_analyte(decimals=3), falling=False, parent=None, rounds=0,
        generator=np.random.default_rng(1),
    )  # fmt: skip
    for band, percent in zip(found.bands, (98.0, 99.5, 99.9), strict=True):
        sorted_data = percentile(skewed, percent, definition=PercentileDefinition.HAZEN)
        assert band.own == pytest.approx(sorted_data)
    # The same by any monotone transformation: no distribution is assumed.
    turned = derived_bounds(
        results(np.log(skewed)), analyte=make_analyte(decimals=3), falling=False, parent=None,
        rounds=0, generator=np.random.default_rng(1),
    )  # fmt: skip
    assert turned.bands[0].own == pytest.approx(np.log(found.bands[0].own), rel=1e-3)


def test_that_whether_results_are_bell_shaped_is_tested_and_told():
    told = shapiro_wilk(THIRTY)
    assert (told.w, told.probability) == (
        pytest.approx(0.74981, abs=5e-6),
        pytest.approx(9.0e-06, rel=0.01),
    )
    assert shape_note(results(THIRTY), seed=1).startswith("Not bell-shaped (Shapiro-Wilk W 0.750")
    assert shape_note(results(THIRTY[:-1]), seed=1).startswith("May be bell-shaped")
    assert outlier_note(results(THIRTY), make_analyte()).startswith("1 of 30 results")


@pytest.mark.parametrize(("percent", "value"), [(80, 20.5), (90, 23.0), (95, 25.0), (98, 39.4)])
def test_that_the_definition_of_percentiles_is_the_stated_one(percent, value):
    found = percentile(THIRTY, percent, definition=PercentileDefinition.HAZEN)
    assert found == pytest.approx(value)


def test_that_thirty_results_are_too_few_for_a_watch_limit():
    found = derived_bounds(
        results(THIRTY), analyte=make_analyte(), falling=False, parent=None, rounds=0,
        generator=np.random.default_rng(1),
    )  # fmt: skip
    assert [band.value for band in found.bands] == [None, None, None]
    assert found.bands[0].why == "Not enough: 30 of at least 117 samples."


def test_that_false_positives_and_negatives_are_counted_for_re_evaluation():
    counted = {"findings_before", "findings_after", "budget_before", "budget_after"}
    assert counted <= set(LastYear.__dataclass_fields__)
    assert set(FindingScore.__dataclass_fields__) == {"caught", "missed", "false_alarms"}


def test_that_derived_limits_ask_to_be_re_evaluated_after_a_year():
    old = make_limit(derivation='{"until": "2025-06-01"}')
    known = Known(catalogue=the_catalogue())
    [problem] = problems_of(make_set([old]), known, today=date(2026, 6, 30))
    assert "Derive it anew" in problem.remedy


def test_that_limits_hold_for_fleets_or_single_machines():
    box = Box(
        machine_kind="excavator", model="A", compartment_kind="engine", compartment="0a" * 16,
        fluid_class="engine_oil",
    )  # fmt: skip
    fleet = make_limit()
    own = make_limit(scope=Scope(compartment=box.compartment), bounds=(50, 90, 140))
    other = replace(box, compartment="0b" * 16)
    assert limits_in_force([fleet, own], box) == [own]
    assert limits_in_force([fleet, own], other) == [fleet]


def test_that_neighbouring_limits_lie_further_apart_than_repeatability():
    # Scope of ASTM D7669-20: the distance exceeds the repeatability of the test method.
    close = make_limit(bounds=(60, 62, 150))
    [problem] = problems_of(
        make_set([close]), Known(catalogue=the_catalogue()), today=date(2026, 6, 30)
    )
    assert "two results on one bottle may differ" in problem.told
