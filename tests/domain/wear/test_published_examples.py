"""Every worked example of the wear calculations, each with its source in the file it stands in."""

import numpy as np
import pytest

from fluiddesk.domain.wear.base_number import base_number_clock
from fluiddesk.domain.wear.cumulative import cumulative_grams
from fluiddesk.domain.wear.equilibrium import (
    equilibrium_ppm,
    half_time_hours,
    is_worth_saying,
    loss_per_hour,
    reads_low_percent,
)
from fluiddesk.domain.wear.fill import Fill, Spread
from fluiddesk.domain.wear.ingress import coolant_litres, dust_mass, marker_grams, silicon_share
from fluiddesk.domain.wear.mass_balance import mass_balance, start_after_change
from fluiddesk.domain.wear.rate_band import rate_band
from fluiddesk.domain.wear.top_ups import TopUps
from tests.domain.reference.reading import worked_examples

ENGINE = Fill(
    end=32.0,
    before=45.0,
    residue_share=0.10,
    hours=250.0,
    volume_l=250.0,
    density_kg_l=0.87,
    fresh=1.0,
    loss_l_per_h=0.08,
)
ENGINE_SPREAD = Spread(end=3.0, before=3.0, residue_share=0.04, loss_relative=0.20)


def row_id(row):
    return row["id"]


def figures(row, *names):
    return {name: float(row[name]) for name in names}


def close(row):
    return pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", worked_examples("wear_mass_balance"), ids=row_id)
def test_that_the_metal_made_in_a_fill_is_that_of_the_worked_example(row):
    start = start_after_change(**figures(row, "before", "residue_share", "fresh"))
    names = ("end", "hours", "volume_l", "density_kg_l", "fresh", "loss_l_per_h", "loss_share")
    given = figures(row, *names)
    found = mass_balance(start=start, **given)
    loss = loss_per_hour(**figures(row, "volume_l", "loss_l_per_h", "loss_share"))
    rests = equilibrium_ppm(
        ppm_per_hour=found.ppm_per_hour,
        loss=loss,
        exchange=given["loss_l_per_h"] / given["volume_l"],
        fresh=given["fresh"],
    )
    own = {"start": start, "equilibrium_ppm": rests}
    answer = own.get(row["quantity"]) or getattr(found, row["quantity"])
    assert isinstance(answer, float)
    assert answer == close(row)


@pytest.mark.parametrize("row", worked_examples("wear_top_ups"), ids=row_id)
def test_that_a_burst_hose_hides_no_wear(row):
    top_ups = TopUps(
        at_hours=np.array([float(row["at_hours"])]),
        litres=np.array([float(row["litres"])]),
        fresh=float(row["fresh"]),
    )
    found = mass_balance(
        **figures(row, "start", "end", "hours", "volume_l"), density_kg_l=0.87, top_ups=top_ups
    )
    assert np.ravel(getattr(found, row["quantity"])).tolist() == [close(row)]


def test_that_a_burst_hose_balances_by_the_sum_of_what_it_took():
    # Worked example, own calculation: G t = M (C - Cs) + rho sum a (phi Ci - C0).
    top_ups = TopUps(at_hours=np.array([300.0]), litres=np.array([300.0]), fresh=0.5)
    found = mass_balance(
        start=10.0, end=15.0, hours=500.0, volume_l=900.0, density_kg_l=0.87, top_ups=top_ups
    )
    taken = 0.87 * 300.0 * (found.before_top_up_ppm[0] - 0.5)
    assert found.grams == pytest.approx((0.87 * 900.0 * 5.0 + taken) / 1000)
    naive = (15.0 - 10.0) / 500.0
    assert naive / found.ppm_per_hour == pytest.approx(0.5, abs=0.02)  # "half the truth"


@pytest.mark.parametrize("row", worked_examples("wear_rate_band"), ids=row_id)
def test_that_a_rate_is_known_as_well_as_in_the_worked_example(row):
    found = rate_band(ENGINE, ENGINE_SPREAD)
    assert getattr(found, row["quantity"]) == close(row)


@pytest.mark.parametrize("row", worked_examples("wear_equilibrium"), ids=row_id)
def test_that_a_box_that_loses_oil_comes_to_rest_where_the_worked_example_says(row):
    loss = loss_per_hour(**figures(row, "volume_l", "loss_l_per_h"))
    answers = {
        "loss": loss,
        "half_time": half_time_hours(loss),
        "equilibrium": equilibrium_ppm(ppm_per_hour=float(row["ppm_per_hour"]), loss=loss),
    }
    assert answers[row["quantity"]] == close(row)


@pytest.mark.parametrize("row", worked_examples("wear_ingress"), ids=row_id)
def test_that_dust_and_coolant_are_those_of_the_worked_example(row):
    first = float(row["input"])
    second = float(row["share"] or "nan")
    answers = {
        "silicon_share": lambda: silicon_share(first),
        "dust_mass": lambda: dust_mass(silicon_mg_per_hour=first, silica_percent=second),
        "marker_grams": lambda: marker_grams(risen_ppm=first, mass_kg=second),
        "coolant_litres": lambda: coolant_litres(
            risen_ppm=first, mass_kg=217.5, marker_g_per_l=second
        ),
    }
    assert answers[row["quantity"]]() == close(row)


def test_that_dust_in_a_fill_adds_up_to_the_worked_example():
    # Worked example, own calculation: 42.5 mg/h over 250 h are 10.6 g.
    assert dust_mass(silicon_mg_per_hour=14.303, silica_percent=72.0) * 0.25 == pytest.approx(
        10.6, abs=0.05
    )


def test_that_silicon_is_the_published_share_of_its_oxide():
    # Standard atomic weights 2021 (IUPAC, from memory): Si 28.085, O 15.999.
    assert silicon_share(100.0) == pytest.approx(28.085 / (28.085 + 2 * 15.999), abs=5e-5)


@pytest.mark.parametrize("row", worked_examples("base_number_clock"), ids=row_id)
def test_that_a_base_number_runs_down_as_in_the_worked_example(row):
    start = start_after_change(before=4.0, residue_share=0.10, fresh=10.0)
    assert start == pytest.approx(9.4)
    found = base_number_clock(
        start=start, now=7.4, hours=250.0, limit=4.0, fresh=10.0, exchange=0.00032
    )
    assert getattr(found, row["quantity"]) == close(row)


def test_that_grams_add_up_over_fills():
    # Worked example, own calculation: 24.4 x 250 + 22.0 x 240 + 31.5 x 260 mg = 19.6 g.
    total = cumulative_grams(
        mg_per_hour=np.array([24.4, 22.0, 31.5]), hours=np.array([250.0, 240.0, 260.0])
    )
    assert total[-1] == pytest.approx(19.6, abs=0.05)


def test_that_a_level_reads_low_by_what_has_left_the_oil():
    # Own calculation: 1 - (1 - e^-x) / x; x = 0.3 gives 13.6 %, and from there on it is told.
    assert reads_low_percent(hours=100.0, loss=0.003) == pytest.approx(13.6, abs=0.05)
    assert is_worth_saying(hours=100.0, loss=0.0031) is True
    assert is_worth_saying(hours=100.0, loss=0.003) is False
