import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fluiddesk.domain.trends.direction import direction


def moved(load, box=None):
    boxes = np.zeros(len(load)) if box is None else np.array(box)
    return direction(load=np.array(load, dtype=np.float64), box=boxes.astype(np.int32)).tolist()


@pytest.mark.parametrize(
    ("load", "last"),
    [
        ([0.2, 0.3], 1),
        ([0.4, 0.5], 1),
        ([0.4, 0.49], 0),
        ([0.5, 0.41], 0),
        ([0.3, 0.2], -1),
        ([0.9, 0.0], -1),
    ],
)
def test_that_a_step_of_a_tenth_of_the_way_to_act_counts(load, last):
    assert moved(load) == [0, last]


def test_that_the_first_sample_of_each_box_is_level():
    assert moved([0.1, 0.9, 0.1, 0.9], box=[3, 3, 8, 8]) == [0, 1, 0, 1]


def test_that_no_samples_have_no_direction():
    assert moved([]) == []


@given(st.lists(st.tuples(st.integers(0, 4), st.floats(0, 100)), max_size=20).map(sorted))
def test_that_boxes_say_nothing_of_each_other(samples):
    boxes, load = [box for box, _ in samples], [share for _, share in samples][::-1]
    alone = [
        one
        for number in sorted(set(boxes))
        for one in moved([share for box, share in zip(boxes, load, strict=True) if box == number])
    ]
    assert moved(load, box=boxes) == alone
