"""Values of one report that cannot stand beside each other."""

import numpy as np
import pytest

from fluiddesk.domain.trust.pair_rules import (
    fuel_without_flash,
    fuel_without_thinning,
    more_than_the_machine,
    odd_viscosity_index,
    odd_zinc_to_phosphorus,
    out_of_order,
    rises_with_size,
    thicker_when_hot,
    water_against_crackle,
)


def col(*values):
    return np.array(values, dtype=np.float64)


def test_that_counts_never_rise_with_size():
    """ISO 4406: the counts are cumulative."""
    found = rises_with_size(
        col(100, 20, 100, np.nan, 21), col(50, 19, np.nan, 30, 21), col(60, 15, 20, 10, 21)
    )
    assert found.tolist() == [True, False, False, False, False]
    assert rises_with_size(col(10), col(np.nan), col(12)).tolist() == [True]


def test_that_no_oil_is_as_thick_hot_as_cold():
    assert thicker_when_hot(col(110, 14, np.nan), col(14.5, 108, 14)).tolist() == [
        False,
        True,
        False,
    ]


def test_that_indices_outside_80_to_220_are_odd():
    assert odd_viscosity_index(col(79, 80, 220, 221, np.nan)).tolist() == [
        True,
        False,
        False,
        True,
        False,
    ]


def test_that_zinc_and_phosphorus_of_one_additive_go_together():
    """Zinc dialkyl dithiophosphate: one zinc (65.4) to two phosphorus (2 x 31.0): 1.06 by mass."""
    zinc, phosphorus = 65.4, 2 * 30.97
    sound = 1_000.0 * zinc / phosphorus
    found = odd_zinc_to_phosphorus(
        col(sound, 1_200, 100, 1_200, np.nan), col(1_000, 300, 1_000, 30, 1_000)
    )
    assert found.tolist() == [False, True, False, False, False]


def test_that_water_and_crackle_agree():
    water, crackle = col(5_000, 50, 5_000, 50, 1_000, np.nan), col(0, 1, 1, 0, 0, 1)
    assert water_against_crackle(water, crackle).tolist() == [
        True,
        True,
        False,
        False,
        False,
        False,
    ]


def test_that_much_fuel_thins_the_oil():
    """4 % fuel of 1.15 mm2/s in 14.5 mm2/s gives about 12.4 (blending after ASTM D7152)."""
    fuel, new = col(4, 4, 1, np.nan), col(14.5, 14.5, 14.5, 14.5)
    assert fuel_without_thinning(fuel, col(12.38, 14.4, 14.4, 14.4), new).tolist() == [
        False,
        True,
        False,
        False,
    ]


def test_that_much_fuel_lowers_the_flash_point():
    assert fuel_without_flash(col(5, 5, 1), col(230, 150, 230)).tolist() == [True, False, False]


def test_that_a_fluid_is_no_older_than_its_machine():
    assert more_than_the_machine(col(100, 9_000, np.nan), col(5_000, 5_000, 5_000)).tolist() == [
        False,
        True,
        False,
    ]


@pytest.mark.parametrize(
    ("days", "broken"),
    [
        ([1, 2, 2, 9], False),
        ([1, 3, 2, 9], True),
        ([5, np.nan, np.nan, 4], True),
        ([np.nan] * 4, False),
    ],
)
def test_that_days_do_not_fall(days, broken):
    assert out_of_order(np.array([days], dtype=np.float64)).tolist() == [broken]
