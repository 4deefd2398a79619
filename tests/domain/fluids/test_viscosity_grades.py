"""Grades: published examples, ends of the bands, and what cannot be graded."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.fluids.viscosity import (
    iso_grade,
    sae_engine_grades,
    sae_engine_limits,
    sae_gear_grade,
)
from fluiddesk.domain.fluids.viscosity_grades import GradeError
from tests.domain.reference.reading import row_name, worked_examples

GRADING = {
    "iso_grade": iso_grade,
    "sae_engine_grades": sae_engine_grades,
    "sae_gear_grade": sae_gear_grade,
}
VISCOSITIES = st.floats(0.01, 5_000.0)


def text(grade):
    if isinstance(grade, tuple):
        return "/".join(grade) or "none"
    return "none" if grade is None else str(grade)


@pytest.mark.parametrize("row", worked_examples("viscosity_grades"), ids=row_name)
def test_that_a_viscosity_gets_the_published_grade(row):
    assert text(GRADING[row["method"]](float(row["value"]))) == row["expected"]


# ISO 3448: each grade reaches 10 % of its midpoint to both sides, ends included.
@pytest.mark.parametrize(
    ("grade", "midpoint"),
    [
        *[(2, 2.2), (3, 3.2), (5, 4.6), (7, 6.8), (10, 10), (15, 15), (22, 22), (32, 32), (46, 46)],
        *[(68, 68), (100, 100), (150, 150), (220, 220), (320, 320), (460, 460), (680, 680)],
        *[(1000, 1000), (1500, 1500), (2200, 2200), (3200, 3200)],
    ],
)
def test_that_an_iso_grade_reaches_ten_percent_around_its_midpoint(grade, midpoint):
    low, high = round(midpoint * 0.9, 3), round(midpoint * 1.1, 3)
    assert iso_grade(low) == iso_grade(float(midpoint)) == iso_grade(high) == grade
    assert iso_grade(low * 0.9999) is None
    assert iso_grade(high * 1.0001) is None


def test_that_engine_grades_from_30_up_meet_without_overlap():
    for end, below, above in ((9.3, "20", "30"), (12.5, "30", "40"), (16.3, "40", "50")):
        assert sae_engine_grades(end - 0.01) == (below,)
        assert sae_engine_grades(end) == (above,)
    assert sae_engine_grades(3.99) == sae_engine_grades(26.1) == ()


def test_that_gear_grades_follow_each_other_without_a_gap():
    # SAE J306, February 2019.
    ends = [3.8, 5.0, 6.5, 8.5, 11.0, 13.5, 18.5, 24.0, 32.5, 41.0]
    grades = ["65", "70", "75", "80", "85", "90", "110", "140", "190", "250"]
    assert sae_gear_grade(np.array(ends)).tolist() == grades
    assert sae_gear_grade(np.array(ends) - 0.01).tolist() == [None, *grades[:-1]]


# SAE J300: the lowest viscosity of the cold grade and the band of the hot one both hold.
@pytest.mark.parametrize(
    ("grade", "limits"),
    [
        ("15W-40", (12.5, 16.3)),
        ("SAE 30", (9.3, 12.5)),
        ("10w", (4.1, float("inf"))),
        ("20W-20", (6.9, 9.3)),
        ("25W-20", (9.3, 9.3)),
    ],
)
def test_that_a_grade_asks_for_its_viscosity(grade, limits):
    assert sae_engine_limits(grade) == limits


def test_that_used_oil_can_be_below_its_own_grade():
    # A 15W-40 at 12.1 mm2/s: needs 12.5.
    assert sae_engine_limits("15W-40").at_least > 12.1
    assert sae_engine_grades(12.1) == ("30",)


@pytest.mark.parametrize("grade", ["", "35", "15W-35", "12W-40", "W-40", "oil"])
def test_that_a_grade_that_does_not_exist_is_refused(grade):
    with pytest.raises(GradeError, match="is no grade of SAE J300"):
        sae_engine_limits(grade)


@given(values=st.lists(VISCOSITIES, min_size=1))
def test_that_a_column_is_graded_like_its_values(values):
    column = np.array(values)
    singles = [iso_grade(value) for value in values]
    assert [None if np.isnan(grade) else grade for grade in iso_grade(column)] == singles
    assert sae_engine_grades(column).tolist() == [sae_engine_grades(value) for value in values]
    assert sae_gear_grade(column).tolist() == [sae_gear_grade(value) for value in values]


@given(value=VISCOSITIES)
def test_that_every_grade_named_holds_by_its_own_limits(value):
    named = sae_engine_grades(value)
    fitting = [
        grade
        for grade in ("8", "12", "16", "20", "30", "40", "50", "60")
        if sae_engine_limits(grade).at_least <= value < sae_engine_limits(grade).below
    ]
    assert list(named) == fitting


@pytest.mark.parametrize("bad", [0.0, -46.0, float("nan"), float("inf")])
@pytest.mark.parametrize("grading", GRADING.values())
def test_that_a_viscosity_that_cannot_be_has_no_grade(grading, bad):
    with pytest.raises(GradeError, match="must be a finite number above 0"):
        grading(bad)
