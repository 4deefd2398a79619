"""Slipped points, exchanged digits, shifted columns, repeated reports."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.analytes import AnalyteFamily
from fluiddesk.domain.trust.expectation import Expectation, traits
from fluiddesk.domain.trust.typing_slips import (
    column_shift,
    decimal_slips,
    repeats,
    transposed_digits,
    unlikely_bounds,
    unusual,
)
from tests.makers import make_analyte


def expecting(*levels: float, spread: float = 0.15, unit: str = "mg/kg") -> Expectation:
    """A box that is expected to read these levels."""
    known = traits(
        [
            make_analyte(
                f"metal{at}",
                number=at,
                unit=unit,
                family=AnalyteFamily.ADDITIVE,
                detection_limit=1.0,
            )
            for at in range(1, len(levels) + 1)
        ]
    )
    centre = known.worked(np.array([levels], dtype=np.float64))
    return Expectation(
        traits=known,
        centre=centre,
        spread=np.full(centre.shape, spread),
        reports=np.full(centre.shape, 8),
    )


def row(*values: float):
    return np.array([values], dtype=np.float64)


@pytest.mark.parametrize("factor", [10.0, 0.1, 100.0, 0.01])
def test_that_a_moved_point_is_found_and_put_back(factor):
    found = decimal_slips(row(480.0 * factor), expecting(480.0))
    assert found.is_slip.tolist() == [[True]]
    assert found.proposed[0, 0] == pytest.approx(480.0)


@given(st.floats(-1.5, 1.5))
def test_that_a_value_within_its_band_is_no_slip(spreads):
    expected = expecting(480.0)
    value = expected.at(spreads)
    assert not decimal_slips(value, expected).is_slip.any()
    assert not unusual(value, expected).any()


def test_that_a_value_unlike_anything_is_unusual_but_no_slip():
    found = decimal_slips(row(1_600.0), expecting(480.0))
    assert not found.is_slip.any()
    assert np.isnan(found.proposed).all()
    assert unusual(row(1_600.0), expecting(480.0)).all()


def test_that_nothing_is_said_where_nothing_is_expected_or_typed():
    blank = expecting(np.nan)
    assert not unusual(row(5.0), blank).any()
    assert not decimal_slips(row(5.0), blank).is_slip.any()
    assert not decimal_slips(row(0.0), expecting(480.0)).is_slip.any()
    assert not decimal_slips(row(np.nan), expecting(480.0)).is_slip.any()


def test_that_a_bound_that_excludes_what_is_expected_is_unlikely():
    """The open water-laboratory data hold a sodium of <2.0 where 167 mg/L are usual."""
    expected = expecting(167.0, 167.0, 167.0, 167.0, 167.0)
    bounds = row(2.0, 500.0, 600.0, 20.0, np.nan)
    is_below = np.array([[True, True, False, False, True]])
    found = unlikely_bounds(bounds, is_below, expected)
    assert found.tolist() == [[True, False, True, False, False]]


@pytest.mark.parametrize(
    ("typed", "decimals", "meant"), [(63.0, 0, 36.0), (4180.0, 0, 1480.0), (1.42, 2, 4.12)]
)
def test_that_two_exchanged_digits_are_found(typed, decimals, meant):
    found = transposed_digits(row(typed), np.array([[decimals]]), row(typed), expecting(meant))
    assert found.is_slip.tolist() == [[True]]
    assert found.proposed[0, 0] == pytest.approx(meant)


def test_that_equal_digits_and_single_ones_have_nothing_to_exchange():
    for value in (55.0, 7.0, np.nan):
        found = transposed_digits(row(value), np.array([[0]]), row(value), expecting(700.0))
        assert not found.is_slip.any()


def test_that_exchanged_digits_are_found_in_the_unit_of_the_form():
    """Typed 0.0063 % for 0.0036 %; canonical 63 and 36 mg/kg."""
    found = transposed_digits(row(0.0063), np.array([[4]]), row(63.0), expecting(36.0))
    assert found.proposed[0, 0] == pytest.approx(36.0)


# --- shifted columns -----------------------------------------------------------------------------


def fits(typed, expected: Expectation):
    """The likelihood of each typed value under each column's expectation."""
    values = np.array(typed, dtype=np.float64)
    return np.stack([expected.log_likelihood(np.full((1, len(values)), one))[0] for one in values])


LEVELS = (5.0, 2_400.0, 600.0, 1_100.0, 50.0, 14.0)


def test_that_a_row_one_field_too_far_is_found():
    expected = expecting(*LEVELS)
    shifted = [5.0, 5.0, 2_400.0, 600.0, 1_100.0, 50.0]
    found = column_shift(fits(shifted, expected))
    assert found is not None
    assert (found.by, found.first, found.beyond) == (-1, 1, 6)


def test_that_a_row_one_field_too_early_is_found():
    expected = expecting(*LEVELS)
    skipped = [5.0, 600.0, 1_100.0, 50.0, 14.0, np.nan]
    found = column_shift(fits(skipped, expected))
    assert found is not None
    assert (found.first, found.by) == (1, 1)


def test_that_a_sound_row_and_a_single_wrong_value_are_not_shifted():
    expected = expecting(*LEVELS)
    assert column_shift(fits(LEVELS, expected)) is None
    one_wrong = [5.0, 600.0, 600.0, 1_100.0, 50.0, 14.0]
    assert column_shift(fits(one_wrong, expected)) is None


# --- repeats -------------------------------------------------------------------------------------


def test_that_a_report_typed_again_is_noticed_and_a_similar_one_is_not():
    before = np.array([12.0, 34.0, 560.0, 78.0, 90.0, 112.0, 3.0])
    assert repeats(before.copy(), before)
    other = before + np.array([1.0, 0.0, -5.0, 2.0, 0.0, 1.0, 0.0])
    assert not repeats(other, before)


def test_that_few_and_small_values_say_nothing_of_a_repeat():
    before = np.array([1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0])
    assert not repeats(before.copy(), before)
    assert not repeats(np.full(7, np.nan), before)
