import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.outcome import (
    Outcome,
    is_excused_throughout,
    outcome,
    outcome_columns,
)
from fluiddesk.domain.wear.inputs import WearInputError

NAN = float("nan")


def judged(sampled_at, **changes):
    given = {"due": 1250.0, "half": 25.0, "interval": 250.0, "now": 2_000.0} | changes
    return outcome(sampled_at=sampled_at, **given)


@pytest.mark.parametrize(
    ("sampled_at", "expected"),
    [
        # Common practice, no source: a tenth before and after; late up to half an interval.
        (1_224.9, Outcome.EARLY),
        (1_225.0, Outcome.ON_TIME),
        (1_250.0, Outcome.ON_TIME),
        (1_275.0, Outcome.ON_TIME),
        (1_275.1, Outcome.LATE),
        (1_375.0, Outcome.LATE),
        (1_375.1, Outcome.MISSED),
        (None, Outcome.MISSED),
    ],
)
def test_that_a_sample_is_judged_by_where_it_was_taken(sampled_at, expected):
    assert judged(sampled_at) is expected


@pytest.mark.parametrize(("now", "expected"), [(1_375.0, Outcome.OPEN), (1_376.0, Outcome.MISSED)])
def test_that_an_event_stays_open_while_a_late_sample_may_come(now, expected):
    assert judged(None, now=now) is expected


def test_that_an_excuse_needs_the_whole_window():
    assert judged(None, is_excused=True) is Outcome.EXCUSED
    assert judged(1_300.0, is_excused=True) is Outcome.EXCUSED
    assert judged(1_250.0, is_excused=True) is Outcome.ON_TIME
    assert judged(1_000.0, is_excused=True) is Outcome.EARLY
    assert judged(None, is_excused=True, now=1_260.0) is Outcome.OPEN


def test_that_a_sample_without_a_verdict_is_not_usable_but_was_taken():
    assert judged(1_250.0, is_usable=False) is Outcome.UNUSABLE
    assert judged(1_300.0, is_usable=False) is Outcome.UNUSABLE
    assert judged(1_000.0, is_usable=False) is Outcome.EARLY
    assert judged(None, is_usable=False) is Outcome.MISSED


def test_that_the_next_due_point_ends_the_wait_if_it_comes_first():
    one = {"due": np.array([1250.0]), "half": np.array([25.0]), "interval": np.array([250.0])}
    found = outcome_columns(
        **one,
        sampled_at=np.array([1_340.0]),
        now=np.array([1_400.0]),
        is_excused=np.zeros(1, bool),
        is_usable=np.ones(1, bool),
        next_due=np.array([1_300.0]),
    )
    assert found.outcome.tolist() == [Outcome.MISSED]


def test_that_lateness_is_a_share_of_the_interval():
    found = outcome_columns(
        due=np.array([1250.0, 1250.0]),
        half=np.array([25.0, 25.0]),
        interval=np.array([250.0, 250.0]),
        sampled_at=np.array([1_300.0, 1_260.0]),
        now=np.full(2, 2_000.0),
        is_excused=np.zeros(2, bool),
        is_usable=np.zeros(2, bool),
    )
    assert found.late_by.tolist() == pytest.approx([0.2, 0.0])
    assert found.timing.tolist() == [Outcome.LATE, Outcome.ON_TIME]
    assert found.outcome.tolist() == [Outcome.UNUSABLE, Outcome.UNUSABLE]
    assert found.is_taken.all()


def test_that_outcomes_are_told_in_words():
    assert [one.word for one in Outcome][1:3] == ["Too early", "On time"]
    assert len({one.word for one in Outcome}) == len(Outcome)


@pytest.mark.parametrize(
    "changes", [{"due": NAN}, {"interval": 0.0}, {"half": -1.0}, {"now": float("inf")}]
)
def test_that_figures_that_cannot_be_true_are_refused(changes):
    with pytest.raises(WearInputError):
        judged(1_250.0, **changes)
    with pytest.raises(WearInputError, match="infinite point"):
        judged(float("inf"))


@given(
    at=st.none() | st.floats(0, 4_000),
    excused=st.booleans(),
    usable=st.booleans(),
    now=st.floats(0, 4_000),
)
def test_that_every_due_event_has_one_outcome_and_sampling_sooner_is_never_worse(
    at, excused, usable, now
):
    one = judged(at, is_excused=excused, is_usable=usable, now=now)
    assert one in set(Outcome)
    if at is None:
        assert one in {Outcome.OPEN, Outcome.MISSED, Outcome.EXCUSED}
    elif 1_225 <= at <= 1_275:
        assert one is (Outcome.ON_TIME if usable else Outcome.UNUSABLE)
    else:
        assert one is not Outcome.ON_TIME


def excused(windows, spans):
    box, low, high = (np.array(column) for column in zip(*windows, strict=True))
    columns = [np.array(column) for column in zip(*spans, strict=True)] or [np.zeros(0)] * 3
    return is_excused_throughout(
        box=box,
        low=low * 1.0,
        high=high * 1.0,
        span_box=columns[0],
        span_from=columns[1] * 1.0,
        span_to=columns[2] * 1.0,
    ).tolist()


def test_that_only_an_absence_during_the_whole_window_excuses():
    assert excused([(1, 10, 20)], [(1, 10, 20)]) == [True]
    assert excused([(1, 10, 20)], [(1, 11, 30)]) == [False]
    assert excused([(1, 10, 20)], [(1, 0, 19)]) == [False]
    assert excused([(1, 10, 20)], [(2, 0, 99)]) == [False]
    assert excused([(1, 10, 20)], [(1, 0, 12), (1, 15, 30)]) == [False]
    assert excused([(1, 10, 20)], [(1, 15, 30), (1, 0, 15)]) == [True]
    assert excused([(1, 10, 20)], [(1, 0, 99), (1, 2, 5), (1, 6, 8)]) == [True]
    assert excused([(1, 10, 20)], [(1, 5, np.inf)]) == [True]
    assert excused([(1, 10, 20)], []) == [False]


@given(
    windows=st.lists(
        st.tuples(st.integers(0, 2), st.integers(0, 30), st.integers(0, 12)), min_size=1, max_size=8
    ),
    spans=st.lists(
        st.tuples(st.integers(0, 2), st.integers(0, 30), st.integers(0, 12)), max_size=8
    ),
)
def test_that_excuses_agree_with_counting_every_quarter_day(windows, spans):
    windows = [(box, low, low + length) for box, low, length in windows]
    spans = [(box, begin, begin + length) for box, begin, length in spans]

    def absent(box, point):
        return any(one == box and begin <= point <= end for one, begin, end in spans)

    by_counting = [
        all(absent(box, low + quarter / 4) for quarter in range(4 * (high - low) + 1))
        for box, low, high in windows
    ]
    assert excused(windows, spans) == by_counting
