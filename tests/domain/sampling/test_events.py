import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.events import (
    NO_SAMPLE,
    Drawn,
    Epochs,
    convention_codes,
    due_events,
    lasting,
)
from fluiddesk.domain.sampling.outcome import Outcome, outcome_columns
from fluiddesk.domain.sampling.window import Convention
from fluiddesk.domain.wear.inputs import WearInputError


def drawn(samples, answers=None, axis=None, box=None):
    """The samples of one box, on one axis or on several; the first begins the count."""
    at = np.array(samples, dtype=float)
    at = at.reshape(len(at), -1)
    size = len(at)
    return Drawn(
        box=np.zeros(size, dtype=np.int64) if box is None else np.array(box),
        at=at,
        axis=np.zeros(size, dtype=np.int64) if axis is None else np.array(axis),
        answers=np.ones(size, bool) if answers is None else np.array(answers, bool),
    )


def held(*rows, window=0.1):
    """What held for one box: from where on one axis, the interval, the convention."""
    begins, interval, convention = zip(*rows, strict=True)
    length = np.array(interval, dtype=float)[:, None]
    return Epochs(
        box=np.zeros(len(rows), dtype=np.int64),
        begins=np.array(begins, dtype=float)[:, None],
        interval=length,
        half=length * window,
        convention=convention_codes(convention),
    )


EVER = -np.inf


def events(samples, now=1_100.0, interval=250.0, convention=Convention.ROLLING):
    return due_events(
        drawn([0.0, *samples]), held((EVER, interval, convention)), now=np.array([[float(now)]])
    )


def own(found):
    """Rows among the samples after the one that begins the count."""
    return np.where(found.sample == NO_SAMPLE, NO_SAMPLE, found.sample - 1).tolist()


def judged(found, interval=250.0, now=1_100.0):
    size = len(found.due)
    return outcome_columns(
        due=found.due,
        half=np.full(size, interval / 10),
        interval=np.full(size, interval),
        sampled_at=found.sampled_at,
        now=np.full(size, now),
        is_excused=np.zeros(size, bool),
        is_usable=np.ones(size, bool),
    )


@pytest.mark.parametrize(
    ("convention", "due"),
    [
        # US Army TB 43-0211: counted from the last sample (para 6-1), or a grid that a sample in
        # the window does not move (question 12-7).
        (Convention.ROLLING, [250.0, 480.0, 740.0, 1_010.0, 1_260.0]),
        (Convention.GRID, [250.0, 500.0, 750.0, 1_000.0, 1_250.0]),
        # TM 1-1500-328-23: the grid starts anew from a sample outside its window.
        (Convention.RESTARTED_GRID, [250.0, 500.0, 750.0, 1_000.0, 1_250.0]),
    ],
)
def test_that_each_convention_counts_from_its_own_point(convention, due):
    found = events([230, 490, 760, 1_010], convention=convention)
    assert found.due.tolist() == due
    assert own(found) == [0, 1, 2, 3, NO_SAMPLE]


def test_that_a_sample_outside_the_window_restarts_the_grid():
    found = events([300, 600], convention=Convention.RESTARTED_GRID, now=700)
    assert found.due.tolist() == [250.0, 550.0, 850.0]


def test_that_on_a_grid_an_early_sample_is_extra_and_answers_nothing():
    found = events([180, 260], convention=Convention.GRID, now=300)
    assert found.is_extra.tolist() == [False, True, False]
    assert (found.due.tolist(), own(found)) == ([250.0, 500.0], [1, NO_SAMPLE])
    # Counted from the last sample, the same sample moves the due point.
    moved = events([180], now=300)
    assert moved.due.tolist() == [250.0, 430.0]
    assert judged(moved, now=300.0).outcome.tolist() == [Outcome.EARLY, Outcome.OPEN]


@pytest.mark.parametrize("convention", list(Convention))
def test_that_a_long_silence_is_a_row_of_missed_events(convention):
    found = events([], now=900, convention=convention)
    assert found.due.tolist() == [250.0, 500.0, 750.0, 1_000.0]
    expected = [Outcome.MISSED] * 2 + [Outcome.OPEN] * 2
    assert judged(found, now=870.0).outcome.tolist() == expected


def test_that_the_last_point_at_which_a_sample_is_late_is_no_miss():
    found = events([0.3 * 1.5], interval=0.3, now=0.5)
    assert own(found)[0] == 0
    assert found.due.tolist() == pytest.approx([0.3, 0.75])


@given(
    convention=st.sampled_from(list(Convention)),
    interval=st.sampled_from([50.0, 90.0, 250.0]),
    gaps=st.lists(st.floats(0, 800), max_size=10),
    after=st.floats(0, 900),
)
def test_that_every_due_event_has_one_outcome_and_every_sample_one_place(
    convention, interval, gaps, after
):
    taken = np.round(np.cumsum(gaps), 2)
    now = float(taken[-1] if len(taken) else 0.0) + after
    found = events(taken, now=now, interval=interval, convention=convention)
    outcomes = judged(found, interval=interval, now=now)
    answered = found.sample[found.sample != NO_SAMPLE]
    assert sorted([*answered, *np.flatnonzero(found.is_extra)]) == list(range(1, len(taken) + 1))
    assert sum(int((outcomes.outcome == one).sum()) for one in Outcome) == len(found.due)
    has_sample = found.sample != NO_SAMPLE
    assert np.isin(
        outcomes.outcome[has_sample], (Outcome.EARLY, Outcome.ON_TIME, Outcome.LATE)
    ).all()
    assert (outcomes.outcome[~has_sample][:-1] == Outcome.MISSED).all()
    assert outcomes.outcome[-1] == Outcome.OPEN
    # A grid that starts anew from an early sample may come due before the point it left.
    assert convention is Convention.RESTARTED_GRID or (np.diff(found.due) >= 0).all()
    assert found.is_owed.sum() == 1
    first = int(np.flatnonzero(found.is_owed)[0])
    assert found.is_tail.tolist() == [place >= first for place in range(len(found.due))]
    if convention is Convention.GRID:
        assert not (outcomes.outcome == Outcome.EARLY).any()
        assert np.diff(found.due) == pytest.approx(interval)


def test_that_many_boxes_are_worked_out_as_each_alone():
    rng = np.random.default_rng(3)
    boxes, count = 30, 180
    box = np.sort(np.concatenate([np.arange(boxes), rng.integers(0, boxes, count - boxes)]))
    taken = rng.uniform(100, 3_000, count)
    taken = taken[np.lexsort((taken, box))]
    answers = rng.uniform(size=count) > 0.2
    interval = rng.choice([100.0, 250.0, 500.0], boxes)
    codes = rng.integers(0, 3, boxes).astype(np.int8)
    together = due_events(
        drawn(taken, answers, box=box),
        lasting(interval, interval / 10, codes),
        now=np.full((boxes, 1), 3_100.0),
    )
    for one in range(boxes):
        mine = np.flatnonzero(box == one)
        alone = due_events(
            drawn(taken[mine], answers[mine]),
            lasting(interval[[one]], interval[[one]] / 10, codes[[one]]),
            now=np.array([[3_100.0]]),
        )
        rows = together.box == one
        assert np.array_equal(together.due[rows], alone.due)
        assert np.array_equal(together.sampled_at[rows], alone.sampled_at, equal_nan=True)
        assert np.array_equal(together.is_owed[rows], alone.is_owed)
        assert np.array_equal(together.is_extra[mine], alone.is_extra)


def told(found):
    return list(zip(found.due.tolist(), found.sample.tolist(), strict=True))


ROLLING, GRID = Convention.ROLLING, Convention.GRID


def test_that_lengthening_an_interval_leaves_what_was_missed_before():
    rows = held((EVER, 250, ROLLING), (900, 500, ROLLING))  # on the day of a sample
    found = due_events(drawn([0, 400, 900, 1_400]), rows, now=np.array([[1_500.0]]))
    assert told(found) == [(250, NO_SAMPLE), (500, 1), (650, NO_SAMPLE), (900, 2), (1_400, 3),
                           (1_900, NO_SAMPLE)]  # fmt: skip
    assert found.epoch.tolist() == [0, 0, 0, 0, 1, 1]
    # Had the longer interval held for all time, nothing would have been missed.
    white = due_events(
        drawn([0, 400, 900, 1_400]), held((EVER, 500, ROLLING)), now=np.array([[1_500.0]])
    )
    assert told(white)[:3] == [(500, 1), (900, 2), (1_400, 3)]


@pytest.mark.parametrize(
    ("change", "due"),
    [
        (100, [(500, NO_SAMPLE)]),  # the due list moved to 500 with it
        (275, [(500, NO_SAMPLE)]),  # the last hour of the window
        (276, [(250, NO_SAMPLE)]),  # its window had closed: what was owed stays owed
    ],
)
def test_that_a_change_moves_what_is_due_until_its_window_closes(change, due):
    rows = held((EVER, 250, ROLLING), (change, 500, ROLLING))
    assert told(due_events(drawn([0]), rows, now=np.array([[300.0]]))) == due


def test_that_after_a_miss_the_new_interval_is_counted_from_the_missed_point():
    rows = held((EVER, 250, ROLLING), (300, 500, ROLLING))
    found = due_events(drawn([0, 1_100]), rows, now=np.array([[1_100.0]]))
    assert told(found) == [(250, NO_SAMPLE), (750, NO_SAMPLE), (1_250, 1), (1_600, NO_SAMPLE)]
    tail = due_events(drawn([0]), rows, now=np.array([[700.0]]))
    assert told(tail) == [(250, NO_SAMPLE), (750, NO_SAMPLE)]
    assert tail.is_owed.tolist() == [True, False]


def test_that_a_shorter_interval_makes_a_box_due_on_the_day_of_the_change_at_the_earliest():
    rows = held((EVER, 500, ROLLING), (400, 250, ROLLING))
    found = due_events(drawn([0, 420]), rows, now=np.array([[500.0]]))
    assert told(found) == [(400, 1), (670, NO_SAMPLE)]
    early = held((EVER, 500, ROLLING), (100, 250, ROLLING))
    assert told(due_events(drawn([0]), early, now=np.array([[200.0]]))) == [(250, NO_SAMPLE)]


def test_that_of_several_changes_in_one_interval_the_last_before_the_window_closes_holds():
    rows = held((EVER, 250, ROLLING), (50, 400, ROLLING), (90, 300, ROLLING), (350, 900, ROLLING))
    found = due_events(drawn([0, 300, 1_000]), rows, now=np.array([[1_000.0]]))
    assert told(found) == [(300, 1), (1_200, 2), (1_900, NO_SAMPLE)]


def test_that_a_change_after_the_sample_is_none_of_its_business():
    rows = held((EVER, 250, ROLLING), (240, 500, ROLLING))
    assert told(due_events(drawn([0, 235]), rows, now=np.array([[300.0]])))[0] == (250, 1)


def test_that_a_box_without_an_interval_owed_nothing_until_it_got_one():
    rows = held((EVER, np.nan, ROLLING), (1_000, 250, ROLLING))
    found = due_events(drawn([0, 600, 1_100]), rows, now=np.array([[1_200.0]]))
    assert told(found) == [(1_000, 2), (1_350, NO_SAMPLE)]
    none = due_events(drawn([0, 600]), held((EVER, np.nan, ROLLING)), now=np.array([[900.0]]))
    assert told(none) == []
    assert not none.is_extra.any()
    gone = held((EVER, 250, ROLLING), (100, np.nan, ROLLING))
    assert told(due_events(drawn([0]), gone, now=np.array([[900.0]]))) == []


def test_that_a_change_of_convention_holds_from_its_own_point():
    rows = held((EVER, 250, ROLLING), (480, 250, GRID))
    found = due_events(drawn([0, 240, 470, 730]), rows, now=np.array([[800.0]]))
    # 240 is counted from; from 490 on the grid stands.
    assert told(found) == [(250, 1), (490, 2), (720, 3), (970, NO_SAMPLE)]


def test_that_a_sample_for_another_reason_answers_nothing_and_is_counted_from():
    rows = held((EVER, 250, ROLLING))
    inside = due_events(drawn([0, 100, 350], [1, 0, 1]), rows, now=np.array([[400.0]]))
    assert told(inside) == [(350, 2), (600, NO_SAMPLE)]
    # Its window had closed when the other sample was drawn: a miss.
    past = due_events(drawn([0, 300], [1, 0]), rows, now=np.array([[400.0]]))
    assert told(past) == [(250, NO_SAMPLE), (550, NO_SAMPLE)]
    assert past.is_tail.tolist() == [False, True]
    long_past = due_events(drawn([0, 700], [1, 0]), rows, now=np.array([[800.0]]))
    assert told(long_past)[:2] == [(250, NO_SAMPLE), (500, NO_SAMPLE)]
    grid = held((EVER, 250, GRID))
    still = due_events(drawn([0, 100, 260], [1, 0, 1]), grid, now=np.array([[400.0]]))
    assert told(still) == [(250, 2), (500, NO_SAMPLE)]


def test_that_each_count_goes_on_its_own_axis():
    two = Epochs(
        box=np.zeros(1, dtype=np.int64),
        begins=np.full((1, 2), -np.inf),
        interval=np.array([[250.0, 90.0]]),
        half=np.array([[25.0, 9.0]]),
        convention=convention_codes([ROLLING]),
    )
    at = [[0.0, 1_000.0], [240.0, 1_030.0], [300.0, 1_118.0]]
    found = due_events(drawn(at, axis=[0, 1, 0]), two, now=np.array([[310.0, 1_119.0]]))
    assert list(zip(found.axis.tolist(), found.due.tolist(), strict=True)) == [
        (0, 250.0), (1, 1_120.0), (0, 550.0)
    ]  # fmt: skip
    assert np.array_equal(found.sampled_at, [240.0, 1_118.0, np.nan], equal_nan=True)


# US Army TB 43-0211, question 12-7: the schedule is not moved by a sample in the window. The points
# of TM 1-1500-328-23, 75 h due at 1609.4 with a window of 5 h: done inside, next due 1684.4.
@pytest.mark.parametrize("done", [1_604.4, 1_609.4, 1_614.4])
def test_that_a_sample_in_the_window_leaves_the_published_grid(done):
    rows = Epochs(
        box=np.zeros(1, dtype=np.int64),
        begins=np.full((1, 1), -np.inf),
        interval=np.array([[75.0]]),
        half=np.array([[5.0]]),
        convention=convention_codes([GRID]),
    )
    found = due_events(drawn([1_534.4, done]), rows, now=np.array([[1_620.0]]))
    assert told(found) == [(1_609.4, 1), (1_684.4, NO_SAMPLE)]


def test_that_no_box_and_no_sample_give_no_event():
    empty = Drawn(
        box=np.empty(0, np.int64), at=np.empty((0, 1)), axis=np.empty(0, np.int64),
        answers=np.empty(0, bool),
    )  # fmt: skip
    assert len(due_events(empty, held((EVER, 250, GRID)), now=np.array([[5.0]])).due) == 0


@given(
    gaps=st.lists(st.floats(1, 600), min_size=1, max_size=8),
    changes=st.lists(st.tuples(st.floats(1, 2_500), st.sampled_from([100.0, 250.0, 500.0])),
                     max_size=3),
    convention=st.sampled_from([ROLLING, GRID]),
    after=st.floats(0, 900),
)  # fmt: skip
def test_that_whatever_changes_every_sample_has_one_place_and_each_event_its_interval(
    gaps, changes, convention, after
):
    taken = np.round(np.cumsum([0.0, *gaps]), 2)
    rows = held((EVER, 250.0, convention), *((at, one, convention) for at, one in sorted(changes)))
    now = float(taken[-1]) + after
    found = due_events(drawn(taken), rows, now=np.array([[now]]))
    answered = found.sample[found.sample != NO_SAMPLE]
    assert sorted([*answered, *np.flatnonzero(found.is_extra)]) == list(range(1, len(taken)))
    assert found.is_owed.sum() == 1
    assert rows.begins[found.epoch, 0] == pytest.approx(
        np.minimum(rows.begins[found.epoch, 0], np.maximum(now, 0.0))
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"box": [0, 3]}, "Sample 2 belongs to box 3"),
        ({"at": [5.0, np.nan]}, "not known"),
    ],
)
def test_that_a_sample_without_a_place_is_refused(change, words):
    samples = drawn(change.get("at", [5.0, 9.0]), box=change.get("box"))
    with pytest.raises(WearInputError, match=words):
        due_events(samples, held((EVER, 250, GRID)), now=np.array([[10.0]]))


def test_that_rows_out_of_order_and_boxes_without_an_interval_are_refused():
    one = lasting(np.array([250.0, 90.0]), np.array([25.0, 9.0]), convention_codes([GRID, GRID]))
    now = np.zeros((2, 1))
    with pytest.raises(WearInputError, match="Sort them first"):
        due_events(drawn([5.0, 9.0], box=[1, 0]), one, now=now)
    with pytest.raises(WearInputError, match="A box has no interval"):
        due_events(drawn([5.0]), held((EVER, 250, GRID)), now=now)


@pytest.mark.parametrize(("interval", "window"), [(0.0, 0.1), (np.inf, 0.1), (250.0, -0.1)])
def test_that_an_impossible_interval_is_refused(interval, window):
    with pytest.raises(WearInputError, match="not above 0"):
        due_events(drawn([0.0]), held((EVER, interval, GRID), window=window), now=np.zeros((1, 1)))
