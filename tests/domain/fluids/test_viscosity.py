"""Viscosity: the standards' own examples, independent libraries, and what cannot be."""

import numpy as np
import pytest
from chemicals import viscosity as witness
from hypothesis import assume, given
from hypothesis import strategies as st

from fluiddesk.domain.fluids import viscosity_index_table as table
from fluiddesk.domain.fluids.viscosity import (
    ViscosityError,
    blend,
    fuel_fraction_from_viscosity,
    saybolt_seconds,
    viscosity_at,
    viscosity_from_saybolt,
    viscosity_index,
    walther,
)
from fluiddesk.domain.saybolt import SayboltError
from tests.domain.reference.reading import row_name, worked_examples

NAN = float("nan")
HOT = st.floats(2.0, 200.0)
OIL = st.floats(2.0, 2_000.0)
SHARES = st.floats(0.0, 1.0)


@pytest.mark.parametrize("row", worked_examples("viscosity_index"), ids=row_name)
def test_that_the_viscosity_index_is_the_published_one(row):
    kv40, kv100 = float(row["kv40"]), float(row["kv100"])
    if row["expected"] == "undefined":
        with pytest.raises(ViscosityError, match=r"1\.99 is below 2.* not defined"):
            viscosity_index(kv40, kv100)
        return
    assert viscosity_index(kv40, kv100) == int(row["expected"])
    unrounded = viscosity_index(kv40, kv100, is_rounded=False)
    assert unrounded == pytest.approx(float(row["expected_unrounded"]), abs=float(row["tolerance"]))


def test_that_the_table_is_the_one_of_the_standard():
    # ASTM D2270 Table 1, as an independent library carries it.
    assert table.AT_100C.tolist() == list(witness.VI_nus)
    assert table.L_AT_40C.tolist() == list(witness.VI_Ls)
    assert table.H_AT_40C.tolist() == list(witness.VI_Hs)


def test_that_the_table_agrees_with_the_quadratics_of_the_standard():
    # ASTM D2270 appendix X2, first two bands (seen in public code); the table is rounded.
    hot = table.AT_100C
    for low, high, (a, b, c, d, e, f) in (
        (2.0, 3.8, (1.14673, 1.7576, -0.109, 0.84155, 1.5521, -0.077)),
        (3.8, 4.4, (3.38095, -15.4952, 33.196, 0.78571, 1.7929, -0.183)),
    ):
        band = (hot >= low) & (hot <= high)
        y = hot[band]
        assert table.L_AT_40C[band] == pytest.approx(a * y**2 + b * y + c, rel=1.2e-3)
        assert table.H_AT_40C[band] == pytest.approx(d * y**2 + e * y + f, rel=1.2e-3)


@given(hot=HOT, ratio=st.floats(1.1, 60.0))
def test_that_another_library_finds_the_same_index(hot, ratio):
    assume(hot != 70.0)  # where the library leaves the table one step early
    found = viscosity_index(hot * ratio, hot, is_rounded=False)
    assert found == pytest.approx(
        witness.viscosity_index(hot * ratio / 1e6, hot / 1e6), rel=1e-9, abs=1e-7
    )


@given(hot=HOT, ratio=st.floats(1.1, 60.0), more=st.floats(1.0, 2.0))
def test_that_an_oil_thicker_in_the_cold_never_has_the_higher_index(hot, ratio, more):
    thinner, thicker = (
        viscosity_index(hot * r, hot, is_rounded=False) for r in (ratio, ratio * more)
    )
    assert thicker <= thinner + 1e-9 * abs(thinner)


def test_that_a_column_of_indices_is_that_of_its_values():
    cold, hot = np.array([73.30, 22.83, 1000.0]), np.array([8.86, 5.05, 80.0])
    assert viscosity_index(cold, hot).tolist() == [92.0, 156.0, 158.0]


def test_that_an_oil_thicker_when_hot_is_refused():
    with pytest.raises(ViscosityError, match=r"place 2: 9 is not below.*swapped columns"):
        viscosity_index(np.array([73.3, 9.0]), np.array([8.86, 9.0]))


@pytest.mark.parametrize("bad", [NAN, float("inf"), -1.0, 0.0])
def test_that_a_viscosity_that_cannot_be_is_refused(bad):
    for call in (
        lambda: viscosity_index(bad, 8.86),
        lambda: viscosity_at(80, [(40, bad), (100, 5.4)]),
        lambda: blend([0.5, 0.5], [32.0, bad]),
        lambda: fuel_fraction_from_viscosity(bad, oil=14.5, fuel=1.15),
    ):
        with pytest.raises(ViscosityError, match=r"in mm2/s: .* finite number at least 0\.21"):
            call()


@pytest.mark.parametrize("row", worked_examples("viscosity_at"), ids=row_name)
def test_that_another_temperature_gives_the_published_figure(row):
    # A worksheet that takes 273 for 0 °C is followed by a shift of 0.15 K.
    shift = float(row["shift_c"])
    known = [(40 + shift, float(row["kv40"])), (100 + shift, float(row["kv100"]))]
    line = walther(known)._asdict()
    wanted = row["wanted"]
    found = line[wanted.lower()] if wanted in "AB" else viscosity_at(float(wanted) + shift, known)
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@given(hot=st.floats(2.0, 50.0), ratio=st.floats(2.0, 20.0))
def test_that_the_line_passes_through_the_known_viscosities(hot, ratio):
    known = [(40.0, hot * ratio), (100.0, hot)]
    for temperature, viscosity in known:
        assert viscosity_at(temperature, known) == pytest.approx(viscosity, rel=2e-4)
        assert viscosity_at(temperature, known[::-1]) == pytest.approx(viscosity, rel=2e-4)


@given(hot=st.floats(2.0, 50.0), ratio=st.floats(2.0, 20.0), at=st.floats(20, 120))
def test_that_oil_thins_as_it_warms(hot, ratio, at):
    cooler, warmer = viscosity_at(np.array([at, at + 5.0]), [(40.0, hot * ratio), (100.0, hot)])
    assert warmer < cooler


def test_that_columns_of_known_viscosities_give_a_column():
    known = [(40, np.array([32.0, 46.0])), (100, np.array([5.4, 6.8]))]
    assert viscosity_at(80.0, known).round(2).tolist() == [8.53, 11.1]


@pytest.mark.parametrize(
    ("known", "why"),
    [
        ([(40, 32.0)], "1 known viscosities"),
        ([(40, 32.0), (100, 5.4), (80, 8.5)], "3 known viscosities"),
        ([(40, 32.0), (40, 5.4)], "40 is that of both"),
        ([(40, 5.4), (100, 32.0)], "32 is not below"),
        ([(100, 32.0), (40, 5.4)], "32 is not below"),
        ([(-300, 32.0), (40, 5.4)], "-300 must be a finite number above -273.15"),
        ([(NAN, 32.0), (40, 5.4)], "nan must be a finite number"),
    ],
)
def test_that_what_makes_no_falling_line_is_refused(known, why):
    with pytest.raises(ViscosityError, match=why):
        viscosity_at(80, known)


@pytest.mark.parametrize("temperature", [2_000.0, -250.0])
def test_that_a_temperature_beyond_the_equation_is_refused(temperature):
    with pytest.raises(ViscosityError, match=f"{temperature:g} is too far"):
        viscosity_at(temperature, [(40, 32.0), (100, 5.4)])


@pytest.mark.parametrize("row", worked_examples("blend"), ids=row_name)
def test_that_a_blend_has_the_published_viscosity(row):
    fractions, parts = (
        [float(part) for part in row[name].split("/")] for name in ("fractions", "viscosities")
    )
    found = blend(fractions, parts)
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    # And back: the thinner part of two, from the viscosity of the blend.
    thick, thin = max(parts), min(parts)
    share = fuel_fraction_from_viscosity(found, oil=thick, fuel=thin)
    assert share == pytest.approx(fractions[parts.index(thin)], abs=1e-4)


@given(parts=st.lists(OIL, min_size=2, max_size=4), data=st.data())
def test_that_a_blend_lies_between_its_parts(parts, data):
    weights = data.draw(st.lists(st.floats(0.01, 1.0), min_size=len(parts), max_size=len(parts)))
    found = blend([weight / sum(weights) for weight in weights], parts)
    assert min(parts) * (1 - 2e-4) <= found <= max(parts) * (1 + 2e-4)


@given(oil=OIL, fuel=st.floats(1.0, 2.0), share=st.floats(0, 0.5), more=st.floats(0, 0.5))
def test_that_adding_fuel_never_raises_viscosity(oil, fuel, share, more):
    less, fueled = (blend([1 - part, part], [oil, fuel]) for part in (share, share + more))
    assert fueled <= less * (1 + 1e-12)


@given(oil=st.floats(5.0, 500.0), fuel=st.floats(1.0, 2.0), share=st.floats(0.001, 0.5))
def test_that_the_fuel_put_in_is_found_again(oil, fuel, share):
    seen = min(blend([1 - share, share], [oil, fuel]), oil)
    assert fuel_fraction_from_viscosity(seen, oil=oil, fuel=fuel) == pytest.approx(share, abs=1e-3)


def test_that_blends_and_fuel_are_worked_out_by_the_column():
    share = np.array([0.03, 0.10])
    found = blend([1 - share, share], [np.array([110.0, 14.5]), np.array([2.6, 1.2])])
    assert found.round(2).tolist() == [90.87, 9.87]
    back = fuel_fraction_from_viscosity(
        found, oil=np.array([110.0, 14.5]), fuel=np.array([2.6, 1.2])
    )
    assert back.round(4).tolist() == share.tolist()


@pytest.mark.parametrize(
    ("fractions", "viscosities", "why"),
    [
        ([], [], "0 fractions and 0 viscosities"),
        ([1.0], [32.0, 46.0], "1 fractions and 2 viscosities"),
        ([0.5, 0.6], [32.0, 46.0], "1.1 is not 1"),
        ([1.5, -0.5], [32.0, 46.0], "1.5 must be .* at most 1"),
        ([NAN, 1.0], [32.0, 46.0], "nan must be"),
        ([np.array([0.5, 0.4]), 0.5], [32.0, 46.0], "place 2: 0.9 is not 1"),
    ],
)
def test_that_what_makes_no_blend_is_refused(fractions, viscosities, why):
    with pytest.raises(ViscosityError, match=why):
        blend(fractions, viscosities)


def test_that_no_fuel_is_read_where_no_fuel_can_explain_the_viscosity():
    with pytest.raises(ViscosityError, match=r"15 lies outside.*soot"):
        fuel_fraction_from_viscosity(15.0, oil=14.5, fuel=1.15)
    with pytest.raises(ViscosityError, match=r"place 2: 1 lies outside"):
        fuel_fraction_from_viscosity(np.array([12.0, 1.0]), oil=14.5, fuel=1.15)
    with pytest.raises(ViscosityError, match=r"14\.5 is not below that of the oil"):
        fuel_fraction_from_viscosity(12.0, oil=1.15, fuel=14.5)


def test_that_saybolt_seconds_grow_a_little_with_temperature():
    # ASTM D2161, from memory: 1 + 0.000061 (t - 100), t in °F; so 0.67 % from 100 to 210 °F.
    at_100f, at_210f = saybolt_seconds(46.0), saybolt_seconds(46.0, temperature_c=98.8889)
    assert at_210f / at_100f == pytest.approx(1.00671, abs=1e-5)
    assert viscosity_from_saybolt(at_210f, temperature_c=98.8889) == pytest.approx(46.0)


@given(viscosity=st.floats(1.82, 5_000.0), temperature=st.floats(37.8, 100.0))
def test_that_saybolt_seconds_and_viscosity_invert(viscosity, temperature):
    seconds = saybolt_seconds(viscosity, temperature_c=temperature)
    back = viscosity_from_saybolt(seconds, temperature_c=temperature)
    assert back == pytest.approx(viscosity, rel=1e-9)


def test_that_saybolt_seconds_are_worked_out_by_the_column_and_refused_below_the_scale():
    assert saybolt_seconds(np.array([32.0, 46.0])).round(1).tolist() == [150.5, 214.2]
    with pytest.raises(SayboltError, match=r"5 must be a finite number at least 31\.95"):
        viscosity_from_saybolt(5.0)
    with pytest.raises(ViscosityError, match="temperature"):
        saybolt_seconds(46.0, temperature_c=NAN)
