import numpy as np
import pytest

from fluiddesk.domain.analytes import AnalyteFamily, Precision
from tests.makers import make_analyte


@pytest.mark.parametrize(
    ("form", "a", "b", "expected"),
    [
        ("constant", 0.3, 1.0, [0.3, 0.3, 0.3]),
        ("relative", 0.05, 1.0, [0.0, 0.5, 5.0]),
        ("power", 0.13, 0.5, [0.0, 0.411, 1.3]),
    ],
)
def test_that_precision_follows_its_form(form, a, b, expected):
    found = Precision(form=form, a=a, b=b, source="").at(np.array([0.0, 10.0, 100.0]))
    assert found.round(3).tolist() == expected


def test_that_precision_of_a_value_below_zero_is_that_of_its_size():
    precision = Precision(form="relative", a=0.1, b=1.0, source="")
    assert precision.at(np.array([-40.0])).tolist() == [4.0]


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [(12.345, 2, "12.35"), (12.0, 0, "12"), (0.05, 1, "0.1"), (-0.3, 0, "0"), (-36.6, 0, "-37")],
)
def test_that_a_value_is_shown_with_the_places_of_its_method(value, decimals, text):
    assert make_analyte(decimals=decimals).text(value) == text


def test_that_only_absent_or_present_makes_a_presence_test():
    assert make_analyte(unit="absent/present").is_presence_test
    assert not make_analyte().is_presence_test


def test_that_families_are_headings():
    assert AnalyteFamily.FLUID_CONDITION.word == "Fluid condition"


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Kinematic viscosity at 100 °C", "kinematic viscosity at 100 °C"),
        ("Water, Karl Fischer", "water, Karl Fischer"),
        ("pH", "pH"),
    ],
)
def test_that_a_name_within_a_sentence_keeps_its_signs(name, expected):
    assert make_analyte(name=name).name_in_text == expected
