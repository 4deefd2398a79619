"""Grams over the life of a component, and what the errors of neighbouring fills have in common."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.wear.cumulative import cumulative_grams, cumulative_wear
from fluiddesk.domain.wear.fill import Fill, Spread
from fluiddesk.domain.wear.inputs import WearInputError

ONE = np.zeros(4, dtype=np.int64)


def chain(levels, before=20.0, **given):
    ends = np.array(levels, dtype=float)
    figures = {
        "residue_share": 0.2,
        "hours": 250.0,
        "volume_l": 40.0,
        "density_kg_l": 0.9,
        "fresh": 1.0,
        "loss_l_per_h": 0.02,
    } | given
    return Fill(end=ends, before=np.append(before, ends[:-1]), **figures)


SPREAD = Spread(
    end=3.0,
    before=2.0,
    residue_share=0.04,
    fresh=0.3,
    hours=5.0,
    loss_relative=0.2,
    loss_share=0.1,
)


def test_that_the_total_is_better_known_than_its_parts_would_have_it():
    found = cumulative_wear(chain([30, 32, 28, 35]), Spread(end=3.0), component=ONE)
    assert found.total_sd[-1] < np.sqrt((found.sd**2).sum())


def test_that_a_residue_share_that_is_wrong_is_wrong_at_every_change():
    found = cumulative_wear(chain([30, 32, 28, 35]), Spread(residue_share=0.04), component=ONE)
    assert found.total_sd[-1] == pytest.approx(found.sd.sum())


def test_that_the_spread_of_the_total_agrees_with_ten_thousand_draws():
    levels, rows = np.array([30.0, 32.0, 28.0, 35.0]), 10_000
    rng = np.random.default_rng(7)

    def own(middle, sd):
        return np.maximum(middle + rng.normal(0, sd, (rows, 4)), 0.0)

    def common(middle, sd):
        return np.maximum(middle + np.repeat(rng.normal(0, sd, (rows, 1)), 4, axis=1), 0.0)

    ends = own(levels, 3.0)
    before = np.column_stack([20.0 + rng.normal(0, 2.0, rows), ends[:, :3]])
    drawn = cumulative_wear(
        Fill(
            end=ends.ravel(),
            before=before.ravel(),
            residue_share=common(0.2, 0.04).ravel(),
            hours=own(250.0, 5.0).ravel(),
            volume_l=40.0,
            density_kg_l=0.9,
            fresh=common(1.0, 0.3).ravel(),
            loss_l_per_h=(0.02 * own(1.0, 0.2)).ravel(),
            loss_share=np.minimum(common(0.6, 0.1), 1.0).ravel(),
        ),
        Spread(),
        component=np.repeat(np.arange(rows), 4),
    )
    found = cumulative_wear(chain(levels, loss_share=0.6), SPREAD, component=ONE)
    assert found.total_sd == pytest.approx(drawn.total.reshape(rows, 4).std(axis=0), rel=0.04)


def test_that_components_do_not_mix():
    both = Fill(
        end=np.array([30.0, 32.0, 28.0]),
        before=np.array([20.0, 30.0, 15.0]),
        residue_share=0.2,
        hours=250.0,
        volume_l=40.0,
        density_kg_l=0.9,
        fresh=1.0,
        loss_l_per_h=0.02,
    )
    found = cumulative_wear(both, SPREAD, component=np.array([3, 3, 8]))
    first = cumulative_wear(chain([30, 32]), SPREAD, component=ONE[:2])
    second = cumulative_wear(chain([28], before=15.0), SPREAD, component=ONE[:1])
    for name in ("grams", "sd", "total", "total_sd", "low", "high"):
        alone = np.concatenate([getattr(first, name), getattr(second, name)])
        assert getattr(found, name) == pytest.approx(alone)


@given(levels=st.lists(st.floats(0, 200), min_size=1, max_size=8))
def test_that_the_total_is_the_sum_of_its_fills(levels):
    found = cumulative_wear(chain(levels), SPREAD, component=np.zeros(len(levels), dtype=int))
    assert found.total == pytest.approx(np.cumsum(found.grams), abs=1e-9)
    assert (found.low <= found.total).all()
    assert (found.total <= found.high).all()


@given(
    made=st.lists(st.floats(0, 100), min_size=2, max_size=8),
    split=st.floats(0.1, 0.9),
)
def test_that_grams_do_not_depend_on_how_the_hours_are_cut(made, split):
    rates = np.array(made)
    hours = np.full(len(made), 250.0)
    halves = np.column_stack([hours * split, hours * (1 - split)]).ravel()
    whole = cumulative_grams(mg_per_hour=rates, hours=hours)
    cut = cumulative_grams(mg_per_hour=np.repeat(rates, 2), hours=halves)
    assert cut[1::2] == pytest.approx(whole)


def test_that_no_stretch_or_fill_at_all_is_refused():
    with pytest.raises(WearInputError, match="No stretch is given"):
        cumulative_grams(mg_per_hour=np.zeros(0), hours=np.zeros(0))
    with pytest.raises(WearInputError, match="No fill is given"):
        cumulative_wear(
            Fill(
                end=np.zeros(0),
                before=np.zeros(0),
                residue_share=0.1,
                hours=1.0,
                volume_l=1.0,
                density_kg_l=1.0,
            ),
            Spread(),
            component=np.zeros(0, dtype=np.int64),
        )


def test_that_fills_out_of_order_are_refused():
    with pytest.raises(WearInputError, match="do not stand together"):
        cumulative_wear(chain([1, 2, 3, 4]), Spread(), component=np.array([1, 2, 1, 2]))


def test_that_a_fill_that_does_not_start_where_the_last_one_ended_is_refused():
    gap = chain([30, 32])
    gap.before[1] = 29.0
    with pytest.raises(WearInputError, match=r"Row 2: the fill starts from 29 mg/kg.*at 30"):
        cumulative_wear(gap, Spread(), component=ONE[:2])
