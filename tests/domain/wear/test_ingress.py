import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.wear.ingress import coolant_litres, dust_mass, marker_grams, silicon_share
from fluiddesk.domain.wear.inputs import WearInputError


@given(silicon=st.floats(0, 500), more=st.floats(0, 50), silica=st.floats(1, 100))
def test_that_dust_grows_with_silicon_and_less_what_the_seals_give(silicon, more, silica):
    dust = dust_mass(silicon_mg_per_hour=silicon + more, silica_percent=silica)
    less = dust_mass(
        silicon_mg_per_hour=silicon + more, silica_percent=silica, other_silicon_mg_per_hour=more
    )
    assert dust >= less
    assert less * silicon_share(silica) == pytest.approx(silicon, abs=1e-9)


@given(litres=st.floats(0, 20), mass=st.floats(1, 900), content=st.floats(0.1, 10))
def test_that_the_litres_leaked_give_back_the_rise_of_the_marker(litres, mass, content):
    risen = litres * content * 1000 / mass
    found = coolant_litres(risen_ppm=risen, mass_kg=mass, marker_g_per_l=content)
    assert found == pytest.approx(litres, abs=1e-9)


def test_that_columns_go_in_and_come_out():
    silicon = np.array([10.0, 20.0])
    assert dust_mass(silicon_mg_per_hour=silicon, silica_percent=50.0).shape == (2,)
    assert silicon_share(silicon).shape == marker_grams(risen_ppm=silicon, mass_kg=2.0).shape
    assert coolant_litres(risen_ppm=silicon, mass_kg=2.0, marker_g_per_l=1.0).shape == (2,)


@pytest.mark.parametrize("silica", [0.0, -5.0, 101.0, float("inf")])
def test_that_dust_without_silica_or_with_too_much_is_refused(silica):
    with pytest.raises(WearInputError, match="silicon dioxide of the dust"):
        dust_mass(silicon_mg_per_hour=1.0, silica_percent=silica)
