import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.desktop.viewstate.row_order import (
    natural,
    ordered,
    ranks_of_numbers,
    ranks_of_texts,
)


def test_that_numbers_in_names_count_as_numbers() -> None:
    assert sorted(["K-10", "k-9", "K-100"], key=natural) == ["k-9", "K-10", "K-100"]


def test_that_what_is_missing_comes_last() -> None:
    assert ranks_of_texts(["", "b", "a"]).tolist() == [2, 1, 0]
    assert ranks_of_numbers([None, 2.0, -1.0]).tolist() == [2, 1, 0]


def test_that_no_rows_have_no_order() -> None:
    kept = np.zeros(0, dtype=np.bool_)
    assert ordered(kept, ranks_of_texts([]), descending=True).tolist() == []


@pytest.mark.parametrize("sign", [1, -1])
@given(numbers=st.lists(st.integers(0, 5)))
def test_that_equals_stay_as_they_came(sign: int, numbers: list[int]) -> None:
    kept = np.ones(len(numbers), dtype=np.bool_)
    found = ordered(kept, ranks_of_numbers(numbers), descending=sign < 0).tolist()
    assert found == sorted(range(len(numbers)), key=lambda place: sign * numbers[place])
