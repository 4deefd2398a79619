"""The sample before a fluid change (US Army TB 43-0211, para 6-3c); days are plain to count."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.sampling.before_change import BeforeChange, is_drawn, with_changes
from fluiddesk.domain.sampling.due import NEVER, DueColumns, DueState

TODAY = 100
PACE = 10.0


def due(day: int, first: int, last: int, state: DueState | None = None) -> DueColumns:
    """One box at ten hours a day; its state by its window, where it is not given."""
    if state is None:
        state = DueState.DUE if first <= TODAY else DueState.NOT_YET
        state = DueState.OVERDUE if last < TODAY else state

    def days(one: int) -> Any:
        return np.array([one], dtype=np.int32)

    return DueColumns(
        state=np.array([state], dtype=np.int8),
        due_on=days(day),
        window_from=days(first),
        window_to=days(last),
        hours_left=np.array([(day - TODAY) * PACE if day != NEVER else np.nan]),
        by_hours=np.array([day != NEVER]),
    )


NO_CHANGE = due(int(NEVER), int(NEVER), int(NEVER), DueState.NO_INTERVAL)


def owed(
    usual: DueColumns, change: DueColumns, *, opens: int = 5, is_answered: bool = False
) -> BeforeChange:
    return with_changes(
        usual,
        change,
        today=TODAY,
        opens_days=np.array([opens], dtype=np.int32),
        is_answered=np.array([is_answered]),
        hours_per_day=np.array([PACE]),
    )


def told(made: BeforeChange) -> tuple[DueState, int, int, int]:
    one = made.due
    day, first, last = int(one.due_on[0]), int(one.window_from[0]), int(one.window_to[0])
    return DueState(int(one.state[0])), day, first, last


@pytest.mark.parametrize(
    ("usual", "change", "expected"),
    [
        # The change comes first: due at it, the window closed there.
        (due(130, 125, 135), 110, (DueState.NOT_YET, 110, 105, 110)),
        (due(130, 125, 135), 103, (DueState.DUE, 103, 98, 103)),
        # Routine shortly before the change: one bottle, at the change, in both windows.
        (due(110, 105, 115), 112, (DueState.NOT_YET, 112, 107, 112)),
        # Routine shortly after it: the same.
        (due(114, 109, 119), 112, (DueState.NOT_YET, 112, 109, 112)),
        # The routine window ends before the change: drawn where both windows are open.
        (due(106, 104, 109), 112, (DueState.NOT_YET, 107, 107, 109)),
        # The change is past and nobody drew: overdue, never a window after the change.
        (due(130, 125, 135), 98, (DueState.OVERDUE, 98, 93, 98)),
    ],
)
def test_that_a_box_is_due_before_the_change_in_a_window_that_closes_at_it(
    usual: DueColumns, change: int, expected: tuple[DueState, int, int, int]
) -> None:
    made = owed(usual, due(change, change, change))
    assert told(made) == expected
    assert bool(made.is_before[0])
    assert bool(made.is_set[0])
    assert made.due.hours_left[0] == pytest.approx((expected[1] - TODAY) * PACE)


@pytest.mark.parametrize(
    ("usual", "change", "is_answered"),
    [
        (due(110, 105, 115), NO_CHANGE, False),
        (due(110, 105, 115), due(150, 150, 150), False),
        (due(110, 105, 115), due(112, 112, 112), True),
        (due(110, 105, 115, DueState.EXCUSED), due(104, 104, 104), False),
        (due(110, 105, 115, DueState.NEVER_SAMPLED), due(104, 104, 104), False),
    ],
)
def test_that_a_change_far_off_answered_or_of_a_machine_that_owes_none_alters_nothing(
    usual: DueColumns,
    change: DueColumns,
    is_answered: bool,  # noqa: FBT001 - a column of the table above
) -> None:
    made = owed(usual, change, is_answered=is_answered)
    assert told(made) == told(replace(made, due=usual))
    assert not made.is_before[0]


def test_that_a_box_without_an_interval_is_still_sampled_before_its_change() -> None:
    made = owed(NO_CHANGE, due(110, 110, 110))
    assert told(made) == (DueState.NOT_YET, 110, 105, 110)


def test_that_a_late_sample_drawn_in_the_window_is_the_one_before_the_change() -> None:
    usual = due(80, 75, 85)
    made = owed(usual, due(103, 103, 103))
    assert told(made) == (DueState.OVERDUE, 80, 75, 85)
    assert (bool(made.is_before[0]), bool(made.is_set[0])) == (True, False)
    assert not owed(usual, due(120, 120, 120)).is_before[0]


@given(
    point=st.integers(60, 160),
    half=st.integers(0, 15),
    change=st.integers(60, 160),
    opens=st.integers(0, 20),
)
def test_that_no_window_that_a_change_sets_reaches_past_it_or_past_the_routine_one(
    point: int, half: int, change: int, opens: int
) -> None:
    usual = due(point, point - half, point + half)
    made = owed(usual, due(change, change, change), opens=opens)
    _, day, first, last = told(made)
    assert first <= day <= last
    if made.is_set[0]:
        assert last <= change
        assert first >= change - opens
        assert day <= max(point + half, change)
    else:
        assert told(made) == told(replace(made, due=usual))


@pytest.mark.parametrize(
    ("drawn_on", "drawn_at", "by_hours", "answers"),
    [
        (95, 449.9, True, False),
        (95, 450.0, True, True),
        (80, 501.0, True, True),
        (104, np.nan, True, False),
        (105, np.nan, True, True),
        (105, 10.0, False, True),
        (104, 490.0, False, False),
        (0, 490.0, True, False),
    ],
)
def test_that_a_sample_answers_by_the_meter_where_it_sets_the_change_else_by_the_day(
    drawn_on: int,
    drawn_at: float,
    by_hours: bool,  # noqa: FBT001 - a column of the table above
    answers: bool,  # noqa: FBT001 - a column of the table above
) -> None:
    """A change at 500 h, due on day 110; the window opens 50 h or five days before it."""
    change = due(110, 110, 110)
    change.by_hours[0] = by_hours
    made = is_drawn(
        change,
        change_at_hours=np.array([500.0]),
        opens_hours=np.array([50.0]),
        opens_days=np.array([5], dtype=np.int32),
        drawn_on=np.array([drawn_on], dtype=np.int32),
        drawn_at_hours=np.array([drawn_at]),
    )
    assert bool(made[0]) is answers
