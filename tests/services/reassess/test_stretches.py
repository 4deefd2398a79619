"""The stretch of fluid use before each sample, checked by hand."""

import math

import numpy as np
import pytest

from fluiddesk.domain.limits.context import previous_rows
from fluiddesk.domain.severity import Trust
from fluiddesk.services.reassess.stretches import TopUpColumns, stretches
from tests.makers import make_columns

NAN = float("nan")


def top_ups(*rows):
    """Top-ups as (box, day, hours or None, litres)."""
    box, day, hours, litres = zip(*rows, strict=True) if rows else ((),) * 4
    return TopUpColumns(
        box=np.array(box, dtype=np.int64),
        day=np.array(day, dtype=np.int64),
        hours=np.array(hours, dtype=np.float64),
        litres=np.array(litres, dtype=np.float64),
    )


def found(hours, *, poured=top_ups(), fitted=False, **given):  # noqa: B008  # a fixed value
    columns = make_columns([10.0] * len(hours), hours=hours, **given)
    history = given.get("compartment", [0] * len(hours))
    lives = np.array(history, dtype=np.int32)
    return stretches(
        columns,
        poured,
        previous=previous_rows(columns.trust == Trust.GOOD, lives),
        history=lives,
        is_fitted=np.full(len(hours), fitted),
        residue=np.full(len(hours), 0.1),
        capacity=np.full(len(hours), 900.0),
    )


def test_that_inside_a_fill_it_begins_at_the_sample_before():
    one = found([1000, 1250], fluid_hours=[10, 260])
    assert one.start.tolist() == [-1, 0]
    assert (one.start_share[1], one.hours[1], one.per_made[1]) == (1.0, 250.0, 250.0)


def test_that_after_a_change_it_begins_with_what_the_old_fill_left():
    one = found([1000, 1250], fluid_hours=[240, 230], fill=[0, 1])
    assert one.start.tolist() == [-1, 0]
    assert (one.start_share[1], one.hours[1]) == (pytest.approx(0.1), 230.0)


def test_that_two_changes_leave_the_residue_of_the_residue():
    one = found([1000, 1600], fluid_hours=[240, 100], fill=[0, 2])
    assert one.start_share[1] == pytest.approx(0.01)


def test_that_a_sample_soon_after_another_counts_from_the_change():
    one = found([1000, 1200, 1230], fluid_hours=[240, 190, 220], fill=[0, 1, 1])
    assert one.start.tolist() == [-1, 0, 0]
    assert one.hours[2] == 220.0


def test_that_a_sample_in_doubt_is_no_start():
    trust = [Trust.GOOD, Trust.SUSPECT, Trust.GOOD]
    one = found([1000, 1250, 1500], fluid_hours=[10, 260, 510], trust=trust)
    assert one.start.tolist() == [-1, 0, 0]


def test_that_a_new_component_begins_clean():
    one = found([1000], fluid_hours=[100], fitted=True)
    assert (one.start[0], one.start_share[0], one.hours[0]) == (-1, 0.0, 100.0)


def test_that_without_a_sample_before_there_is_no_stretch():
    one = found([1000], fluid_hours=[100])
    assert (one.start[0], math.isnan(one.hours[0])) == (-1, True)


def test_that_boxes_do_not_run_into_each_other():
    one = found([1000, 1250], compartment=[0, 1], fluid_hours=[10, 260])
    assert one.start.tolist() == [-1, -1]


def test_that_a_dated_top_up_takes_and_brings_its_share():
    # 300 of 900 L replaced 300 h after the start, 200 h before the sample: kept 2/3, brought 1/3,
    # and a rate of 1 comes to 300 * 2/3 + 200 = 400.
    one = found([1000, 1500], poured=top_ups((0, 0, 1300.0, 300.0)), fluid_hours=[10, 510])
    assert one.kept[1] == pytest.approx(2 / 3)
    assert one.brought[1] == pytest.approx(1 / 3)
    assert one.per_made[1] == pytest.approx(400.0)


@pytest.mark.parametrize(
    "poured",
    [(0, 0, 900.0, 300.0), (0, 0, 1600.0, 300.0), (1, 0, 1300.0, 300.0)],
    ids=["before the start", "after the sample", "of another box"],
)
def test_that_a_top_up_outside_the_stretch_changes_nothing(poured):
    one = found([1000, 1500], poured=top_ups(poured), fluid_hours=[10, 510])
    assert (one.kept[1], one.brought[1], one.per_made[1]) == (1.0, 0.0, 500.0)


def test_that_a_top_up_known_by_its_day_is_placed_between_the_samples():
    days = [1000, 1100]
    one = found(
        [1000, 1500], poured=top_ups((0, 1060, NAN, 300.0)), fluid_hours=[10, 510], taken_on=days
    )
    assert one.per_made[1] == pytest.approx(400.0)
    outside = found(
        [1000, 1500], poured=top_ups((0, 1160, NAN, 300.0)), fluid_hours=[10, 510], taken_on=days
    )
    assert outside.kept[1] == 1.0


def test_that_a_top_up_larger_than_the_box_leaves_a_trace():
    one = found([1000, 1500], poured=top_ups((0, 0, 1300.0, 5000.0)), fluid_hours=[10, 510])
    assert 0 < one.kept[1] < 0.01
    assert one.per_made[1] == pytest.approx(200.0, abs=1.0)


def test_that_no_samples_have_no_stretches():
    assert len(found([]).start) == 0
