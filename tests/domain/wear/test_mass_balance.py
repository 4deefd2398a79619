"""What must hold for every mass balance, whatever its figures."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from fluiddesk.domain.wear.balance import after
from fluiddesk.domain.wear.inputs import WearInputError
from fluiddesk.domain.wear.mass_balance import mass_balance, start_after_change
from fluiddesk.domain.wear.top_ups import TopUps

PLAIN = {"start": 5.0, "end": 30.0, "hours": 250.0, "volume_l": 40.0, "density_kg_l": 0.88}

levels = st.floats(0, 500)
boxes = st.fixed_dictionaries(
    {
        "start": levels,
        "end": levels,
        "hours": st.floats(1, 2_000),
        "volume_l": st.floats(5, 1_000),
        "density_kg_l": st.floats(0.7, 1.3),
        "fresh": st.floats(0, 50),
        "loss_l_per_h": st.just(0.0) | st.floats(1e-6, 0.5),
        "loss_share": st.floats(0, 1),
        "removal_per_h": st.just(0.0) | st.floats(1e-6, 0.01),
    }
)


def top_ups(*rows, fresh=0.0):
    at, litres = zip(*rows, strict=True)
    return TopUps(at_hours=np.array(at, float), litres=np.array(litres, float), fresh=fresh)


def integrated(made, box, events=()):
    """The level at the end by numerical integration of metal in and metal out, in mg."""
    mass = box["volume_l"] * box["density_kg_l"]
    lost = box.get("loss_l_per_h", 0.0) * box["density_kg_l"]
    share, fresh = box.get("loss_share", 1.0), box.get("fresh", 0.0)

    def rate(_, metal):
        level = metal[0] / mass
        removed = box.get("removal_per_h", 0.0) * metal[0]
        return [made * mass + lost * fresh - share * lost * level - removed]

    metal, clock = box["start"] * mass, 0.0
    for at, litres, new in [*sorted(events), (box["hours"], 0.0, 0.0)]:
        if at - clock > 1e-6:
            found = solve_ivp(rate, (clock, at), [metal], rtol=1e-8, atol=1e-8)
            metal, clock = float(found.y[0, -1]), at
        swapped = litres * box["density_kg_l"]
        metal += swapped * (new - share * metal / mass)
    return metal / mass


@given(box=boxes)
def test_that_metal_is_conserved_against_numerical_integration(box):
    found = mass_balance(**box)
    assert integrated(found.ppm_per_hour, box) == pytest.approx(box["end"], rel=1e-5, abs=1e-4)


@given(
    box=boxes,
    events=st.lists(
        st.tuples(st.floats(0, 1), st.floats(0, 0.6), st.floats(0, 50)), min_size=1, max_size=5
    ),
)
def test_that_metal_is_conserved_through_dated_top_ups(box, events):
    events = [(at * box["hours"], part * box["volume_l"], new) for at, part, new in events]
    events.sort(key=lambda event: event[0])
    at, litres, fresh = (np.array(column) for column in zip(*events, strict=True))
    found = mass_balance(**box, top_ups=TopUps(at_hours=at, litres=litres, fresh=fresh))
    if found.without_losses_ppm > 1e7:  # what a handful of atoms says of tonnes of metal
        return
    end = integrated(found.ppm_per_hour, box, events)
    assert end == pytest.approx(box["end"], rel=1e-4, abs=1e-3)


@given(box=boxes, at=st.floats(0, 1), fresh=st.floats(0, 50))
def test_that_a_top_up_of_nothing_changes_nothing(box, at, fresh):
    plain = mass_balance(**box)
    with_nothing = mass_balance(**box, top_ups=top_ups((at * box["hours"], 0.0), fresh=fresh))
    scale = 1e-9 * (1 + abs(plain.ppm_per_hour) + box["end"] + box["start"])
    assert with_nothing.ppm_per_hour == pytest.approx(plain.ppm_per_hour, rel=1e-8, abs=scale)


@given(box=boxes, more=st.floats(0.1, 100))
def test_that_a_higher_level_means_more_metal_made(box, more):
    assert (
        mass_balance(**box | {"end": box["end"] + more}).ppm_per_hour
        > mass_balance(**box).ppm_per_hour
    )


@given(box=boxes)
def test_that_a_filter_that_takes_metal_means_more_was_made(box):
    less = mass_balance(**box | {"removal_per_h": 0.0}).ppm_per_hour
    more = mass_balance(**box | {"removal_per_h": 0.005}).ppm_per_hour
    # The start also loses to the filter; what is left of it is never more than without one.
    assert more >= less - 1e-9 * (1 + abs(less))


def test_that_oil_that_only_evaporates_takes_no_metal_with_it():
    # phi 0: what is lost leaves its metal behind; the make-up brings its own.
    kept = mass_balance(**PLAIN, loss_l_per_h=0.1, loss_share=0.0, fresh=2.0)
    assert kept.ppm_per_hour == pytest.approx((30.0 - 5.0) / 250.0 - 0.1 / 40.0 * 2.0)
    dated = mass_balance(**PLAIN, loss_share=0.0, top_ups=top_ups((100, 10), fresh=2.0))
    assert dated.ppm_per_hour == pytest.approx((30.0 - 5.0 - 10.0 / 40.0 * 2.0) / 250.0)


def test_that_oil_that_leaks_takes_all_its_metal_with_it():
    # phi 1: half of the oil replaced at the start takes half of the metal with it.
    half = mass_balance(**PLAIN | {"end": 1.0}, top_ups=top_ups((0, 20)))
    assert half.ppm_per_hour == pytest.approx((1.0 - 2.5) / 250.0)
    assert half.after_top_up_ppm.tolist() == [2.5]


def test_that_a_fill_replaced_at_the_moment_of_the_sample_tells_nothing():
    with pytest.raises(WearInputError, match="tells nothing of the wear before"):
        mass_balance(**PLAIN, top_ups=top_ups((250, 40)))


def test_that_many_small_top_ups_come_to_an_even_loss():
    even = mass_balance(**PLAIN, loss_l_per_h=0.08, fresh=1.0)
    hours = np.arange(0.05, 250.0, 0.1)
    dated = mass_balance(
        **PLAIN, top_ups=TopUps(at_hours=hours, litres=np.full(2500, 0.008), fresh=1.0)
    )
    assert dated.ppm_per_hour == pytest.approx(even.ppm_per_hour, rel=1e-4)


@given(box=boxes, split=st.floats(0.05, 0.95))
def test_that_two_stretches_make_what_the_whole_makes_when_the_pace_is_even(box, split):
    whole = mass_balance(**box)
    exchange = box["loss_l_per_h"] / box["volume_l"]
    first = split * box["hours"]
    middle = float(
        after(
            np.float64(box["start"]),
            made=whole.ppm_per_hour,
            fresh=exchange * box["fresh"],
            loss=np.float64(box["loss_share"] * exchange + box["removal_per_h"]),
            hours=np.float64(first),
        )
    )
    if middle < 0:  # more metal vanished than there was: no sample can show that
        return
    parts = mass_balance(**box | {"end": middle, "hours": first}).grams
    parts += mass_balance(**box | {"start": middle, "hours": box["hours"] - first}).grams
    assert parts == pytest.approx(whole.grams, rel=1e-6, abs=1e-6 * (1 + abs(whole.grams)))


def test_that_columns_are_worked_out_as_each_row_alone():
    rng = np.random.default_rng(4)
    rows = 50
    columns = {
        "start": rng.uniform(0, 50, rows),
        "end": rng.uniform(0, 90, rows),
        "hours": rng.uniform(50, 600, rows),
        "volume_l": rng.uniform(5, 900, rows),
        "fresh": rng.uniform(0, 5, rows),
        "loss_l_per_h": rng.choice([0.0, 0.01, 0.1], rows),
        "removal_per_h": rng.choice([0.0, 0.002], rows),
    }
    count = 80
    stretch = rng.integers(0, rows, count)
    at = rng.uniform(0, 1, count) * columns["hours"][stretch]
    litres = rng.uniform(0, 0.4, count) * columns["volume_l"][stretch]
    fresh = rng.uniform(0, 9, count)
    together = mass_balance(
        **columns,
        density_kg_l=0.88,
        top_ups=TopUps(at_hours=at, litres=litres, fresh=fresh, stretch=stretch),
    )
    assert together.grams.shape == (rows,)
    for row in range(rows):
        mine = stretch == row
        alone = mass_balance(
            **{name: float(column[row]) for name, column in columns.items()},
            density_kg_l=0.88,
            top_ups=TopUps(at_hours=at[mine], litres=litres[mine], fresh=fresh[mine]),
        )
        assert alone.ppm_per_hour == pytest.approx(together.ppm_per_hour[row])
        assert alone.grams == pytest.approx(together.grams[row])
        assert alone.after_top_up_ppm == pytest.approx(together.after_top_up_ppm[mine])


def test_that_an_empty_column_stays_empty():
    nothing = np.zeros(0)
    assert mass_balance(**PLAIN | {"start": nothing, "end": nothing}).grams.shape == (0,)
    assert start_after_change(before=nothing, residue_share=0.1, fresh=1.0).shape == (0,)


@given(before=levels, fresh=levels, share=st.floats(0, 1))
def test_that_a_change_leaves_a_level_between_the_old_and_the_new(before, fresh, share):
    start = start_after_change(before=before, residue_share=share, fresh=fresh)
    assert min(before, fresh) - 1e-9 <= start <= max(before, fresh) + 1e-9


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"end": -1.0}, "The level at the sample (mg/kg) is -1, which is negative."),
        ({"end": float("nan")}, "The level at the sample (mg/kg) is nan"),
        ({"start": float("inf")}, "The level at the start (mg/kg) is inf"),
        ({"hours": 0.0}, "The hours between the two is 0, which is not above 0."),
        ({"loss_share": 1.2}, "is 1.2, which is more than 1."),
        ({"end": np.array([1.0, -2.0])}, "Row 2: the level at the sample (mg/kg) is -2"),
        ({"end": np.zeros(2), "hours": np.ones(3)}, "the level at the sample (mg/kg) 2"),
        ({"top_ups": top_ups((300, 1))}, "Top-up 1 at 300 h lies after the sample."),
        ({"top_ups": top_ups((3, 50))}, "Top-up 1 of 50 L is larger than the box."),
        ({"top_ups": top_ups((-3, 5))}, "Row 1: the hours of a top-up is -3"),
    ],
)
def test_that_figures_that_cannot_be_true_are_refused_with_a_remedy(changes, told):
    with pytest.raises(WearInputError) as refused:
        mass_balance(**PLAIN | changes)
    assert told in str(refused.value)
    assert any(word in str(refused.value) for word in ("Correct", "Give"))


def test_that_a_top_up_of_a_stretch_that_is_not_there_is_refused():
    stray = TopUps(at_hours=np.ones(1), litres=np.ones(1), stretch=np.array([7]))
    with pytest.raises(WearInputError, match="Top-up 1 belongs to stretch 7, which is not there"):
        mass_balance(**PLAIN, top_ups=stray)
