"""Scale slips: a value in another unit than its column is asked about, a sound one never is."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.trust.scale_slip import (
    NO_SLIP,
    NOT_COMPARED,
    ScaleSlipError,
    is_usual_index,
    scale_slip,
    temperatures_exchanged,
)
from fluiddesk.domain.units import UnitError

NAN = float("nan")


# The factors are those of the units: 10 000 mg/kg in 1 %, 100 A/cm in 1 A per 0.1 mm, 100 mL in
# 100 mL, Saybolt seconds by ASTM D2161, 1.8 and 32 of °F, 16 km or 10 miles an hour (TB 43-0211).
@pytest.mark.parametrize(
    ("given", "unit", "expected", "spread", "written_in", "meant"),
    [
        (0.05, "mg/kg", 480.0, 60.0, "% mass", 500.0),
        (500.0, "% mass", 0.048, 0.006, "mg/kg", 0.05),
        (21_000.0, "%", 2.0, 0.3, "mg/kg", 2.1),
        (0.124, "A/cm", 12.0, 1.0, "A/0.1 mm", 12.4),
        (12.4, "A/0.1 mm", 0.12, 0.01, "A/cm", 0.124),
        (300_000.0, "1/mL", 2_900.0, 400.0, "1/100mL", 3_000.0),
        (3_000.0, "1/100mL", 290_000.0, 40_000.0, "1/mL", 300_000.0),
        (214.2, "mm2/s", 46.0, 1.0, "SUS", 46.0),
        (46.0, "SUS", 214.0, 5.0, "mm2/s", 214.2),
        (194.0, "C", 88.0, 6.0, "F", 90.0),
        (90.0, "F", 190.0, 10.0, "C", 194.0),
        (160_000.0, "h", 10_050.0, 60.0, "km", 10_000.0),
        (100_500.0, "h", 10_100.0, 60.0, "mile", 10_108.7),
        (10_000.0, "km", 160_500.0, 900.0, "h", 160_000.0),
        (100_000.0, "km", 160_500.0, 900.0, "mile", 160_934.4),
        (160_934.4, "mile", 100_300.0, 500.0, "km", 100_000.0),
        (10_000.0, "mile", 99_300.0, 500.0, "h", 99_419.4),
    ],
)
def test_that_a_value_in_another_unit_is_named_with_what_it_would_be(
    given, unit, expected, spread, written_in, meant
):
    slip = scale_slip(given, unit=unit, expected=expected, spread=spread)
    assert slip is not None
    assert slip.written_in == written_in
    assert slip.value == pytest.approx(meant, rel=1e-4)
    assert f"as {written_in}" in slip.text
    # What was meant, written as it should be, is no slip.
    assert scale_slip(slip.value, unit=unit, expected=expected, spread=spread) is None


def test_that_a_factor_of_ten_thousand_shows_even_within_a_wide_spread():
    slip = scale_slip(0.01, unit="mg/kg", expected=100.0, spread=60.0)
    assert slip is not None
    assert slip.value == pytest.approx(100.0)


def test_that_a_machines_own_speed_is_used_where_known():
    given = {"unit": "h", "expected": 10_000.0, "spread": 100.0}
    assert scale_slip(80_000.0, **given) is None
    slip = scale_slip(80_000.0, **given, km_per_hour=8.0)
    assert slip is not None
    assert (slip.written_in, slip.value) == ("km", 10_000.0)


@pytest.mark.parametrize(
    ("given", "unit"), [(900.0, "mg/kg"), (3.0, "mg/kg"), (0.0, "mg/kg"), (1.0, "mm2/s")]
)
def test_that_a_value_that_fits_in_no_unit_is_no_scale_slip(given, unit):
    assert scale_slip(given, unit=unit, expected=480.0, spread=60.0) is None


def test_that_a_unit_nothing_is_mixed_up_with_has_no_slips():
    assert scale_slip(99.0, unit="pH", expected=8.0, spread=0.5) is None
    column = scale_slip(np.array([99.0, 8.0]), unit="pH", expected=8.0, spread=0.5)
    assert column.units == ()
    assert column.reading.tolist() == [NO_SLIP, NO_SLIP]


@given(
    level=st.floats(20.0, 2_000.0),
    scatter=st.floats(-3.4, 3.4),
    unit=st.sampled_from(["mg/kg", "1/mL", "A/cm", "mm2/s"]),
)
def test_that_a_value_within_its_expectation_is_never_asked_about(level, scatter, unit):
    spread = 0.1 * level
    assert scale_slip(level + scatter * spread, unit=unit, expected=level, spread=spread) is None


@given(level=st.floats(20.0, 2_000.0), scatter=st.floats(-2.9, 2.9))
def test_that_a_percent_written_for_mg_per_kg_is_always_found(level, scatter):
    spread = 0.1 * level
    written = (level + scatter * spread) / 10_000
    slip = scale_slip(written, unit="mg/kg", expected=level, spread=spread)
    assert slip is not None
    assert slip.written_in == "% mass"


def test_that_a_column_says_for_each_value_which_reading_fits():
    slips = scale_slip(
        np.array([10_020.0, 160_000.0, 100_500.0, NAN, 7.0]),
        unit="h",
        expected=np.array([10_000.0, 10_050.0, 10_100.0, 10_000.0, NAN]),
        spread=60.0,
    )
    assert slips.units == ("km", "mile")
    assert slips.reading.tolist() == [NO_SLIP, 0, 1, NOT_COMPARED, NOT_COMPARED]
    assert slips.value[1] == pytest.approx(10_000.0)
    assert np.isnan(slips.value[[0, 3, 4]]).all()


@pytest.mark.parametrize("bad", [NAN, float("inf")])
def test_that_a_single_value_needs_something_to_compare_with(bad):
    sound = {"given": 5.0, "expected": 5.0, "spread": 1.0}
    for name, word in (("given", "value"), ("expected", "expected value"), ("spread", "spread")):
        numbers = sound | {name: bad}
        with pytest.raises(ScaleSlipError, match=f"^{word}: {bad:g} must be a finite number"):
            scale_slip(
                numbers["given"],
                unit="mg/kg",
                expected=numbers["expected"],
                spread=numbers["spread"],
            )


def test_that_an_expectation_without_a_spread_is_refused():
    with pytest.raises(ScaleSlipError, match="place 2: 0 must be above 0"):
        scale_slip(np.ones(2), unit="mg/kg", expected=1.0, spread=np.array([1.0, 0.0]))
    with pytest.raises(ScaleSlipError, match="km per hour"):
        scale_slip(1.0, unit="h", expected=1.0, spread=1.0, km_per_hour=0.0)
    with pytest.raises(UnitError, match="furlong"):
        scale_slip(1.0, unit="furlong", expected=1.0, spread=1.0)


def exchanged(given_40c, given_100c):
    return temperatures_exchanged(
        given_40c,
        given_100c,
        expected_40c=110.0,
        expected_100c=14.5,
        spread_40c=5.0,
        spread_100c=0.5,
    )


@pytest.mark.parametrize(
    ("given_40c", "given_100c", "is_exchanged"),
    [
        (110.0, 14.5, False),
        (14.5, 110.0, True),
        (14.5, NAN, True),
        (NAN, 110.0, True),
        (110.0, NAN, False),
        (NAN, 14.5, False),
        (NAN, NAN, False),
        (14.5, 14.4, False),
        (60.0, 70.0, True),
        (60.0, 9.0, False),
    ],
)
def test_that_viscosities_in_each_others_column_are_found(given_40c, given_100c, is_exchanged):
    assert exchanged(given_40c, given_100c) is is_exchanged
    column = exchanged(np.array([given_40c, 110.0]), np.array([given_100c, 14.5]))
    assert column.tolist() == [is_exchanged, False]


def test_that_exchange_needs_spreads_above_zero():
    with pytest.raises(ScaleSlipError, match="spread of the expectation"):
        temperatures_exchanged(
            110.0,
            14.5,
            expected_40c=110.0,
            expected_100c=14.5,
            spread_40c=0.0,
            spread_100c=0.5,
        )


# Common practice, no source: oils of mobile machines lie between 80 and 220.
@pytest.mark.parametrize(
    ("kv40", "kv100", "is_usual"),
    [(46.0, 6.8, True), (110.0, 14.5, True), (120.0, 9.0, False), (14.5, 11.0, False)],
)
def test_that_a_pair_with_an_unusual_index_is_asked_about(kv40, kv100, is_usual):
    assert is_usual_index(kv40, kv100) is is_usual
