"""Numbers that cannot be are refused by name, value and place."""

import numpy as np
import pytest

from fluiddesk.domain.columns import as_given, checked, refuse
from fluiddesk.domain.errors import OperatorError


class CountError(OperatorError):
    pass


@pytest.mark.parametrize("bad", [float("nan"), float("inf"), -float("inf"), -1.0])
def test_that_a_single_bad_number_is_named_with_its_bound(bad):
    with pytest.raises(CountError) as refused:
        checked(bad, what="particle count", error=CountError, at_least=0.0)
    assert str(refused.value) == (
        f"particle count: {bad:g} must be a finite number at least 0. "
        "Correct the value or leave the sample out."
    )


def test_that_the_first_bad_number_of_a_column_is_named_with_its_place():
    column = np.array([1.0, 5.0, float("nan"), 9.0])
    with pytest.raises(CountError, match=r"^share, place 2: 5 .* above 0 and at most 2\."):
        checked(column, what="share", error=CountError, above=0.0, at_most=2.0)
    with pytest.raises(CountError, match=r"^share, place 3: nan must be a finite number\."):
        checked(column, what="share", error=CountError)


def test_that_sound_numbers_come_back_as_floats():
    assert checked(np.array([1, 2]), what="share", error=CountError).tolist() == [1.0, 2.0]
    assert checked(1, what="share", error=CountError).dtype == np.float64


def test_that_nothing_is_refused_where_nothing_is_wrong():
    refuse(np.array([False]), np.array([1.0]), what="share", error=CountError, why="is wrong")


def test_that_one_answer_is_a_plain_number_and_a_column_stays_one():
    assert type(as_given(np.asarray(2.0))) is float
    assert type(as_given(np.float64(2.0))) is float
    assert as_given(np.array([2.0])).tolist() == [2.0]
