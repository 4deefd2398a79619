import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.events import NO_SAMPLE, due_events
from fluiddesk.domain.sampling.outcome import Outcome, outcome_columns
from fluiddesk.domain.sampling.window import Convention
from fluiddesk.domain.wear.inputs import WearInputError


def events(samples, now=1_100.0, interval=250.0, convention=Convention.ROLLING):
    return due_events(
        sample_box=np.zeros(len(samples), dtype=np.int64),
        taken_at=np.array(samples, dtype=float),
        counted_from=np.zeros(1),
        interval=np.array([interval]),
        half=np.array([interval / 10]),
        now=np.array([float(now)]),
        convention=convention,
    )


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
    assert found.sample.tolist() == [0, 1, 2, 3, NO_SAMPLE]


def test_that_a_sample_outside_the_window_restarts_the_grid():
    found = events([300, 600], convention=Convention.RESTARTED_GRID, now=700)
    assert found.due.tolist() == [250.0, 550.0, 850.0]


def test_that_on_a_grid_an_early_sample_is_extra_and_answers_nothing():
    found = events([180, 260], convention=Convention.GRID, now=300)
    assert found.is_extra.tolist() == [True, False]
    assert (found.due.tolist(), found.sample.tolist()) == ([250.0, 500.0], [1, NO_SAMPLE])
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
    assert found.sample.tolist()[0] == 0
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
    assert sorted([*answered, *np.flatnonzero(found.is_extra)]) == list(range(len(taken)))
    assert sum(int((outcomes.outcome == one).sum()) for one in Outcome) == len(found.due)
    has_sample = found.sample != NO_SAMPLE
    assert np.isin(
        outcomes.outcome[has_sample], (Outcome.EARLY, Outcome.ON_TIME, Outcome.LATE)
    ).all()
    assert (outcomes.outcome[~has_sample][:-1] == Outcome.MISSED).all()
    assert outcomes.outcome[-1] == Outcome.OPEN
    assert (np.diff(found.due) >= 0).all()
    if convention is Convention.GRID:
        assert not (outcomes.outcome == Outcome.EARLY).any()
        assert np.diff(found.due) == pytest.approx(interval)


def test_that_many_boxes_are_worked_out_as_each_alone():
    rng = np.random.default_rng(3)
    boxes, count = 30, 150
    box = rng.integers(0, boxes, count)
    taken = rng.uniform(100, 3_000, count)
    interval = rng.choice([100.0, 250.0, 500.0], boxes)
    for convention in Convention:
        together = due_events(
            sample_box=box,
            taken_at=taken,
            counted_from=np.full(boxes, 50.0),
            interval=interval,
            half=interval / 10,
            now=np.full(boxes, 3_100.0),
            convention=convention,
        )
        for one in range(boxes):
            mine = np.flatnonzero(box == one)
            alone = due_events(
                sample_box=np.zeros(len(mine), dtype=np.int64),
                taken_at=taken[mine],
                counted_from=np.array([50.0]),
                interval=interval[[one]],
                half=interval[[one]] / 10,
                now=np.array([3_100.0]),
                convention=convention,
            )
            rows = together.box == one
            assert np.array_equal(together.due[rows], alone.due)
            assert np.array_equal(together.sampled_at[rows], alone.sampled_at, equal_nan=True)
            assert np.array_equal(together.is_extra[mine], alone.is_extra)


@pytest.mark.parametrize(
    ("box", "at", "told"),
    [(0, -5.0, "before its box owed any"), (3, 5.0, "Sample 1 belongs to box 3")],
)
def test_that_a_sample_without_a_place_is_refused(box, at, told):
    with pytest.raises(WearInputError, match=told):
        due_events(
            sample_box=np.array([box]),
            taken_at=np.array([at]),
            counted_from=np.zeros(1),
            interval=np.array([250.0]),
            half=np.array([25.0]),
            now=np.array([10.0]),
            convention=Convention.GRID,
        )
