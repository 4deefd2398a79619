"""Which percentile makes which band, and drawing to the parent group."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.analytes import Precision
from fluiddesk.domain.limits.derivation import (
    BAND_PERCENTS,
    drawn_to_parent,
    share_of_own,
    spaced_bounds,
)
from fluiddesk.domain.severity import Severity
from tests.makers import make_analyte


def test_that_the_bands_start_at_the_percentiles_of_common_practice():
    # Common practice, no source.
    assert BAND_PERCENTS == {Severity.WATCH: 98.0, Severity.ACT: 99.5, Severity.URGENT: 99.9}


@pytest.mark.parametrize(("n", "share"), [(0, 0), (10, 0.25), (30, 0.5), (270, 0.9)])
def test_that_a_group_counts_by_its_number_against_thirty(n, share):
    # w = n / (n + 30): common practice, no source.
    assert share_of_own(n) == pytest.approx(share)


def test_that_a_group_is_drawn_towards_its_parent_and_stays_where_it_has_none():
    assert drawn_to_parent(60.0, 100.0, samples=90) == pytest.approx(70.0)
    assert drawn_to_parent(60.0, None, samples=1) == 60.0


def precise(code: str = "iron", **changes):
    constant = Precision(form="constant", a=5.0, b=1.0, source="invented for a test")
    return make_analyte(code, repeatability=constant, **changes)


def test_that_bounds_closer_than_repeatability_are_left_out():
    assert spaced_bounds([40.2, 45.9, 60.0], analyte=precise(), falling=False) == (40, None, 60)
    assert spaced_bounds([40.0, 46.0, 50.0], analyte=precise(), falling=False) == (40, 46, None)
    assert spaced_bounds([None, 46.0, 52.0], analyte=precise(), falling=False) == (None, 46, 52)


def test_that_falling_bounds_must_fall():
    assert spaced_bounds([60.0, 50.0, 48.0], analyte=precise(), falling=True) == (60, 50, None)
    assert spaced_bounds([60.0, 66.0, 40.0], analyte=precise(), falling=True) == (60, None, 40)


def test_that_bounds_are_written_as_the_method_prints_them():
    fine = make_analyte(decimals=1)
    # Printed results beyond 1.26 are 1.3 and more: those beyond 1.2.
    assert spaced_bounds([1.26, 1.27, 1.38], analyte=fine, falling=False) == (1.2, None, 1.3)
    assert spaced_bounds([1.38, 1.37, 1.26], analyte=fine, falling=True) == (1.4, None, 1.3)
    assert spaced_bounds([0.3, None, 0.7], analyte=fine, falling=False) == (0.3, None, 0.7)


@given(st.lists(st.none() | st.floats(-1e6, 1e6), min_size=3, max_size=3), st.booleans())
def test_that_what_is_kept_always_lies_in_order_and_apart(bounds, falling):
    kept = [one for one in spaced_bounds(bounds, analyte=precise(), falling=falling)
            if one is not None]  # fmt: skip
    turn = -1 if falling else 1
    assert all(turn * (far - near) > 5 for near, far in pairwise(kept))
