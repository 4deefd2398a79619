from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.due import DueState, due_columns
from fluiddesk.domain.sampling.window import (
    AVIATION_RULE,
    GROUND_RULE,
    Convention,
    half_width_days,
    half_width_hours,
    is_inside,
    next_due,
    window_days,
    window_hours,
)
from fluiddesk.domain.wear.inputs import WearInputError
from tests.domain.reference.reading import worked_examples

RULES = {"ground": GROUND_RULE, "aviation": AVIATION_RULE}


@pytest.mark.parametrize("row", worked_examples("due_windows"), ids=lambda row: row["id"])
def test_that_the_window_of_a_due_point_is_the_published_one(row):
    interval, rule = float(row["interval"]), RULES[row["rule"]]
    if row["axis"] == "hours":
        found = window_hours(due_at=float(row["due"]), interval=interval, rule=rule)
        expected = [float(row["expected_from"]), float(row["expected_to"])]
        assert list(found) == pytest.approx(expected, abs=float(row["tolerance"]))
    else:
        due_on = date.fromisoformat(row["due"]).toordinal()
        days = window_days(due_on=due_on, interval=interval, rule=rule)
        told = [date.fromordinal(day).isoformat() for day in days]
        assert told == [row["expected_from"], row["expected_to"]]


@pytest.mark.parametrize("row", worked_examples("next_due"), ids=lambda row: row["id"])
def test_that_the_next_due_point_is_counted_as_published(row):
    found = next_due(
        due=float(row["due"]),
        done=float(row["done"]),
        interval=float(row["interval"]),
        half=float(row["half"]),
        convention=Convention(row["convention"]),
    )
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_that_an_aviation_rule_narrows_what_is_due():
    # US Army TM 1-1500-328-23: a 75 h item is due 5 h before its point, not 7.5 h.
    def state(hours_now, **rule):
        found = due_columns(
            today=1000,
            taken_on=np.array([990], dtype=np.int32),
            taken_at_hours=np.array([1534.4]),
            interval_hours=np.array([75.0]),
            interval_days=np.array([np.nan]),
            hours_now=np.array([hours_now]),
            hours_as_of=np.array([1000], dtype=np.int32),
            hours_per_day=np.array([0.1]),
            is_excused=np.array([False]),
            **rule,
        )
        return DueState(int(found.state[0]))

    assert state(1603.0) is DueState.DUE
    assert state(1603.0, rule=AVIATION_RULE) is DueState.NOT_YET
    assert state(1604.4, rule=AVIATION_RULE) is DueState.DUE


@given(interval=st.integers(1, 3_000), rule=st.sampled_from([GROUND_RULE, AVIATION_RULE]))
def test_that_days_are_rounded_inwards_and_hours_not_at_all(interval, rule):
    first, last = window_days(due_on=730_000, interval=float(interval), rule=rule)
    assert 730_000 - first == last - 730_000 == int(half_width_days(float(interval), rule=rule))
    low, high = window_hours(due_at=5_000.0, interval=float(interval), rule=rule)
    assert high - low == pytest.approx(2 * half_width_hours(float(interval), rule=rule))


@given(interval=st.floats(1, 3_000), more=st.floats(0, 500))
def test_that_a_longer_interval_never_has_a_narrower_window_on_the_ground(interval, more):
    assert half_width_hours(interval + more) >= half_width_hours(interval)
    assert half_width_days(interval + more) >= half_width_days(interval)


def test_that_windows_of_columns_are_columns():
    due = np.array([739_000, 739_100])
    first, last = window_days(due_on=due, interval=np.array([90.0, 365.0]))
    assert (due - first).tolist() == (last - due).tolist() == [9, 36]
    low, high = window_hours(due_at=np.array([100.0]), interval=50.0)
    assert (low.tolist(), high.tolist()) == ([95.0], [105.0])
    moved = next_due(
        due=np.array([500.0, 500.0]),
        done=np.array([480.0, 600.0]),
        interval=250.0,
        half=25.0,
        convention=Convention.RESTARTED_GRID,
    )
    assert moved.tolist() == [750.0, 850.0]


def test_that_a_sample_that_is_not_there_lies_in_no_window():
    assert not is_inside(np.array([np.nan]), low=np.array([0.0]), high=np.array([9.0])).any()


@pytest.mark.parametrize("interval", [0.0, -90.0, float("nan"), float("inf")])
def test_that_an_interval_that_cannot_be_one_is_refused(interval):
    with pytest.raises(WearInputError, match="Correct the figure"):
        window_days(due_on=739_000, interval=interval)
    with pytest.raises(WearInputError, match="Correct the figure"):
        window_hours(due_at=100.0, interval=interval)
