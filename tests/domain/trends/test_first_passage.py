"""In how many hours a level reaches a limit."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.trends.first_passage import (
    AHEAD,
    BLOCK_ROWS,
    HORIZON_HOURS,
    first_of,
    foretell,
    is_enough,
    quantiles,
)
from fluiddesk.domain.trends.outlook import LUMP_HOURS, Watched, outlook
from fluiddesk.domain.trends.prior import FillRates, Group

NO_FILLS = FillRates(rate=np.zeros((1, 0)), sd=np.zeros((1, 0)), is_bound=np.zeros((1, 0), bool))


def sisters(middle=0.12, *, between=0.4, fill=0.15, boxes=30, signed=False):
    return Group(
        middle=np.array([middle]),
        between_sd=np.array([between]),
        fill_sd=np.array([fill]),
        boxes=np.array([boxes]),
        is_signed=np.array([signed]),
    )


def watched(*, start=5.0, steps=(250.0,), values=(35.0,), sd=1.0, loss=0.0, lump=LUMP_HOURS,
            bound=False, start_sd=0.5):  # fmt: skip
    n = len(steps)
    return Watched(
        start=np.array([start]),
        start_sd=np.array([start_sd]),
        step_hours=np.array([steps], dtype=np.float64),
        values=np.array([values], dtype=np.float64),
        sd=np.full((1, n), sd),
        is_bound=np.full((1, n), bound, dtype=bool),
        loss=np.full((1, n), loss),
        brought=np.zeros((1, n)),
        loss_ahead=np.array([loss]),
        brought_ahead=np.zeros(1),
        lump_hours=np.array([lump]),
    )


def ends(one, group=None, past=NO_FILLS, limit=80.0):
    chance = foretell(one, group or sisters(), past, limit=np.array([limit])).chance
    return [float(part[0]) for part in quantiles(chance)]


def certain(rate=0.12):
    """Past fills so many and so exact that the rate is known."""
    known = np.full((1, 40), rate)
    return FillRates(rate=known, sd=np.full_like(known, 1e-4), is_bound=np.zeros_like(known, bool))


# --- against the mass balance and against chance --------------------------------------------------


def test_that_a_known_rate_reaches_the_limit_when_the_mass_balance_says():
    one = watched(start=5.0, values=(35.0,), sd=0.05, start_sd=0.01, lump=0.0)
    low, middle, high = ends(one, sisters(fill=0.08, between=0.1), certain())
    assert middle == pytest.approx((80 - 35) / 0.12, rel=0.03)
    assert low <= middle <= high


def test_that_losses_put_the_limit_off_as_the_mass_balance_says():
    # Common practice, from the balance: t = ln((Cinf - C) / (Cinf - L)) / loss.
    loss, rate, start = 0.0006, 0.12, 5.0
    rests = rate / loss
    level = rests + (start - rests) * np.exp(-loss * 250)
    one = watched(values=(float(level),), sd=0.05, start_sd=0.01, loss=loss, lump=0.0)
    middle = ends(one, sisters(fill=0.08, between=0.1), certain())[1]
    expected = np.log((rests - level) / (rests - 80.0)) / loss
    assert middle == pytest.approx(expected, rel=0.03)
    assert middle > (80 - level) / rate


def test_that_the_band_is_that_of_wear_that_comes_in_lumps():
    # Rate known: only the lumps spread the crossing, as when they are played.
    rng = np.random.default_rng(5)
    made = rng.gamma(5.0 / LUMP_HOURS, LUMP_HOURS * 0.12, (4000, 240)).cumsum(axis=1)
    crossed = 5.0 * (np.argmax(made >= 45.0, axis=1) + 1)
    one = watched(start=35.0, steps=(0.0,), values=(35.0,), sd=0.02, start_sd=0.01)
    found = ends(one, sisters(fill=0.08, between=0.1), certain())
    played = np.quantile(crossed, [0.1, 0.5, 0.9])
    # The grid keeps eight per cent from fill to fill, and one fill in twenty for a fault.
    np.testing.assert_allclose(found, played, rtol=0.12)


def test_that_the_samples_of_the_fill_move_the_forecast():
    slow = ends(watched(values=(20.0,)))[1]
    fast = ends(watched(values=(60.0,)))[1]
    assert fast < ends(watched())[1] < slow


def test_that_a_fault_that_began_in_this_fill_is_seen():
    # Three times the usual rate, in three samples: the past must not hold it down for long.
    calm = ends(watched(steps=(100.0,) * 3, values=(17.0, 29.0, 41.0)), past=certain())[1]
    fault = ends(watched(steps=(100.0,) * 3, values=(41.0, 77.0, 113.0)), past=certain(),
                 limit=150.0)  # fmt: skip
    assert fault[1] < 250.0 < calm


# --- what the answers can be ----------------------------------------------------------------------


def test_that_a_box_that_rests_below_the_limit_never_reaches_it():
    one = watched(values=(24.0,), loss=0.004, sd=0.2, lump=0.0)
    found = ends(one, sisters(fill=0.08, between=0.1), certain(0.12))
    assert found[1] == float("inf")


def test_that_a_level_past_its_limit_has_no_hours_left():
    assert ends(watched(values=(95.0,)))[1] == 0.0


def test_that_nothing_is_said_of_a_box_without_sisters_or_past_after_one_sample():
    unknown = sisters(np.nan, between=np.nan, fill=np.nan, boxes=0)
    assert not is_enough(watched(), unknown, NO_FILLS)[0]
    assert all(np.isnan(one) for one in ends(watched(), unknown))


def test_that_three_samples_or_two_past_fills_are_enough():
    unknown = sisters(np.nan, between=np.nan, fill=np.nan, boxes=0)
    three = watched(steps=(100.0,) * 3, values=(17.0, 29.0, 41.0))
    assert is_enough(three, unknown, NO_FILLS)[0]
    assert ends(three, unknown)[1] == pytest.approx((80 - 41) / 0.12, rel=0.2)
    two = FillRates(rate=np.full((1, 2), 0.12), sd=np.full((1, 2), 0.01),
                    is_bound=np.zeros((1, 2), bool))  # fmt: skip
    assert is_enough(watched(), unknown, two)[0]


def test_that_a_fill_that_shows_nothing_is_no_sample():
    empty = watched(values=(np.nan,), steps=(np.nan,))
    assert not is_enough(empty, sisters(), NO_FILLS)[0]


def test_that_a_value_below_detection_holds_the_level_down():
    # All that is known: less than 2, where half way to a limit of 20 would be usual by now.
    one = watched(start=0.0, values=(2.0,), sd=1.2, bound=True)
    other = replace(one, values=np.array([[10.0]]), is_bound=np.array([[False]]))
    group = sisters(0.04)
    low = outlook(one, group, NO_FILLS)
    high = outlook(other, group, NO_FILLS)
    assert low.mean_level()[0] < high.mean_level()[0]
    assert low.mean_rate()[0] < high.mean_rate()[0]


def test_that_many_rows_are_worked_out_as_each_alone():
    many = BLOCK_ROWS + 3
    one = watched()
    rows = Watched(
        **{
            name: np.repeat(getattr(one, name), many, axis=0)
            for name in Watched.__dataclass_fields__
        }
    )
    group = sisters()
    groups = Group(
        **{name: np.repeat(getattr(group, name), many) for name in Group.__dataclass_fields__}
    )
    none = np.zeros((many, 0))
    past = FillRates(rate=none, sd=none, is_bound=none.astype(bool))
    found = foretell(rows, groups, past, limit=np.full(many, 80.0)).chance
    alone = foretell(one, group, NO_FILLS, limit=np.array([80.0])).chance
    np.testing.assert_allclose(found, np.repeat(alone, many, axis=0))


def test_that_the_same_input_gives_the_same_answer():
    assert ends(watched()) == ends(watched())


@given(
    value=st.floats(1.0, 120.0),
    limit=st.floats(10.0, 300.0),
    loss=st.floats(0.0, 0.01),
    more=st.floats(1.0, 50.0),
)
def test_that_chances_never_fall_with_hours_and_a_higher_limit_is_never_reached_sooner(
    value, limit, loss, more
):
    one = watched(values=(value,), loss=loss)
    near = foretell(one, sisters(), NO_FILLS, limit=np.array([limit])).chance
    far = foretell(one, sisters(), NO_FILLS, limit=np.array([limit + more])).chance
    assert (np.diff(near, axis=1) >= 0).all()
    assert ((near >= 0) & (near <= 1)).all()
    assert (far <= near + 1e-9).all()


# --- several analytes -----------------------------------------------------------------------------


def test_that_what_rises_together_counts_once():
    chances = np.array([[0.3, 0.6], [0.2, 0.5], [0.1, 0.1]])
    together = first_of(chances, np.array([0, 0, 0]))
    apart = first_of(chances, np.array([0, 1, 2]))
    assert together.tolist() == pytest.approx([0.3, 0.6])
    assert apart[0] == pytest.approx(1 - 0.7 * 0.8 * 0.9)


def test_that_percentiles_out_of_sight_are_infinite():
    chance = np.array([np.minimum(AHEAD / HORIZON_HOURS, 0.4)])
    low, middle, _ = quantiles(chance)
    assert low[0] == pytest.approx(0.1 * HORIZON_HOURS, rel=0.01)
    assert middle[0] == np.inf


def test_that_a_fault_that_grows_is_told_from_a_steady_rate_and_comes_sooner():
    steady = watched(steps=(100.0,) * 3, values=(17.0, 29.0, 41.0))
    # The same rate at first, doubling every 100 h: 12, 24 and 48 per 100 h, over ln 2.
    grows = watched(steps=(100.0,) * 3, values=(22.0, 57.0, 126.0))
    calm = outlook(steady, sisters(), certain())
    fault = outlook(grows, sisters(), certain())
    assert calm.chance_of_growth()[0] < 0.02
    assert fault.chance_of_growth()[0] > 0.9
    # At 48 to 96 per 100 h it is 74 to 110 h to 200; at the mean rate so far, 183 h.
    assert ends(grows, past=certain(), limit=200.0)[1] < 110.0


def test_that_no_fault_grows_in_what_is_used_up_evenly():
    one = outlook(watched(lump=0.0), sisters(), NO_FILLS)
    assert one.chance_of_growth()[0] == pytest.approx(0.0, abs=1e-12)
