"""What is due, and when its window opens and closes."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.due import NEVER, DuePoints, DueState, due_columns
from tests.domain.reference.reading import row_name, worked_examples

NAN = float("nan")
DAY = 739_000


def due(**changes):
    """One box, sampled at 1000 h on day 739000, without an interval; the machine runs 8 h a day."""
    given = {
        "today": DAY,
        "taken_on": DAY,
        "taken_at_hours": 1_000.0,
        "interval_hours": NAN,
        "interval_days": NAN,
        "hours_now": 1_000.0,
        "hours_as_of": DAY,
        "hours_per_day": 8.0,
        "is_excused": False,
    } | changes
    kinds = {"taken_on": np.int32, "hours_as_of": np.int32, "is_excused": np.bool_}
    today = given.pop("today")
    columns = {
        name: np.array([value], dtype=kinds.get(name, np.float64)) for name, value in given.items()
    }
    return due_columns(today=today, **columns)


def state(**changes):
    return DueState(int(due(**changes).state[0]))


@pytest.mark.parametrize("row", worked_examples("sampling_windows_days"), ids=row_name)
def test_that_a_window_in_days_is_the_published_one(row):
    taken = date.fromisoformat(row["taken_on"])
    found = due(
        today=taken.toordinal(),
        taken_on=taken.toordinal(),
        interval_days=float(row["interval_days"]),
    )
    days = [int(found.window_from[0]), int(found.due_on[0]), int(found.window_to[0])]
    expected = [row["expected_from"], row["expected_due"], row["expected_to"]]
    if expected[0].isdigit():
        assert [day - taken.toordinal() for day in days] == [int(one) for one in expected]
    else:
        assert [date.fromordinal(day).isoformat() for day in days] == expected


@pytest.mark.parametrize("row", worked_examples("sampling_windows_hours"), ids=row_name)
def test_that_a_window_in_hours_is_the_published_one(row):
    # A machine that runs a tenth of an hour a day: a day is as fine as the published tenths.
    found = state(
        interval_hours=float(row["interval_hours"]),
        taken_at_hours=float(row["taken_at_hours"]),
        hours_now=float(row["hours_now"]),
        hours_per_day=0.1,
    )
    assert found.word == row["expected"]


def test_that_the_last_places_of_binary_arithmetic_open_no_window_a_day_late():
    # 1001.4 + 25 - 1023.9 is 2.5000000000001137, a hair outside the window of 2.5 h.
    found = state(interval_hours=25, taken_at_hours=1_001.4, hours_now=1_023.9, hours_per_day=0.1)
    assert found is DueState.DUE


@pytest.mark.parametrize(
    ("days_later", "expected"),
    [
        (0, DueState.NOT_YET),
        (80, DueState.NOT_YET),
        (81, DueState.DUE),
        (90, DueState.DUE),
        (99, DueState.DUE),
        (100, DueState.OVERDUE),
    ],
)
def test_that_a_box_is_due_from_the_first_to_the_last_day_of_its_window(days_later, expected):
    assert state(today=DAY + days_later, interval_days=90) is expected


@pytest.mark.parametrize(("rate", "by_hours"), [(2.0, False), (3.0, True)])
def test_that_of_two_criteria_the_one_that_comes_first_counts(rate, by_hours):
    # TM 1-1500-328-23. 250 h are 125 days at 2 h a day and 83 1/3 at 3.
    found = due(interval_hours=250, interval_days=90, hours_per_day=rate)
    assert found.by_hours.tolist() == [by_hours]
    assert found.due_on[0] - DAY == (83 if by_hours else 90)
    assert found.window_from[0] - DAY == (75 if by_hours else 81)
    assert found.window_to[0] - DAY == (91 if by_hours else 99)


def test_that_hours_run_on_since_the_meter_was_read():
    found = due(interval_hours=250, hours_now=1_100, hours_as_of=DAY - 10)
    assert found.hours_left.tolist() == [70.0]


def test_that_a_meter_read_after_today_is_not_turned_back():
    assert due(interval_hours=250, hours_as_of=DAY + 10).hours_left.tolist() == [250.0]


@pytest.mark.parametrize("rate", [0.0, NAN, -1.0])
def test_that_a_standing_machine_has_no_due_day_until_its_window_in_hours(rate):
    standing = {"interval_hours": 250, "hours_per_day": rate}
    waiting = due(**standing, hours_now=1_224.0)
    assert waiting.due_on.tolist() == [NEVER]
    assert waiting.hours_left.tolist() == [26.0]
    assert waiting.state.tolist() == [DueState.NOT_YET]
    ready = due(**standing, hours_now=1_225.0)
    assert ready.due_on.tolist() == [DAY]
    assert ready.state.tolist() == [DueState.DUE]


@pytest.mark.parametrize(
    ("hours_now", "expected"),
    [
        (1_470.1, DueState.NOT_YET),
        (1_470.2, DueState.DUE),
        (1_475.2, DueState.DUE),
        (1_475.3, DueState.OVERDUE),
    ],
)
def test_that_a_standing_machine_has_the_published_window_in_hours(hours_now, expected):
    # US Army TM 1-1500-328-23: 25 h item due at 1472.7, window 1470.2 to 1475.2.
    found = state(interval_hours=25, taken_at_hours=1_447.7, hours_now=hours_now, hours_per_day=0.0)
    assert found is expected


def test_that_a_standing_machine_still_comes_due_by_date():
    found = due(interval_hours=250, interval_days=90, hours_per_day=0.0)
    assert (found.due_on[0] - DAY, bool(found.by_hours[0])) == (90, False)


@pytest.mark.parametrize("rate", [0.005, 1e-7, 1e-12])
def test_that_a_machine_that_hardly_runs_is_not_due_two_hundred_hours_early(rate):
    assert state(interval_hours=250, hours_now=1_050, hours_per_day=rate) is DueState.NOT_YET


def test_that_a_box_without_an_interval_says_so():
    found = due()
    assert found.state.tolist() == [DueState.NO_INTERVAL]
    assert found.due_on.tolist() == found.window_to.tolist() == [NEVER]
    assert np.isnan(found.hours_left[0])


def test_that_an_interval_in_hours_without_a_meter_reading_says_so():
    assert state(interval_hours=250, hours_now=NAN) is DueState.NO_INTERVAL


def test_that_a_box_never_sampled_is_neither_due_nor_overdue():
    found = due(taken_on=0, taken_at_hours=NAN, interval_hours=250, interval_days=90)
    assert found.state.tolist() == [DueState.NEVER_SAMPLED]
    assert found.due_on.tolist() == [NEVER]


@pytest.mark.parametrize("changes", [{"today": DAY + 500, "interval_days": 90}, {"taken_on": 0}])
def test_that_an_excused_machine_owes_no_sample(changes):
    assert state(is_excused=True, **changes) is DueState.EXCUSED


def test_that_states_are_told_in_words():
    assert DueState.NEVER_SAMPLED.word == "Never sampled"


@given(interval=st.integers(1, 3_000), taken=st.integers(1, 1_000_000))
def test_that_windows_in_days_are_rounded_inwards(interval, taken):
    found = due(today=taken + 5, taken_on=taken, interval_days=interval)
    half = interval // 10
    assert taken + interval - half == found.window_from[0]
    assert taken + interval + half == found.window_to[0]


intervals = st.just(NAN) | st.integers(10, 2_000).map(float)


@given(
    hours=intervals,
    days=intervals,
    rate=st.floats(0, 24),
    ran=st.floats(0, 5_000),
    more=st.floats(0, 500),
)
def test_that_running_longer_never_makes_a_box_less_due(hours, days, rate, ran, more):
    fixed = {"interval_hours": hours, "interval_days": days, "hours_per_day": rate}
    sooner = due(**fixed, hours_now=1_000 + ran)
    later = due(**fixed, hours_now=1_000 + ran + more)
    assert later.due_on[0] <= sooner.due_on[0]
    assert not later.hours_left[0] > sooner.hours_left[0]


short_intervals = st.just(NAN) | st.floats(0.5, 30)


@given(
    hours=intervals | short_intervals,
    days=intervals | short_intervals,
    rate=st.floats(0, 24),
    ran=st.floats(0, 5_000),
)
def test_that_the_due_day_lies_in_its_window(hours, days, rate, ran):
    found = due(interval_hours=hours, interval_days=days, hours_per_day=rate, hours_now=1_000 + ran)
    assert found.window_from[0] <= found.due_on[0] <= found.window_to[0]


def test_that_many_boxes_are_judged_as_each_alone():
    rng = np.random.default_rng(1)
    n = 200
    columns = {
        "taken_on": np.where(rng.random(n) < 0.1, 0, DAY - rng.integers(0, 400, n)).astype("i4"),
        "taken_at_hours": rng.uniform(0, 9_000, n),
        "interval_hours": rng.choice([NAN, 250.0, 500.0], n),
        "interval_days": rng.choice([NAN, 90.0, 365.0], n),
        "hours_now": rng.uniform(0, 9_500, n),
        "hours_as_of": (DAY - rng.integers(0, 30, n)).astype("i4"),
        "hours_per_day": rng.choice([0.0, NAN, 4.0, 16.0], n),
        "is_excused": rng.random(n) < 0.1,
    }
    together = due_columns(today=DAY, **columns)
    assert {int(one) for one in together.state} == set(DueState)
    for row in range(n):
        alone = due(**{name: column[row] for name, column in columns.items()})
        for name in ("state", "due_on", "window_from", "window_to", "hours_left", "by_hours"):
            found, expected = getattr(alone, name), getattr(together, name)[row : row + 1]
            assert np.array_equal(found, expected, equal_nan=name == "hours_left")


def test_that_a_due_point_of_its_own_goes_before_the_last_sample():
    # US Army TB 43-0211, question 12-7: done inside the window, the schedule is not moved.
    told = due_columns(
        today=DAY,
        taken_on=np.array([DAY - 5, DAY - 5], dtype=np.int32),
        taken_at_hours=np.array([1_604.4, 1_604.4]),
        interval_hours=np.array([75.0, 75.0]),
        interval_days=np.array([90.0, 90.0]),
        hours_now=np.array([1_620.4, 1_620.4]),
        hours_as_of=np.array([DAY, DAY], dtype=np.int32),
        hours_per_day=np.array([8.0, 8.0]),
        is_excused=np.zeros(2, dtype=bool),
        due_at=DuePoints(np.array([1_684.4, np.nan]), np.array([np.nan, DAY + 30.0])),
    )
    assert told.hours_left[0] == pytest.approx(64.0)
    assert told.due_on.tolist() == [DAY + 8, DAY + 30]
    assert told.by_hours.tolist() == [True, False]
