"""Saybolt universal seconds, against an independent library and published nominal figures."""

import numpy as np
import pytest
from chemicals.viscosity import viscosity_converter
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.saybolt import (
    LOWEST_MM2_S,
    LOWEST_SECONDS,
    SayboltError,
    seconds_at_100f,
    viscosity_at_100f,
)
from tests.domain.reference.reading import row_name, worked_examples

VISCOSITIES = st.floats(LOWEST_MM2_S, 900.0)


@pytest.mark.parametrize("row", worked_examples("saybolt"), ids=row_name)
def test_that_seconds_are_the_published_ones(row):
    found = float(seconds_at_100f(float(row["mm2_s"])))
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@given(viscosity=VISCOSITIES)
def test_that_another_library_finds_the_same_seconds(viscosity):
    witness = viscosity_converter(viscosity / 1e6, "kinematic viscosity", "saybolt universal")
    assert float(seconds_at_100f(viscosity)) == pytest.approx(witness, rel=1e-9)


@given(viscosity=VISCOSITIES)
def test_that_there_and_back_gives_the_viscosity_again(viscosity):
    assert float(viscosity_at_100f(seconds_at_100f(viscosity))) == pytest.approx(viscosity, 1e-12)


@given(viscosity=VISCOSITIES, more=st.floats(1e-6, 50.0))
def test_that_a_thicker_fluid_takes_longer(viscosity, more):
    assert seconds_at_100f(viscosity + more) > seconds_at_100f(viscosity)


def test_that_nothing_is_answered_below_the_beginning_of_the_scale():
    with pytest.raises(SayboltError, match=r"1\.8 .*at least 1\.81"):
        seconds_at_100f(1.8)
    with pytest.raises(SayboltError, match=r"place 2: 31 .*at least 31\.95"):
        viscosity_at_100f(np.array([LOWEST_SECONDS, 31.0]))
    with pytest.raises(SayboltError, match="nan"):
        seconds_at_100f(float("nan"))
