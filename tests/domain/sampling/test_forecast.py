import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.catch import catch_chance
from fluiddesk.domain.sampling.forecast import forecast_due
from fluiddesk.domain.wear.inputs import WearInputError
from tests.domain.reference.reading import worked_examples


@pytest.mark.parametrize("row", worked_examples("due_forecast"), ids=lambda row: row["id"])
def test_that_the_days_to_a_due_point_are_those_of_the_worked_example(row):
    names = ("hours_left", "hours_per_day", "sd_per_day")
    found = forecast_due(**{name: float(row[name]) for name in names})
    expected = pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))
    assert getattr(found, row["quantity"]) == expected


def test_that_the_band_holds_eight_of_ten_days_drawn():
    rng = np.random.default_rng(12)
    hours = np.cumsum(rng.normal(16.0, 5.0, (20_000, 40)), axis=1)
    whole = (hours < 160.0).sum(axis=1)
    at = np.arange(len(hours))
    before = np.where(whole > 0, hours[at, whole - 1], 0.0)
    days = whole + (160.0 - before) / (hours[at, whole] - before)
    found = forecast_due(hours_left=160.0, hours_per_day=16.0, sd_per_day=5.0)
    inside = ((days >= found.low) & (days <= found.high)).mean()
    assert inside == pytest.approx(0.80, abs=0.02)


def test_that_a_machine_that_stands_comes_due_on_no_day():
    found = forecast_due(
        hours_left=np.array([160.0, -5.0]), hours_per_day=0.0, sd_per_day=np.array([5.0, 0.0])
    )
    assert found.days.tolist() == found.low.tolist() == [math.inf, 0.0]
    assert found.high.tolist() == [math.inf, 0.0]


@given(
    left=st.floats(-500, 2_000), rate=st.floats(0.1, 24), sd=st.floats(0, 10), more=st.floats(0, 99)
)
def test_that_more_hours_left_are_never_fewer_days(left, rate, sd, more):
    sooner = forecast_due(hours_left=left, hours_per_day=rate, sd_per_day=sd)
    later = forecast_due(hours_left=left + more, hours_per_day=rate, sd_per_day=sd)
    assert 0 <= sooner.low <= sooner.days <= sooner.high
    assert later.days >= sooner.days
    assert later.high >= sooner.high


@pytest.mark.parametrize("rate", [-1.0, 25.0, float("nan")])
def test_that_a_day_has_no_more_than_twenty_four_hours(rate):
    with pytest.raises(WearInputError, match="hours a day"):
        forecast_due(hours_left=1.0, hours_per_day=rate, sd_per_day=0.0)


@pytest.mark.parametrize("row", worked_examples("catch_chance"), ids=lambda row: row["id"])
def test_that_the_chance_to_catch_is_that_of_the_worked_example(row):
    names = ("shows_hours", "interval_hours", "answer_hours")
    found = catch_chance(**{name: float(row[name]) for name in names})
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@given(
    shows=st.floats(0, 2_000),
    every=st.floats(1, 1_000),
    answer=st.floats(0, 500),
    sees=st.floats(0, 1),
    more=st.floats(0, 300),
)
def test_that_sampling_less_often_or_answering_later_never_catches_more(
    shows, every, answer, sees, more
):
    def chance(**changes):
        given = {"shows_hours": shows, "interval_hours": every, "answer_hours": answer}
        return catch_chance(**given | {"sensitivity": sees} | changes)

    assert 0 <= chance() <= 1
    assert chance(interval_hours=every + more) <= chance() + 1e-9
    assert chance(answer_hours=answer + more) <= chance() + 1e-9
    assert chance(sensitivity=1.0) >= chance() - 1e-9


def test_that_a_sample_that_sees_half_catches_by_the_number_of_samples():
    # Own calculation: two samples for certain, a third with chance 0.5; each overlooks a half.
    found = catch_chance(
        shows_hours=np.array([250.0]), interval_hours=100.0, answer_hours=0.0, sensitivity=0.5
    )
    assert found.tolist() == pytest.approx([1 - 0.25 * 0.75])


def test_that_the_band_holds_eight_of_ten_days_drawn_after_an_old_meter_reading():
    rng = np.random.default_rng(13)
    # The meter was read 20 days ago, 480 h before the due point: by the pace 160 h are left.
    hours = np.cumsum(rng.normal(16.0, 5.0, (20_000, 70)), axis=1)
    whole = (hours < 480.0).sum(axis=1)
    at = np.arange(len(hours))
    before = hours[at, whole - 1]
    days = whole + (480.0 - before) / (hours[at, whole] - before) - 20
    found = forecast_due(hours_left=160.0, hours_per_day=16.0, sd_per_day=5.0, days_since_read=20)
    inside = ((days >= found.low) & (days <= found.high)).mean()
    assert inside == pytest.approx(0.80, abs=0.02)
    fresh = forecast_due(hours_left=160.0, hours_per_day=16.0, sd_per_day=5.0)
    assert found.days == fresh.days
    assert found.high - found.low > 1.5 * (fresh.high - fresh.low)


def test_that_a_due_point_that_has_passed_has_no_band_however_old_the_reading():
    found = forecast_due(hours_left=-5.0, hours_per_day=16.0, sd_per_day=5.0, days_since_read=30.0)
    assert (found.days, found.low, found.high) == (0.0, 0.0, 0.0)
