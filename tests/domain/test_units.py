"""Units: published factors, the traps of the trade, and what must never convert."""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.saybolt import SayboltError
from fluiddesk.domain.units import (
    UNITS,
    UnitError,
    absorbance_per_cm,
    conversion,
    convert,
    mass_share_mg_kg,
    unit_named,
    volume_share_percent,
)
from tests.domain.reference.reading import row_name, worked_examples

STRAIGHT = [unit for unit in UNITS if unit.curve is None]
PAIRS = [(a.name, b.name) for a in STRAIGHT for b in STRAIGHT if a.kind == b.kind and a is not b]
WITNESS_NAMES = {
    "mg/kg": "mg/kg",
    "mg/g": "mg/g",
    "mg/L": "mg/L",
    "ug/L": "ug/L",
    "g/L": "g/L",
    "mm2/s": "mm**2/s",
    "m2/s": "m**2/s",
    "C": "degC",
    "F": "degF",
    "K": "kelvin",
    "h": "hour",
    "min": "minute",
    "d": "day",
    "km": "km",
    "mile": "mile",
    "L": "L",
    "mL": "mL",
    "US gal": "gallon",
    "kg/L": "kg/L",
    "kg/m3": "kg/m**3",
    "um": "um",
    "mm": "mm",
    "uS/cm": "uS/cm",
    "mS/cm": "mS/cm",
    "1/mL": "1/mL",
    "A/cm": "1/cm",
}
"""Units a general library knows as well; the shares and scales of the trade it cannot tell."""
WITNESSED = [pair for pair in PAIRS if set(pair) <= WITNESS_NAMES.keys()]


@pytest.mark.parametrize("row", worked_examples("units"), ids=row_name)
def test_that_a_value_converts_by_the_published_factor(row):
    found = convert(float(row["value"]), unit_from=row["unit_from"], unit_to=row["unit_to"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", worked_examples("absorbance_paths"), ids=row_name)
def test_that_a_cell_of_another_path_is_brought_to_one_centimetre(row):
    found = absorbance_per_cm(float(row["absorbance"]), path_mm=float(row["path_mm"]))
    assert found == pytest.approx(float(row["expected_per_cm"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", worked_examples("water_shares"), ids=row_name)
def test_that_water_by_volume_needs_both_densities_to_become_water_by_mass(row):
    densities = {
        "part_density_kg_l": float(row["part_kg_l"]),
        "fluid_density_kg_l": float(row["fluid_kg_l"]),
    }
    percent = float(row["vol_percent"])
    share = mass_share_mg_kg(percent, **densities)
    assert share == pytest.approx(float(row["expected_mg_kg"]), abs=float(row["tolerance"]))
    assert volume_share_percent(share, **densities) == pytest.approx(percent)
    column = mass_share_mg_kg(np.array([percent, 0.0]), **densities)
    assert column.tolist() == [share, 0.0]
    assert volume_share_percent(column, **densities).round(9).tolist() == [percent, 0.0]
    with pytest.raises(UnitError, match="share by volume"):
        convert(percent, unit_from="% vol", unit_to="mg/kg")


@pytest.mark.parametrize("bad", [0.0, -0.9, float("nan"), float("inf")])
def test_that_a_density_or_path_that_cannot_be_is_refused(bad):
    for share in (mass_share_mg_kg, volume_share_percent):
        with pytest.raises(UnitError, match="density in kg/L"):
            share(0.1, part_density_kg_l=0.998, fluid_density_kg_l=bad)
    with pytest.raises(UnitError, match="path in mm"):
        absorbance_per_cm(0.1, path_mm=bad)


@pytest.mark.parametrize(
    ("unit_from", "unit_to"),
    [
        ("mg KOH/g", "mg/kg"),
        ("mg/L", "mg/kg"),
        ("% vol", "% mass"),
        ("%", "% mass"),
        ("A/cm per mm", "A/cm"),
        ("index", "code"),
        ("h", "km"),
    ],
)
def test_that_units_of_different_kinds_never_convert(unit_from, unit_to):
    with pytest.raises(UnitError) as refused:
        convert(1.0, unit_from=unit_from, unit_to=unit_to)
    assert unit_from in str(refused.value)
    assert unit_to in str(refused.value)


def test_that_an_unknown_unit_is_refused_with_the_known_ones():
    with pytest.raises(UnitError, match=r"furlong.*mg/kg"):
        convert(1.0, unit_from="furlong", unit_to="km")


def test_that_no_spelling_means_two_units():
    spelled = [(unit.name, {*map(unit_named, (unit.name, *unit.spellings))}) for unit in UNITS]
    assert all(found == {unit_named(name)} for name, found in spelled)
    assert not any(a.name == b.name for a, b in combinations(UNITS, 2))


def test_that_an_array_converts_like_its_values():
    values = np.array([-40.0, 0.0, 98.6])
    converted = convert(values, unit_from="F", unit_to="C")
    assert converted.tolist() == [convert(v, unit_from="F", unit_to="C") for v in values.tolist()]


def test_that_a_single_value_stays_a_plain_number():
    assert type(convert(1.0, unit_from="% mass", unit_to="mg/kg")) is float


@given(value=st.floats(-1e6, 1e6), pair=st.sampled_from(PAIRS))
def test_that_there_and_back_gives_the_value_again(value, pair):
    there = convert(value, unit_from=pair[0], unit_to=pair[1])
    assert convert(there, unit_from=pair[1], unit_to=pair[0]) == pytest.approx(value, 1e-9, 1e-6)


@given(values=st.lists(st.integers(-10_000, 10_000), min_size=2), pair=st.sampled_from(PAIRS))
def test_that_order_survives_conversion_so_that_below_stays_below(values, pair):
    line = conversion(unit_from=pair[0], unit_to=pair[1])
    converted = [line(float(value)) for value in sorted(values)]
    assert converted == sorted(converted)


@given(value=st.integers(-1_000, 1_000), pair=st.sampled_from(PAIRS))
def test_that_a_conversion_is_as_good_as_exact_arithmetic(value, pair):
    source, target = map(unit_named, pair)
    exact = (value * source.factor + source.offset - target.offset) / target.factor
    found = convert(float(value), unit_from=pair[0], unit_to=pair[1])
    assert abs(Fraction(found) - exact) <= Fraction(1, 10**12) * max(abs(exact), 1000)


@pytest.fixture(scope="module")
def witness():
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("pair", WITNESSED, ids=" to ".join)
def test_that_a_general_units_library_converts_alike(pair, witness):
    source, target = (witness.Unit(WITNESS_NAMES[name]) for name in pair)
    for value in (0.0, 1.0, 98.6):
        other = witness.Quantity(value, source).to(target).magnitude
        found = convert(value, unit_from=pair[0], unit_to=pair[1])
        assert found == pytest.approx(other, rel=1e-9, abs=1e-9)


@given(viscosity=st.floats(1.82, 5_000.0), unit=st.sampled_from(["mm2/s", "m2/s"]))
def test_that_saybolt_seconds_follow_their_curve_there_and_back(viscosity, unit):
    value = convert(viscosity, unit_from="mm2/s", unit_to=unit)
    seconds = convert(value, unit_from=unit, unit_to="SUS")
    assert seconds == pytest.approx(convert(viscosity, unit_from="mm2/s", unit_to="SUS"))
    assert convert(seconds, unit_from="SUS", unit_to=unit) == pytest.approx(value, rel=1e-9)
    assert type(seconds) is float


def test_that_saybolt_seconds_stay_what_they_are_in_their_own_unit():
    assert convert(20.0, unit_from="SUS", unit_to="SSU") == 20.0


def test_that_an_array_of_saybolt_seconds_converts_and_keeps_its_order():
    found = convert(np.array([150.5, 214.2, 463.5]), unit_from="SUS", unit_to="mm2/s")
    assert found.round(0).tolist() == [32.0, 46.0, 100.0]


def test_that_saybolt_seconds_below_the_scale_are_refused():
    with pytest.raises(SayboltError, match=r"at least 31\.9"):
        convert(5.0, unit_from="SUS", unit_to="mm2/s")
