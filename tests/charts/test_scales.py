"""Ticks are round and few, zooming keeps what was pointed at."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.charts.scales import Scale, moved_to_show, round_step, tick_text, zoomed

lows = st.floats(-1e6, 1e6)
spans = st.floats(1e-3, 1e7)


@given(low=lows, span=spans, about=st.integers(2, 6))
def test_that_ticks_are_whole_multiples_of_one_two_or_five_and_lie_on_the_axis(
    low: float, span: float, about: int
) -> None:
    scale = Scale(low=low, high=low + span)
    ticks = scale.ticks(about=about)
    slack = span * 1e-6
    assert all(scale.low - slack <= tick <= scale.high + slack for tick in ticks)
    assert len(ticks) <= about + 1
    steps = np.diff(ticks)
    if len(steps):
        lead = steps[0] / 10.0 ** math.floor(math.log10(steps[0]) + 1e-6)
        assert min(abs(lead - one) for one in (1, 2, 5, 10)) < 1e-4


@given(low=lows, span=spans, share=st.floats(0, 1))
def test_that_a_share_of_the_axis_leads_back_to_its_value(
    low: float, span: float, share: float
) -> None:
    scale = Scale(low=low, high=low + span)
    assert scale.share(scale.value(share)) == pytest.approx(share, abs=1e-6)


def test_that_a_logarithmic_axis_places_a_decade_evenly() -> None:
    scale = Scale(low=1, high=1000, is_log=True)
    assert scale.shares(np.array([1.0, 10.0, 100.0, 1000.0])) == pytest.approx([0, 1 / 3, 2 / 3, 1])


def test_that_a_logarithmic_axis_has_no_place_for_zero() -> None:
    assert np.isnan(Scale(low=1, high=10, is_log=True).share(0))
    assert np.isnan(Scale(low=1, high=10, is_log=True).shares(np.array([0.0]))[0])


def test_that_a_short_logarithmic_axis_is_ticked_between_its_decades() -> None:
    assert Scale(low=15, high=60, is_log=True).ticks(about=3) == (20.0, 50.0)


@given(factor=st.floats(1.01, 5), about=st.floats(0, 100))
def test_that_zooming_in_keeps_the_value_under_the_pointer_in_its_place(
    factor: float, about: float
) -> None:
    whole = Scale(low=0, high=100)
    nearer = zoomed(whole, about=about, factor=factor, whole=whole)
    assert nearer.high - nearer.low == pytest.approx(100 / factor)
    assert nearer.share(about) == pytest.approx(whole.share(about), abs=1e-9)


def test_that_zooming_out_ends_at_the_whole_axis() -> None:
    whole = Scale(low=0, high=100)
    wider = zoomed(Scale(low=40, high=60), about=40, factor=0.01, whole=whole)
    assert (wider.low, wider.high) == (0, 100)


@pytest.mark.parametrize("value", [5.0, 95.0])
def test_that_a_sample_outside_the_zoom_is_brought_into_it(value: float) -> None:
    moved = moved_to_show(Scale(low=40, high=60), value)
    assert moved.holds(value)
    assert moved.high - moved.low == pytest.approx(20)


def test_that_a_sample_inside_the_zoom_moves_nothing() -> None:
    scale = Scale(low=40, high=60)
    assert moved_to_show(scale, 50) is scale


def test_that_steps_are_the_next_round_ones() -> None:
    assert [round_step(rough) for rough in (0.9, 1.0, 1.1, 2.2, 6.0)] == [1, 1, 2, 5, 10]


def test_that_ticks_show_no_more_places_than_their_neighbours_need() -> None:
    ticks = (13.0, 13.5, 14.0)
    assert [tick_text(tick, ticks) for tick in ticks] == ["13.0", "13.5", "14.0"]
    assert tick_text(20.0, (0.0, 20.0)) == "20"
    assert tick_text(0.0, (0.0, 200_000.0)) == "0"
