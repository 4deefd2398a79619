"""How well a rate is known, against draws and small steps."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.wear.fill import Fill, Spread, known_to, worth
from fluiddesk.domain.wear.inputs import WearInputError
from fluiddesk.domain.wear.mass_balance import mass_balance, start_after_change
from fluiddesk.domain.wear.rate_band import (
    half_width,
    rate_band,
    topped_up_balance,
    topped_up_rate_band,
)
from fluiddesk.domain.wear.top_ups import NO_TOP_UPS, TopUps
from tests.domain.wear.test_published_examples import ENGINE, ENGINE_SPREAD

fills = st.builds(
    Fill,
    end=st.floats(1, 200),
    before=st.floats(1, 200),
    residue_share=st.floats(0.02, 0.4),
    hours=st.floats(20, 1_000),
    volume_l=st.floats(5, 900),
    density_kg_l=st.floats(0.8, 1.1),
    fresh=st.floats(0.1, 20),
    loss_l_per_h=st.just(0.0) | st.floats(1e-5, 0.5),
    loss_share=st.floats(0.05, 0.95),
    removal_per_h=st.just(0.0) | st.floats(1e-5, 0.01),
)


def rate(fill):
    start = start_after_change(
        before=fill.before, residue_share=fill.residue_share, fresh=fill.fresh
    )
    return mass_balance(
        start=start,
        end=fill.end,
        hours=fill.hours,
        volume_l=fill.volume_l,
        density_kg_l=fill.density_kg_l,
        fresh=fill.fresh,
        loss_l_per_h=fill.loss_l_per_h,
        loss_share=fill.loss_share,
        removal_per_h=fill.removal_per_h,
    ).ppm_per_hour


@given(fill=fills)
def test_that_the_rate_is_that_of_the_mass_balance(fill):
    assert float(worth(fill).rate) == pytest.approx(rate(fill), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(
    ("figure", "derivative"),
    [
        ("end", "per_end"),
        ("before", "per_before"),
        ("residue_share", "per_residue_share"),
        ("fresh", "per_fresh"),
        ("hours", "per_hour"),
        ("loss_share", "per_loss_share"),
    ],
)
@given(fill=fills)
def test_that_a_small_step_of_a_figure_moves_the_rate_as_told(figure, derivative, fill):
    value = getattr(fill, figure)
    step = 1e-4 * value
    risen = rate(replace(fill, **{figure: value + step}))
    fallen = rate(replace(fill, **{figure: value - step}))
    scale = 1e-4 * (abs(rate(fill)) + (fill.end + fill.before) / fill.hours) / value
    found = float(getattr(worth(fill), derivative))
    assert found == pytest.approx((risen - fallen) / (2 * step), rel=1e-3, abs=scale)


@given(fill=fills)
def test_that_a_small_share_of_the_litres_lost_moves_the_rate_as_told(fill):
    risen = rate(replace(fill, loss_l_per_h=fill.loss_l_per_h * 1.0001))
    fallen = rate(replace(fill, loss_l_per_h=fill.loss_l_per_h * 0.9999))
    scale = 1e-4 * (abs(rate(fill)) + (fill.end + fill.before) / fill.hours)
    assert float(worth(fill).per_loss) == pytest.approx(
        (risen - fallen) / 0.0002, rel=1e-3, abs=scale
    )


def test_that_first_order_agrees_with_twenty_thousand_draws():
    rng = np.random.default_rng(20260102)
    size = 20_000
    before = rng.normal(45.0, 3.0, size)
    residue = np.clip(rng.normal(0.10, 0.04, size), 0.0, 1.0)
    drawn = (
        100
        * mass_balance(
            start=start_after_change(before=before, residue_share=residue, fresh=1.0),
            end=rng.normal(32.0, 3.0, size),
            hours=250.0,
            volume_l=250.0,
            density_kg_l=0.87,
            fresh=1.0,
            loss_l_per_h=0.08 * np.clip(rng.normal(1.0, 0.2, size), 0.0, None),
        ).ppm_per_hour
    )
    band = rate_band(ENGINE, ENGINE_SPREAD)
    assert band.sd == pytest.approx(drawn.std(), rel=0.02)
    assert [band.low, band.high] == pytest.approx(np.quantile(drawn, (0.1, 0.9)), abs=0.06)


@given(fill=fills, sd=st.floats(0.1, 20), more=st.floats(0.1, 20))
def test_that_a_figure_known_less_well_widens_the_band(fill, sd, more):
    narrow, wide = rate_band(fill, Spread(end=sd)), rate_band(fill, Spread(end=sd + more))
    assert wide.high - wide.low > narrow.high - narrow.low
    assert narrow.low < narrow.ppm_per_100_h < narrow.high


def test_that_columns_are_worked_out_as_each_row_alone():
    many = replace(ENGINE, end=np.array([32.0, 50.0]), loss_l_per_h=np.array([0.08, 0.0]))
    found = rate_band(many, ENGINE_SPREAD)
    assert found.sd.shape == (2,)
    first, second = (
        rate_band(ENGINE, ENGINE_SPREAD),
        rate_band(replace(ENGINE, end=50.0, loss_l_per_h=0.0), ENGINE_SPREAD),
    )
    assert found.sd.tolist() == pytest.approx([first.sd, second.sd])
    assert found.low.tolist() == pytest.approx([first.low, second.low])


def test_that_spreads_are_refused_below_zero():
    with pytest.raises(WearInputError, match=r"spread of the residue share is -0\.1"):
        known_to(Spread(residue_share=-0.1))


@pytest.mark.parametrize("share", [0.0, 1.0, -0.2, float("nan")])
def test_that_a_band_that_holds_nothing_or_all_is_refused(share):
    with pytest.raises(WearInputError, match="A band cannot hold"):
        half_width(share)


@given(fill=fills)
def test_that_without_top_ups_both_bands_are_the_same(fill):
    spread = Spread(
        end=3.0, before=3.0, residue_share=0.04, fresh=0.5, hours=2.0, loss_relative=0.2,
        loss_share=0.1,
    )  # fmt: skip
    exact, moved = rate_band(fill, spread), topped_up_rate_band(fill, spread, NO_TOP_UPS)
    assert moved.ppm_per_100_h == pytest.approx(exact.ppm_per_100_h, rel=1e-9, abs=1e-9)
    assert moved.sd == pytest.approx(exact.sd, rel=1e-3)
    assert moved.high - moved.low == pytest.approx(exact.high - exact.low, rel=1e-3)


def test_that_the_band_with_top_ups_holds_its_share_of_draws():
    fill = replace(ENGINE, loss_l_per_h=0.0)
    added = TopUps(at_hours=np.array([60.0, 180.0]), litres=np.array([15.0, 20.0]), fresh=1.0)
    spread = Spread(end=3.0, before=3.0, residue_share=0.04, fresh=0.3, loss_relative=0.2)
    rng = np.random.default_rng(11)
    rates = []
    for _ in range(1_500):
        fresh = max(1.0 + rng.normal(0, 0.3), 0.0)
        drawn = replace(
            fill,
            end=32.0 + rng.normal(0, 3),
            before=45.0 + rng.normal(0, 3),
            residue_share=abs(0.10 + rng.normal(0, 0.04)),
            fresh=fresh,
        )
        litres = added.litres * max(rng.normal(1.0, 0.2), 0.0)
        tops = replace(added, litres=litres, fresh=fresh)
        rates.append(topped_up_balance(drawn, tops).ppm_per_100_h)
    band = topped_up_rate_band(fill, spread, added)
    assert band.sd == pytest.approx(np.std(rates), rel=0.06)
    assert [band.low, band.high] == pytest.approx(np.quantile(rates, (0.1, 0.9)), abs=0.2)


def test_that_figures_known_exactly_leave_no_band():
    added = TopUps(at_hours=np.array([60.0]), litres=np.array([15.0]), fresh=1.0)
    band = topped_up_rate_band(ENGINE, Spread(), added)
    assert band.sd == 0.0
    assert band.low == band.ppm_per_100_h == band.high


def test_that_a_top_up_after_the_sample_is_refused():
    added = TopUps(at_hours=np.array([600.0]), litres=np.array([15.0]))
    with pytest.raises(WearInputError, match="at 600 h lies after the sample"):
        topped_up_rate_band(ENGINE, ENGINE_SPREAD, added)


def test_that_the_exchange_is_the_share_lost_and_made_up_an_hour():
    # 0.08 L of 250 L an hour (common practice, no source).
    assert ENGINE.exchange == 0.00032
    many = replace(ENGINE, end=np.array([32.0, 50.0]), loss_l_per_h=np.array([0.08, 0.0]))
    assert many.exchange.tolist() == [0.00032, 0.0]


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"volume_l": 0.0}, "litres in the box is 0"),
        ({"loss_l_per_h": -1.0}, "lost per hour is -1"),
    ],
)
def test_that_an_exchange_that_cannot_be_is_refused(changed, told):
    with pytest.raises(WearInputError, match=told):
        _ = replace(ENGINE, **changed).exchange
