import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.wear.balance import after
from fluiddesk.domain.wear.equilibrium import (
    equilibrium_ppm,
    half_time_hours,
    is_worth_saying,
    loss_per_hour,
    reads_low_percent,
)
from fluiddesk.domain.wear.inputs import WearInputError

losses = st.floats(1e-4, 0.05)


@given(loss=losses, made=st.floats(0, 1), start=st.floats(0, 300))
def test_that_a_level_goes_half_of_the_way_in_the_half_time(loss, made, start):
    rests = equilibrium_ppm(ppm_per_hour=made, loss=loss)
    then = float(
        after(
            np.float64(start),
            made=np.float64(made),
            fresh=np.float64(0),
            loss=np.float64(loss),
            hours=np.float64(half_time_hours(loss)),
        )
    )
    assert then == pytest.approx((start + rests) / 2, rel=1e-9, abs=1e-9)


def test_that_nothing_holds_a_level_where_nothing_leaves():
    assert half_time_hours(0.0) == math.inf
    assert equilibrium_ppm(
        ppm_per_hour=np.array([0.1, 0.1]), loss=np.array([0.0, 0.01])
    ).tolist() == [
        math.inf,
        10.0,
    ]


def test_that_fresh_oil_brings_its_own_level():
    loss = loss_per_hour(volume_l=60.0, loss_l_per_h=0.2, loss_share=0.5)
    rests = equilibrium_ppm(ppm_per_hour=0.0, loss=loss, exchange=0.2 / 60, fresh=3.0)
    assert rests == pytest.approx(6.0)


def test_that_a_filter_counts_among_the_losses():
    found = loss_per_hour(volume_l=np.array([60.0]), loss_l_per_h=0.2, removal_per_h=0.01)
    assert found.tolist() == pytest.approx([0.2 / 60 + 0.01])


@given(hours=st.floats(0, 2_000), more=st.floats(0, 2_000), loss=losses)
def test_that_a_level_reads_lower_the_longer_oil_is_lost(hours, more, loss):
    sooner = reads_low_percent(hours=hours, loss=loss)
    later = reads_low_percent(hours=hours + more, loss=loss)
    assert 0 <= sooner <= later + 1e-9
    assert later < 100


def test_that_without_a_loss_a_level_reads_true():
    assert reads_low_percent(hours=np.array([0.0, 500.0]), loss=0.0).tolist() == [0.0, 0.0]
    assert is_worth_saying(hours=500.0, loss=0.0) is False


def test_that_a_box_that_swallows_metal_comes_to_rest_nowhere():
    with pytest.raises(WearInputError, match=r"metal made per hour .* is -0\.1, which is negative"):
        equilibrium_ppm(ppm_per_hour=-0.1, loss=0.01)
