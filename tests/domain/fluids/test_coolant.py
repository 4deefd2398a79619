"""Coolant: published freeze points, an independent library, and what gets a caution instead."""

from itertools import pairwise

import CoolProp
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.fluids.coolant import (
    Basis,
    CoolantError,
    Glycol,
    concentration_cautions,
    fraction_from_pints,
    freeze_point,
    glycol_fraction,
    handbook_freeze_point,
    pints_for_ambient,
    pints_per_us_gallon,
    refractometer_fraction,
)
from tests.domain.reference.reading import row_name, worked_examples

FLUIDS = {
    (Glycol.ETHYLENE, Basis.MASS): "MEG",
    (Glycol.PROPYLENE, Basis.MASS): "MPG",
    (Glycol.ETHYLENE, Basis.VOLUME): "AEG",
    (Glycol.PROPYLENE, Basis.VOLUME): "APG",
}
CURVES = st.sampled_from([dict(glycol=g, basis=b) for g, b in FLUIDS])  # noqa: C408
FRACTIONS = st.floats(0.0, 0.6)


@pytest.mark.parametrize("row", worked_examples("freeze_point"), ids=row_name)
def test_that_a_freeze_point_is_the_published_one(row):
    found = freeze_point(float(row["fraction"]), glycol=row["glycol"], basis=row["basis"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", worked_examples("freeze_point_handbook"), ids=row_name)
def test_that_the_handbook_is_read_as_printed_and_lies_a_little_above_the_curve(row):
    fraction, printed = float(row["fraction"]), float(row["expected"])
    assert handbook_freeze_point(fraction) == pytest.approx(printed, abs=float(row["tolerance"]))
    curve = freeze_point(fraction, glycol=row["glycol"], basis=row["basis"])
    assert 0.0 < printed - curve <= 1.4


@pytest.mark.parametrize("bad", [0.04, 0.51, float("nan")])
def test_that_the_handbook_says_nothing_outside_its_table(bad):
    with pytest.raises(CoolantError, match="by the handbook's table"):
        handbook_freeze_point(bad)


@pytest.mark.parametrize("row", worked_examples("glycol_fraction"), ids=row_name)
def test_that_a_fraction_is_read_from_a_freeze_point(row):
    found = glycol_fraction(float(row["freeze_point_c"]), glycol=row["glycol"], basis=row["basis"])
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", worked_examples("coolant_pints"), ids=row_name)
def test_that_pints_per_gallon_are_the_published_ones(row):
    pints, fraction = float(row["pints"]), float(row["expected_fraction"])
    assert fraction_from_pints(pints) == pytest.approx(fraction, abs=float(row["tolerance"]))
    assert pints_per_us_gallon(pints / 8) == pytest.approx(pints)
    if row["ambient_f"]:
        ambient_f = float(row["ambient_f"])
        assert pints_for_ambient(ambient_f) == pints
        # What the manual prescribes must not freeze at the ambient it is prescribed for.
        point = freeze_point(pints / 8, glycol="ethylene", basis="volume")
        assert point <= (ambient_f - 32) / 1.8 + 0.2


@given(curve=CURVES, fraction=st.floats(0.1, 0.6))
def test_that_another_library_finds_the_same_freeze_point(curve, fraction):
    fluid = FLUIDS[curve["glycol"], curve["basis"]]
    kelvins = CoolProp.CoolProp.PropsSI(
        "T_freeze", "T", 300.0, "P", 101325.0, f"INCOMP::{fluid}[{fraction}]"
    )
    assert freeze_point(fraction, **curve) == pytest.approx(kelvins - 273.15, abs=0.02)


@given(curve=CURVES, fraction=FRACTIONS)
def test_that_there_and_back_gives_the_fraction_again(curve, fraction):
    back = glycol_fraction(freeze_point(fraction, **curve), **curve)
    assert back == pytest.approx(fraction, abs=1e-9)


@given(curve=CURVES, fractions=st.lists(FRACTIONS, min_size=2, unique=True))
def test_that_more_glycol_up_to_60_percent_never_raises_the_freeze_point(curve, fractions):
    points = freeze_point(np.array(sorted(fractions)), **curve)
    assert all(later <= earlier for earlier, later in pairwise(points))
    assert points.tolist() == [freeze_point(one, **curve) for one in sorted(fractions)]


def test_that_water_freezes_at_zero():
    for glycol, basis in FLUIDS:
        assert str(freeze_point(0.0, glycol=glycol, basis=basis)) == "0.0"
        assert glycol_fraction(0.0, glycol=glycol, basis=basis) == 0.0


def test_that_mass_and_volume_are_never_the_same_curve():
    # Ethylene glycol at 50 %: about 1.1 °C apart.
    by_mass, by_volume = (freeze_point(0.5, glycol="ethylene", basis=b) for b in Basis)
    assert by_mass - by_volume == pytest.approx(1.1, abs=0.05)


@pytest.mark.parametrize("choice", [("methanol", "mass"), ("ethylene", "weight")])
def test_that_another_glycol_or_basis_is_refused(choice):
    with pytest.raises(CoolantError, match="ethylene or propylene, by mass or volume"):
        freeze_point(0.5, glycol=choice[0], basis=choice[1])


def test_that_above_60_percent_there_is_a_caution_and_no_number():
    with pytest.raises(CoolantError, match=r"place 2: 0\.65 .*the freeze point rises again"):
        freeze_point(np.array([0.5, 0.65]), glycol="ethylene", basis="volume")
    with pytest.raises(CoolantError, match="protection gets worse"):
        glycol_fraction(-60.0, glycol="ethylene", basis="volume")
    with pytest.raises(CoolantError, match="protection gets worse"):
        pints_per_us_gallon(0.7)


@pytest.mark.parametrize("bad", [-0.1, 1.1, 50.0, float("nan"), float("inf")])
def test_that_a_fraction_that_cannot_be_is_refused(bad):
    for call in (
        lambda: freeze_point(bad, glycol="ethylene", basis="mass"),
        lambda: pints_per_us_gallon(bad),
        lambda: concentration_cautions(bad),
    ):
        with pytest.raises(CoolantError, match="at least 0 and at most 1"):
            call()


@pytest.mark.parametrize("bad", [0.1, float("nan"), -float("inf")])
def test_that_a_freeze_point_that_cannot_be_is_refused(bad):
    with pytest.raises(CoolantError, match="freeze point in °C"):
        glycol_fraction(bad, glycol="propylene", basis="volume")


def test_that_a_refractometer_leaves_one_fahrenheit_degree_open():
    # TM 5-3805-254-14&P-2: within about 1 °F.
    low, likely, high = refractometer_fraction(-20.0, glycol="ethylene", basis="mass")
    assert low < likely < high
    for end, degrees in ((low, -20.0 + 5 / 9), (high, -20.0 - 5 / 9)):
        assert freeze_point(end, glycol="ethylene", basis="mass") == pytest.approx(degrees)


def test_that_pints_outside_a_gallon_and_ambients_below_the_table_are_refused():
    for pints in (-1.0, 8.5, float("nan")):
        with pytest.raises(CoolantError, match="pints in a US gallon"):
            fraction_from_pints(pints)
    assert fraction_from_pints(np.array([0.0, 8.0])).tolist() == [0.0, 1.0]
    with pytest.raises(CoolantError, match="-41 °F is below the table"):
        pints_for_ambient(-41.0)
    with pytest.raises(CoolantError, match="ambient"):
        pints_for_ambient(float("nan"))


# Army manuals (30, 67 and 60 %) and the scope of ASTM D6210 (40 to 60 %).
@pytest.mark.parametrize(
    ("fraction", "cautions"),
    [(0.29, 2), (0.30, 1), (0.39, 1), (0.40, 0), (0.60, 0), (0.61, 1), (0.67, 1), (0.68, 2)],
)
def test_that_a_fraction_outside_its_use_range_brings_its_cautions(fraction, cautions):
    assert len(concentration_cautions(fraction)) == cautions
