"""Units: published factors, the traps of the trade, and what must never convert."""

from fractions import Fraction
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.units import (
    UNITS,
    UnitError,
    absorbance_per_cm,
    conversion,
    convert,
    mass_share_mg_kg,
    unit_named,
)

PAIRS = [(a.name, b.name) for a in UNITS for b in UNITS if a.kind == b.kind and a is not b]


# Absorbance: 0.1 mm = 0.01 cm, by the Beer-Lambert law. Water shares: 1 % by mass = 10 000 mg/kg.
# Gallon and mile: NIST Special Publication 811, appendix B. Temperature: SI Brochure.
@pytest.mark.parametrize(
    ("value", "unit_from", "unit_to", "expected"),
    [
        (0.25, "A/0.1 mm", "A/cm", 25.0),
        (12.4, "A/cm", "A/0.1 mm", 0.124),
        (0.05, "% mass", "mg/kg", 500.0),
        (2.0, "% mass", "mg/kg", 20_000.0),
        (3.7, "100 A/0.1 mm", "A/cm", 3.7),
        (300_000.0, "1/100mL", "1/mL", 3_000.0),
        (46.0, "cSt", "mm2/s", 46.0),
        (212.0, "F", "C", 100.0),
        (-40.0, "C", "F", -40.0),
        (273.15, "K", "C", 0.0),
        (1.0, "mile", "km", 1.609344),
        (1.0, "US gal", "L", 3.785411784),
        (1.5, "mS/cm", "uS/cm", 1500.0),
        (870.0, "kg/m3", "kg/L", 0.870),
        (12.0, "ppm", "mg/kg", 12.0),
    ],
)
def test_that_a_value_converts_by_the_published_factor(value, unit_from, unit_to, expected):
    assert convert(value, unit_from=unit_from, unit_to=unit_to) == pytest.approx(expected, 1e-12)


def test_that_a_thicker_cell_is_brought_to_one_centimetre():
    # 0.150 over 0.12 mm is 12.5 A/cm, by the Beer-Lambert law.
    assert absorbance_per_cm(0.150, path_mm=0.12) == pytest.approx(12.5, 1e-12)


def test_that_water_by_volume_needs_both_densities_to_become_water_by_mass():
    # 0.10 % by volume of water (0.998 kg/L) in oil of 0.870 kg/L: 1147 mg/kg by the density ratio.
    share = mass_share_mg_kg(0.10, part_density_kg_l=0.998, fluid_density_kg_l=0.870)
    assert share == pytest.approx(1147.13, abs=0.01)
    with pytest.raises(UnitError, match="share by volume"):
        convert(0.10, unit_from="% vol", unit_to="mg/kg")


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
